"""A count as it was typed up by shelf, in cases and pieces, booked in as `ordering count` books one in."""

from __future__ import annotations

import csv
import re
import tempfile
from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from fractions import Fraction
from pathlib import Path

from ordering.amounts import plural, shown
from ordering.bookkeeping.counts import count_in
from ordering.faults import Refused
from ordering.intake.column_roles import columns_of, plain
from ordering.intake.counted_amounts import in_all
from ordering.intake.dates import as_iso, date_reader
from ordering.intake.goods_match import agreeing, match, nearest
from ordering.intake.headings import Found, roles_of
from ordering.intake.outcome import Outcome, Question
from ordering.intake.recipe_lines import unit_in
from ordering.intake.sheet_forms import tables_in
from ordering.intake.sheets import SourceSheet
from ordering.read.house_folder import read_house
from ordering.records.documents import Meant
from ordering.records.house import House
from ordering.records.report import Report
from ordering.units import format_number, kind_of

COLUMNS = ("counted_on", "item", "quantity", "unit", "use_by", "ready_on")
_ASIDE = re.compile(
    r"(?i)\b(?:par|per|min|max|order|price|cost|value|total|last|previous|opening|theor\w*|book|system|varian\w*"
    r"|used|usage|sold|no|nr|row|page|account|ledger)\b|[%/£$€]"
)  # figures beside a count that are no part of it
_TH = "(?:st|nd|rd|th)?"
_DAY = re.compile(
    rf"\d{{1,4}}[./-]\d{{1,2}}[./-]\d{{2,4}}|\d{{1,2}}{_TH} [a-z]{{3,9}},? \d{{2,4}}"
    rf"|[a-z]{{3,9}} \d{{1,2}}{_TH},? \d{{4}}",
    re.IGNORECASE,
)


def bring_counts(sheets: Sequence[SourceSheet], out: Outcome) -> None:
    """Read every line as an amount of a known item in the item's own unit."""
    house, faults = read_house(out.house.directory)
    if house is None:
        raise Refused(faults)
    needed = ("item", ("count", "cases", "pieces"))
    rows: list[tuple[str, ...]] = []
    for table in tables_in(sheets, "counts", needed, out.asker, out.name):
        out.told += table.how
        table = _with_places(table, out)
        sheet = table.sheet
        counted_on = _day_of(sheet, table, out)
        for n, row in table.body():
            name = table.cell(row, "item")
            if name and any(_counted(table, row)):
                rows += _line(table, row, f"row {sheet.line(n)}", counted_on, house, out)
    with_dates = sorted({row[0] for row in rows})
    out.told.append(f"{plural(len(rows), 'line')} counted on {', '.join(with_dates) or 'no day'}")
    out.counted = rows


def book_count(
    config: Path, books: Path, paths: Sequence[Path], on: date, is_yes: bool, out: Outcome
) -> Report:
    """Book the lines in, as a filled sheet of that name would be; the report of both."""
    lines = out.counted
    left = [f"left out: {one}" for one in out.left]
    if not lines:
        return Report((*out.told, *left, "Nothing was counted."), 1)
    with tempfile.TemporaryDirectory() as scratch:
        file = Path(scratch) / f"{paths[0].stem}.csv"
        with file.open("w", encoding="utf-8", newline="") as opened:
            writer = csv.writer(opened, lineterminator="\n")
            writer.writerow(COLUMNS)
            writer.writerows(lines)
        books.mkdir(parents=True, exist_ok=True)
        booked = count_in(config, books, file, on, Meant(is_confirmed=is_yes))
    out.house.save()
    return Report((*out.told, *left, *booked.lines), max(booked.status, 1 if left else 0))


def _with_places(table: Found, out: Outcome) -> Found:
    """The table with what is counted in further columns, a shelf or a unit each, added to the count.

    Where no heading says which column is the count all of them are likely to be; beside one that does,
    those with numbers that stand alone in their rows.
    """
    rows = [row for _, row in table.body() if table.cell(row, "item")]
    has_count = "count" in columns_of([table.head_of("count")], roles_of("counts"), {})[0]
    for at, heading in enumerate(table.heading):
        cells = [row[at] for row in rows if at < len(row) and row[at]]
        is_amount = bool(cells) and all(re.fullmatch(r"\d+(?:[.,]\d+)?", cell) for cell in cells)
        if not heading or at in table.columns.values() or not is_amount:
            continue
        text = f"Column {heading}: was that counted too, so that it is added?"
        is_alone = any(at < len(row) and row[at] and not any(_counted(table, row)) for row in rows)
        unit = _unit_of(heading)
        is_likely = bool(unit) or is_alone or ("count" in table.columns and not has_count)
        asked = Question(f"column {plain(heading)}", text, ("yes", "no"), "yes" if is_likely else "no")
        if _ASIDE.search(heading) or out.asker.settle(asked) != "yes":
            out.told.append(f"not read: {heading}")
            continue
        out.told.append(f"{heading}: added to the count")
        table = _added(table, at, unit)
    return table


def _counted(table: Found, row: Sequence[str]) -> tuple[str, ...]:
    return tuple(table.cell(row, role) for role in ("count", "cases", "pieces"))


def _unit_of(heading: str) -> str:
    """The weight or volume that a column is counted in: `kg`, `lb loose`, not `kg/case`; else empty."""
    unit, rest = unit_in(heading.lower())
    is_all = re.fullmatch(r"\W*(?:loose|open(?:ed)?|part|bulk|held|on hand)?\W*", rest) is not None
    return unit if unit and is_all and kind_of(unit) in ("mass", "volume") else ""


