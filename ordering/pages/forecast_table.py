"""The forecast on a terminal of 80 columns: covers by service, portions by dish, how good it has been."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

import numpy as np
from numpy.typing import NDArray

from ordering.days import format_day, service_title
from ordering.records.house import House
from ordering.records.plan import QUANTILES, Forecast
from ordering.texts import cells_wide, one_line, wrapped

WIDTH = 80
NAME_WIDTH = 24
DAYS_A_BLOCK = 7
LOW, HIGH = QUANTILES.index(0.10), QUANTILES.index(0.90)

Index = NDArray[np.int64]


def forecast_text(house: House, forecast: Forecast) -> list[str]:
    """Lines of at most 80 columns: covers, portions, how good it has been, what it does not know."""
    lines = [
        *_title(house, forecast),
        "",
        *_covers(house, forecast),
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
        WIDTH,
    )


def _paragraphs(said_lines: Sequence[str]) -> list[str]:
    found = []
    for text in said_lines:
        first, *rest = wrapped(text, WIDTH - 4)
        found += [f"  {first}", *(f"    {line}" for line in rest)]
    return found


def _fitted(text: str, width: int) -> str:
    """The text padded or cut to exactly `width` columns."""
    text = one_line(text)
    while cells_wide(text) > width:
        text = text[:-2] + "…"
    return text + " " * (width - cells_wide(text))


def _covers(house: House, forecast: Forecast) -> list[str]:
    if not forecast.slots:
        return ["No service is open on these days."]
    has_booked = bool(np.isfinite(forecast.booked).any())
    booked = "  booked" if has_booked else ""
    lines = [f"{'Covers':<12}{'service':<16}{'expected':>8}{'8 times in 10':>16}{booked}"]
    for n, slot in enumerate(forecast.slots):
        expected = f"{forecast.covers_mean[n]:>8.0f}"
        between = f"{forecast.covers_quantiles[n, LOW]:.0f} to {forecast.covers_quantiles[n, HIGH]:.0f}"
        if n in forecast.unknown:
            is_booked = forecast.covers_mean[n] > 0
            expected, between = (expected, "or more") if is_booked else (" " * 8, "nothing known")
        known = forecast.booked[n]
        shown = f"{known:>8.0f}" if np.isfinite(known) else " " * 8
        party = _party(house, slot.date, slot.service)
        row = f"{format_day(slot.date):<12}{_fitted(service_title(slot.service), 16)}{expected}{between:>16}"
        line = row + (shown if has_booked else "")
        lines.append(
            (line + "  " + _fitted(party, WIDTH - len(row) - 10)).rstrip() if party else line.rstrip()
        )
    return lines


def _party(house: House, day: date, service: str) -> str:
    names = [p.name for p in house.parties if p.date == day and p.service == service]
    return ", ".join(names)


def _portions(house: House, forecast: Forecast) -> list[str]:
    """Portions expected each day, all services together, in blocks of seven days with a service."""
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
        lines += ["", _heads(forecast, block)]
        for n, dish in enumerate(forecast.dishes):
            if total[n].any():
                cells = "".join(f"{_number(value):>8}" for value in total[n])
                lines.append(_fitted(house.dishes[dish].name, NAME_WIDTH) + cells)
    return lines


def _heads(forecast: Forecast, block: Index) -> str:
    """The heading of a block of slots, [slot]."""
    heads = "".join(f"{format_day(forecast.days[d])[:6].rstrip():>8}" for d in block)
    return f"{'Portions expected':<{NAME_WIDTH}}{heads}"


def _number(value: float) -> str:
    if value == 0:
        return "-"
    return f"{value:.1f}" if value < 10 else f"{value:.0f}"
