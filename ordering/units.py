"""Units of a kitchen with exact factors, and the strings they are written in.

Four kinds of unit: mass, volume, pieces (`each`, `dozen`) and trade pieces (`bunch`, `tin`, `tray`, ...),
each of which is a kind of its own. Within a kind factors are exact fractions. Across kinds there are two
bridges and no guess: volume and mass through the item's own density, pieces and mass through the item's own
weight each. `oz` is mass and `fl oz` volume; `pint`, `quart`, `gallon`, `cup`, `tbsp`, `tsp` are US
customary, the British measures are `imp fl oz`, `imp pint`, `imp quart`, `imp gallon`.

Factors: 1 lb = 453.59237 g (NIST Handbook 44, Appendix C; NIST SP 811, B.8); 1 US gallon = 231 cubic inches,
1 inch = 25.4 mm (same); 1 imperial gallon = 4.54609 l (same, notes on British units). The ladder
3 tsp = 1 tbsp, 2 tbsp = 1 fl oz, 8 fl oz = 1 cup, 2 cup = 1 pint, 2 pint = 1 quart, 4 quart = 1 gallon is
that of NIST SP 430.
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from types import MappingProxyType

Number = int | float | Fraction

LB_G = Fraction("453.59237")
US_GALLON_ML = 231 * Fraction("2.54") ** 3
IMP_GALLON_ML = Fraction("4546.09")
LARGEST = 10**9
USUAL = "g, kg, oz, lb, ml, l, fl oz, cup, pint, gallon, each, dozen"

_MASS = {"g": Fraction(1), "kg": Fraction(1000), "mg": Fraction(1, 1000), "lb": LB_G, "oz": LB_G / 16}
_VOLUME = {
    "ml": Fraction(1),
    "cl": Fraction(10),
    "dl": Fraction(100),
    "l": Fraction(1000),
    "tsp": US_GALLON_ML / 768,
    "tbsp": US_GALLON_ML / 256,
    "fl oz": US_GALLON_ML / 128,
    "cup": US_GALLON_ML / 16,
    "pint": US_GALLON_ML / 8,
    "quart": US_GALLON_ML / 4,
    "gallon": US_GALLON_ML,
    "imp fl oz": IMP_GALLON_ML / 160,
    "imp pint": IMP_GALLON_ML / 8,
    "imp quart": IMP_GALLON_ML / 4,
    "imp gallon": IMP_GALLON_ML,
}
_PIECE = {"each": Fraction(1), "dozen": Fraction(12)}
_TRADE = """
bag bar block bottle box bulb bunch can carton case clove crate fillet head jar keg leaf loaf pack pot portion
punnet rack ream roll sack sheet side slice sprig stalk stick tin tray tub tube
"""
_CANS = "10, 5, 5 squat, 3 cylinder, 3 vacuum, 2.5, 2 cylinder, 2 vacuum, 2, 303, 300, 1 tall, 1 picnic"
_CAN = re.compile(r"(?:#|no\b\.?|a(?=10)) ?([0-9][a-z0-9. ]*?) (?:can|tin)s?", re.ASCII)
TRADE_PIECES = (*_TRADE.split(), *(f"no. {size} can" for size in _CANS.split(", ")))

_SPELLINGS = """
g: gram, gramme
kg: kilo, kilogram
mg: milligram
lb: pound
oz: ounce
l: litre, liter
ml: millilitre, milliliter
cl: centilitre
dl: decilitre
tsp: teaspoon
tbsp: tablespoon
fl oz: floz, fl. oz, fluid ounce, us fl oz
cup: us cup
pint: us pint, pt
quart: us quart, qt
gallon: us gallon, gal
imp pint: imp pt, imperial pint
imp quart: imp qt, imperial quart
imp gallon: imp gal, imperial gallon
imp fl oz: imperial fl oz
each: ea, piece, pc
dozen: doz
leaf: leaves
loaf: loaves
"""
_SAME = {
    spelling: unit
    for line in _SPELLINGS.strip().splitlines()
    for unit, spellings in [line.split(": ")]
    for spelling in spellings.split(", ")
}

UNITS: Mapping[str, tuple[str, Fraction]] = MappingProxyType(
    {name: ("mass", f) for name, f in _MASS.items()}
    | {name: ("volume", f) for name, f in _VOLUME.items()}
    | {name: ("each", f) for name, f in _PIECE.items()}
    | {name: (name, Fraction(1)) for name in TRADE_PIECES}
)
"""Every unit with its kind and its size in the kind's base (g, ml, one piece)."""

