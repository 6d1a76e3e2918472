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
from types import MappingProxyType

Number = int | float | Fraction

LB_G = Fraction("453.59237")
US_GALLON_ML = 231 * Fraction("2.54") ** 3
IMP_GALLON_ML = Fraction("4546.09")
LARGEST = 10**9
MAX_DAYS = 3660

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
TRADE_PIECES = tuple(_TRADE.split())

_SAME = {
    "gram": "g",
    "gramme": "g",
    "kilo": "kg",
    "kilogram": "kg",
    "milligram": "mg",
    "pound": "lb",
    "ounce": "oz",
    "litre": "l",
    "liter": "l",
    "millilitre": "ml",
    "milliliter": "ml",
    "centilitre": "cl",
    "decilitre": "dl",
    "teaspoon": "tsp",
    "tablespoon": "tbsp",
    "floz": "fl oz",
    "fl. oz": "fl oz",
    "fluid ounce": "fl oz",
    "us fl oz": "fl oz",
    "us cup": "cup",
    "us pint": "pint",
    "us quart": "quart",
    "us gallon": "gallon",
    "pt": "pint",
    "qt": "quart",
    "gal": "gallon",
    "imp pt": "imp pint",
    "imp qt": "imp quart",
    "imp gal": "imp gallon",
    "imperial fl oz": "imp fl oz",
    "imperial pint": "imp pint",
    "imperial quart": "imp quart",
    "imperial gallon": "imp gallon",
    "ea": "each",
    "piece": "each",
    "pc": "each",
    "doz": "dozen",
    "leaves": "leaf",
    "loaves": "loaf",
}

UNITS: Mapping[str, tuple[str, Fraction]] = MappingProxyType(
    {name: ("mass", f) for name, f in _MASS.items()}
    | {name: ("volume", f) for name, f in _VOLUME.items()}
    | {name: ("each", f) for name, f in _PIECE.items()}
    | {name: (name, Fraction(1)) for name in TRADE_PIECES}
)
"""Every unit with its kind and its size in the kind's base (g, ml, one piece)."""

_NUMBER = r"(?:[0-9]{1,12} )?[0-9]{1,12}/[0-9]{1,6}|[0-9]{1,12}(?:\.[0-9]{1,12})?|\.[0-9]{1,12}"
_QUANTITY = re.compile(rf"({_NUMBER})\s*(\S.*)?", re.ASCII)


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
        return f"{said(self.amount)} {self.unit}"


@dataclass(frozen=True, slots=True)
class Pack:
    """What one pack holds: `content` in total, and for catch weight the `expected` weight of it."""

    written: str
    content: Quantity
    expected: Quantity | None = None


def exact(number: Number) -> Fraction:
    """The number as it would be written in decimals, as a fraction: 0.1 is one tenth."""
    return Fraction(repr(float(number))) if isinstance(number, float) else Fraction(number)


def said(number: Number) -> str:
    """A number as people write it: no trailing noughts, at most six decimals."""
    text = f"{float(number):.6f}".rstrip("0").rstrip(".")
    return text or "0"


def unit_name(text: str) -> str:
    """The unit's own name for any accepted spelling: `Litres` is `l`, `pt` is `pint`.

    Raises
    ------
    UnitError : no such unit
    """
    word = " ".join(text.lower().split())
    for candidate in (word, word.removesuffix("."), word.removesuffix("s"), word.removesuffix("es")):
        name = _SAME.get(candidate, candidate)
        if name in UNITS:
            return name
    close = difflib.get_close_matches(word[:40], [*UNITS, *_SAME], n=1, cutoff=0.6)
    right = f"did you mean '{close[0]}'?" if close else "write one of g, kg, oz, lb, ml, l, fl oz, cup, each"
    raise UnitError(f"'{text[:40]}' is no known unit", right)


def kind_of(unit: str) -> str:
    """`mass`, `volume`, `each`, or the name of a trade piece. KeyError: not a unit's own name."""
    return UNITS[unit][0]


def _amount(text: str) -> Fraction:
    whole, _, part = text.rpartition(" ")
    try:
        return Fraction(part) + (Fraction(whole) if whole else 0)
    except ZeroDivisionError:
        raise UnitError(f"'{text}' divides by nought", "write 1/2") from None


def _misread(text: str, example: str) -> UnitError:
    shown = text[:40]
    if re.match(r"\s*-", text):
        return UnitError(f"'{shown}' is below nought", "write how much there is, 0 or more")
    if re.match(r"\s*[0-9]+,[0-9]", text):
        return UnitError(f"'{shown}' has a comma in its number", f"write decimals with a point: {example}")
    return UnitError(f"'{shown}' is no quantity", f"write a number and a unit: {example}")


