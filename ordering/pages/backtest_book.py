"""A backtest as a workbook: how good the forecast is, by dish, by day, what moves covers, the measures."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from ordering.amounts import percent
from ordering.days import service_said
from ordering.pages.backtest import (
    COLUMNS,
    COVERS,
    HOW_TO_READ,
    METHOD_WORDS,
    TITLES,
    Beside,
    beside,
    figure,
    heading,
    verdict,
)
from ordering.pages.parts import Block, heads, said_all, stacked, titled, with_table, workbook
from ordering.records.backtest_results import ALL_DISHES, HORIZONS, METHODS, OURS, Accuracy, Backtest, Effect
from ordering.records.house import House
from ordering.records.page import Cell, Chart, Row, Series, Sheet, Workbook

ACCURACY, DISHES, DAYS = "Accuracy", "Dishes", "Covers day by day"
BESIDE_COLUMNS = ("", "days ahead", "services", *METHOD_WORDS.values(), "in range")
BESIDE_WIDTHS = (22.0, 10.0, 9.0, 12.0, 13.0, 13.0, 10.0)
DAY_COLUMNS = ("date", "forecast of", "came", "expected", "low", "high")
EFFECT_COLUMNS = ("service", "what", "effect", "at least", "at most", "in words")
CHART_ROWS, CHART_HEIGHT = 7, 122  # rows that a chart takes, and its pixels
DAY_CHART_ROWS, DAY_CHART_HEIGHT = 10, 170
KEY = (
    "WAPE: the misses added up, as a share of what came. MASE: the mean miss in changes from one week to the "
    "next; below 1 is better than last week's same day. Bias: above zero, too much was forecast in all. "
    "Pinball: the mean loss over the quantiles, in guests or portions. "
    "Coverage: the share of services inside the 80 % range."
)


def backtest_workbook(house: House, made: Backtest, effects: Sequence[Effect] = ()) -> Workbook:
    """What an owner reads first; the measures, with their key, on the last sheet."""
    sheets = (
        _accuracy_sheet(house, made),
        _dishes_sheet(house, made),
        _days_sheet(house, made),
        _effects_sheet(house, effects, made),
        _measures_sheet(house, made),
    )
    return workbook(house, f"Backtest, {house.name}", made.on, *(one for one in sheets if one is not None))


def _foot(house: House, made: Backtest) -> str:
    return f"{house.name}: backtest, {made.on.isoformat()}"


def _accuracy_sheet(house: House, made: Backtest) -> Sheet:
    """Covers and all dishes, the methods side by side, and a chart of covers for each service."""
    n_columns = len(BESIDE_COLUMNS)
    services = dict.fromkeys(row.service for row in made.rows)
    told = [heading(house, made), HOW_TO_READ, *(verdict(made, service) for service in services)]
    blocks = [titled("How good the forecast is", *filter(None, told), across=n_columns)]
    of_covers = beside(made.rows, COVERS)
    first = len(blocks[0].rows) + 1
    for series, title in TITLES.items():
        rows = [_beside_row(row) for row in beside(made.rows, series)]
        if rows:
            head = heads((title, *BESIDE_COLUMNS[1:]), BESIDE_COLUMNS[2:])
            blocks += [Block((head, *rows), title), Block(((),))]
    if not made.rows:
        blocks.append(said_all(made.notes, n_columns))
    laid, tables = stacked(blocks)
    return Sheet(
        title=ACCURACY,
        rows=laid,
        widths=BESIDE_WIDTHS,
        footer=_foot(house, made),
        tables=tables,
        charts=_charts(of_covers, first, len(laid)),
        row_height=13.5,
    )


def _beside_row(row: Beside) -> Row:
    ours, *others = row.off
    return (
        Cell(service_said(row.service), "line"),
        Cell(row.horizon, "line"),
        Cell(row.n, "whole line"),
        Cell(figure(ours), "percent strong line"),
        *(Cell(figure(value), "percent line") for value in (*others, row.inside)),
    )


def _charts(found: Sequence[Beside], first: int, below: int) -> tuple[Chart, ...]:
    """For each service a column for each method at each of its horizons, from the table of covers."""
    charts = []
    for n, service in enumerate(dict.fromkeys(row.service for row in found)):
        at = [first + k for k, row in enumerate(found) if row.service == service]
        days = (1, at[0], at[-1])
        series = tuple(
            Series(words, ACCURACY, days, (3 + k, at[0], at[-1]), style)
            for k, (words, style) in enumerate(
                zip(METHOD_WORDS.values(), ("strong", "plain", "dark"), strict=True)
            )
        )
        charts.append(
            Chart(
                kind="column",
                title=f"Covers, {service_said(service)}: how far off, by days ahead",
                at=(below + CHART_ROWS * n, 0),
                series=series,
                width=640,
                height=CHART_HEIGHT,
                value_format="0 %",
                description=f"How far off each forecast of covers was at {service_said(service)}.",
            )
        )
    return tuple(charts)


def _dishes_sheet(house: House, made: Backtest) -> Sheet | None:
    """A row a dish: how far off the forecast was at each horizon, and the best of the others beside it."""
    found = {
        (row.series, row.service, row.horizon, row.method): row
        for row in made.rows
        if row.series not in (COVERS, ALL_DISHES)
    }
    if not found:
        return None
    note = (
        "How far off the forecast was, and in brackets the better of the simple methods. Services where a "
        "dish was 86'd are left out: demand is not known there."
    )
    names = ("dish", "service", "services", *(f"{horizon} days" for horizon in HORIZONS))
    rows: list[Row] = []
    for series, service in sorted({key[:2] for key in found}):
        first = next(row for key, row in found.items() if key[:2] == (series, service))
        rows.append(
            (
                Cell(house.dishes[series].name if series in house.dishes else series, "wrap line"),
                Cell(service_said(service), "line"),
                Cell(first.n, "whole line"),
                *(Cell(_in_brackets(found, (series, service, h)), "right line") for h in HORIZONS),
            )
        )
    widths = (34.0, 13.0, 8.5, 11.0, 11.0, 11.0)
    return with_table(
        Sheet(DISHES, (), widths, footer=_foot(house, made), row_height=13.5),
        titled("Dish by dish", note, across=len(widths)),
        Block((heads(names, names[2:]), *rows), "dishes"),
        "No dish was sold often enough.",
    )


def _in_brackets(found: Mapping[tuple[str, str, str, str], Accuracy], key: tuple[str, str, str]) -> str:
    """`24 % (27 %)`: our miss and the least of the other methods'."""
    ours = found.get((*key, OURS))
    others = [found[(*key, m)].wape for m in METHODS if m != OURS and (*key, m) in found]
    known = [value for value in others if not math.isnan(value)]
    if ours is None or math.isnan(ours.wape):
        return ""
    return f"{percent(ours.wape)} ({percent(min(known))})" if known else percent(ours.wape)


