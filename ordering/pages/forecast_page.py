"""The forecast in the order book and on a terminal: covers by service with their range, portions by dish."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from datetime import date, timedelta

import numpy as np
from numpy.typing import NDArray

from ordering.days import format_day, service_said, service_title
from ordering.pages.parts import (
    COLUMN_GAP,
    UPRIGHT,
    Block,
    clipped,
    heads,
    said_all,
    section,
    stacked,
    titled,
    with_table,
)
from ordering.pages.sections import nice_step
from ordering.records.house import House
from ordering.records.page import Cell, Chart, Row, Series, Sheet, Value
from ordering.records.plan import QUANTILES, Forecast, Plan, Slot
from ordering.texts import padded, wrapped

COVERS_TITLE, DISHES_TITLE = "Forecast", "Dishes"
COLUMNS = ("date", "service", "expected", "low", "high", "booked", "at parties")
WIDTHS = (12.0, 22.0, 11.0, 9.0, 9.0, 10.0, 11.0)
N_DAYS, N_DISH_DAYS = 14, 7
LEAST_DRAWN = 6  # services: fewer make no line
CHART_ROWS, CHART_HEIGHT, CHART_WIDTH = 10, 170, 600
MOST_SIDE_BY_SIDE = 11  # services of the week on one sheet of dishes
NAME_WIDTH, SLOT_WIDTH, GAP = 28.5, 6.5, 0.75  # digits of width
A_MARK, A_LETTER, A_NARROW, NARROW = 0.6, 1.08, 0.55, "fijlrt"  # digits that a bracket, a bold letter takes
LOW, HIGH = QUANTILES.index(0.05), QUANTILES.index(0.95)
TEXT_WIDTH, TEXT_NAME_WIDTH = 80, 24  # columns of a terminal
DAY_COLUMNS = 8  # of a terminal, for the portions of a day
DAYS_A_BLOCK = (TEXT_WIDTH - TEXT_NAME_WIDTH) // DAY_COLUMNS


def forecast_sheet(house: House, plan: Plan) -> Sheet:
    """Covers of the coming fortnight in one table, and a chart for each service that has enough of them."""
    forecast = plan.forecast
    coming = _coming(plan, N_DAYS)
    note = (
        f"{house.name}, {format_day(plan.on)} and {N_DAYS - 1} days after. "
        "Low and high: nine services in ten lie between them."
    )
    if any(n in forecast.unknown for n in coming):
        note += " Where there is no high, walk-ins are not known and the bookings are the least."
    top = titled("Forecast of covers", note, across=len(WIDTHS))
    services = [
        s for s in house.services if sum(forecast.slots[n].service == s for n in coming) >= LEAST_DRAWN
    ]
    ranked = [n for s in services for n in coming if forecast.slots[n].service == s]
    ranked += [n for n in coming if n not in ranked]
    rows = [_covers_row(house, forecast, n) for n in ranked]
    head = len(top.rows)
    table = Block((heads(COLUMNS, COLUMNS[2:]), *rows), "covers")
    laid, tables = stacked([top, table if rows else said_all(["No service in these days."])])
    charts, at = [], len(laid) + 1
    for service in services:
        mine = [k for k, n in enumerate(ranked) if forecast.slots[n].service == service]
        most = float(forecast.covers_quantiles[[ranked[k] for k in mine], HIGH].max())
        charts.append(_chart(service, (head + 1 + mine[0], head + 1 + mine[-1]), at, most))
        at += CHART_ROWS
    past = said_all(forecast.quality or ["Not known yet."], len(WIDTHS))
    ending, _ = stacked([section("How good it has been"), past, *_notes(forecast)])
    room = [()] * (at - len(laid))
    return Sheet(
        title=COVERS_TITLE,
        rows=(*laid, *room, *ending),
        widths=WIDTHS,
        footer=f"{house.name}: forecast of covers, {plan.on.isoformat()}",
        tables=tables,
        charts=tuple(charts),
        row_height=13.5,
    )


def dishes_sheets(house: House, plan: Plan) -> tuple[Sheet, ...]:
    """Portions of the coming week by dish and service; a house with many services has more than one sheet."""
    slots = _coming(plan, N_DISH_DAYS)
    n_sheets = max(1, math.ceil(len(slots) / MOST_SIDE_BY_SIDE))
    size = math.ceil(len(slots) / n_sheets)
    parts = [slots[n * size : (n + 1) * size] for n in range(n_sheets)]
    return tuple(_dishes_sheet(house, plan, part, n) for n, part in enumerate(parts))


def _dishes_sheet(house: House, plan: Plan, slots: Sequence[int], n: int) -> Sheet:
    forecast = plan.forecast
    dishes = [d for d in range(len(forecast.dishes)) if forecast.mean[d, slots].any()]
    dishes.sort(key=lambda d: -float(forecast.mean[d, slots].sum()))
    note = (
        f"{house.name}, {format_day(plan.on)} and {N_DISH_DAYS - 1} days after. "
        "Expected, and in brackets what 19 services in 20 stay within; parties included."
    )
    names = ["dish", *(_slot_said(forecast.slots[slot]) for slot in slots)]
    rows = [_dish_row(house, forecast, d, slots) for d in dishes]
    widths = (
        NAME_WIDTH,
        *(_slot_width(name, (row[n].value for row in rows)) for n, name in enumerate(names[1:], 1)),
    )
    sheet = Sheet(
        title=f"{DISHES_TITLE} {n + 1}" if n else DISHES_TITLE,
        rows=(),
        widths=widths,
        is_landscape=sum(widths) + len(widths) * COLUMN_GAP > UPRIGHT,
        footer=f"{house.name}: portions, {plan.on.isoformat()}",
        row_height=14.0,
    )
    head = (*heads(names[:1]), *(Cell(name, "head number") for name in names[1:]))
    listing = Block((head, *rows), "portions")
    top = titled("Portions", note, across=len(widths))
    return with_table(sheet, top, listing, "No dish is expected in these days.")


def _slot_width(name: str, values: Iterable[Value]) -> float:
    """Digits of width for the longest word of a service's heading and the longest of its figures."""
    words = [sum(A_NARROW if c in NARROW else A_LETTER for c in word) for word in name.split()]
    figures = [sum(1.0 if c.isdigit() else A_MARK for c in str(value or "")) for value in values]
    return max(SLOT_WIDTH, *(wide + GAP for wide in (*words, *figures)))