def parse_quantity(text: str, example: str = "250 g") -> Quantity:
    """Read `250 g`, `1.5 l`, `1 1/2 cup`, `3 each`.

    Raises
    ------
    UnitError : no number, no unit, an unknown unit, below nought, or above 1,000,000,000
    """
    match = _QUANTITY.fullmatch(text.strip()) if len(text) <= 80 else None
    if match is None:
        raise _misread(text, example)
    number, unit = match.groups()
    if unit is None:
        raise UnitError(f"'{text.strip()}' has no unit", f"write a number and a unit: {example}")
    if re.match(r"[,.0-9]", unit):
        raise _misread(text, example)
    amount = _amount(number)
    if amount > LARGEST:
        raise UnitError(f"'{text.strip()}' is too large", "check the number and the unit")
    return Quantity(amount, unit_name(unit))


def parse_pack(text: str) -> Pack:
    """Read `25 kg`, `6 x 1 kg`, `4 x 6 x 330 ml`, and catch weight: `1 each ~ 4.2 kg`.

    After `~` stands the expected weight of the whole pack.

    Raises
    ------
    UnitError : not a pack, an empty pack, or an expected weight that is no mass
    """
    example = "6 x 1 kg"
    nominal, tilde, weight = text.partition("~")
    *counts, last = re.split(r"\s+[x×]\s+|(?<=[0-9])[x×](?=[0-9 ])", nominal.strip()[:80])
    inner = parse_quantity(last, example)
    amount = inner.amount
    for count in counts:
        if not re.fullmatch(r"[0-9]{1,6}", count.strip(), re.ASCII):
            raise UnitError(f"'{count[:40]}' is no whole number of units in a pack", f"write {example}")
        amount *= int(count)
    if not 0 < amount <= LARGEST:
        raise UnitError(f"the pack '{text[:40]}' holds nothing or too much", f"write {example}")
    expected = parse_quantity(weight, "1 each ~ 4.2 kg") if tilde else None
    if expected is not None and (kind_of(expected.unit) != "mass" or not expected.amount):
        raise UnitError(
            f"'{weight.strip()[:40]}' is no weight", "write what one pack weighs: 1 each ~ 4.2 kg"
        )
    return Pack(" ".join(text.split()), Quantity(amount, inner.unit), expected)


_HOURS = {"h": 1, "hour": 1, "hr": 1, "d": 24, "day": 24, "w": 168, "week": 168}


def parse_hours(text: str) -> Fraction:
    """Read a span, `2 d`, `36 h` or `3 weeks`, as hours.

    Raises
    ------
    UnitError : not a span, or longer than 3,660 days
    """
    match = _QUANTITY.fullmatch(text.strip()) if len(text) <= 80 else None
    unit = " ".join((match.group(2) or "").lower().split()) if match else ""
    hours = _HOURS.get(unit) or _HOURS.get(unit.removesuffix("s"))
    if match is None or hours is None:
        raise UnitError(f"'{text[:40]}' is no span of time", "write days or hours: 2 d, 36 h")
    span = _amount(match.group(1)) * hours
    if span > MAX_DAYS * 24:
        raise UnitError(f"'{text[:40]}' is longer than ten years", "write days or hours: 2 d, 36 h")
    return span


def parse_days(text: str) -> int:
    """Read a span as whole days, rounded up: `36 h` is 2 days. Raises as `parse_hours`."""
    return -int(-parse_hours(text) // 24)


def parse_density(text: str) -> Fraction:
    """Read `0.92 kg/l` (or any mass over any volume) as kg per litre.

    Raises
    ------
    UnitError : not a mass over a volume, or not above nought
    """
    mass, slash, volume = text.strip().rpartition("/")
    wrong = UnitError(f"'{text[:40]}' is no density", "write mass over volume: 0.92 kg/l")
    if not slash:
        raise wrong
    over, under = parse_quantity(mass, "0.92 kg/l"), unit_name(volume)
    if kind_of(over.unit) != "mass" or kind_of(under) != "volume" or not over.amount:
        raise wrong
    return over.amount * UNITS[over.unit][1] / UNITS[under][1]


def _gram(unit: str, each_g: Number | None, density: Number | None) -> Fraction | None:
    """Grams in one `unit` of an item, None where the item has no bridge to mass."""
    kind, size = UNITS[unit]
    if kind == "mass":
        return size
    per = density if kind == "volume" else each_g
    return None if per is None else size * exact(per)


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
        return f"use one of '{pieces[0]}' and '{pieces[1]}' throughout, or a weight"
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
