"""Run folders for tests of bookkeeping: no more of a run than `place` reads, known to the ledger."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Hashable, Sequence
from datetime import date, datetime, time
from pathlib import Path

from ordering.ledger import register, store
from ordering.ledger.twice import on_order
from ordering.pages.order_sheet import order_sheet
from ordering.pages.tables import orders_table
from ordering.records.buying import OrderLine
from ordering.records.documents import FORECAST, Paper
from ordering.records.house import House
from ordering.records.ledger import Placed
from ordering.records.vendor_orders import orders_of
from ordering.write.facts import facts_bytes
from ordering.write.folder import write_run
from ordering.write.table import csv_bytes
from ordering.write.xlsx import workbook_bytes

Files = tuple[tuple[str, bytes], ...]
_TAKEN: dict[Hashable, tuple[Files, str]] = {}


def once(folder: Path, step: Hashable, take: Callable[[], Path]) -> Path:
    """Take a step in a folder. Where another test took it from the very same files, what it left is laid
    down again: most tests of bookkeeping begin with the same run, made and placed.
    """
    before = step, _files(folder)
    if before not in _TAKEN:
        path = take()
        _TAKEN[before] = _files(folder), path.relative_to(folder).as_posix()
        return path
    files, name = _TAKEN[before]
    for file, content in files:
        (folder / file).parent.mkdir(parents=True, exist_ok=True)
        (folder / file).write_bytes(content)
    return folder / name


def _files(folder: Path) -> Files:
    found = sorted(path for path in folder.rglob("*") if path.is_file())
    return tuple((path.relative_to(folder).as_posix(), path.read_bytes()) for path in found)


def run_folder(
    house: House, runs: Path, on: date, lines: Sequence[OrderLine], books: Path, placed: Sequence[Placed] = ()
) -> Path:
    """A run folder with its orders.csv and order sheets, by the pages and writers of `order`.

    `placed` is what the run counts on.
    """
    made = datetime.combine(on, time(0, 0))
    with store.open_ledger(books) as ledger, store.transaction(ledger):
        run = hashlib.sha256(f"{store.n_runs(ledger)} {lines}".encode()).hexdigest()[:16]
        register.write(ledger, Paper(FORECAST, on, (), run=run), on)
        drops = [(line.vendor, line.deliver_on) for line in lines]
        numbers = store.number_orders(ledger, run, drops, on, house.order_prefix)
    orders = orders_of(house, lines, numbers, placed)
    table = orders_table(lines, numbers)
    facts = {
        "id": run,
        "house": house.name,
        "when": f"{on.isoformat()}T00:00",
        "on_order": on_order(placed, on),
    }
    files = {"orders.csv": csv_bytes(table.columns, table.rows), "run.json": facts_bytes(facts)}
    for name in ("forecast", "outlook", "starts", "shortages", "projection", "pegging"):
        files[f"{name}.csv"] = b"a\n"
    for vendor in {line.vendor for line in lines}:
        mine = [order for order in orders if order.vendor == vendor]
        files[f"orders/{vendor}.xlsx"] = workbook_bytes(order_sheet(house, house.vendors[vendor], mine, made))
    return write_run(runs, on.isoformat(), files)
