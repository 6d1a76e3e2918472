"""What moves covers, as a sheet of the backtest."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from ordering.pages.parts import Block, heads, said_all, stacked, titled
from ordering.records.backtest_results import Effect
from ordering.records.house import House
from ordering.records.page import Cell, Sheet

COLUMNS = ("service", "what", "effect", "at least", "at most", "in words")


def effects_sheet(house: House, found: Sequence[Effect], on: date) -> Sheet:
    """One row an effect: how covers change with it, the 90 % interval, and in words."""
    top = titled(
        "What moves covers",
        "Weekdays against the mean of the service's weekdays, everything else against a day without it.",
        "Nine times in ten the truth lies between the two bounds.",
    )
    rows = tuple(
        (
            Cell(effect.service, "line"),
            Cell(effect.name, "line"),
            *(Cell(value - 1, "percent line") for value in (effect.ratio, effect.low, effect.high)),
            Cell(said_of(effect), "line"),
        )
        for effect in found
    )
    body = (
        Block((heads(COLUMNS, COLUMNS[2:5]), *rows), "effects")
        if rows
        else said_all(["Fewer than 60 services are known: too few to tell effects apart."])
    )
    lines, tables = stacked([top, body])
    return Sheet(
        title="Effects",
        rows=lines,
        widths=(15.0, 26.0, 9.0, 9.0, 9.0, 34.0),
        footer=f"{house.name}: backtest, {on.isoformat()}",
        tables=tables,
    )


def said_of(effect: Effect) -> str:
    """`12 % more, surely`, or that it cannot be told from nothing."""
    if effect.low <= 1 <= effect.high:
        return "cannot be told from no effect"
    size = abs(effect.ratio - 1)
    return f"{size:.0%} {'more' if effect.ratio > 1 else 'fewer'} covers".replace("%", " %")
