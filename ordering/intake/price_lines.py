"""The lines of a vendor's price list: code, words, pack, price, whatever the columns are called."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal

from ordering.intake.headings import Found
from ordering.intake.outcome import Outcome, money
from ordering.intake.words import id_of

_MARKET = re.compile(r"\b(?:mkt|market|mp|call|tba|poa|n/a|tbc)\b", re.IGNORECASE)
_IN_NAME = re.compile(
    r"(?:\d+\s*[/x×]\s*)?(?:\d+(?:[.,]\d+)?|\.\d+)\s*(?:#(?!\d)|lbs?\b|oz\b|kg\b|g\b|ml\b|cl\b|lt?r?\b|gal\b|qt\b|ct\b|dz\b|doz\w*\b)|\d+\s*/\s*#\s*\d+",
    re.IGNORECASE,
)
_PIECES = {
    "cs",
    "case",
    "ea",
    "each",
    "bg",
    "bag",
    "bx",
    "box",
    "pk",
    "pkt",
    "ctn",
    "tub",
    "pail",
    "flt",
    "flat",
    "jar",
    "btl",
    "dr",
    "tr",
    "sack",
}


@dataclass(frozen=True, slots=True)
class Line:
    """One line of a price list; `price` None where it says market or nothing."""

    row: int
    code: str
    name: str
    pack: str
    um: str
    price: Decimal | None
    per: str
    section: str


def lines_of(table: Found, out: Outcome) -> Iterator[Line]:
    section = ""
    for n, row in table.body():
        filled = [cell for cell in row if cell]
        name, price = table.cell(row, "name"), table.cell(row, "price")
        code = table.cell(row, "code")
        if not price and len(set(filled)) == 1:
            section = filled[0]
            continue
        if not name or (money(price) is None and not _MARKET.search(price)):
            if name and code:
                out.left.append(f"row {table.sheet.line(n)}: {name}: no price in '{price}'")
            continue
        pack, um = _pack_text(table, row, name)
        if pack and pack in name and pack != table.cell(row, "pack"):
            name = re.sub(r"\s+(?:bag|box|case)\b|[\s,]+$", "", name.replace(pack, "").strip())
        yield Line(
            row=table.sheet.line(n),
            code=(code or id_of(name))[:40],
            name=name,
            pack=pack,
            um=um,
            price=money(price),
            per=table.cell(row, "per"),
            section=table.cell(row, "section") or section,
        )


def _pack_text(table: Found, row: Sequence[str], name: str) -> tuple[str, str]:
    """The pack as one string: from a column, from two (6 and #10), or from the end of the description."""
    pack, size, um = (table.cell(row, role) for role in ("pack", "size", "um"))
    if pack and size:
        if re.fullmatch(r"\d+(?:\.0)?", pack):
            mark = "/" if size.startswith("#") else " x " if re.match(r"[\d.]", size) else " "
            pack = f"{pack}{mark}{size}"
        elif pack != size and not re.search(r"[a-z#]", pack, re.IGNORECASE):
            pack = f"{pack} {size}"
    pack = pack or size
    has_unit = re.search(r"[a-z#]", pack, re.IGNORECASE)
    if pack and not has_unit and um.lower() not in _PIECES:
        pack = f"{pack} {um}"
    if not pack and (found := _IN_NAME.findall(name)):
        pack = found[-1]
    return (pack or um), um
