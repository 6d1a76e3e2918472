"""Sums as a column of numbers with a rule above the total: they add up as printed."""

from __future__ import annotations

from collections.abc import Sequence

from ordering.explain.telling import padded, wrapped

_NUMBERS = 12


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
    return f"{padded(left, width - _NUMBERS)}{right:>{_NUMBERS}}".rstrip()
