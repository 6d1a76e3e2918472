"""Replays a stretch of the house's own past: under pars alone, under this program, under foresight.

The three kitchens start from the same stock, live two weeks that do not count, and then meet the same
guests: what the books say was sold. The same vendors come to all three, at the same minimums, and a batch
that misses a line of its recipe is lost to all three.
Where a service sold out the books show less than was wanted, for all three alike.
"""

from __future__ import annotations

import itertools
from collections import defaultdict
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta
from functools import partial
from pathlib import Path

import pandas as pd

from ordering.amounts import plural
from ordering.buy.deliveries import open_deliveries
from ordering.days import format_day, next_on, span
from ordering.explode.horizon import horizon_days
from ordering.faults import Fault, Refused
from ordering.loading import load
from ordering.pages.rehearsal import rehearsal_table, rehearsal_text, tuning_text
from ordering.pipeline import Step, plan
from ordering.records.books import Books, CountedLot, OpenOrder
from ordering.records.buying import OrderLine
from ordering.records.costs import unit_costs
from ordering.records.house import House, MissedCost
from ordering.records.order_days import is_order_day
from ordering.records.plan import Forecast
from ordering.records.rehearsal_results import Tried, WayResult
from ordering.records.report import Report
from ordering.rehearsal.first_morning import opening_lots, put_in
from ordering.rehearsal.guests import Sold, foreseen, sold_by_day
from ordering.rehearsal.kitchen import (
    Kitchen,
    Tally,
    consume,
    finish,
    morning,
    serve,
    start,
    stock_worth,
)
from ordering.rehearsal.minimums import Wanted, send
from ordering.rehearsal.tuned_pars import (
    MOST_LIVES,
    PAR_DAYS,
    Factors,
    Use,
    best_pars,
    coming_use,
    order_to_par,
    start_to_par,
    use_per_portion,
    use_per_unit,
    weekday_use,
)
from ordering.write.outputs import write_outputs
from ordering.write.table import csv_bytes

_RUN_IN_DAYS = 14
TRIED_TIMES = (0.0, 1.0, 2.0, 4.0)

Morning = Callable[[Kitchen, date], None]


def rehearse(
    house: House,
    books: Books,
    first_on: date,
    last_on: date,
    tell: Step = lambda _: None,
) -> tuple[WayResult, WayResult, WayResult]:
    """Pars alone (the best in hindsight), this program, and perfect foresight, in that order.

    Parameters
    ----------
    first_on, last_on : the days replayed, both inclusive; sales must reach back some weeks before
    tell : called with each step, for a progress line
    """
    past = _past(house, books, first_on, last_on)
    lives = itertools.count(1)

    def live(way: str, each_morning: Morning) -> WayResult:
        head = f"{next(lives)} of at most {MOST_LIVES + 2}, {way}"
        return _live(house, past, way, each_morning, partial(_told, tell, head))

    pars = best_pars(lambda factors: live("pars alone", _by_pars(house, past.sold, factors)))
    program = live("this program", _by_plan(house, books, lambda _: None))
    certain = replace(house, policy=replace(house.policy, paths=1))
    knowing = _by_plan(certain, books, lambda days: foreseen(house, past.sold, days))
    return pars, program, live("perfect foresight", knowing)


def tuned(
    house: House, books: Books, first_on: date, last_on: date, tell: Step = lambda _: None
) -> tuple[Tried, ...]:
    """What the program would have come to at each of a few costs of a missed portion, on the same days.

    Dishes that name a cost of their own keep it.
    """
    past = _past(house, books, first_on, last_on)
    found = []
    for n, times in enumerate(TRIED_TIMES, start=1):
        cost = MissedCost(times=times)
        policy = replace(house.policy, missed_cost=cost, service_level=None)
        head = f"{n} of {len(TRIED_TIMES)}, a missed portion at {times:g} x its margin"
        plans = _by_plan(replace(house, policy=policy), books, lambda _: None)
        found.append(Tried(cost, _live(house, past, head, plans, partial(_told, tell, head))))
    return tuple(found)


