"""Quantities as a cook says them: one unit, in steps that are weighed out or filled, in whole pieces."""

from __future__ import annotations

import math
from collections.abc import Mapping
from fractions import Fraction
from functools import lru_cache

from ordering.units import UNITS, Number, exact, format_number

SMALLER = {"kg": "g", "l": "ml"}
EPS = 1e-9
"""Part of a unit that sums in floating point leave over: what is less is nothing, in every stage."""

LEAST_SHOWN = 1e-6
"""Part of a unit too small to be printed: what is less is not worth a line."""

# Fractions of a measure that a cook finds on it: cups have thirds, all else is filled in quarters.
_QUARTERS = tuple(Fraction(n, 4) for n in range(5))
_OF_A_CUP = tuple(sorted({*_QUARTERS, Fraction(1, 3), Fraction(2, 3)}))
_HALVES = (Fraction(0), Fraction(1, 2), Fraction(1))
_WHOLE = (Fraction(0), Fraction(1))
_MARKS = {"cup": _OF_A_CUP, "tbsp": _HALVES}
FEW, _MANY = 4, 16  # from here on a measure is filled in halves, then in whole ones
_NEAR = Fraction(1, 20)  # nearer than this to a mark, a measure is filled to it (common practice, no source)

_OF_PIECES = (Fraction(1, 4), *(Fraction(n, 2) for n in range(1, 2 * FEW + 1)))
_NEARLY = Fraction(9, 10)  # less of what is wanted than this is too few (common practice, no source)

# Each measure with the one below it, how much of it is too little and too much to be said in it, and the one
# above it.
_MEASURES: Mapping[str, tuple[str, Fraction, int, str]] = {
    "gallon": ("quart", Fraction(1, 2), 0, ""),
    "quart": ("cup", Fraction(1, 2), 20, "gallon"),
    "pint": ("cup", Fraction(1, 2), 16, "gallon"),
    "cup": ("tbsp", Fraction(1, 4), 16, "quart"),
    "tbsp": ("tsp", Fraction(1, 2), 8, "cup"),
    "tsp": ("", Fraction(1, 4), 3, "tbsp"),
    "fl oz": ("tbsp", Fraction(1, 2), 0, ""),
    "imp gallon": ("imp pint", Fraction(1, 2), 0, ""),
    "imp quart": ("imp pint", Fraction(1, 2), 20, "imp gallon"),
    "imp pint": ("imp fl oz", Fraction(1, 4), 16, "imp gallon"),
    "imp fl oz": ("", Fraction(1, 4), 0, ""),
}
_WORDS = {
    **{"gallon": ("gal", "gal"), "quart": ("qt", "qt"), "pint": ("pt", "pt"), "cup": ("cup", "cups")},
    **{"imp gallon": ("gallon", "gallons"), "imp quart": ("quart", "quarts"), "imp pint": ("pint", "pints")},
    **{"imp fl oz": ("fl oz", "fl oz"), "each": ("", ""), "dozen": ("dozen", "dozen")},
    **{"leaf": ("leaf", "leaves"), "loaf": ("loaf", "loaves")},
}


def plural(n: Number, one: str, many: str = "") -> str:
    """`1 line`, `3 lines`; `many` where the plural is not made with an s."""
    return f"{format_number(n)} {one if n == 1 else many or one + 's'}"


def percent(share: float, places: int = 0, sign: str = "") -> str:
    """A share as it is written: `12 %`, with places `2.5 %`, with a sign `+3 %`; `-` where there is none.

    What rounds to nothing has no sign: `0 %`.
    """
    if math.isnan(share):
        return "-"
    number = round(100 * share, places)
    return f"{number:{sign}.{places}f} %" if number else f"{0:.{places}f} %"


def unit_words(unit: str, n: Number = 1) -> str:
    """A unit as it is said behind a number: `qt`, `2 cups`, `3 bunches`; nothing for what is counted each."""
    one, many = _WORDS.get(unit, (unit, unit))
    if unit not in _WORDS and is_piece(unit):
        many = f"{unit}es" if unit.endswith(("ch", "x", "s", "sh")) else f"{unit}s"
    return one if n <= 1 else many


def with_unit(number: str, unit: str, n: Number = 2) -> str:
    """A number that is already in words, with its unit behind it: `3 bunches`, `12`."""
    return f"{number} {unit_words(unit, n)}".rstrip()


def exactly(quantity: float, unit: str) -> str:
    """To the last digit, as an invoice has it: `2.375 kg`, `6 bunches`, `12`."""
    return with_unit(format_number(quantity), unit, quantity)


@lru_cache(4096)  # an order says each amount three times on average, on its sheet, its letter and its page
def shown(quantity: float, unit: str) -> str:
    """A quantity as a cook says it: `4.2 kg`, `35 g`, `3 bunches`, `12`, `4 1/4 lb`, `2 3/4 cups`.

    Within a twentieth of the exact amount: the books keep that.
    """
    if quantity < 0 and quantity > -LEAST_SHOWN:
        quantity = 0.0
    if quantity < 0:
        return f"-{shown(-quantity, unit)}"
    kind, size = UNITS.get(unit, ("", Fraction(1)))
    amount = exact(quantity) * size
    if quantity < LEAST_SHOWN:
        return with_unit("0", unit)
    if unit in ("oz", "lb"):
        return _pounds(amount / UNITS["oz"][1])
    if unit in _MEASURES:
        return _measure(exact(quantity), unit)
    if kind == "mass":
        return _metric(amount, "g", "kg")
    if kind == "volume":
        return _metric(amount, "ml", "l")
    return _pieces(exact(quantity), unit)


