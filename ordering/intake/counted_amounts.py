"""What a line of a count comes to: cases, boxes, loose pieces and weights in an item's own unit."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

from ordering.intake.outcome import Outcome, Question
from ordering.intake.recipe_lines import amount_in, unit_in
from ordering.packs import parse_pack, pieces_in
from ordering.read.entries import ratio_of
from ordering.read.packed import Packed, in_own_unit
from ordering.records.house import House
from ordering.units import Quantity, format_number, kind_of

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
_PARTS = re.compile(r"\s*(?:\+|&|\band\b|(?<!\d),|,(?!\d))\s*|(?<=[a-z])\.?\s+(?=\d)", re.IGNORECASE)
COUNT, CASES, PIECES = "count", "cases", "pieces"


def in_all(texts: Sequence[str], unit: str, item: str, house: House, out: Outcome) -> Fraction | str:
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