def _told(tell: Step, head: str, day: str) -> None:
    tell(f"{head}: {day}")


@dataclass(frozen=True, slots=True)
class _Past:
    """The days replayed and what is known of them; `use` : of every item by weekday, before they begin."""

    sold: Sold
    guests: Mapping[date, float]
    use: Mapping[str, Use]
    first_on: date
    last_on: date


def _past(house: House, books: Books, first_on: date, last_on: date) -> _Past:
    sold = sold_by_day(books.sales)
    guests: dict[date, float] = defaultdict(float)
    for day, n in zip(books.covers["date"].dt.date, books.covers["covers"], strict=True):
        guests[day] += float(n)
    use = weekday_use(house, use_per_portion(house), sold, first_on - timedelta(days=_RUN_IN_DAYS))
    return _Past(sold, guests, use, first_on, last_on)


def rehearse_past(
    config: Path,
    books_dir: Path,
    on: date,
    n_days: int,
    out: Path,
    tell: Step = lambda _: None,
    is_tuned: bool = False,
) -> Report:
    """The last `n_days` before `on` replayed, told side by side and written to `out/rehearsal.csv`.

    is_tuned : try other costs of a missed portion too, and say which would have kept more

    Raises
    ------
    Refused : the input has faults, or the sales do not reach back far enough; nothing is written
    """
    loaded = load(config, books_dir, on)
    first_on, last_on = on - timedelta(days=n_days), on - timedelta(days=1)
    sales = loaded.books.sales
    needed_from = first_on - timedelta(days=_RUN_IN_DAYS + PAR_DAYS)
    since = None if sales.empty else sales["date"].min().date()
    if since is None or since > needed_from:
        wrong = f"sales reach back to {since}" if since else "there are no sales to replay"
        right = f"a rehearsal of {plural(n_days, 'day')} needs them from {needed_from}"
        raise Refused([Fault(str(books_dir / "sales.csv"), 0, "", wrong, right, "short-past")])
    outcomes = rehearse(loaded.house, loaded.books, first_on, last_on, tell)
    table = rehearsal_table(outcomes)
    path = out / "rehearsal.csv"
    write_outputs({path: csv_bytes(table.columns, table.rows)})
    lines = rehearsal_text(outcomes, distance_closed(*outcomes), (first_on, last_on), loaded.house.currency)
    if is_tuned:
        tried = tuned(loaded.house, loaded.books, first_on, last_on, tell)
        lines += ["", *tuning_text(outcomes[1], tried, n_days)]
    return Report((*lines, "", f"Written to {path}"), 0, (path,))


def distance_closed(pars: WayResult, program: WayResult, foresight: WayResult) -> float:
    """Share of the way from pars alone to perfect foresight, in profit; NaN where there is none."""
    way = foresight.profit - pars.profit
    return (program.profit - pars.profit) / way if way > 0 else float("nan")


def _live(
    house: House, past: _Past, way: str, each_morning: Morning, tell: Callable[[str], None]
) -> WayResult:
    first_on, last_on = past.first_on, past.last_on
    kitchen = Kitchen(house, unit_costs(house))
    begin_on = first_on - timedelta(days=_RUN_IN_DAYS)
    for lot in opening_lots(house, past.use, begin_on):
        put_in(kitchen, lot, begin_on)
    kitchen.due.extend(_opening_orders(house, past.use, begin_on))
    worth = 0.0
    for day in span(begin_on, (last_on - begin_on).days + 1):
        tell(format_day(day))
        if day == first_on:
            kitchen.tally, worth = Tally(), stock_worth(kitchen)
        morning(kitchen, day)
        each_morning(kitchen, day)
        services = past.sold.get(day, {})
        for service in sorted(services, key=list(house.services).index):
            serve(kitchen, services[service], day)
        consume(kitchen, day, len(services), past.guests.get(day, 0.0))
    change = stock_worth(kitchen) - worth
    tally = kitchen.tally
    return WayResult(
        way,
        tally.wanted,
        tally.served,
        tally.revenue,
        tally.lost_revenue,
        tally.spent,
        tally.wasted,
        change,
        tally.lost,
    )


