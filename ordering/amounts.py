"""Quantities as they are read in a kitchen: in steps that can be weighed out, in pieces that are whole."""

from __future__ import annotations

import math
from fractions import Fraction

from ordering.units import LADDERS, UNITS, Number, exact, measured, said

SMALLER = {"kg": "g", "l": "ml"}
_DUST = 1e-6


def plural(n: Number, one: str, many: str = "") -> str:
    """`1 line`, `3 lines`; `many` where the plural is not made with an s."""
    return f"{said(n)} {one if n == 1 else many or one + 's'}"


def shown(quantity: float, unit: str) -> str:
    """A quantity as said in a kitchen: `4.2 kg`, `1,200 each`, three decimals at most; `4 lb 5 1/2 oz`.

    What is less than any mark of a scale stays a number: `0.017 oz`.
    """
    if unit in LADDERS and quantity * UNITS[unit][1] >= UNITS[LADDERS[unit][-1]][1] / 8:
        return measured(workable(quantity, unit), unit)
    rounded = round(quantity, 3 if abs(quantity) < 10 else 1)
    number = f"{rounded:,.3f}".rstrip("0").rstrip(".")
    return f"{'0' if number == '-0' else number} {unit}".rstrip()


def workable(amount: float, unit: str) -> Fraction:
    """The amount to the largest step of its ladder, whole or a quarter, that is fine enough.

    Fine enough is within half a percent (common practice, no source): nobody measures 5 gallon to a teaspoon,
    or 14 lb to a quarter ounce. The smallest steps are left to `measured`, and other units as they are.
    """
    exactly = exact(amount)
    steps = {UNITS[step][1] / UNITS[unit][1] / part for step in LADDERS.get(unit, ()) for part in (1, 4)}
    for step in sorted(steps, reverse=True):
        if step / 2 <= exactly / 200:
            return round(exactly / step) * step
    return exactly


def weighed(quantity: float, unit: str) -> str:
    """A quantity as it is read off the scales: less than a kilo in grams, than a litre in millilitres.

    Of these three figures are enough: nobody weighs 180.8 g.
    """
    if unit in SMALLER and quantity < 1:
        return shown(float(f"{quantity * 1000:.3g}"), SMALLER[unit])
    return shown(quantity, unit)


def is_piece(unit: str) -> bool:
    """Whether a unit is one thing that cannot be had in part, as an egg, a bunch, a loaf; a dozen can."""
    return unit in UNITS and unit != "dozen" and UNITS[unit][0] not in ("mass", "volume")


def to_get(quantity: float, unit: str) -> float:
    """What has to be got where so much lacks: no part of a piece, other quantities as they are."""
    return float(math.ceil(quantity - _DUST)) if is_piece(unit) else quantity
