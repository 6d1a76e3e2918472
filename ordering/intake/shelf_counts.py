"""A count as it was typed up by shelf, in cases and pieces, booked in as `ordering count` books one in."""

from __future__ import annotations

import csv
import re
import tempfile
from collections.abc import Mapping, Sequence
from datetime import date
from fractions import Fraction
from pathlib import Path

from ordering.amounts import plural
from ordering.bookkeeping.counts import count_in
from ordering.faults import Refused
from ordering.intake.dates import as_iso, date_reader, is_day
from ordering.intake.goods_names import match
from ordering.intake.headings import Found, tables_in
from ordering.intake.outcome import Outcome
from ordering.intake.questions import Question
from ordering.intake.recipe_lines import amount_in, unit_in
from ordering.intake.sheets import Sheet
from ordering.packs import parse_pack
from ordering.read.house_folder import read_house
from ordering.records.documents import Meant
from ordering.records.house import House
from ordering.records.report import Report
from ordering.records.vendors import Offer
from ordering.units import UnitError, factor, format_number, parse_quantity

COLUMNS = ("counted_on", "item", "quantity", "unit", "use_by", "ready_on")
_CASE = re.compile(
    r"^(?:cs|cases?|ctns?|cartons?|bx|box(?:es)?|pks?|packs?|bags?|sacks?|flats?)\b\.?", re.IGNORECASE
)
_PIECE = re.compile(
    r"^(?:ea|each|pcs?|pieces?|loose|singles?|units?|tins?|cans?|bottles?|btls?|jars?|tubs?)\b\.?",
    re.IGNORECASE,
)
_PARTS = re.compile(r"\s*(?:\+|&|\band\b|,)\s*")


def bring_counts(sheets: Sequence[Sheet], out: Outcome) -> None:
    """Read every line as an amount of a known item in the item's own unit."""
    house, faults = read_house(out.house.directory)
    if house is None:
        raise Refused(faults)
    needed = ("item", ("count", "cases", "pieces"))
    rows: list[tuple[str, ...]] = []
    for table in tables_in(sheets, "counts", needed, out.asker, out.name):
        sheet = table.sheet
        out.told += table.how
        counted_on = _day_of(sheet, table, out)
        for n, row in table.body():
            name = table.cell(row, "item")
            texts = [table.cell(row, role) for role in ("count", "cases", "pieces")]
            if name and any(texts):
                rows += _line(table, row, f"row {sheet.line(n)}", counted_on, house, out)
    with_dates = sorted({row[0] for row in rows})
    out.told.append(f"{plural(len(rows), 'line')} counted on {', '.join(with_dates) or 'no day'}")
    out.written["counted"] = "\n".join("\t".join(row) for row in rows)


def book_count(
    config: Path, books: Path, paths: Sequence[Path], on: date, is_yes: bool, out: Outcome
) -> Report:
    """Book the lines in, as a filled sheet of that name would be; the report of both."""
    lines = [line.split("\t") for line in out.written.pop("counted", "").splitlines()]
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


def _day_of(sheet: Sheet, table: Found, out: Outcome) -> str:
    """The day that stands above the table, else the day of booking in."""
    for row in sheet.rows[: table.head]:
        for cell in row:
            text = re.sub(r"^[A-Za-z ]*(?:date|counted(?: on)?)\W+", "", cell, flags=re.IGNORECASE)
            if is_day(text):
                day = date_reader([text], lambda _: 0, out.asker, out.country)(text)[0]
                if day is not None and day <= out.on:
                    return as_iso(day)
    return out.on.isoformat()


