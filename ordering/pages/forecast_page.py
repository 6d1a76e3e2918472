"""The forecast in the order book: covers by service with interval and chart, portions by dish."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import timedelta

from ordering.days import said
from ordering.pages.parts import Block, heads, said_all, section, stacked, titled
from ordering.records.house import House
from ordering.records.page import Cell, Chart, Row, Series, Sheet, Table
from ordering.records.plan import QUANTILES, Forecast, Plan, Slot

COVERS_TITLE, DISHES_TITLE, HIGH_TITLE = "Forecast", "Dishes", "Dishes high"
COLUMNS = ("date", "expected", "low", "high", "on the books", "at parties")
WIDTHS = (12.0, 10.0, 8.0, 8.0, 10.0, 10.0, 2.0, 82.0)
N_DAYS, N_DISH_DAYS = 14, 7
CHART_ROWS, CHART_HEIGHT = 12, 250
ROWS_A_PAGE = 66
MOST_SIDE_BY_SIDE = 10  # services
MOST_ON_A_PAGE = 45  # dishes
DISHES_HEADS = {
    (False,): ("Portions", "What is expected"),
    (True,): ("Portions, high", "No more than this in nineteen services of twenty"),
    (False, True): (
        "Portions",
        "What is expected, and high: no more than that in nineteen services of twenty",
    ),
}
WIDEST_UPRIGHT = 125.0  # a wider table is laid across the page, or its letters grow too small
LOW, HIGH = QUANTILES.index(0.05), QUANTILES.index(0.95)


def forecast_sheet(house: House, plan: Plan) -> Sheet:
    """Covers of the coming fortnight, one table and one chart for each service."""
    forecast = plan.forecast
    coming = _coming(plan, N_DAYS)
    least = " Where there is no high, walk-ins are not known and who has booked is the least."
    services = [s for s in house.services if any(forecast.slots[n].service == s for n in coming)]
    rows: list[Row] = [
        *titled(
            "Forecast of covers",
            f"{house.name}, {said(plan.on)} and {N_DAYS - 1} days after. "
            "Nine services in ten should fall between low and high."
            + (least if forecast.unknown.intersection(coming) else ""),
        ).rows
    ]
    tables: list[Table] = []
    charts: list[Chart] = []
    breaks: list[int] = []
    for service in services:
        slots = [n for n in coming if forecast.slots[n].service == service]
        n_rows = 2 + max(len(slots) + 1, CHART_ROWS)
        if len(rows) + n_rows - (breaks[-1] if breaks else 0) > ROWS_A_PAGE:
            breaks.append(len(rows))
        rows.append((Cell(service.replace("-", " "), "heading"),))
        head = len(rows)
        rows += [heads(COLUMNS, COLUMNS[1:]), *(_covers_row(house, forecast, n) for n in slots)]
        tables.append(Table(f"covers {service}", head, len(rows) - 1, 0, len(COLUMNS) - 1))
        charts.append(_chart(service, head, len(rows) - 1))
        rows += [()] * max(CHART_ROWS - len(slots), 1)
    past = [section("How good it has been"), said_all(forecast.quality or ("Not known yet.",))]
    ending, _ = stacked([*past, *_notes(forecast)])
    return Sheet(
        title=COVERS_TITLE,
        rows=(*rows, *ending),
        widths=WIDTHS,
        footer=f"{house.name}: forecast of covers, {plan.on.isoformat()}",
        tables=tuple(tables),
        charts=tuple(charts),
        breaks=tuple(breaks),
        row_height=15.0,
    )


def dishes_sheets(house: House, plan: Plan) -> tuple[Sheet, ...]:
    """Portions of the coming week by dish and service, the high beside what is expected.

    A house with many services has a sheet for each of the two, or the letters would grow too small.
    """
    slots = _coming(plan, N_DISH_DAYS)
    if len(slots) <= MOST_SIDE_BY_SIDE:
        return (_dishes_sheet(house, plan, slots, (False, True)),)
    return tuple(_dishes_sheet(house, plan, slots, (is_high,)) for is_high in (False, True))


def _dishes_sheet(house: House, plan: Plan, slots: Sequence[int], shows: tuple[bool, ...]) -> Sheet:
    """`shows` has for each column of a service whether it is the high."""
    forecast = plan.forecast
    dishes = [d for d in range(len(forecast.dishes)) if forecast.mean[d, slots].any()]
    dishes.sort(key=lambda d: -float(forecast.mean[d, slots].sum()))
    title, what = DISHES_HEADS[shows]
    week = f"{said(plan.on)} and {N_DISH_DAYS - 1} days after"
    top = titled(title, f"{house.name}, {week}. {what}; parties included.")
    names = ["dish", *(_slot_said(forecast.slots[n], is_high) for n in slots for is_high in shows)]
    rows = [_dish_row(house, forecast, d, slots, shows) for d in dishes]
    listing = Block((heads(names, names[1:]), *rows), title.lower())
    laid, tables = stacked([top, listing if rows else said_all(["No dish is foreseen in these days."])])
    head = len(top.rows)
    widths = (34.0, *(8.5 for _ in names[1:]))
    return Sheet(
        title=HIGH_TITLE if shows == (True,) else DISHES_TITLE,
        rows=laid,
        widths=widths,
        is_landscape=sum(widths) > WIDEST_UPRIGHT,
        repeat=(head, head) if rows else None,
        freeze=head + 1 if rows else 0,
        footer=f"{house.name}: portions, {plan.on.isoformat()}",
        fit_tall=1 if len(shows) == 2 and len(rows) <= MOST_ON_A_PAGE else 0,
        tables=tables,
    )


def _coming(plan: Plan, n_days: int) -> list[int]:
    end = plan.on + timedelta(days=n_days)
    return [n for n, slot in enumerate(plan.forecast.slots) if slot.date < end]


def _slot_said(slot: Slot, is_high: bool) -> str:
    return f"{said(slot.date)} {slot.service.replace('-', ' ')}{', high' if is_high else ''}"


def _covers_row(house: House, forecast: Forecast, n: int) -> Row:
    booked = float(forecast.booked[n]) if n < len(forecast.booked) else math.nan
    slot = forecast.slots[n]
    foreseen = (forecast.covers_mean[n], *forecast.covers_quantiles[n, [LOW, HIGH]])
    mean, low, high = (round(float(v)) for v in foreseen)
    is_least = n in forecast.unknown  # walk-ins are not known: who has booked is the least, there is no most
    is_empty = is_least and not mean
    parties = [p.covers for p in house.parties if (p.date, p.service) == (slot.date, slot.service)]
    return (
        Cell(slot.date, "day line"),
        Cell(None if is_empty else mean, "whole strong line"),
        Cell(None if is_empty else low, "whole line"),
        Cell(None if is_least else high, "whole line"),
        Cell(None if math.isnan(booked) else round(booked), "whole line"),
        Cell(sum(parties) if parties else None, "whole line"),
    )


def _chart(service: str, head: int, last: int) -> Chart:
    days = (0, head + 1, last)
    return Chart(
        kind="line",
        title=f"Covers, {service.replace('-', ' ')}",
        at=(head, 7),
        series=(
            Series("expected", COVERS_TITLE, days, (1, head + 1, last), "strong"),
            Series("low", COVERS_TITLE, days, (2, head + 1, last), "dashed"),
            Series("high", COVERS_TITLE, days, (3, head + 1, last), "dashed"),
        ),
        width=570,
        height=CHART_HEIGHT,
        category_format="ddd d mmm",
        description=f"Expected covers, {service}, with low and high; the table beside it has the figures.",
    )


def _dish_row(house: House, forecast: Forecast, d: int, slots: Sequence[int], shows: tuple[bool, ...]) -> Row:
    dish = forecast.dishes[d]
    name = house.dishes[dish].name if dish in house.dishes else dish
    values = [
        (float(forecast.quantiles[d, n, HIGH] if is_high else forecast.mean[d, n]), is_high)
        for n in slots
        for is_high in shows
    ]
    strong = " strong" if len(shows) == 2 else ""
    return (
        Cell(name, "wrap line"),
        *(
            Cell(round(v) if v > 0 else None, f"whole line{'' if is_high else strong}")
            for v, is_high in values
        ),
    )


def _notes(forecast: Forecast) -> list[Block]:
    return [section("What it does not know"), said_all(forecast.notes)] if forecast.notes else []
