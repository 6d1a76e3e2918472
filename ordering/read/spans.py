"""Spans of time as they are written, and as the whole days that a kitchen plans in."""

from __future__ import annotations

from fractions import Fraction

from ordering.units import QUANTITY, UnitError, amount_of

MAX_DAYS = 3660
_HOURS = {"h": 1, "hour": 1, "hr": 1, "d": 24, "day": 24, "w": 168, "week": 168}


def parse_hours(text: str) -> Fraction:
    """Read a span, `2 d`, `36 h` or `3 weeks`, as hours.

    Raises
    ------
    UnitError : not a span, or longer than 3,660 days
    """
    match = QUANTITY.fullmatch(text.strip()) if len(text) <= 80 else None
    unit = " ".join((match.group(2) or "").lower().split()) if match else ""
    hours = _HOURS.get(unit) or _HOURS.get(unit.removesuffix("s"))
    if match is None or hours is None:
        raise UnitError(f"'{text[:40]}' is not a span of time", "write days or hours: 2 d, 36 h")
    span = amount_of(match.group(1)) * hours
    if span > MAX_DAYS * 24:
        raise UnitError(f"'{text[:40]}' is longer than ten years", "write days or hours: 2 d, 36 h")
    return span


def days_up(hours: Fraction) -> int:
    """Whole days a span needs: 36 h is 2. What takes time is never started too late."""
    return -int(-hours // 24)


def days_down(hours: Fraction) -> int:
    """Whole days a span covers: 36 h is 1. What keeps is never kept too long."""
    return int(hours // 24)
