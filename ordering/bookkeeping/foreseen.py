"""What the last run foresees from a day on, read back from its folder."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from pathlib import Path

import numpy as np

from ordering.days import span
from ordering.ledger import store
from ordering.read.run_folder import RunFiles, latest_run
from ordering.records.plan import Array

Row = Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Foreseen:
    """What the coming days ask for, by item, in its unit, shape [day].

    What is `drawn` on the expected path, what is `made` of it beside what is bought, what is `to_order`:
    proposed and not placed yet. `portions` by dish, shape [day].
    """

    days: tuple[date, ...]
    drawn: Mapping[str, Array] = field(default_factory=dict)
    made: Mapping[str, Array] = field(default_factory=dict)
    to_order: Mapping[str, Array] = field(default_factory=dict)
    portions: Mapping[str, Array] = field(default_factory=dict)


def foreseen(books_dir: Path, runs: Path, house: str, now: datetime) -> Foreseen | None:
    """From today on, what the latest run of the house foresees; None where no run reaches today.

    A run whose files are damaged is none. Of its lines that were not placed those count
    whose cut-off is still to come.
    """
    run = latest_run(runs, house, now.date())
    if run is None:
        return None
    try:
        last = max((date.fromisoformat(row["date"]) for row in run.tables["projection"]), default=date.min)
        if last < now.date():
            return None
        days = span(now.date(), (last - now.date()).days + 1)
        return _read(run, days, _placed(books_dir, run), now)
    except (KeyError, ValueError):
        return None


def _placed(books_dir: Path, run: RunFiles) -> set[str]:
    """Numbers of the run's orders that were placed, those cancelled since among them."""
    standing = store.orders_of_run(books_dir, str(run.facts["id"]))
    return {document.number for document, _ in standing}


def _read(run: RunFiles, days: Sequence[date], placed: set[str], now: datetime) -> Foreseen:
    lines = [*run.tables["orders"], *run.tables["outlook"]]
    waiting = [
        row
        for row in lines
        if row.get("order", "") not in placed and datetime.fromisoformat(row["order_by"]) >= now
    ]
    projection = run.tables["projection"]
    bought = _by_day(lines, ("item", "deliver_on", "quantity"), days)
    planned = _by_day(projection, ("item", "date", "planned"), days)
    return Foreseen(
        tuple(days),
        drawn=_by_day(projection, ("item", "date", "gross"), days),
        made={item: np.maximum(all_of - bought.get(item, 0.0), 0.0) for item, all_of in planned.items()},
        to_order=_by_day(waiting, ("item", "deliver_on", "quantity"), days),
        portions=_by_day(run.tables["forecast"], ("dish", "date", "mean"), days),
    )


def _by_day(rows: Iterable[Row], columns: tuple[str, str, str], days: Sequence[date]) -> dict[str, Array]:
    """Quantities added up by what they are of, [day]; `columns`: of what, on which day, how much."""
    what, when, much = columns
    at = {day.isoformat(): n for n, day in enumerate(days)}
    sums: dict[str, Array] = {}
    for row in rows:
        n = at.get(row[when])
        if n is not None:
            sums.setdefault(row[what], np.zeros(len(days)))[n] += float(row[much])
    return sums
