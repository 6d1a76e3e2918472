"""Columns and rows of the csv files of a group. The columns are a promise to whoever reads them."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from datetime import date
from decimal import Decimal

from ordering.records.buying import DeliveryKey
from ordering.records.group import HouseRun, JointOrder, Transfer
from ordering.records.page import Listing, Value

HOUSES_COLUMNS = ("house", "exit", "orders", "amount", "shortages", "doubts", "seconds")
VENDORS_COLUMNS = ("vendor", "deliver_on", "house", "code", "packs", "amount", "total", "added", "lacking")
TRANSFERS_COLUMNS = ("from", "to", "item", "quantity", "unit", "needed_on", "use_by", "worth")


def houses_table(runs: Iterable[HouseRun]) -> Listing:
    """Rows of `houses.csv`; `orders` are vendors' deliveries, `seconds` empty where the run was there."""
    rows = tuple(
        (
            *(run.house, run.exit, len({(line.vendor, line.deliver_on) for line in run.orders}), run.amount),
            *(len(run.shortages), run.n_doubts),
            None if run.seconds is None else round(run.seconds, 2),
        )
        for run in runs
    )
    return Listing(HOUSES_COLUMNS, rows)


def vendors_table(runs: Iterable[HouseRun], joint: Iterable[JointOrder]) -> Listing:
    """Rows of `vendors.csv`: every order line of every house, by vendor and day.

    `total` is what all houses order of the vendor for that day. Where a vendor takes the houses together,
    `added` are packs to bring forward for its minimum or a price break (a row of its own, with no packs
    ordered, where the house orders none of it now), and `lacking` what the minimum still lacks.
    """
    together = {(one.vendor, one.deliver_on): one for one in joint}
    lines = [line for run in runs for line in run.orders]
    total: dict[DeliveryKey, Decimal] = defaultdict(Decimal)
    for line in lines:
        total[line.vendor, line.deliver_on] += line.amount
    total |= {key: one.amount for key, one in together.items()}
    added: dict[tuple[str, date, str, str], int] = defaultdict(int)
    for one in together.values():
        for line in one.added:
            added[line.vendor, line.deliver_on, line.house, line.code] += line.packs
    ordered: dict[tuple[str, date, str, str], tuple[int, Decimal]] = {}
    for line in lines:
        key = line.vendor, line.deliver_on, line.house, line.code
        packs, amount = ordered.get(key, (0, Decimal(0)))
        ordered[key] = packs + line.packs, amount + line.amount
    rows: list[tuple[Value, ...]] = []
    for key in sorted({*ordered, *added}):
        packs, amount = ordered.get(key, (0, Decimal(0)))
        taken = together.get(key[:2])
        lacking = taken.lacking if taken else None
        rows.append((*key, packs, amount, total[key[:2]], added.get(key, 0) if taken else None, lacking))
    return Listing(VENDORS_COLUMNS, tuple(rows))


def transfers_table(moves: Iterable[Transfer]) -> Listing:
    """Rows of `transfers.csv`, the one worth most first."""
    rows = tuple(
        (m.from_house, m.to_house, m.item, m.quantity, m.unit, m.needed_on, m.use_by, m.worth) for m in moves
    )
    return Listing(TRANSFERS_COLUMNS, rows)