def _by_pars(house: House, sold: Sold, factors: Factors) -> Morning:
    """Pars as a good chef sets them: looked at twice a week, by the weekday's use of the last four weeks.

    Deliveries due before the next look are ordered at each; parties are added by hand.
    """
    per_portion = use_per_portion(house)
    per_unit, looks, ahead = use_per_unit(house), _looks(house), horizon_days(house)
    use: dict[str, Use] = {}

    def each_morning(kitchen: Kitchen, day: date) -> None:
        finish(kitchen, day)
        is_look = day.weekday() in looks
        if is_look or not use:
            use.clear()
            use.update(weekday_use(house, per_portion, sold, day))
        coming = coming_use(house, use, per_portion, day, ahead)
        if is_look:
            now = datetime.combine(day, time(0, 0))
            chances = open_deliveries(house, now, next_on(day, looks), span(day, ahead))
            order_to_par(kitchen, coming, factors, chances, per_unit)
        start_to_par(kitchen, coming, factors, day)

    return each_morning


def _looks(house: House) -> frozenset[int]:
    """Weekdays on which pars are looked at: the order days, and half a week later where there is but one."""
    days = house.order_weekdays
    return days if len(days) > 1 else days | {(day + 3) % 7 for day in days}


def _by_plan(house: House, books: Books, foreseen: Callable[[tuple[date, ...]], Forecast | None]) -> Morning:
    def each_morning(kitchen: Kitchen, day: date) -> None:
        may_order = is_order_day(house, day)
        known = _books_of(books, kitchen, day)
        made = plan(house, known, day, foreseen=foreseen, may_order=may_order)
        if may_order:
            send(kitchen, (_wanted(line) for line in made.buying.orders))
        finish(kitchen, day)
        for begun in made.netting.starts:
            if begun.start_on == day:
                start(kitchen, house.recipes[begun.recipe], begun.batches, day)

    return each_morning


def _wanted(line: OrderLine) -> Wanted:
    price = float(line.amount) / line.packs
    each = line.quantity / line.packs
    return Wanted(line.vendor, line.deliver_on, line.code, line.item, float(line.packs), each, price)


def _books_of(books: Books, kitchen: Kitchen, day: date) -> Books:
    """The books as they stood that morning, with the rehearsed kitchen's own count and orders."""
    before = pd.Timestamp(day)
    lots = (lot for shelf in kitchen.lots.values() for lot in shelf)
    none = (CountedLot(day, item, 0.0) for item, shelf in kitchen.lots.items() if not shelf)
    return Books(
        sales=books.sales[books.sales["date"] < before],
        covers=books.covers[books.covers["date"] < before],
        bookings=books.bookings[books.bookings["taken_on"] <= before],
        counts=(
            *(CountedLot(day, lot.item, lot.quantity, lot.use_by, lot.ready_on) for lot in lots),
            *none,
        ),
        open_orders=tuple(kitchen.due),
    )


def _opening_orders(house: House, use: Mapping[str, Use], day: date) -> Iterator[OpenOrder]:
    """What the weeks before have ordered: all deliveries that the first order day comes too late for."""
    ahead = horizon_days(house)
    days = span(day, ahead)
    first_run = next_on(day - timedelta(days=1), house.order_weekdays)
    coming = open_deliveries(house, datetime.combine(day - timedelta(days=ahead), time(0, 0)), day, days)
    still_open = open_deliveries(house, datetime.combine(first_run, time(0, 0)), day, days)
    for ingredient in house.ingredients.values():
        rate = float(use[ingredient.id].mean()) if ingredient.id in use else 0.0
        if rate <= 0 or not ingredient.offers:
            continue
        offer = ingredient.offers[0]
        open_from = min((chance.day for chance in still_open[offer.vendor]), default=ahead)
        for chance, after in itertools.pairwise(coming[offer.vendor]):
            if chance.day < open_from:
                quantity = rate * (after.day - chance.day)
                packs = quantity / offer.pack_quantity
                yield OpenOrder(offer.vendor, offer.code, offer.item, packs, quantity, chance.deliver_on)