def _coming(plan: Plan, n_days: int) -> list[int]:
    end = plan.on + timedelta(days=n_days)
    return [n for n, slot in enumerate(plan.forecast.slots) if slot.date < end]


def _slot_said(slot: Slot) -> str:
    return f"{format_day(slot.date)} {service_said(slot.service)}"


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
        Cell(service_said(slot.service), "text line"),
        Cell(None if is_empty else mean, "whole strong line"),
        Cell(None if is_empty else low, "whole line"),
        Cell(None if is_least else high, "whole line"),
        Cell(None if math.isnan(booked) else round(booked), "whole line"),
        Cell(sum(parties) if parties else None, "whole line"),
    )


def _chart(service: str, drawn: tuple[int, int], at: int, most: float) -> Chart:
    """Expected, low and high of the rows drawn, from 0 to the next round number above the `most` of them."""
    first, last = drawn
    days, step = (0, first, last), nice_step(most)
    return Chart(
        kind="line",
        title=f"Covers, {service_said(service)}",
        at=(at, 0),
        series=(
            Series("expected", COVERS_TITLE, days, (2, first, last), "strong"),
            Series("low", COVERS_TITLE, days, (3, first, last), "dashed"),
            Series("high", COVERS_TITLE, days, (4, first, last), "dashed"),
        ),
        width=CHART_WIDTH,
        height=CHART_HEIGHT,
        axis_range=(0.0, step * math.ceil(max(most, step) / step)),
        category_format="ddd d mmm",
        description=f"Expected covers, {service_said(service)}, low and high; the figures stand above.",
    )


def _dish_row(house: House, forecast: Forecast, d: int, slots: Sequence[int]) -> Row:
    dish = forecast.dishes[d]
    name = house.dishes[dish].name if dish in house.dishes else dish
    cells = []
    for n in slots:
        mean, high = round(float(forecast.mean[d, n])), round(float(forecast.quantiles[d, n, HIGH]))
        cells.append(Cell(f"{mean} ({high})" if forecast.mean[d, n] > 0 else None, "right line"))
    return (Cell(name, "wrap line"), *cells)


