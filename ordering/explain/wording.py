"""Quantities, days and sums as a kitchen reads them: sums add up as printed."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from ordering import texts
from ordering.amounts import SMALLER, shown, to_get, with_unit
from ordering.days import format_day

AS_FOR = "as for "
MOST_LISTED = 8
"""Entries of a list in a chain, the rest is counted: two such lists fit on a screen of 24 lines."""
_NUMBERS = 12  # columns of a sum's numbers


def amount(quantity: float, unit: str) -> str:
    """`4.2 kg`, `35 g`, `1,200`, `3 bunches`: three figures that matter, so that a sum can be followed."""
    if unit in SMALLER and 0 < quantity < 1:
        return f"{figure(float(f'{quantity * 1000:.3g}'))} {SMALLER[unit]}"
    return with_unit(figure(quantity), unit, quantity)


def short_amount(quantity: float, unit: str) -> str:
    """What has to be got where so much is short, no part of a piece: `4.2 kg`, `3 bunches`, `10`."""
    return shown(to_get(quantity, unit), unit)


def figure(quantity: float) -> str:
    """The number alone, as in `amount`."""
    number = f"{quantity:,.{decimals([quantity])}f}"
    number = number.rstrip("0").rstrip(".") if "." in number else number
    return "0" if number in ("-0", "") else number


def counted(number: float, one: str, many: str = "") -> str:
    """`1 portion`, `12 portions`, `less than 1 portion`."""
    many = many or f"{one}s"
    if 0 < number < 0.5:
        return f"less than 1 {one}"
    whole = round(number)
    return f"{whole:,} {one if whole == 1 else many}"


def as_for(day: date) -> str:
    """The remedy of a day that goes as an earlier one: `as for Thu 26 Nov`."""
    return f"{AS_FOR}{format_day(day)}"


def often_enough(level: float | None) -> str:
    """A service level in words: `95 times in 100`, `998 times in 1,000`, `nearly always`."""
    share = level or 0.0
    if share > 0.9985:
        return "nearly always"
    return f"{round(1000 * share)} times in 1,000" if share > 0.99 else f"{round(100 * share)} times in 100"


def wrapped(text: str, width: int, indent: str = "", hanging: str | None = None) -> list[str]:
    """Lines of at most `width` columns; later ones begin with `hanging` (default: as the first)."""
    later = indent if hanging is None else hanging
    first, *rest = texts.wrapped(text, width - max(len(indent), len(later)))
    return [indent + first, *(later + line for line in rest)]


def itemised(entries: Sequence[str], width: int, one: str, many: str = "") -> list[str]:
    """The first entries of a list, later lines hanging, and how many more there are of what it lists."""
    lines = [line for text in entries[:MOST_LISTED] for line in wrapped(text, width, "  ", "    ")]
    rest = len(entries) - MOST_LISTED
    more = counted(rest, f"more {one}", f"more {many or one}{'' if many else 's'}")
    return [*lines, f"  and {more}"] if rest > 0 else lines


def column(
    head: str, unit: str, parts: Sequence[tuple[str, float]], total: tuple[str, float], width: int
) -> list[str]:
    """A heading, the parts that are not nothing, a rule and the total.

    The last part that is not small takes what rounding leaves, so that the printed numbers add up.
    """
    places = decimals([value for _, value in (*parts, total)])
    shown = [(label, value) for label, value in parts if round(abs(value), places) > 0]
    numbers = adding_up([value for _, value in shown], total[1], places)
    lines = [_line(head, unit, width)]
    for (label, _), number in zip(shown, numbers, strict=True):
        lines += _entry(label, f"{number:,.{places}f}", width)
    lines.append(_line("", "-" * max(len(f"{total[1]:,.{places}f}"), len(unit)), width))
    return [*lines, *_entry(total[0], f"{total[1]:,.{places}f}", width)]


def decimals(values: Sequence[float]) -> int:
    """Decimals that show three figures of the largest value."""
    largest = max((abs(value) for value in values), default=0.0)
    return 0 if largest >= 1000 else 1 if largest >= 100 else 2 if largest >= 1 else 3


def adding_up(values: Sequence[float], total: float, places: int) -> list[float]:
    """Values rounded so that their sum is the rounded total; the largest take the difference."""
    rounded = [round(value, places) for value in values]
    unit = 10.0**-places
    rest = round((round(total, places) - sum(rounded)) / unit)
    ranked = sorted(range(len(values)), key=lambda n: (-abs(values[n]), n))
    if not ranked:
        return rounded
    step = 1 if rest > 0 else -1
    for n in range(abs(rest)):
        at = ranked[n % len(ranked)]
        rounded[at] = round(rounded[at] + step * unit, places)
    return rounded


def _entry(label: str, number: str, width: int) -> list[str]:
    texts = wrapped(label, width - _NUMBERS, "  ", "    ")
    return [*texts[:-1], _line(texts[-1], number, width)]


def _line(left: str, right: str, width: int) -> str:
    return f"{texts.padded(left, width - _NUMBERS)}{right:>{_NUMBERS}}".rstrip()