def _days_sheet(house: House, made: Backtest) -> Sheet | None:
    """A chart for each service, and under it the days it is drawn from."""
    if not made.days:
        return None
    note = "Each from the latest forecast at most a week before; 8 services in 10 should be inside."
    blocks = [titled(DAYS, note)]
    charts, parts, row = [], [], len(blocks[0].rows)
    for service in dict.fromkeys(day.service for day in made.days):
        days = [day for day in made.days if day.service == service]
        body: list[Row] = [
            (
                Cell(day.served_on, "date line"),
                Cell(day.issued_on, "date line"),
                Cell(day.actual, "whole strong line"),
                *(Cell(round(value), "whole line") for value in (day.mean, day.q10, day.q90)),
            )
            for day in days
        ]
        blocks += [
            Block(((Cell(service_said(service), "heading"),),)),
            Block(((),) * DAY_CHART_ROWS),
            Block((heads(DAY_COLUMNS, DAY_COLUMNS[2:]), *body), f"days {service}"),
            Block(((),)),
        ]
        head = row + 1 + DAY_CHART_ROWS
        charts.append(_days_chart(service, row + 1, head, head + len(body)))
        parts.append(row)
        row = head + len(body) + 2
    rows, tables = stacked(blocks)
    return Sheet(
        title=DAYS,
        rows=rows,
        widths=(20.0, 20.0, 11.0, 11.0, 11.0, 11.0),
        parts=tuple(parts),
        footer=_foot(house, made),
        tables=tables,
        charts=tuple(charts),
        row_height=13.5,
    )


