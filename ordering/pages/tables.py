"""Columns and rows of every csv file of a run, of a house and of a group: a promise to whoever reads them."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import date
from decimal import Decimal

import numpy as np

from ordering.days import WEEKDAYS, american
from ordering.pages.parts import local
from ordering.records.buying import DeliveryKey, OrderLine
from ordering.records.group import HouseRun, JointOrder, Transfer
from ordering.records.house import House
from ordering.records.page import Listing, Value
from ordering.records.plan import Forecast, Peg, Plan, Shortage, Start

FORECAST_COLUMNS = (
    *("date", "service", "dish", "mean"),
    *("q05", "q10", "q25", "q50", "q75", "q90", "q95"),
)
ORDERS_COLUMNS = (
    *("vendor", "code", "item", "description", "packs", "pack", "quantity", "unit"),
    *("price", "amount", "order_by", "deliver_on", "order"),
)
STARTS_COLUMNS = ("start_on", "recipe", "batches", "quantity", "unit", "ready_on")
SHORTAGES_COLUMNS = ("date", "item", "short", "unit", "dishes", "cause", "remedy")
PROJECTION_COLUMNS = ("item", "date", "gross", "scheduled", "planned", "expired", "projected", "unit")
PEGGING_COLUMNS = ("vendor", "code", "deliver_on", "dish", "service_date", "quantity", "unit")
PARS_COLUMNS = ("item", "par", "unit", "weekday", "justified", "flag", "reason")
COVERS = "*"
N_DECIMALS = 2
HOUSES_COLUMNS = ("house", "exit", "orders", "amount", "shortages", "doubts", "seconds")
VENDORS_COLUMNS = ("vendor", "deliver_on", "house", "code", "packs", "amount", "total", "added", "lacking")
TRANSFERS_COLUMNS = ("from", "to", "item", "quantity", "unit", "needed_on", "use_by", "worth")


def forecast_table(forecast: Forecast) -> Listing:
    """Covers (dish `*`) and portions per service with their quantiles, services in time.

    Where nothing is known of the walk-ins, covers are those that have booked and those of parties, and
    there is no row where there are none.
    """
    return Listing(FORECAST_COLUMNS, tuple(_forecast_rows(forecast)))


def orders_table(lines: Sequence[OrderLine], numbers: Mapping[DeliveryKey, str] | None = None) -> Listing:
    """Rows of `orders.csv` or `outlook.csv`; `numbers` of the orders by vendor and day."""
    numbers = numbers or {}
    rows = tuple(
        (
            *(line.vendor, line.code, line.item, line.description, line.packs, line.pack),
            *(line.quantity, line.unit, line.price, line.amount),
            *(local(line.order_by), line.deliver_on, numbers.get((line.vendor, line.deliver_on), "")),
        )
        for line in lines
    )
    return Listing(ORDERS_COLUMNS, rows)


def starts_table(starts: Sequence[Start]) -> Listing:
    """Rows of `starts.csv`, the earliest first."""
    ranked = sorted(starts, key=lambda s: (s.start_on, s.ready_on, s.recipe))
    rows = tuple((s.start_on, s.recipe, s.batches, s.quantity, s.unit, s.ready_on) for s in ranked)
    return Listing(STARTS_COLUMNS, rows)


def shortages_table(shortages: Sequence[Shortage], is_american: bool = False) -> Listing:
    """Rows of `shortages.csv`, its words with the days of the house."""
    turned = american if is_american else str
    rows = tuple(
        (s.date, s.item, s.short, s.unit, turned(s.dishes), turned(s.cause), turned(s.remedy))
        for s in shortages
    )
    return Listing(SHORTAGES_COLUMNS, rows)


def projection_table(house: House, plan: Plan) -> Listing:
    """Rows of `projection.csv`: each item's expected path, in-process lots counted as scheduled.

    Each row closes: projected = projected the day before + scheduled + planned - expired - gross. So
    `planned` holds what is made here, what comes off other recipes and what this run orders or
    foresees, on the day it is delivered; and `gross` what can be drawn: the gross requirement less what
    runs short, which stands in `shortages.csv`.
    """
    return Listing(PROJECTION_COLUMNS, tuple(_projection_rows(house, plan)))


def pegging_table(pegs: Sequence[Peg]) -> Listing:
    """Rows of `pegging.csv`: for each order line, the parts that add up to it."""
    return Listing(PEGGING_COLUMNS, tuple(pegs))


def pars_table(house: House, plan: Plan) -> Listing:
    """Rows of `pars.csv`: each par in use beside what a delivery on each weekday would justify."""
    rows = [
        (par.item, par.par, house.unit_of(par.item), WEEKDAYS[day], round(justified, 3), par.flag, par.reason)
        for par in sorted(plan.buying.pars, key=lambda p: p.item)
        for day, justified in sorted(par.justified.items())
    ]
    return Listing(PARS_COLUMNS, tuple(rows))


def _forecast_rows(forecast: Forecast) -> Iterator[tuple[Value, ...]]:
    covers = np.round(np.column_stack([forecast.covers_mean, forecast.covers_quantiles]), N_DECIMALS)
    dishes = np.round(np.concatenate([forecast.mean[:, :, None], forecast.quantiles], axis=2), N_DECIMALS)
    asked = forecast.mean > 0
    for n, slot in enumerate(forecast.slots):
        if n not in forecast.unknown or forecast.covers_mean[n] > 0:
            yield (slot.date, slot.service, COVERS, *covers[n].tolist())
        for d, dish in enumerate(forecast.dishes):
            if asked[d, n]:
                yield (slot.date, slot.service, dish, *dishes[d, n].tolist())


def _projection_rows(house: House, plan: Plan) -> Iterator[tuple[Value, ...]]:
    days: tuple[date, ...] = plan.days
    for item in sorted(plan.netting.flows):
        flow = plan.projection.get(item, plan.netting.flows[item])
        unit = house.unit_of(item)
        columns = (
            flow.gross - flow.short,
            flow.scheduled + flow.in_process,
            flow.planned + flow.by_product,
            flow.expired,
            flow.projected,
        )
        if not any(column.any() for column in columns):
            continue
        for day, values in zip(days, np.column_stack(columns).tolist(), strict=False):
            yield (item, day, *values, unit)


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
    ordered, where the house orders none of it now), and `lacking` what is still under the minimum.
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
