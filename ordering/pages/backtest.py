"""A backtest as lines for a terminal, rows for a csv file and a workbook with charts."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime, time

from ordering.amounts import plural
from ordering.days import format_day
from ordering.pages.parts import Block, aligned, heads, paper, said_all, stacked, titled
from ordering.records.backtest_results import ALL_DISHES, HORIZONS, METHODS, OURS, Accuracy, Backtest
from ordering.records.house import House
from ordering.records.page import Cell, Chart, Listing, Row, Series, Sheet, Workbook
from ordering.texts import wrapped

COLUMNS = (
    "service", "series", "horizon", "method", "services", "wape", "mase", "bias", "pinball", "coverage",
)  # fmt: skip
COVERS = "*"
WIDTH = 80
SERIES_TITLE, CHART_TITLE = "Dishes", "Covers day by day"
CHART_ROWS = 15


def backtest_table(made: Backtest) -> Listing:
    """Every row of the backtest; fractions as numbers, nothing where nothing can be said."""
    rows = tuple(
        (
            row.service, row.series, row.horizon, row.method, row.n,
            *(_figure(v) for v in (row.wape, row.mase, row.bias, row.pinball, row.coverage)),
        )
        for row in made.rows
    )  # fmt: skip
    return Listing(COLUMNS, rows)


def _figure(value: float) -> float | None:
    return None if math.isnan(value) else round(value, 4)


def backtest_text(house: House, made: Backtest) -> list[str]:
    """Lines of at most 80 columns: covers and all dishes of each service, by horizon and method."""
    lines = wrapped(_heading(house, made), WIDTH)
    for series, title in ((COVERS, "Covers"), (ALL_DISHES, "Dishes, all together")):
        found = [row for row in made.rows if row.series == series]
        if found:
            widths = (14, 7, 14, 8, 5, 5, 6, 7, 5)
            names = ("service", "days", "method", "services", "WAPE", "MASE", "bias", "pinball", "in 80")
            rows = [names, *(_text_row(row) for row in found)]
            lines += ["", title, *aligned(rows, widths, range(3, 9), gap=" ")]
    for service in dict.fromkeys(row.service for row in made.rows):
        lines += ["", *wrapped(verdict(made, service), WIDTH)]
    return lines + [line for note in made.notes for line in ("", *wrapped(note, WIDTH))]


def _heading(house: House, made: Backtest) -> str:
    if not made.origins:
        return f"{house.name}: no backtest"
    return (
        f"{house.name}: {plural(len(made.origins), 'forecast')} made as of {format_day(made.origins[0])} "
        f"{made.origins[0].year} to {format_day(made.origins[-1])} {made.origins[-1].year}, "
        "each knowing only what came before it"
    )


def _text_row(row: Accuracy) -> tuple[str, ...]:
    return (
        row.service, row.horizon, row.method, str(row.n), _percent(row.wape), _plain(row.mase),
        _percent(row.bias, "+"), _plain(row.pinball), _percent(row.coverage),
    )  # fmt: skip


def _percent(value: float, sign: str = "") -> str:
    return "-" if math.isnan(value) else f"{100 * value:{sign}.0f} %"


def _plain(value: float) -> str:
    return "-" if math.isnan(value) else f"{value:.2f}"


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
    if not worse:
        return f"{service}: the forecast of covers beats both others at every horizon." if better else ""
    kept = f" It does at {', '.join(better)} days." if better else ""
    return f"{service}: the forecast of covers does not beat both others at {', '.join(worse)} days.{kept}"


def backtest_workbook(house: House, made: Backtest) -> Workbook:
    """Accuracy of covers with a chart by service, of dishes, and covers day by day."""
    sheets = (_covers_sheet(house, made), _dishes_sheet(house, made), _days_sheet(house, made))
    return Workbook(
        title=f"Backtest, {house.name}",
        sheets=tuple(sheet for sheet in sheets if sheet is not None),
        created=datetime.combine(made.on, time(0)),
        paper=paper(house),
        is_american=house.is_american,
    )


def _cells(row: Accuracy) -> Row:
    figures = ((row.wape, "percent line"), (row.mase, "money line"), (row.bias, "percent line"))
    more = ((row.pinball, "money line"), (row.coverage, "percent line"))
    strong = " strong" if row.method == OURS else ""
    return (
        Cell(row.service, "line"),
        Cell(row.series, "line"),
        Cell(row.horizon, "line"),
        Cell(row.method, f"line{strong}"),
        Cell(row.n, "whole line"),
        *(Cell(_figure(value), f"{style}{strong}") for value, style in (*figures, *more)),
    )


def _listing(rows: Iterable[Accuracy], name: str) -> Block:
    return Block((heads(COLUMNS, COLUMNS[4:]), *(_cells(row) for row in rows)), name)


def _covers_sheet(house: House, made: Backtest) -> Sheet:
    covers = [row for row in made.rows if row.series in (COVERS, ALL_DISHES)]
    top = titled(
        "How good the forecast is",
        *wrapped(_heading(house, made), WIDTH + 20),
        "Coverage is the share of services inside the 80 % interval.",
        *(verdict(made, service) for service in dict.fromkeys(row.service for row in covers)),
    )
    body = _listing(covers, "accuracy") if covers else said_all(made.notes)
    rows, tables = stacked([top, body])
    head = len(top.rows)
    return Sheet(
        title="Accuracy",
        rows=rows,
        widths=(15.0, 10.0, 9.0, 15.0, 9.0, 8.0, 8.0, 8.0, 9.0, 11.0),
        footer=f"{house.name}: backtest, {made.on.isoformat()}",
        tables=tables,
        charts=_wape_charts(covers, head + 1, len(rows)),
    )


def _wape_charts(covers: Sequence[Accuracy], first: int, below: int) -> tuple[Chart, ...]:
    """One chart of WAPE for each service, a column for each method at each horizon."""
    charts = []
    for n, service in enumerate(dict.fromkeys(row.service for row in covers)):
        at = [first + k for k, row in enumerate(covers) if row.service == service and row.series == COVERS]
        by_horizon = [row for row in covers if row.service == service and row.series == COVERS]
        series = [
            Series(f"{row.horizon} days", "Accuracy", (3, start, start + 2), (5, start, start + 2), style)
            for row, start, style in zip(by_horizon[::3], at[::3], ("strong", "plain", "dark"), strict=False)
        ]
        charts.append(
            Chart(
                kind="column",
                title=f"WAPE of covers, {service.replace('-', ' ')}",
                at=(below + 1 + 15 * n, 0),
                series=tuple(series),
                width=640,
                height=270,
                y_axis="WAPE",
                description=f"WAPE of covers at {service} by method and horizon; lower is better.",
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
    top = titled(
        "Dish by dish",
        "How far off the forecast was, and in brackets the better of the simple methods. Services where a",
        "dish sold out are left out: demand is not known there. backtest.csv has every measure.",
    )
    names = ("dish", "service", "services", *(f"{horizon} days" for horizon in HORIZONS))
    rows: list[Row] = []
    for series, service in sorted({key[:2] for key in found}):
        first = next(row for key, row in found.items() if key[:2] == (series, service))
        rows.append(
            (
                Cell(house.dishes[series].name if series in house.dishes else series, "wrap line"),
                Cell(service.replace("-", " "), "line"),
                Cell(first.n, "whole line"),
                *(Cell(_beside(found, (series, service, horizon)), "right line") for horizon in HORIZONS),
            )
        )
    lines, tables = stacked([top, Block((heads(names, names[2:]), *rows), "dishes")])
    head = len(top.rows)
    return Sheet(
        title=SERIES_TITLE,
        rows=lines,
        widths=(36.0, 14.0, 9.0, 14.0, 14.0, 14.0),
        repeat=(head, head),
        freeze=head + 1,
        footer=f"{house.name}: backtest of dishes, {made.on.isoformat()}",
        tables=tables,
    )


def _beside(found: Mapping[tuple[str, str, str, str], Accuracy], key: tuple[str, str, str]) -> str:
    """`24 % (27 %)`: our miss and the least of the other methods'."""
    ours = found.get((*key, OURS))
    others = [found[(*key, m)].wape for m in METHODS if m != OURS and (*key, m) in found]
    known = [value for value in others if not math.isnan(value)]
    if ours is None or math.isnan(ours.wape):
        return ""
    return f"{_percent(ours.wape)} ({_percent(min(known))})" if known else _percent(ours.wape)


