"""The library function behind `check --prices`: prices as invoiced, written into the house's files."""

from __future__ import annotations

import re
from datetime import date
from pathlib import Path

from ordering.amounts import plural
from ordering.faults import Fault
from ordering.ledger.prices import invoiced, price_doubts
from ordering.loading import load
from ordering.read.files import MAX_YAML_BYTES, read_text
from ordering.records.money import price_said
from ordering.records.report import Report
from ordering.write.folder import write_file

LINES_OF_AN_OFFER = 12


def check_prices(config: Path, books_dir: Path, on: date, is_confirmed: bool) -> Report:
    """Prices in the files that lag behind what was invoiced; written into the files where that is confirmed.

    Raises
    ------
    Refused : the input has faults; nothing has been written
    """
    loaded = load(config, books_dir, on)
    house = loaded.house
    found = invoiced(house, loaded.bookings, on)
    if not found:
        return Report(("Every price in the files is what was last invoiced, or newer.",))
    doubts = list(price_doubts(house, found))
    if not is_confirmed:
        lines = [*map(str, doubts), f"{plural(len(found), 'price')} to write; with --yes they are written"]
        return Report(tuple(lines), 1)
    texts: dict[Path, list[str]] = {}
    told, missed = [], []
    for one, doubt in zip(found, doubts, strict=True):
        path = Path(doubt.place)
        if path not in texts:
            text = read_text(path, MAX_YAML_BYTES)
            texts[path] = [] if isinstance(text, Fault) else text.split("\n")
        lines_of = texts[path]
        new = price_said(one.quoted)
        at = _price_line(lines_of, doubt.line, one.offer.code)
        if at is None:
            missed.append(f"not found in {doubt}")
            continue
        lines_of[at] = re.sub(r"(\bprice:\s*)[0-9.]+", rf"\g<1>{new}", lines_of[at], count=1)
        told.append(f"{path}:{at + 1}: {one.offer.vendor} {one.offer.code}: {new}")
    for path, lines_of in texts.items():
        if lines_of:
            write_file(path, "\n".join(lines_of).encode())
    return Report((*told, *missed), 1 if missed else 0, tuple(texts))


def _price_line(lines: list[str], first: int, code: str) -> int | None:
    """Which line has the price of an offer that begins at a line (from 1): the first after its code's."""
    seen_code = False
    for n in range(max(first - 1, 0), min(first - 1 + LINES_OF_AN_OFFER, len(lines))):
        seen_code = seen_code or re.search(rf"code:\s*[\"']?{re.escape(code)}\b", lines[n]) is not None
        if seen_code and re.search(r"\bprice:\s*[0-9.]+", lines[n]):
            return n
    return None
