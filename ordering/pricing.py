"""The library function behind `check --prices`: prices as invoiced, written into the house's files."""

from __future__ import annotations

import re
from datetime import date
from decimal import Decimal
from pathlib import Path

from ordering.amounts import plural
from ordering.faults import Fault
from ordering.ledger.prices import Invoiced, Steps, invoiced, price_doubts, steps_of
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
        at = _price_line(lines_of, doubt.line, one.offer.code)
        written = list(lines_of)
        if at is None or not all(_written(written, at, *step) for step in _changed(one)):
            missed.append(f"not found in {doubt}")
            continue
        texts[path] = written
        new = ", ".join(price_said(price) for _, price in _changed(one))
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


def _changed(one: Invoiced) -> Steps:
    """The prices of an offer that are written anew, by the packs from which they hold."""
    return tuple(now for was, now in zip(steps_of(one.offer), one.steps, strict=True) if was != now)


def _written(lines: list[str], at: int, least: int, price: Decimal) -> bool:
    """Whether a price could be written: at the line that has the first one of its offer, or behind it."""
    word = re.compile(rf"(\bbreaks:.*?\b{least}:\s*)[0-9.]+" if least else r"(\bprice:\s*)[0-9.]+", re.DOTALL)
    end = at + 1
    while least and end < min(at + LINES_OF_AN_OFFER, len(lines)) and not re.search(r"\bcode:", lines[end]):
        end += 1
    text, n = word.subn(rf"\g<1>{price_said(price)}", "\n".join(lines[at:end]), count=1)
    lines[at:end] = text.split("\n")
    return bool(n)
