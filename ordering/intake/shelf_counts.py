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
from ordering.intake.dates import as_iso, date_reader
from ordering.intake.goods_match import agreeing, match, nearest
from ordering.intake.headings import Found, tables_in
from ordering.intake.outcome import Outcome, Question
from ordering.intake.recipe_lines import amount_in, unit_in
from ordering.intake.sheets import SourceSheet
from ordering.packs import parse_pack, pieces_in
from ordering.read.entries import ratio_of
from ordering.read.house_folder import read_house
from ordering.read.packed import Packed, in_own_unit
from ordering.records.documents import Meant
from ordering.records.house import House
from ordering.records.report import Report
from ordering.units import Quantity, format_number, kind_of

COLUMNS = ("counted_on", "item", "quantity", "unit", "use_by", "ready_on")
_CASE = re.compile(r"^(?:cs|cases?|ctns?|cartons?|flats?)\b\.?", re.IGNORECASE)
_HOLDER = re.compile(
    r"^(?:bx|box(?:es)?|pks?|packs?|bags?|sacks?|trays?|crates?|punnets?)\b\.?", re.IGNORECASE
)  # alone, or in a case
_OUTER = re.compile(r"^(?:bx|box(?:es)?|crates?)\b\.?", re.IGNORECASE)
_PIECE = re.compile(
    r"^(?:ea|each|pcs?|pieces?|loose|singles?|units?|tins?|cans?|bottles?|btls?|jars?|tubs?)\b\.?",
    re.IGNORECASE,
)
_HALF = re.compile(r"half[ -]?(?=gal|pint|pt|qt|quart|lit|case|doz)", re.IGNORECASE)
_OUT = re.compile(r"0|out|none|-|nil", re.IGNORECASE)
_TH = "(?:st|nd|rd|th)?"
_DAY = re.compile(
    rf"\d{{1,4}}[./-]\d{{1,2}}[./-]\d{{2,4}}|\d{{1,2}}{_TH} [a-z]{{3,9}},? \d{{2,4}}"
    rf"|[a-z]{{3,9}} \d{{1,2}}{_TH},? \d{{4}}",
    re.IGNORECASE,
)
COUNT, CASES, PIECES = "count", "cases", "pieces"
_PARTS = re.compile(r"\s*(?:\+|&|\band\b|,)\s*|(?<=[a-z])\.?\s+(?=\d)", re.IGNORECASE)


def bring_counts(sheets: Sequence[SourceSheet], out: Outcome) -> None:
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
    texts = tuple(table.cell(row, role) for role in ("count", "cases", "pieces"))
    total = _total(texts, table.cell(row, "unit"), item, house, out)
    if isinstance(total, str):
        out.left.append(f"{where}: {name}: {total}")
        return []
    number = format_number(Fraction(f"{float(total):.10g}"))
    dates = tuple(_iso(table.cell(row, role), out) for role in ("use_by", "ready_on"))
    unit = house.unit_of(item)
    named = zip(texts, ("", " cs", " loose"), strict=True)
    how = " + ".join(f"{text}{what}" for text, what in named if text)
    if how != number:
        out.told.append(f"{name}: {how} = {shown(float(total), unit)}")
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


def _total(texts: Sequence[str], unit: str, item: str, house: House, out: Outcome) -> Fraction | str:
    """What count, cases and pieces (`3 cs + 2`, `2`, `4.5 lb`) come to in the item's own unit, or why not."""
    count, cases, pieces = texts
    counted = [(part, COUNT if n == 0 else PIECES) for n, part in enumerate(_PARTS.split(count.strip()))]
    given, is_packed = Packed(Fraction(0)), False
    for part, kind in (*counted, (cases, CASES), (pieces, PIECES)):
        if not part:
            continue
        amount, rest = amount_in(part)
        if amount is None and not _OUT.fullmatch(part):
            return f"'{part}' cannot be read as an amount"
        rest = "" if amount is None else rest.strip() or (unit if kind == COUNT else "")
        if amount is not None and (half := _HALF.match(rest)):
            amount, rest = amount / 2, rest[half.end() :]
        rest = _known_word(part, rest, item, house, out)
        word = unit_in(rest)[0] if rest else ""
        is_held = bool(_HOLDER.match(rest))
        if kind == CASES or _CASE.match(rest) or (is_held and not _has_inner(house, item)):
            given = replace(given, packs=given.packs + (amount or 0))
        elif rest and not word and not is_held and not _PIECE.match(rest):
            return f"'{part if rest in part else f'{part} {rest}'}' cannot be read as an amount"
        else:
            is_piece = is_held or _PIECE.match(rest) or (word and kind_of(word) not in ("mass", "volume"))
            if is_piece and (not word or isinstance(ratio_of(house, item, word), tuple)):
                word, kind = "", PIECES
                amount = (amount or Fraction(0)) * (_in_a_bag(house, item) if is_held else 1)
            given = replace(given, loose=given.loose + (amount or 0), loose_unit=word or given.loose_unit)
        is_packed = is_packed or kind != COUNT or bool(given.packs)
    is_packed = is_packed or _counts_pieces(given, item, house, out)
    found = _of_packs(given, item, house, out) if is_packed else _plain(given, item, house)
    return found if isinstance(found, Fraction) else f"{found[1]}; {found[2]}"