def _notes(forecast: Forecast) -> list[Block]:
    if not forecast.notes:
        return []
    return [section("What it does not know"), said_all(forecast.notes, len(WIDTHS))]


def forecast_text(house: House, forecast: Forecast) -> list[str]:
    """Lines of at most 80 columns: covers, portions, how good it has been, what it does not know."""
    lines = [
        *_title(house, forecast),
        "",
        *_covers_lines(house, forecast),
        *_portions(house, forecast),
    ]
    if forecast.quality:
        lines += ["", "How good it has been", *_paragraphs(forecast.quality)]
    if forecast.notes:
        lines += ["", "What it does not know", *_paragraphs(forecast.notes)]
    return lines


def _title(house: House, forecast: Forecast) -> list[str]:
    until = forecast.days[-1]
    return wrapped(
        f"{house.name}: forecast from {format_day(forecast.days[0])} to {format_day(until)} {until.year}",
        TEXT_WIDTH,
    )


def _paragraphs(said_lines: Sequence[str]) -> list[str]:
    found = []
    for text in said_lines:
        first, *rest = wrapped(text, TEXT_WIDTH - 4)
        found += [f"  {first}", *(f"    {line}" for line in rest)]
    return found


def _cut(text: str, width: int) -> str:
    """The text on one line, exactly so many columns wide."""
    return padded(clipped(text, width), width)


def _covers_lines(house: House, forecast: Forecast) -> list[str]:
    if not forecast.slots:
        return ["No service is open on these days."]
    has_booked = bool(np.isfinite(forecast.booked).any())
    booked = "  booked" if has_booked else ""
    lines = [f"{'Covers':<12}{'service':<16}{'expected':>8}{'9 times in 10':>16}{booked}"]
    for n, slot in enumerate(forecast.slots):
        expected = f"{forecast.covers_mean[n]:>8.0f}"
        between = f"{forecast.covers_quantiles[n, LOW]:.0f} to {forecast.covers_quantiles[n, HIGH]:.0f}"
        if n in forecast.unknown:
            is_booked = forecast.covers_mean[n] > 0
            expected, between = (expected, "or more") if is_booked else (" " * 8, "nothing known")
        known = forecast.booked[n]
        shown = f"{known:>8.0f}" if np.isfinite(known) else " " * 8
        party = _party(house, slot.date, slot.service)
        row = f"{format_day(slot.date):<12}{_cut(service_title(slot.service), 16)}{expected}{between:>16}"
        line = row + (shown if has_booked else "")
        lines.append(
            (line + "  " + _cut(party, TEXT_WIDTH - len(row) - 10)).rstrip() if party else line.rstrip()
        )
    return lines


def _party(house: House, day: date, service: str) -> str:
    names = [p.name for p in house.parties if p.date == day and p.service == service]
    return ", ".join(names)


def _portions(house: House, forecast: Forecast) -> list[str]:
    """Portions expected each day, all services together, in blocks of days with a service."""
    if not forecast.slots or not forecast.mean.any():
        return []
    day = np.array([slot.day for slot in forecast.slots])
    served = np.unique(day)
    lines = []
    for start in range(0, len(served), DAYS_A_BLOCK):
        block = served[start : start + DAYS_A_BLOCK]
        total = np.stack([forecast.mean[:, day == d].sum(axis=1) for d in block], axis=1)
        if not total.any():
            continue
        lines += ["", _day_heads(forecast, block)]
        for n, dish in enumerate(forecast.dishes):
            if total[n].any():
                cells = "".join(f"{_number(value):>{DAY_COLUMNS}}" for value in total[n])
                lines.append(_cut(house.dishes[dish].name, TEXT_NAME_WIDTH) + cells)
    return lines


def _day_heads(forecast: Forecast, block: NDArray[np.int64]) -> str:
    """The heading of a block of days, by their numbers, [day]."""
    heads = "".join(f"{format_day(forecast.days[d])[:6].rstrip():>8}" for d in block)
    return f"{'Portions expected':<{TEXT_NAME_WIDTH}}{heads}"


def _number(value: float) -> str:
    if value == 0:
        return "-"
    return f"{value:.1f}" if value < 10 else f"{value:.0f}"