_BUSHEL = "a bushel weighs something else for every crop: write what one pack weighs, as in 25 lb"
_NOT_GUESSED = {
    "fl": "did you mean 'fl oz'?",
    "bu": f"if a bunch is meant, write bunch; {_BUSHEL}",
    **dict.fromkeys(("bushel", "bushels", "bsh"), _BUSHEL),
}

_NUMBER = r"(?:[0-9]{1,12} )?[0-9]{1,12}/[0-9]{1,6}|[0-9]{1,12}(?:\.[0-9]{1,12})?|\.[0-9]{1,12}"
QUANTITY = re.compile(rf"({_NUMBER})\s*(\S.*)?", re.ASCII)


class UnitError(ValueError):
    """`wrong` says what cannot be read or converted, `right` what would be."""

    def __init__(self, wrong: str, right: str = "") -> None:
        super().__init__(f"{wrong}; {right}" if right else wrong)
        self.wrong = wrong
        self.right = right


@dataclass(frozen=True, slots=True)
class Quantity:
    """An exact amount in a named unit."""

    amount: Fraction
    unit: str

    def __str__(self) -> str:
        return f"{format_number(self.amount)} {self.unit}"


def exact(number: Number) -> Fraction:
    """The number as it would be written in decimals, as a fraction: 0.1 is one tenth."""
    return Fraction(repr(float(number))) if isinstance(number, float) else Fraction(number)


def format_number(number: Number) -> str:
    """A number as people write it: no trailing zeros, at most six decimals."""
    text = f"{float(number):.6f}".rstrip("0").rstrip(".")
    return text or "0"


def unit_name(text: str) -> str:
    """The unit's own name for any accepted spelling: `Litres` is `l`, `pt` is `pint`.

    Raises
    ------
    UnitError : no such unit
    """
    word = " ".join(text.lower().split())
    if can := _CAN.fullmatch(word):
        word = f"no. {can[1]} can"
    for candidate in (word, word.removesuffix("."), word.removesuffix("s"), word.removesuffix("es")):
        name = _SAME.get(candidate, candidate)
        if name in UNITS:
            return name
    close = difflib.get_close_matches(word[:40], [*UNITS, *_SAME], 1, 0.6)
    right = _NOT_GUESSED.get(word) or (f"did you mean '{close[0]}'?" if close else f"write one of {USUAL}")
    raise UnitError(f"'{text[:40]}' is not a known unit", right)


def kind_of(unit: str) -> str:
    """`mass`, `volume`, `each`, or the name of a trade piece. KeyError: not a unit's own name."""
    return UNITS[unit][0]


def amount_of(text: str) -> Fraction:
    """A bare number, `3`, `1.5` or `1 1/2`, exactly. Raises UnitError for a division by zero."""
    whole, _, part = text.rpartition(" ")
    try:
        return Fraction(part) + (Fraction(whole) if whole else 0)
    except ZeroDivisionError:
        raise UnitError(f"'{text}' divides by zero", "write 1/2") from None


def _misread(text: str, example: str) -> UnitError:
    shown = text[:40]
    if re.match(r"\s*-", text):
        return UnitError(f"'{shown}' cannot be negative", "write how much there is, 0 or more")
    if re.match(r"\s*[0-9]+,[0-9]", text):
        meant = shown.replace(",", ".") if text.count(",") == 1 else example
        return UnitError(f"'{shown}' has a comma in its number", f"write decimals with a point: {meant}")
    return UnitError(f"'{shown}' is not a quantity", f"write a number and a unit: {example}")


