"""The Thursday run, top to bottom: house and books in, one plan out. Pure: no file, no clock."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, time
from decimal import Decimal

from ordering.buy.deliveries import first_arrival, open_deliveries
from ordering.buy.orders import choose_orders
from ordering.buy.pack_prices import placed_money
from ordering.days import next_on, span
from ordering.explain.pegging import delivery_windows, pegging
from ordering.explain.shortages import shortages
from ordering.explain.trace import trace
from ordering.explode.horizon import horizon_days
from ordering.forecast.demand import forecast
from ordering.net.netting import net_all
from ordering.net.opening import opening
from ordering.net.projection import with_deliveries
from ordering.records.books import Books
from ordering.records.house import House
from ordering.records.order_days import next_order_day
from ordering.records.plan import Forecast, Plan

Step = Callable[[str], None]


@dataclass(frozen=True, slots=True)
class Past:
    """What the ledger remembers that a plan leans on: prices last paid and money spent this week."""

    prices: Mapping[tuple[str, str], Decimal] = field(default_factory=dict)
    spent: Decimal = Decimal(0)


def plan(
    house: House,
    books: Books,
    on: date,
    at: time = time(0, 0),
    past: Past | None = None,
    tell: Step = lambda _: None,
    doubts: tuple[str, ...] = (),
    foreseen: Callable[[tuple[date, ...]], Forecast | None] = lambda _: None,
    may_order: bool = True,
    ahead: int = 0,
) -> Plan:
    """What to order, what to start and what will be short, with the reasons.

    Parameters
    ----------
    house, books : the restaurant and its records; rows dated on or after `on` are not looked at,
        except counts of that morning and bookings as they stand
    on, at : day and time of the run, in the house's own time; cut-offs before `at` have passed
    past : prices last paid and money already spent this week
    tell : called with the name of each step as it begins, for a progress line
    doubts : what already looked doubtful while reading, to be printed with the rest
    foreseen : a forecast to use in place of our own, as a rehearsal with hindsight does
    may_order : False between order days in a kitchen that orders on these alone: it says what to start, and
        counts on nothing that is not ordered yet before the next run
    ahead : days to look ahead at the least, where somebody else leans on what this house will need

    Returns
    -------
    Plan : the same for the same arguments, whatever the machine or the day
    """
    past = past or Past()
    now = datetime.combine(on, at)
    next_run = next_order_day(house, on)
    longer = next_run - next_on(on, house.order_weekdays)
    days = span(on, max(horizon_days(house) + longer.days, ahead))

    tell("forecast")
    demand = foreseen(days) or forecast(house, books, days, house.policy.seed, house.policy.paths)

    tell("stock")
    stock = opening(house, books, on)

    tell("requirements")
    open_from = now if may_order else datetime.combine(next_run, time())
    deliveries = open_deliveries(house, open_from, next_run, days)
    arrival = first_arrival(house, deliveries, days)
    netting = net_all(house, stock, demand, deliveries, arrival)

    tell("orders")
    buying = choose_orders(
        house,
        netting.requirements,
        deliveries,
        days,
        last_prices=past.prices,
        spent=past.spent,
        placed=placed_money(house, stock.scheduled),
    )

    projection = with_deliveries(house, netting, buying, days)

    tell("reasons")
    traced = trace(house, netting.flows, len(days))
    windows = delivery_windows(house, netting, buying, days)
    pegs = pegging(buying, windows, traced, days)
    short = shortages(house, netting, buying, demand, deliveries, stock, traced)

    # Those of the stock and the forecast first: what they had to guess is in the very numbers of this run.
    doubts = (*stock.doubts, *demand.notes, *doubts)
    return Plan(
        *(on, now, next_run, days, demand, stock, netting, buying, short, pegs, doubts, projection, windows)
    )
