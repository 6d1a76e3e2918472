"""A run about to be placed: read from its folder, known to the ledger, its orders with their numbers."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any

from ordering.faults import Fault, Refused
from ordering.ledger import store
from ordering.ledger.merge import LOOK_BACK_DAYS
from ordering.ledger.order_lines import LineKey, run_line_key, run_lines
from ordering.ledger.twice import MadeRun, made_run
from ordering.read.run_folder import placed_runs, read_run
from ordering.records.buying import DeliveryKey, OrderLine
from ordering.records.house import House


@dataclass(frozen=True, slots=True)
class RunToPlace:
    """A run about to be placed: its folder, its lines as proposed, the numbers of its orders."""

    folder: Path
    made: MadeRun
    when: datetime
    lines: tuple[OrderLine, ...]
    numbers: Mapping[DeliveryKey, str]

    @property
    def since(self) -> date:
        """The first day of deliveries that can bear on the run's own."""
        first = min((line.deliver_on for line in self.lines), default=date.max)
        return first - timedelta(days=min(LOOK_BACK_DAYS, (first - date.min).days))

    @property
    def proposed(self) -> dict[LineKey, int]:
        """Packs that the run proposes, by line."""
        return {run_line_key(line): line.packs for line in self.lines}


def run_to_place(house: House, books_dir: Path, runs: Path, run: str) -> RunToPlace:
    """The run of that name.

    Raises
    ------
    Refused : there is none, it is damaged, a vendor of it is gone, or the ledger does not know it
    """
    files = read_run(runs, run)
    orders = (files.folder / "orders.csv").as_posix()
    lines, faults = run_lines(files.tables["orders"], orders, house)
    gone = sorted({line.vendor for line in lines} - set(house.vendors))
    faults += [
        Fault(
            orders, 0, v, f"'{v}' is not a vendor any more", "make the run again with 'order'", "gone-vendor"
        )
        for v in gone
    ]
    if faults:
        raise Refused(faults)
    called = {str(one.facts.get("run")): one.name for one in placed_runs(runs)}
    made = made_run(run, orders, files.facts, called)
    if made.id not in store.known_runs(books_dir):
        place = (files.folder / "run.json").as_posix()
        wrong = "the ledger does not know this run: it was made with another ledger, or never finished"
        right = "put back the ledger it was made with, or make the run again with 'order'"
        raise Refused([Fault(place, 0, "", wrong, right, "unknown-run")])
    return RunToPlace(
        files.folder,
        replace(made, took=_took(books_dir, made)),
        _when(files.facts),
        tuple(lines),
        store.order_numbers(books_dir, made.id),
    )


def _took(books_dir: Path, made: MadeRun) -> frozenset[str]:
    """Numbers of orders that the run took the place of, and what their runs are known by."""
    taken = [d for d, _ in store.orders_of_run(books_dir, made.id) if d.run != made.id]
    return frozenset(name for d in taken for name in (d.number, d.run, made.called.get(d.run, d.run)))


def _when(facts: Mapping[str, Any]) -> datetime:
    try:
        return datetime.fromisoformat(facts["when"]).replace(tzinfo=None)
    except (KeyError, TypeError, ValueError):
        return datetime.min
