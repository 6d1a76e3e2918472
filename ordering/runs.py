"""The library function behind `order`: read, plan, write."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, time, timedelta
from pathlib import Path
from typing import Any

from ordering import __version__
from ordering.amounts import plural
from ordering.explain.reasons import why
from ordering.faults import Fault, Refused, still_asked
from ordering.forecast.demand import forecast
from ordering.group.supply import supplying, told_by_house, with_demands
from ordering.ledger import store
from ordering.ledger.prices import at_invoiced_prices, invoiced, lagging_doubts
from ordering.ledger.store import (
    add_forecast,
    last_prices,
    n_runs,
    number_orders,
    open_ledger,
    spent,
    transaction,
)
from ordering.ledger.twice import on_order
from ordering.loading import Loaded, load
from ordering.pages.calendar import calendar_title
from ordering.pages.delivery_sheet import supply_files
from ordering.pages.run_files import run_files
from ordering.pages.summary import summary
from ordering.pipeline import Past, Step, plan
from ordering.read.draft import house_files
from ordering.read.files import fingerprints
from ordering.read.former_calendar import former_entries
from ordering.read.run_folder import placed_runs, run_facts
from ordering.records.books import Books
from ordering.records.group import HouseDemand
from ordering.records.house import House
from ordering.records.plan import Forecast, Plan
from ordering.records.report import Report
from ordering.write.document_bytes import documents_bytes
from ordering.write.facts import facts_bytes
from ordering.write.folder import clear_unfinished, drop_run, mark_booked, write_run

# What `check` says of counts and open orders, the opening stock of a run says more closely.
_SAID_BY_THE_STOCK = {"never-counted", "old-count", "late-order"}


@dataclass(frozen=True, slots=True)
class RunTerms:
    """How a run is made and told: its time of day, its progress line, colour on a terminal.

    In a group also the files that the house begins from, and what other houses take from it.
    """

    at: time = time(0, 0)
    tell: Step = lambda _: None
    is_coloured: bool = False
    shared: Path | None = None
    supply: tuple[HouseDemand, ...] = ()


def order(
    config: Path,
    books_dir: Path,
    runs: Path,
    on: date,
    terms: RunTerms | None = None,
    loaded: Loaded | None = None,
) -> Report:
    """The whole run into a new folder, and its forecast into the ledger.

    `loaded` : house and books, where they have been read already.

    Raises
    ------
    Refused : the input has faults; nothing has been written
    """
    terms = terms or RunTerms()
    terms.tell("reading")
    loaded = loaded or load(config, books_dir, on, terms.shared)
    loaded, made = planned(loaded, config, books_dir, on, terms)
    house = loaded.house
    _refuse_lost_ledger(runs, house, books_dir)
    terms.tell("sheets")
    facts = _facts(loaded, made, config, books_dir)
    former = former_entries(runs, on, calendar_title(house))
    with open_ledger(books_dir) as ledger:
        folder = None
        try:
            with transaction(ledger):
                known = store.known_runs(books_dir)
                clear_unfinished(runs, lambda left: run_facts(left).get("id") in known)
                run = _identity(facts, made, n_runs(ledger))
                drops = [(line.vendor, line.deliver_on) for line in made.buying.orders]
                numbers = number_orders(ledger, run, drops, on, house.order_prefix)
                add_forecast(ledger, run, made.forecast, on)
                documents = run_files(house, made, numbers, loaded.bookings.orders, former)
                files = documents_bytes({**documents, **supply_files(house, made, terms.supply)})
                files["run.json"] = facts_bytes({"id": run, **facts})
                folder = write_run(runs, on.isoformat(), files, is_booked=False)
        except BaseException:
            if folder is not None:
                drop_run(folder)
            raise
    mark_booked(folder)
    lines = (
        *summary(house, made, colour=terms.is_coloured),
        "",
        f"Written to {folder}",
        *_to_ask(made, folder),
    )
    return Report(lines, 1 if made.shortages or made.doubts or made.needs_attention else 0, (folder,))


def _to_ask(made: Plan, folder: Path) -> list[str]:
    """Where each line is explained, and how to be told the whole sum of one, the dearest as the example."""
    if not made.buying.orders:
        return []
    dearest = max(made.buying.orders, key=lambda line: line.amount or 0)
    return [
        "What each line is for: Orders in order-book.xlsx",
        f"Why a line is there: ordering explain {folder.name} {dearest.code or dearest.item}",
    ]


def planned(
    loaded: Loaded, config: Path, books_dir: Path, on: date, terms: RunTerms, ahead: int = 0
) -> tuple[Loaded, Plan]:
    """The plan of a run, and house and books as it took them; nothing is written. `ahead` as in `plan`."""
    lagging = invoiced(loaded.house, loaded.bookings, on)
    own, supply = at_invoiced_prices(loaded.house, lagging), terms.supply
    house = supplying(own, supply) if supply else own
    monday = on - timedelta(days=on.weekday())
    past = Past(last_prices(books_dir, on), spent(books_dir, house, monday, on))
    said = [doubt for doubt in loaded.doubts if doubt.kind not in _SAID_BY_THE_STOCK]
    said += lagging_doubts(loaded.house, lagging)
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
    made = told_by_house(house, made, supply)
    return replace(loaded, house=house), replace(made, doubts=still_asked(made.doubts, own.answered))


def _facts(loaded: Loaded, made: Plan, config: Path, books_dir: Path) -> dict[str, Any]:
    """run.json: what a run can be traced and repeated by."""
    house = loaded.house
    return {
        "house": house.name,
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
        "on_order": on_order(loaded.bookings.orders, made.on),
        "gap_to_bound": made.buying.bound_gap,
        "notes": list(made.buying.notes),
        "warnings": list(made.needs_attention),
        "doubts": list(made.doubts),
        "why": why(made, house),
    }


def _identity(facts: Mapping[str, Any], made: Plan, n_before: int) -> str:
    """What a run is known by wherever its folder lies: the same only for the same run of the same books."""
    said = repr((sorted(facts["inputs"].items()), facts["when"], facts["seed"], made.buying.orders, n_before))
    return hashlib.sha256(said.encode()).hexdigest()[:16]


def _refuse_lost_ledger(runs: Path, house: House, books_dir: Path) -> None:
    """Refuse to order where a run of the house has been placed that the ledger does not know.

    Without the ledger, or with an older copy of it, what is on order would be ordered again.
    """
    placed = [one for one in placed_runs(runs) if one.facts.get("house") == house.name]
    known = store.known_runs(books_dir) if placed else set()
    lost = [one for one in placed if one.facts.get("run") not in known]
    if lost:
        last = max(one.name for one in lost)
        wrong = f"the ledger does not know what was placed of {plural(len(lost), 'run')}, the latest {last}"
        right = (
            "put back the latest copy of the ledger, or everything on order would be ordered again; "
            "to really start again, move those run folders away"
        )
        raise Refused([Fault(store.ledger_path(books_dir).as_posix(), 0, "", wrong, right, "lost-ledger")])


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
