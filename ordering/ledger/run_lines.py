"""Lines of a run read back: from its orders.csv, and from the grids of its vendor sheets. Pure."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from datetime import date, datetime
from decimal import Decimal, InvalidOperation

from ordering.faults import Fault
from ordering.ledger.placing import RunLine

_ID = re.compile(r"[a-z0-9]+(-[a-z0-9]+)*", re.ASCII)


def run_lines(table: Iterable[Mapping[str, str]], run: str) -> tuple[list[RunLine], list[Fault]]:
    """Rows of orders.csv as lines, and a fault for each row that is none.

    A vendor is an id and nothing else, so that it can name a file without leading anywhere.
    """
    lines: list[RunLine] = []
    faults: list[Fault] = []
    for n, row in enumerate(table, start=2):
        try:
            lines.append(_line(row))
        except (KeyError, ValueError, InvalidOperation):
            wrong = "is no line of an order any more"
            faults.append(Fault(f"{run}/orders.csv", n, "", wrong, "make the run again", "damaged-run"))
    return [line for line in lines if line.packs > 0], faults


def _line(row: Mapping[str, str]) -> RunLine:
    if not _ID.fullmatch(row["vendor"]):
        raise ValueError("no vendor's id")
    return RunLine(
        vendor=row["vendor"],
        code=row["code"],
        item=row["item"],
        packs=int(row["packs"]),
        quantity=float(row["quantity"]),
        unit=row["unit"],
        price=Decimal(row["price"]) if row["price"] else None,
        amount=Decimal(row["amount"] or "0"),
        order_by=datetime.fromisoformat(row["order_by"]),
        deliver_on=date.fromisoformat(row["deliver_on"]),
    )
