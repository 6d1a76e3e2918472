"""Documents as text, for golden files: the cells of a workbook as rows, a letter as it is.

Run `python tests/golden_text.py` to write the golden files anew, then read every difference.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime
from pathlib import Path

import sample_plan

from ordering.pages.run_files import run_files
from ordering.records.page import Calendar, Cell, Document, Letter, Listing, Sheet, Text, Value, Workbook
from ordering.write.table import csv_bytes

GOLDEN = Path(__file__).parent / "golden" / "run"


def as_text(document: Document) -> str:
    """What a reader of the document would see, one line per row."""
    if isinstance(document, Workbook):
        sheets = [line for sheet in document.sheets for line in _sheet(sheet)]
        return "\n".join([f"{document.title} ({document.paper}, {document.created})", *sheets]) + "\n"
    if isinstance(document, Letter):
        names = ", ".join(name for name, _ in document.attachments)
        top = [f"From: {document.sender_name} <{document.sender}>", f"To: {document.to_name} <{document.to}>"]
        top += [f"Date: {document.dated}", f"Subject: {document.subject}", f"Attached: {names}", ""]
        return "\n".join([*top, document.body])
    if isinstance(document, Calendar):
        events = [
            f"{e.begins} | {e.group} | {e.title} | {e.notes!r} | {e.key} | {', '.join(map(str, e.alarms))}"
            for e in document.events
        ]
        return "\n".join([f"{document.title} ({document.timezone}, {document.stamped})", *events]) + "\n"
    if isinstance(document, Text):
        return document.text
    assert isinstance(document, Listing)
    return csv_bytes(document.columns, document.rows).decode()


def _sheet(sheet: Sheet) -> list[str]:
    facts = [
        "landscape" if sheet.is_landscape else "portrait",
        "protected" if sheet.is_protected else "",
        f"repeats {sheet.repeat}" if sheet.repeat else "",
        f"freezes {sheet.freeze}" if sheet.freeze else "",
        f"fits {sheet.fit_tall} page" if sheet.fit_tall else "",
        f"breaks {sheet.breaks}" if sheet.breaks else "",
    ]
    lines = ["", f"== {sheet.title}: {', '.join(fact for fact in facts if fact)}; foot: {sheet.footer}"]
    lines += [f"table {t.name}: rows {t.first_row} to {t.last_row}" for t in sheet.tables]
    lines += [f"chart {c.kind} at {c.at}: {c.title}; {[s.name for s in c.series]}" for c in sheet.charts]
    return [*lines, *(" | ".join(map(_cell, row)).rstrip() for row in sheet.rows)]


def _cell(cell: Cell) -> str:
    text = f"{_value(cell.value)} {cell.unit}".strip().replace("\n", " / ")
    marks = f" [{cell.formula}]" if cell.formula else ""
    return f"{text}{marks}{' (open)' if cell.is_open else ''}{' (box)' if 'box' in cell.style else ''}"


def _value(value: Value) -> str:
    if value is None:
        return ""
    if isinstance(value, datetime):
        return f"{value:%a %Y-%m-%d %H:%M}"
    return f"{value:%a %Y-%m-%d}" if isinstance(value, date) else str(value)


def golden_texts() -> Mapping[str, str]:
    """Text of every document of the run written out by hand, by the name of its golden file."""
    house = sample_plan.house()
    plan = sample_plan.plan(house)
    drops = sorted({(line.vendor, line.deliver_on) for line in plan.buying.orders})
    documents = run_files(house, plan, {drop: f"PO-{n:04d}" for n, drop in enumerate(drops, 41)})
    return {f"{name.replace('/', '-')}.txt": as_text(document) for name, document in documents.items()}


if __name__ == "__main__":
    GOLDEN.mkdir(parents=True, exist_ok=True)
    for old in GOLDEN.glob("*.txt"):
        old.unlink()
    for name, text in golden_texts().items():
        (GOLDEN / name).write_text(text, encoding="utf-8")
