"""A backtest as rows for a csv file and lines for a terminal, in words an owner reads."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from ordering.amounts import percent, plural
from ordering.days import format_day, service_said
from ordering.pages.parts import aligned
from ordering.records.backtest_results import (
    ALL_DISHES,
    FOUR_WEEKS,
    HORIZONS,
    METHODS,
    NAIVE,
    OURS,
    Accuracy,
    Backtest,
)
from ordering.records.house import House
from ordering.records.page import Listing
from ordering.texts import wrapped

COLUMNS = (
    *("service", "series", "horizon", "method", "services"),
    *("wape", "mase", "bias", "pinball", "coverage"),
)
COVERS = "*"
WIDTH = 80
TITLES: Mapping[str, str] = {COVERS: "Covers", ALL_DISHES: "Dishes, all together"}
METHOD_WORDS: Mapping[str, str] = {
    OURS: "this forecast",
    NAIVE: "last week's same day",
    FOUR_WEEKS: "mean of four weeks",
}
HOW_TO_READ = (
    "How far off each was: the misses added up, as a share of what came. In range: services within the "
    "forecast's 80 % range; the nearer to 80 %, the better."
)


@dataclass(frozen=True, slots=True)
class Beside:
    """One service and series so many days ahead: how far off each of `METHODS` was; NaN: not known."""

    service: str
    horizon: str
    n: int
    off: tuple[float, ...]
    inside: float


def backtest_table(made: Backtest) -> Listing:
    """Every row of the backtest; fractions as numbers, nothing where nothing can be said."""
    rows = tuple(
        (
            row.service, row.series, row.horizon, row.method, row.n,
            *(figure(v) for v in (row.wape, row.mase, row.bias, row.pinball, row.coverage)),
        )
        for row in made.rows
    )  # fmt: skip
    return Listing(COLUMNS, rows)


def beside(rows: Sequence[Accuracy], series: str) -> tuple[Beside, ...]:
    """The methods side by side for one series, by service and days ahead."""
    found = {(row.service, row.horizon, row.method): row for row in rows if row.series == series}
    made = []
    for service, horizon in dict.fromkeys(key[:2] for key in found):
        mine = [found.get((service, horizon, method)) for method in METHODS]
        ours = mine[0] or next(row for row in mine if row is not None)
        off = tuple(math.nan if row is None else row.wape for row in mine)
        made.append(Beside(service, horizon, ours.n, off, ours.coverage))
    return tuple(made)


def figure(value: float) -> float | None:
    """A measure to four decimals; None where nothing can be said."""
    return None if math.isnan(value) else round(value, 4)


def backtest_text(house: House, made: Backtest) -> list[str]:
    """Lines of at most 80 columns: covers and all dishes of each service, the methods side by side."""
    lines = wrapped(heading(house, made), WIDTH)
    names = ("", "days ahead", "services", "this forecast", "last week", "four weeks", "in range")
    for series, title in TITLES.items():
        found = beside(made.rows, series)
        if found:
            widths = (14, 10, 8, 13, 9, 10, 8)
            rows = [(title, *names[1:]) if len(title) <= widths[0] else names, *map(_text_row, found)]
            lines += ["", *([title] if len(title) > widths[0] else [])]
            lines += aligned(rows, widths, range(2, 7), gap=" ")
    if made.rows:
        lines += ["", *wrapped(f"{HOW_TO_READ} Every measure is in backtest.csv.", WIDTH)]
    for service in dict.fromkeys(row.service for row in made.rows):
        lines += ["", *wrapped(verdict(made, service), WIDTH)]
    return lines + [line for note in made.notes for line in ("", *wrapped(note, WIDTH))]


def heading(house: House, made: Backtest) -> str:
    """Which forecasts were made, in a sentence."""
    if not made.origins:
        return f"{house.name}: no backtest"
    return (
        f"{house.name}: {plural(len(made.origins), 'forecast')} made as of {format_day(made.origins[0])} "
        f"{made.origins[0].year} to {format_day(made.origins[-1])} {made.origins[-1].year}, "
        "each knowing only what came before it"
    )


def _text_row(row: Beside) -> tuple[str, ...]:
    off = tuple(map(percent, row.off))
    return (service_said(row.service), row.horizon, f"{row.n:,}", *off, percent(row.inside))


def verdict(made: Backtest, service: str) -> str:
    """Whether the forecast of covers beats the others, horizon by horizon, in a sentence."""
    better: list[str] = []
    worse: list[str] = []
    for horizon in HORIZONS:
        found = {
            row.method: row.wape
            for row in made.rows
            if (row.service, row.series, row.horizon) == (service, COVERS, horizon)
        }
        if len(found) == len(METHODS):
            least = min(value for method, value in found.items() if method != OURS)
            (better if found[OURS] < least else worse).append(horizon)
    name = service_said(service)
    if not worse:
        told = f"{name}: the forecast of covers beats both others, however many days ahead."
        return told if better else ""
    kept = f" It does at {', '.join(better)} days." if better else ""
    return f"{name}: the forecast of covers does not beat both others at {', '.join(worse)} days.{kept}"