def _days_chart(service: str, at: int, head: int, last: int) -> Chart:
    days = (0, head + 1, last)
    lines = (("came", 2, "points"), ("expected", 3, "strong"), ("low", 4, "dashed"), ("high", 5, "dashed"))
    return Chart(
        kind="line",
        title=f"Covers, {service_said(service)}",
        at=(at, 0),
        series=tuple(
            Series(name, DAYS, days, (column, head + 1, last), style) for name, column, style in lines
        ),
        width=590,
        height=DAY_CHART_HEIGHT,
        category_format="d mmm yy",
        description=f"Covers of {service_said(service)} as they came, beside what was expected.",
    )


def _effects_sheet(house: House, found: Sequence[Effect], made: Backtest) -> Sheet:
    """One row an effect: how covers change with it, the 90 % interval, and in words."""
    note = (
        "Weekdays against the mean of the service's weekdays, everything else against a day without it. "
        "Nine times in ten the truth lies between the two bounds."
    )
    rows = [
        (
            Cell(service_said(effect.service), "line"),
            Cell(effect.name, "line"),
            *(Cell(value - 1, "percent line") for value in (effect.ratio, effect.low, effect.high)),
            Cell(effect_said(effect), "line"),
        )
        for effect in found
    ]
    widths = (14.0, 25.0, 8.5, 8.5, 8.5, 26.0)
    return with_table(
        Sheet("Effects", (), widths, footer=_foot(house, made), row_height=13.5),
        titled("What moves covers", note, across=len(widths)),
        Block((heads(EFFECT_COLUMNS, EFFECT_COLUMNS[2:5]), *rows), "effects"),
        "Fewer than 60 services are known: too few to tell effects apart.",
    )


def effect_said(effect: Effect) -> str:
    """`12 % more covers`, or that it may well be nothing."""
    if effect.low <= 1 <= effect.high:
        return "no clear effect"
    word = "more" if effect.ratio > 1 else "fewer"
    return f"{percent(abs(effect.ratio - 1))} {word} covers"


def _measures_sheet(house: House, made: Backtest) -> Sheet:
    """Every measure of covers; those of the dishes stand in the csv file."""
    rows = [_measures(row) for row in made.rows if row.series == COVERS]
    names = (COLUMNS[0], *COLUMNS[2:])
    widths = (13.0, 9.0, 19.0, 9.0, 7.5, 7.0, 7.0, 8.0, 9.5)
    return with_table(
        Sheet("Measures", (), widths, footer=_foot(house, made), row_height=13.5),
        titled("Measures", KEY, across=len(widths)),
        Block((heads(names, names[3:]), *rows), "measures"),
        "Nothing was measured.",
    )


def _measures(row: Accuracy) -> Row:
    strong = " strong" if row.method == OURS else ""
    figures = ((row.wape, "percent"), (row.mase, "money"), (row.bias, "percent"))
    more = ((row.pinball, "money"), (row.coverage, "percent"))
    return (
        Cell(service_said(row.service), "line"),
        Cell(row.horizon, "line"),
        Cell(METHOD_WORDS[row.method], f"line{strong}"),
        Cell(row.n, "whole line"),
        *(Cell(figure(value), f"{style} line{strong}") for value, style in (*figures, *more)),
    )