def _line(
    table: Found, row: Sequence[str], where: str, counted_on: str, house: House, out: Outcome
) -> list[tuple[str, ...]]:
    """The rows of the count book for one line; none where it cannot be read, which is said."""
    name, code = table.cell(row, "item"), table.cell(row, "code")
    item = _item(name, code, house, out)
    if not item:
        out.left.append(f"{where}: {name}: not a known ingredient or recipe")
        return []
    written = table.cell(row, "date")
    day = date_reader([written], lambda _: 0, out.asker, out.country)(written)[0] if written else None
    total = Fraction(0)
    unit = table.cell(row, "unit")
    for role, is_case, is_piece in (("count", False, False), ("cases", True, False), ("pieces", False, True)):
        text = table.cell(row, role)
        if not text:
            continue
        for n, part in enumerate(p for p in _PARTS.split(text.strip()) if p):
            amount = _amount(part, unit if n == 0 else "", item, house, is_case, is_piece or n > 0)
            if amount is None:
                out.left.append(f"{where}: {name}: '{part}' of {item} cannot be read as an amount")
                return []
            total += amount
    own = house.unit_of(item)
    number = format_number(Fraction(f"{float(total):.10g}"))
    dates = tuple(_iso(table.cell(row, role), out) for role in ("use_by", "ready_on"))
    return [(as_iso(day) if day else counted_on, item, number, own, *dates)]


def _iso(text: str, out: Outcome) -> str:
    day = date_reader([text], lambda _: 0, out.asker, out.country)(text)[0] if text else None
    return as_iso(day) if day else ""


def _item(name: str, code: str, house: House, out: Outcome) -> str:
    if code:
        for bought in house.ingredients.values():
            if any(offer.code == code for offer in bought.offers):
                return bought.id
    known: Mapping[str, list[str]] = {
        **{
            key: [one.name, *(o.description for o in one.offers if o.description)]
            for key, one in house.ingredients.items()
        },
        **{key: [one.name] for key, one in house.recipes.items()},
    }
    found = match(name, known)
    if found.is_sure:
        return found.best
    if not found.best:
        return ""
    text = f"Counted: {name}. Is that {' or '.join(found.ids[:6])}?"
    answer = out.asker.settle(Question(f"item {name.lower()}", text, (*found.ids[:6], "none"), found.best))
    return answer if answer in known else ""


def _amount(text: str, unit: str, item: str, house: House, is_case: bool, is_piece: bool) -> Fraction | None:
    """`3 cs`, `2`, `4.5 lb` of an item in its own unit; a bare number in the unit column's."""
    number, rest = amount_in(text)
    if number is None:
        return Fraction(0) if re.fullmatch(r"(?i)(?:0|out|none|-|nil)", text) else None
    rest = rest.strip() or ("" if is_case or is_piece else unit)
    own = house.unit_of(item)
    offer = _offer(house, item)
    if is_case or _CASE.match(rest):
        return None if offer is None else number * Fraction(str(offer.pack_quantity))
    measured = house.ingredients.get(item) or house.recipes[item]
    word = unit_in(rest)[0] if rest else ""
    if word and not (_PIECE.match(rest) and offer is not None):
        try:
            return number * factor(word, own, measured.each_g, measured.density_kg_per_l)
        except UnitError:
            if not _PIECE.match(rest):
                return None
    if (is_piece or _PIECE.match(rest)) and offer is not None:
        inner = _inner(offer)
        return None if inner is None else number * inner
    return number if not rest else None


def _offer(house: House, item: str) -> Offer | None:
    """The offer whose cases are counted: the preferred one, else the first."""
    bought = house.ingredients.get(item)
    offers = bought.offers if bought else ()
    return next((one for one in offers if one.is_preferred), offers[0] if offers else None)


def _inner(offer: Offer) -> Fraction | None:
    """What one piece of a case holds, in the item's unit: a kilo of `6 x 1 kg`."""
    try:
        whole = parse_pack(offer.pack)
        *counts, last = re.split(r"\s*[x×/]\s*", offer.pack.partition("~")[0].strip())
        if not counts:
            count = (
                parse_quantity(last).amount
                if last[:1].isdigit() and whole.content.unit not in ("lb", "kg", "l", "gallon")
                else Fraction(1)
            )
            return Fraction(str(offer.pack_quantity)) / (count or 1)
        n = Fraction(1)
        for one in counts:
            n *= int(one)
        return Fraction(str(offer.pack_quantity)) / n
    except (UnitError, ValueError):
        return None