def _added(table: Found, at: int, unit: str) -> Found:
    """The table with one more column in its count: `12 lb + 20 lb`."""
    count = table.columns.get("count", max(map(len, table.sheet.rows)))
    columns = {**table.columns, "count": count}
    rows = []
    for row in table.sheet.rows:
        cells = [*row, *[""] * (count + 1 - len(row))]
        of_row = table.cell(row, "unit")
        if at < len(row) and re.fullmatch(r"\d+(?:[.,]\d+)?", row[at]):
            first = of_row if re.fullmatch(r"[\d.,]+", cells[count]) else ""
            said = [(cells[count], first), (row[at], unit or of_row)]
            cells[count] = " + ".join(f"{n} {word}".strip() for n, word in said if n)
        rows.append(cells)
    return replace(table, sheet=replace(table.sheet, rows=rows), columns=columns)


def _day_of(sheet: SourceSheet, table: Found, out: Outcome) -> str:
    """The day that stands in the title, above the table or in the file's name, else asked: today."""
    above = [cell for row in table.above for cell in row if cell]
    for text in (*above, sheet.title, Path(sheet.place).stem.replace("_", "-")):
        for found in _DAY.finditer(text):
            day = date_reader([found[0]], lambda _: 0, out.asker, out.country)(found[0])[0]
            if day is not None and day <= out.on:
                return as_iso(day)
    answer = ""
    if out.asker.ask is not None and not out.asker.is_yes:
        text = "There is no day in the file: on which day was it counted?"
        answer = out.asker.ask(Question("counted on", text, (), out.on.isoformat())).strip()
    day = date_reader([answer], lambda _: 0, out.asker, out.country)(answer)[0] if answer else None
    if day is None:
        out.told.append(f"there is no day in the file: taken as counted on {out.on} (--on says another)")
    return as_iso(day or out.on)


def _line(
    table: Found, row: Sequence[str], where: str, counted_on: str, house: House, out: Outcome
) -> list[tuple[str, ...]]:
    """The rows of the count book for one line; none where it cannot be read, which is said."""
    name, code = table.cell(row, "item"), table.cell(row, "code")
    item, near = _item(name, code, house, out)
    if not item:
        nearest_are = f"; nearest: {', '.join(near)}" if near else ""
        out.left.append(f"{where}: {name}: not a known ingredient or recipe{nearest_are}")
        return []
    written = table.cell(row, "date")
    day = date_reader([written], lambda _: 0, out.asker, out.country)(written)[0] if written else None
    texts = _counted(table, row)
    if texts[2] and (unit := _unit_of(table.head_of("pieces"))):
        texts = (*texts[:2], f"{texts[2]} {unit}")
    total = in_all(texts, table.cell(row, "unit"), item, house, out)
    if isinstance(total, str):
        out.left.append(f"{where}: {name}: {total}")
        return []
    number = format_number(Fraction(f"{float(total):.10g}"))
    dates = tuple(_iso(table.cell(row, role), out) for role in ("use_by", "ready_on"))
    unit = house.unit_of(item)
    of_count = table.cell(row, "unit") if re.fullmatch(r"[\d.,/ ]+", texts[0]) else ""
    named = zip(texts, (f" {of_count}".rstrip(), " cs", " loose"), strict=True)
    how = " + ".join(f"{text}{what}" for text, what in named if text)
    if how not in (number, comes_to := shown(float(total), unit)):
        out.told.append(f"{name}: {how} = {comes_to}")
    return [(as_iso(day) if day else counted_on, item, number, unit, *dates)]


def _iso(text: str, out: Outcome) -> str:
    day = date_reader([text], lambda _: 0, out.asker, out.country)(text)[0] if text else None
    return as_iso(day) if day else ""


def _item(name: str, code: str, house: House, out: Outcome) -> tuple[str, tuple[str, ...]]:
    """The item a line counts, else none and what it may be; what is not the same words is asked and said."""
    if code:
        for one in house.ingredients.values():
            if any(offer.code == code for offer in one.offers):
                return one.id, ()
    bought: dict[str, list[str]] = {
        key: [one.name, *(o.description for o in one.offers if o.description)]
        for key, one in house.ingredients.items()
    }
    known = {**bought, **{key: [one.name] for key, one in house.recipes.items()}}
    found, goods = match(name, known), match(name, bought)
    is_plate = found.best in house.recipes and house.unit_of(found.best) == "portion" and bool(goods.best)
    if found.is_sure and not is_plate:
        return found.best, ()
    # butter on the shelf is butter before it is a steak butter
    ids = goods.ids or found.ids
    agree = agreeing(name, {one: known[one] for one in ids})
    likely = agree[0] if len(agree) == 1 else ""
    key, choices = f"item {name.lower()}", (ids if agree else nearest(name, known))[:6]
    if not choices and key not in out.asker.known:
        return "", ()
    text = f"Counted: {name}. Is that {' or '.join(choices)}?"
    answer = out.asker.settle(Question(key, text, (*choices, "none"), likely))
    if answer not in known:
        return "", () if answer == "none" else choices
    if out.asker.is_guess(key):
        out.told.append(f"{name}: taken for {known[answer][0]}")
    return answer, ()
