"""The library function behind `order`: read, plan, write."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, time, timedelta
from pathlib import Path
from typing import Any

from ordering import __version__
from ordering.explain.reasons import why
from ordering.faults import Fault
from ordering.forecast.demand import forecast
from ordering.group.supply import supplying, with_demands
from ordering.ledger.store import (
    last_prices,
    open_ledger,
    record_forecast,
    spent,
    transaction,
)
from ordering.ledger.twice import on_order
from ordering.loading import Loaded, load
from ordering.pages.house_deliveries import supply_files
from ordering.pages.run_files import run_files
from ordering.pages.summary import summary
from ordering.pipeline import Past, Step, plan
from ordering.read.draft import house_files
from ordering.read.files import fingerprints
from ordering.records.books import Books
from ordering.records.group import HouseDemand
from ordering.records.plan import Forecast, Plan
from ordering.records.report import Report
from ordering.write.documents import documents_bytes
from ordering.write.facts import facts_bytes
from ordering.write.folder import write_run

# What `check` says of counts and open orders, the opening stock of a run says more closely.
_SAID_BY_THE_STOCK = {"never-counted", "old-count", "late-order"}


@dataclass(frozen=True, slots=True)
class Terms:
    """How a run is made and told: its time of day, its progress line, colour on a terminal.

    In a group also the files that the house begins from, and what other houses take from it.
    """

    at: time = time(0, 0)
    tell: Step = lambda _: None
    is_coloured: bool = False
    shared: Path | None = None
    supply: tuple[HouseDemand, ...] = ()


def order(config: Path, books_dir: Path, runs: Path, on: date, terms: Terms | None = None) -> Report:
    """The whole run into a new folder, and its forecast into the ledger.

    Raises
    ------
    Refused : the input has faults; nothing has been written
    """
    terms = terms or Terms()
    loaded, made = planned(config, books_dir, on, terms)
    house = loaded.house

    terms.tell("sheets")
    files = documents_bytes({**run_files(house, made), **supply_files(house, made, terms.supply)})
    files["run.json"] = _facts(loaded, made, config, books_dir)
    with open_ledger(books_dir) as ledger, transaction(ledger):
        pass  # a ledger that cannot be written is found before a run is
    folder = write_run(runs, on.isoformat(), files)
    record_forecast(books_dir, folder.name, made.forecast, on)

    lines = (*summary(house, made, colour=terms.is_coloured), "", f"Written to {folder}")
    return Report(lines, 1 if made.shortages or made.doubts or made.to_see_to else 0, (folder,))


def planned(config: Path, books_dir: Path, on: date, terms: Terms, ahead: int = 0) -> tuple[Loaded, Plan]:
    """House and books as read, and the plan of a run; nothing is written. `ahead` as in `plan`.

    Raises
    ------
    Refused : the input has faults
    """
    terms.tell("reading")
    loaded = load(config, books_dir, on, terms.shared)
    own, supply = loaded.house, terms.supply
    house = supplying(own, supply) if supply else own
    monday = on - timedelta(days=on.weekday())
    past = Past(last_prices(books_dir, on), spent(books_dir, monday, on))
    said = [doubt for doubt in loaded.doubts if doubt.kind not in _SAID_BY_THE_STOCK]
    doubts = [_placed(doubt, {config: "config", books_dir: "books"}) for doubt in said]

    def foreseen(days: tuple[date, ...]) -> Forecast | None:
        if not supply:
            return None
        seed = own.policy.seed
        return with_demands(forecast(own, loaded.current, days, seed, own.policy.paths), supply, days, seed)

    made = plan(
        *(house, loaded.current, on, terms.at, past, terms.tell),
        doubts=tuple(map(str, doubts)),
        foreseen=foreseen,
        ahead=ahead,
    )
    return replace(loaded, house=house), made


def _facts(loaded: Loaded, made: Plan, config: Path, books_dir: Path) -> bytes:
    """run.json: what a run can be traced and repeated by."""
    house = loaded.house
    facts: dict[str, Any] = {
        "when": made.now.isoformat(timespec="minutes"),
        "version": __version__,
        "seed": house.policy.seed,
        "paths": house.policy.paths,
        "next_run": made.next_run.isoformat(),
        "inputs": {
            **_named("config", house_files(config)),
            **(_named("shared", house_files(Path(house.shared))) if house.shared else {}),
            **_named("books", [Path(place.partition(" [")[0]) for place in loaded.books.files.values()]),
            "ledger": _ledger_fingerprint(loaded.current),
        },
        "on_order": on_order(loaded.placed, made.on),
        "gap_to_bound": made.buying.bound_gap,
        "notes": list(made.buying.notes),
        "warnings": list(made.to_see_to),
        "doubts": list(made.doubts),
        "why": why(made, house),
    }
    return facts_bytes(facts)


def _placed(doubt: Fault, folders: Mapping[Path, str]) -> Fault:
    """The doubt with its file named by its folder's part in the run, however the path was typed."""
    for folder, name in folders.items():
        start = f"{folder.as_posix()}/"
        if doubt.place.startswith(start):
            return replace(doubt, place=f"{name}/{doubt.place.removeprefix(start)}")
    return doubt


def _named(folder: str, paths: Sequence[Path]) -> dict[str, str]:
    """Fingerprints by the folder's part in the run and the file's name, wherever the folder lies."""
    return {f"{folder}/{Path(name).name}": mark for name, mark in fingerprints(paths).items()}


def _ledger_fingerprint(books: Books) -> str:
    """Of what the run saw of orders, receipts, counts, waste and batches, ledger and books together."""
    seen = (books.open_orders, books.receipts, books.counts, books.waste, books.batches)
    return hashlib.sha256(repr(seen).encode()).hexdigest()