def _days_sheet(house: House, made: Backtest) -> Sheet | None:
    if not made.days:
        return None
    names = ("date", "forecast of", "came", "expected", "low", "high")
    note = "Each from the latest forecast at most a week before; 8 services in 10 should be inside."
    blocks = [titled("Covers day by day", note)]
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
        blocks.append(Block(((Cell(service.replace("-", " "), "heading"),),)))
        blocks.append(Block(((),) * CHART_ROWS))
        blocks.append(Block((heads(names, names[2:]), *body), f"days {service}"))
        blocks.append(Block(((),)))
        head = row + 1 + CHART_ROWS
        charts.append(_days_chart(service, row + 1, head, head + len(body)))
        parts.append(row)
        row = head + len(body) + 2
    rows, tables = stacked(blocks)
    return Sheet(
        title=CHART_TITLE,
        rows=rows,
        widths=(20.0, 20.0, 11.0, 11.0, 11.0, 11.0),
        parts=tuple(parts),
        footer=f"{house.name}: covers day by day, {made.on.isoformat()}",
        tables=tables,
        charts=tuple(charts),
    )


def _days_chart(service: str, at: int, head: int, last: int) -> Chart:
    days = (0, head + 1, last)
    lines = (("came", 2, "points"), ("expected", 3, "strong"), ("low", 4, "dashed"), ("high", 5, "dashed"))
    return Chart(
        kind="line",
        title=f"Covers, {service.replace('-', ' ')}",
        at=(at, 0),
        series=tuple(
            Series(name, CHART_TITLE, days, (column, head + 1, last), style) for name, column, style in lines
        ),
        width=590,
        height=260,
        category_format="d mmm yy",
        description=f"Covers that came to {service} beside what was expected, with low and high.",
    )