def _metric(amount: Fraction, small: str, large: str) -> str:
    """Up to a thousand in the small unit, as a scale shows it; then in the large one to one decimal."""
    for below, step in ((10, Fraction(1, 10)), (100, Fraction(1)), (997, Fraction(5))):
        if amount < below:
            steps = round(amount / step)
            return (
                f"{format_number(steps * step)} {small}"
                if steps
                else f"less than {format_number(step)} {small}"
            )
    of_it = amount / 1000
    fine = Fraction(1, 20) if of_it < 2 else Fraction(1, 10) if of_it < 100 else Fraction(1)
    return f"{_thousands(round(of_it / fine) * fine)} {large}"


def _pounds(ounces: Fraction) -> str:
    """Ounces to the nearest quarter up to a pound, then pounds in quarters.

    The quarters are those of card A-1 of the US Armed Forces Recipe Service (TM 10-412).
    """
    quarter = round(ounces * 4)
    if quarter < 64:
        return f"{_in_parts(Fraction(quarter, 4))} oz" if quarter else "less than 1/4 oz"
    pounds = ounces / 16
    part = Fraction(1, 4) if pounds < 20 else Fraction(1, 2) if pounds < 50 else Fraction(1)
    return f"{_in_parts(round(pounds / part) * part)} lb"


def _measure(amount: Fraction, unit: str) -> str:
    """In the unit it was written in while a measure of it would be used, with one smaller unit at most."""
    below, least, most, above = _MEASURES[unit]
    if below and amount < least:
        return _measure(amount * UNITS[unit][1] / UNITS[below][1], below)
    if above and amount >= most:
        return _measure(amount * UNITS[unit][1] / UNITS[above][1], above)
    whole = math.floor(amount)
    marks = _MARKS.get(unit, _QUARTERS)
    parts = marks if amount < FEW else _HALVES if amount < _MANY else _WHOLE
    nearest = min((whole + part for part in parts), key=lambda one: abs(one - amount))
    if not nearest:
        return f"less than {_in_parts(least)} {unit_words(unit)}"
    if not below or abs(nearest - amount) <= _NEAR * amount or amount >= FEW:
        return f"{_in_parts(nearest)} {unit_words(unit, nearest)}"
    full = max(whole + part for part in parts if whole + part <= amount)
    rest = round((amount - full) * UNITS[unit][1] / UNITS[below][1])
    if not rest:
        return f"{_in_parts(full)} {unit_words(unit, full)}"
    return f"{_in_parts(full)} {unit_words(unit, full)} {rest} {unit_words(below, rest)}"


def _pieces(amount: Fraction, unit: str) -> str:
    """Whole from four on, halves below, a quarter where that is enough; never less than nine tenths of it."""
    marks = _OF_PIECES if amount < FEW else (Fraction(math.floor(amount)), Fraction(math.ceil(amount)))
    enough = [one for one in marks if one >= amount * _NEARLY]
    nearest = min(enough, key=lambda one: abs(one - amount))
    return with_unit(_in_parts(nearest), unit, nearest)


def _in_parts(amount: Fraction) -> str:
    """`3`, `1 1/2`, `1/4`, `1,200`."""
    whole, part = math.floor(amount), amount % 1
    words = [_thousands(Fraction(whole))] if whole or not part else []
    return " ".join([*words, *([str(part)] if part else [])])


def _thousands(number: Fraction) -> str:
    whole, dot, part = format_number(number).partition(".")
    return f"{int(whole):,}{dot}{part}"


def is_piece(unit: str) -> bool:
    """Whether a unit is one thing that cannot be had in part, as an egg, a bunch, a loaf; a dozen can."""
    return unit in UNITS and unit != "dozen" and UNITS[unit][0] not in ("mass", "volume")


def to_get(quantity: float, unit: str) -> float:
    """What has to be got where so much is short: no part of a piece, other quantities as they are."""
    return float(math.ceil(quantity - LEAST_SHOWN)) if is_piece(unit) else quantity


def pack_words(written: str) -> str:
    """A pack as it is asked for: `case of 12 x 3`, `case of 2, about 40 lb`, `about 5 kg`, `bunch`.

    `written` is the pack as the house wrote it: `12 x 3 each`, `2 each ~ 40 lb`.
    """
    held, tilde, weight = (part.strip() for part in written.partition("~"))
    if held == weight:
        return f"about {weight}"
    *counts, last = held.split(" x ")
    number, _, unit = last.partition(" ")
    if unit in ("each", "ea"):
        held = " x ".join([*counts, number])
        held = "each" if held == "1" else f"case of {held}"
    elif number == "1" and is_piece(unit):
        held = with_unit(" x ".join(counts), unit) if counts else unit
    elif is_piece(unit):
        held = " x ".join([*counts, with_unit(number, unit, 2)])
    elif unit in _WORDS:
        held = " x ".join([*counts, with_unit(number, unit, 1 if number == "1" else 2)])
    return f"{held}, about {weight}" if tilde else held


def packs_said(n: int, written: str) -> str:
    """So many packs: `2 cases of 12`, `3, about 4 kg each`, `3 bunches`, `1 pack of 6 x 1 kg`."""
    pack = pack_words(written)
    held, comma, weight = pack.partition(", about ")
    about = f", about {weight} each" if comma and n > 1 else f", about {weight}" if comma else ""
    if held == "each":
        return f"{n}{about}"
    if is_piece(held):
        return f"{with_unit(str(n), held, n)}{about}"
    if held.startswith("case of "):
        return f"{plural(n, 'case')} of {held.removeprefix('case of ')}{about}"
    return f"{plural(n, 'pack')} of {held}{about}"
