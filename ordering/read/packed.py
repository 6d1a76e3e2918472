"""What was counted in packs and pieces, `2 cs + 3`, by the packs that vendors sell it in."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction

from ordering import units
from ordering.packs import pieces_in
from ordering.read import columns, fields
from ordering.records.house import House
from ordering.units import format_number

Said = tuple[str, str, str]
Ratio = Callable[[str], Fraction | Said]

_WORDS = ("case", "carton", "pack", "box", "bag", "sack", "tray", "crate", "bundle")
PACK_WORDS = frozenset(("cs", "ctn", "pk", "boxes", *_WORDS, *(f"{word}s" for word in _WORDS)))
_NUMBER = r"[0-9]+(?:\.[0-9]+)?"
_PACKED = re.compile(
    rf"({_NUMBER})\s*(?:([a-z]+)|[x×]\s*({_NUMBER}\s*[a-z][a-z .]*?))\.?"
    rf"(?:\s*\+\s*({_NUMBER})\s*([a-z][a-z .]*)?)?",
    re.IGNORECASE | re.ASCII,
)


@dataclass(frozen=True, slots=True)
class Packed:
    """So many packs and so many loose: pieces of a pack, or of `loose_unit` where one is written.

    `size` is what one pack holds where that is written too, as in `2 x 5 kg`.
    """

    packs: Fraction
    loose: Fraction = Fraction(0)
    loose_unit: str = ""
    size: units.Quantity | None = None


def counted(text: str) -> Fraction | Packed:
    """A number as it is counted: `12`, `3.5`, or packs and pieces."""
    match = _PACKED.fullmatch(text)
    if match is None or not (match[3] or (match[2] or "").lower() in PACK_WORDS):
        return columns.number(text)
    packs, _, size, loose, loose_unit = match.groups()
    try:
        holds = units.parse_quantity(size) if size else None
        unit = units.unit_name(loose_unit) if loose_unit and loose_unit.strip() else ""
    except units.UnitError as error:
        raise columns.Misread("bad-quantity", error.wrong, error.right) from None
    return Packed(Fraction(packs), Fraction(loose or 0), unit, holds)


def is_pack_word(word: str | None) -> bool:
    """Whether a unit counts packs rather than measures what is in them."""
    return word is not None and word.lower() in PACK_WORDS


def in_own_unit(
    house: House, item: str, given: Packed, row_unit: str | None, ratio: Ratio
) -> Fraction | Said:
    """What packs and pieces of an item come to in its own unit, or what is wrong with them.

    ratio : what one of a unit is of the item's own
    row_unit : the unit beside the number, in which what is loose is taken where a pack has no pieces
    """
    held = _held(house, item, given, ratio)
    if len(held) == 3:
        return held
    one, n_pieces = held
    if not given.loose:
        return given.packs * one
    if not given.loose_unit and n_pieces > 1:
        return given.packs * one + given.loose * one / n_pieces
    unit = given.loose_unit or (row_unit if row_unit and not is_pack_word(row_unit) else "")
    if not unit or (not given.loose_unit and units.kind_of(unit) not in ("mass", "volume")):
        return _loose_of_what(house, item, given)
    each = ratio(unit)
    return each if isinstance(each, tuple) else given.packs * one + given.loose * each


def _loose_of_what(house: House, item: str, given: Packed) -> Said:
    """What is asked of `1 cs + 3` where a pack is one piece: three more packs, or something smaller."""
    packs, loose = format_number(float(given.packs)), format_number(float(given.loose))
    own = house.unit_of(item)
    unit = "kg" if units.kind_of(own) not in ("mass", "volume") else own
    all_packs = format_number(float(given.packs + given.loose))
    return (
        "which-pack",
        f"a pack of it is one piece: {loose} more of what?",
        f"write {all_packs} cs if it is packs, or the unit of what is loose: {packs} cs + {loose} {unit}",
    )


def _held(house: House, item: str, given: Packed, ratio: Ratio) -> tuple[Fraction, int] | Said:
    """What one pack holds in the item's own unit, and how many pieces; or what cannot be known of it."""
    if given.size is not None:
        each = ratio(given.size.unit)
        return each if isinstance(each, tuple) else (given.size.amount * each, 1)
    bought = house.ingredients.get(item)
    sizes = {
        round(offer.pack_quantity, 9): offer
        for offer in (bought.offers if bought is not None else ())
        if offer.pack_quantity > 0
    }
    unit = house.unit_of(item)
    if not sizes:
        wrong = f"no vendor's pack is known of {fields.shown(item)}"
        return "no-pack", wrong, f"write how much it is in {unit}, or what one holds: 2 x 5 {unit}"
    if len(sizes) > 1:
        packs = " or ".join(f"{offer.pack} ({offer.code})" for _, offer in sorted(sizes.items()))
        first = format_number(min(sizes))
        return "which-pack", f"a pack of it may be {packs}", f"write what one holds: 2 x {first} {unit}"
    ((quantity, offer),) = sizes.items()
    return units.exact(quantity), pieces_in(offer.pack)
