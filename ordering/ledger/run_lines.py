"""Lines of a run read back from its orders.csv. Pure."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from ordering.faults import Fault
from ordering.records.buying import OrderLine
from ordering.records.house import House
from ordering.records.money import offer_of, price_per_said

_ID = re.compile(r"[a-z0-9]+(-[a-z0-9]+)*", re.ASCII)
_RIGHT = "make the run again with 'order'; packs are changed in the vendor's sheet, not here"


def run_lines(
    table: Iterable[Mapping[str, str]], place: str, house: House
) -> tuple[list[OrderLine], list[Fault]]:
    """Rows of orders.csv, which messages call `place`, as lines, and a fault for each cell that is none.

    A vendor is an id and nothing else, so that it can name a file without leading anywhere. How catch weight
    is charged is what the house has now.
    """
    lines: list[OrderLine] = []
    faults: list[Fault] = []
    for n, row in enumerate(table, start=2):
        found: dict[str, Any] = {}
        for column, read in _READERS.items():
            try:
                found[column] = read(row[column])
            except KeyError:
                wrong = f"there is no column '{column}'"
                faults.append(Fault(place, 1, "", wrong, _RIGHT, "damaged-run"))
            except (ValueError, ArithmeticError):
                wrong = f"'{row[column][:40]}' cannot stand there"
                faults.append(Fault(place, n, column, wrong, _RIGHT, "damaged-run"))
        if len(found) == len(_READERS):
            lines.append(OrderLine(**found, **_charged(house, found)))
    return [line for line in lines if line.packs > 0], sorted(set(faults))


def _charged(house: House, found: Mapping[str, Any]) -> dict[str, Any]:
    offer = offer_of(house, found["item"], found["vendor"], found["code"])
    if offer is None or not offer.is_catch_weight:
        return {}
    return {"is_catch_weight": True, "quoted": price_per_said(offer, found["price"])}


def _vendor(text: str) -> str:
    if not _ID.fullmatch(text):
        raise ValueError("no vendor's id")
    return text


_READERS: Mapping[str, Callable[[str], Any]] = {
    "vendor": _vendor,
    "code": str,
    "item": str,
    "description": str,
    "packs": int,
    "pack": str,
    "quantity": float,
    "unit": str,
    "price": lambda text: Decimal(text) if text else None,
    "amount": lambda text: Decimal(text or "0"),
    "order_by": datetime.fromisoformat,
    "deliver_on": date.fromisoformat,
}