def _counts_pieces(given: Packed, item: str, house: House, out: Outcome) -> bool:
    """Whether a number alone counts the boxes of a case of goods that are weighed or measured: asked."""
    own, bought = house.unit_of(item), house.ingredients.get(item)
    is_bare = not given.loose_unit and given.loose > 0 and given.loose.denominator == 1
    if (
        not is_bare
        or kind_of(own) not in ("mass", "volume")
        or not _has_pieces(house, item)
        or bought is None
    ):
        return False
    pack = next(offer.pack for offer in bought.offers if pieces_in(offer.pack) > 1)
    content = parse_pack(pack).content
    if content == Quantity(Fraction(pieces_in(pack)), own):
        return False  # 36 x 1 lb: a piece is a pound
    n = format_number(given.loose)
    text = f"Counted: {bought.name}, {n}. A pack is {pack}: {n} of those in a pack, or {n} {own}?"
    asked = Question(f"number of {item}", text, ("pieces", own), "pieces")
    return out.asker.settle(asked) == "pieces"


def _known_word(part: str, rest: str, item: str, house: House, out: Outcome) -> str:
    """What an amount is of; a word nobody knows (lugs, jugs, balls) is asked: a pack, or one of it."""
    bought = house.ingredients.get(item)
    is_open = bool(_OUTER.match(rest)) and _has_inner(house, item)  # a box of 40, or one of 40 boxes
    is_known = bool(unit_in(rest)[0]) or any(one.match(rest) for one in (_CASE, _HOLDER, _PIECE))
    if (
        (is_known and not is_open)
        or not re.fullmatch(r"[^\W\d_]{3,}", rest)
        or bought is None
        or not bought.offers
    ):
        return rest
    text = f"Counted: {bought.name}, {part}. Is one a whole pack ({bought.offers[0].pack}), or one of it?"
    likely = "one of it" if not is_open and _has_pieces(house, item) else "a pack"
    asked = Question(f"{rest.lower()} of {item}", text, ("a pack", "one of it", "neither"), likely)
    return {"a pack": "cs", "one of it": "pc"}.get(out.asker.settle(asked), rest)


def _in_a_bag(house: House, item: str) -> int:
    """Pieces in a bag of a case of bags of pieces: 60 of `12 x 60 each`; 1 where bags hold no pieces."""
    bought = house.ingredients.get(item)
    packs = [parse_pack(offer.pack) for offer in bought.offers] if bought else []
    for pack in packs:
        outer = pieces_in(re.sub(r"[\d.]+(?=\s*each)", "1", pack.written))
        if kind_of(pack.content.unit) == "each" and 1 < outer < pack.content.amount:
            return int(pack.content.amount / outer)
    return 1


def _has_inner(house: House, item: str) -> bool:
    """Whether a vendor's pack holds several that may be called a box: not eggs, of which 30 make a tray."""
    bought = house.ingredients.get(item)
    packs = [re.sub(r"[\d.]+(?=\s*each)", "1", offer.pack) for offer in bought.offers] if bought else []
    return any(pieces_in(pack) > 1 for pack in packs)


def _has_pieces(house: House, item: str) -> bool:
    """Whether a vendor's pack of it holds several: then a bag is one of those."""
    bought = house.ingredients.get(item)
    return bought is not None and any(pieces_in(offer.pack) > 1 for offer in bought.offers)


def _plain(given: Packed, item: str, house: House) -> Fraction | tuple[str, str, str]:
    each = ratio_of(house, item, given.loose_unit or house.unit_of(item))
    return each if isinstance(each, tuple) else given.loose * each


def _of_packs(given: Packed, item: str, house: House, out: Outcome) -> Fraction | tuple[str, str, str]:
    """Packs and pieces in the item's own unit; which pack, and pieces of what, is asked where it is open."""
    own, bought = house.unit_of(item), house.ingredients.get(item)
    offers = {one.pack: one for one in bought.offers} if bought is not None else {}
    if bought is not None and offers:
        pack = next((one.pack for one in offers.values() if one.is_preferred), next(iter(offers)))
        if len({one.pack_quantity for one in offers.values()}) > 1:
            asked = Question(
                f"pack {item}", f"Counted: {bought.name}: how large is a pack?", tuple(offers), pack
            )
            answer = out.asker.settle(asked)
            pack = answer if answer in offers else pack
        house = replace(
            house, ingredients={**house.ingredients, item: replace(bought, offers=(offers[pack],))}
        )
        if given.loose and not given.loose_unit and pieces_in(pack) == 1:
            loose, name = format_number(given.loose), bought.name
            text = f"Counted: {name}, {loose}. A pack is {pack}: {loose} {own}, or {loose} packs?"
            if given.packs:
                cases = format_number(given.packs)
                text = f"Counted: {name}, {cases} cs + {loose}. A pack is {pack}: {loose} of what?"
            asked = Question(f"loose {item}", text, (own, "packs"), own if given.packs else "packs")
            is_packs = out.asker.settle(asked) == "packs"
            given = Packed(given.packs + given.loose) if is_packs else replace(given, loose_unit=own)
    return in_own_unit(house, item, given, None, lambda unit: ratio_of(house, item, unit))