@lru_cache(4096)  # a house writes the same few amounts again and again
def parse_quantity(text: str, example: str = "250 g") -> Quantity:
    """Read `250 g`, `1.5 l`, `1 1/2 cup`, `3 each`.

    Raises
    ------
    UnitError : no number, no unit, an unknown unit, negative, or above 1,000,000,000
    """
    match = QUANTITY.fullmatch(text.strip()) if len(text) <= 80 else None
    if match is None:
        raise _misread(text, example)
    number, unit = match.groups()
    if unit is None:
        raise UnitError(f"'{text.strip()}' has no unit", f"write a number and a unit: {example}")
    if re.match(r"[,.0-9]", unit):
        raise _misread(text, example)
    amount = amount_of(number)
    if amount > LARGEST:
        raise UnitError(f"'{text.strip()}' is too large", "check the number and the unit")
    return Quantity(amount, unit_name(unit))


def parse_density(text: str) -> Fraction:
    """Read `0.92 kg/l` (any mass over any volume) or `1 cup = 4.25 oz`, as kg per litre.

    Raises
    ------
    UnitError : not a mass over a volume, or not more than zero
    """
    wrong = UnitError(
        f"'{text[:40]}' is not a density", "write mass over volume: 0.92 kg/l, or 1 cup = 4.25 oz"
    )
    if "=" in text:
        volume, _, mass = text.partition("=")
        over, under = parse_quantity(mass, "1 cup = 4.25 oz"), parse_quantity(volume, "1 cup = 4.25 oz")
    else:
        mass, slash, volume = text.strip().rpartition("/")
        if not slash:
            raise wrong
        over, under = parse_quantity(mass, "0.92 kg/l"), Quantity(Fraction(1), unit_name(volume))
    if kind_of(over.unit) != "mass" or kind_of(under.unit) != "volume" or not over.amount or not under.amount:
        raise wrong
    return over.amount * UNITS[over.unit][1] / (under.amount * UNITS[under.unit][1])


def _gram(unit: str, each_g: Number | None, density: Number | None) -> Fraction | None:
    """Grams in one `unit` of an item, None where the item has no bridge to mass."""
    kind, size = UNITS[unit]
    if kind == "mass":
        return size
    per = density if kind == "volume" else each_g
    return None if per is None else size * exact(per)


@lru_cache(4096, typed=True)  # the same in every line of a recipe; 0.1 is a tenth, not the nearest double
def factor(
    from_unit: str, to_unit: str, each_g: Number | None = None, density: Number | None = None
) -> Fraction:
    """How many `to_unit` one `from_unit` of an item is, exactly.

    `each_g` is grams in one piece of the item, `density` its kg per litre (= g per ml).

    Raises
    ------
    UnitError : the two kinds have no bridge for this item
    KeyError : not a unit's own name
    """
    (from_kind, from_size), (to_kind, to_size) = UNITS[from_unit], UNITS[to_unit]
    if from_kind == to_kind:
        return from_size / to_size
    pieces = [k for k in (from_kind, to_kind) if k not in ("mass", "volume")]
    grams = None if len(pieces) == 2 else _gram(from_unit, each_g, density)
    grams_to = _gram(to_unit, each_g, density)
    if grams is not None and grams_to is not None:
        return grams / grams_to
    raise UnitError(f"{from_unit} cannot become {to_unit}", _bridge(from_kind, to_kind, pieces, density))


def _bridge(from_kind: str, to_kind: str, pieces: list[str], density: Number | None) -> str:
    if len(pieces) == 2:
        either = f"use one of '{pieces[0]}' and '{pieces[1]}' throughout"
        return f"write how many each are in it, as in 12 each; or {either}" if "each" in pieces else either
    needs = ["'each: 180 g' (what one weighs)"] if pieces else []
    if "volume" in (from_kind, to_kind) and density is None:
        needs.append("'density: 0.92 kg/l'")
    return f"give the item {' and '.join(needs)}"


def convert(
    amount: Number,
    from_unit: str,
    to_unit: str,
    each_g: Number | None = None,
    density: Number | None = None,
) -> float:
    """`amount` of an item in another unit; the nearest float to the exact value. Raises as `factor`."""
    return float(exact(amount) * factor(from_unit, to_unit, each_g, density))


def degrees(celsius: float, is_american: bool) -> float:
    """A temperature as the house measures it, to a tenth."""
    return round(celsius * 9 / 5 + 32 if is_american else celsius, 1)


def degree_unit(is_american: bool) -> str:
    """The unit that temperatures of the house are in."""
    return "°F" if is_american else "°C"
