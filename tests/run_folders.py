"""Run folders for tests of bookkeeping: no more of a run than `place` reads."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime, time
from pathlib import Path
from types import SimpleNamespace
from typing import cast

from ordering.ledger.twice import on_order
from ordering.pages.order_sheet import order_sheet
from ordering.pages.tables import orders_table
from ordering.records.house import House
from ordering.records.ledger import Placed
from ordering.records.plan import OrderLine, Plan
from ordering.write.facts import facts_bytes
from ordering.write.folder import write_run
from ordering.write.table import csv_bytes
from ordering.write.xlsx import workbook_bytes


def run_folder(
    house: House, runs: Path, on: date, lines: Sequence[OrderLine], placed: Sequence[Placed] = ()
) -> Path:
    """A run folder with its orders.csv and order sheets, by the pages and writers of `order`.

    `placed` is what the run counts on.
    """
    buying = SimpleNamespace(orders=lines, fees={}, placed={})
    plan = cast("Plan", SimpleNamespace(on=on, now=datetime.combine(on, time(0, 0)), buying=buying))
    table = orders_table(lines)
    facts = {"when": f"{on.isoformat()}T00:00", "on_order": on_order(placed, on)}
    files = {"orders.csv": csv_bytes(table.columns, table.rows), "run.json": facts_bytes(facts)}
    for name in ("forecast", "outlook", "starts", "shortages", "projection", "pegging"):
        files[f"{name}.csv"] = b"a\n"
    for vendor in {line.vendor for line in lines}:
        files[f"orders/{vendor}.xlsx"] = workbook_bytes(order_sheet(house, plan, house.vendors[vendor]))
    return write_run(runs, on.isoformat(), files)
