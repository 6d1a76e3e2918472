"""The calendar of a run: cut-offs with alarms, deliveries, starts and days on which things are ready."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import date, datetime, timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo

from ordering.amounts import packs_said, plural, shown
from ordering.days import american, clock, format_day
from ordering.pages.parts import local, vendor_name
from ordering.records.buying import OrderLine
from ordering.records.house import House
from ordering.records.page import Calendar, Event, Gone
from ordering.records.plan import Plan, Start

LONG_DAYS = 2  # what is ready on the day after needs no entry of its own
ALARMS = (timedelta(hours=3), timedelta(hours=1))
FORESEEN = timedelta(days=14)


def calendar_title(house: House) -> str:
    """What the calendar is called where it is brought in."""
    return f"{house.name}: kitchen"


def calendar(house: House, plan: Plan, former: Sequence[Gone] = ()) -> Calendar:
    """Everything of the run that has a day: orders placed now, those foreseen, what is on its way, starts."""
    zone = ZoneInfo(house.timezone)
    events = [
        *_cut_offs(house, plan, zone, is_now=True),
        *_cut_offs(house, plan, zone, is_now=False),
        *_deliveries(house, plan),
        *_starts(house, plan.netting.starts),
        *_ready(house, plan),
    ]
    if house.is_american:
        events = [replace(e, title=american(e.title), notes=american(e.notes)) for e in events]
    stamped = plan.now.replace(tzinfo=zone) if plan.now.tzinfo is None else plan.now
    return Calendar(calendar_title(house), house.timezone, stamped, tuple(events), tuple(former))


def _near(plan: Plan) -> list[OrderLine]:
    """Foreseen lines near enough to be in a calendar; later runs will bring the others."""
    until = plan.next_run + FORESEEN
    return [line for line in plan.buying.outlook if local(line.order_by).date() < until]


def _cut_offs(house: House, plan: Plan, zone: ZoneInfo, is_now: bool) -> list[Event]:
    """Each order by its cut-off, with the money it comes to, as on the page of the day."""
    lines = plan.buying.orders if is_now else _near(plan)
    fees = plan.buying.fees if is_now else {}
    grouped: dict[tuple[datetime, str, date], list[OrderLine]] = defaultdict(list)
    for line in lines:
        grouped[(line.order_by, line.vendor, line.deliver_on)].append(line)
    events = []
    for (order_by, vendor, day), mine in sorted(grouped.items()):
        total = sum((line.amount for line in mine), Decimal(0))
        fee = fees.get((vendor, day), Decimal(0))
        money = f"{total + fee:,.2f} {house.currency}".rstrip() + f", {fee:,.2f} of it for delivery" * bool(
            fee
        )
        what = "Order" if is_now else "Later: order"
        by = clock(order_by.time(), house.is_american)
        events.append(
            Event(
                key=f"cut-off {vendor} {local(order_by).isoformat()} {day.isoformat()}",
                title=f"{what} from {vendor_name(house, vendor)} by {by}",
                begins=order_by.replace(tzinfo=zone) if order_by.tzinfo is None else order_by,
                notes=f"{plural(len(mine), 'line')}, {money}; delivery on {format_day(day)}",
                alarms=ALARMS,
                group="cut-off",
            )
        )
    return events


def _deliveries(house: House, plan: Plan) -> list[Event]:
    expected: dict[tuple[date, str], list[str]] = defaultdict(list)
    for line in plan.buying.orders:
        asked = f"{packs_said(line.packs, line.pack)} {line.description}"
        expected[(line.deliver_on, line.vendor)].append(asked)
    for due in plan.opening.scheduled:
        if due.vendor:
            text = (
                f"{shown(due.quantity, house.unit_of(due.item))} {house.name_of(due.item)} (ordered before)"
            )
            expected[(due.deliver_on, due.vendor)].append(text)
    return [
        Event(
            key=f"delivery {vendor} {day.isoformat()}",
            title=f"Delivery: {vendor_name(house, vendor)}",
            begins=day,
            notes="\n".join(texts),
            group="delivery",
        )
        for (day, vendor), texts in sorted(expected.items())
    ]


def _starts(house: House, starts: Iterable[Start]) -> list[Event]:
    """One event a day, with all that is to be started, so that the calendar stays readable."""
    by_day: dict[date, list[Start]] = defaultdict(list)
    for start in starts:
        by_day[start.start_on].append(start)
    return [
        Event(
            key=f"starts {day.isoformat()}",
            title=f"Start {_first(house, mine)}",
            begins=day,
            notes="\n".join(
                f"{shown(s.quantity, s.unit)} {house.name_of(s.recipe)}, ready {format_day(s.ready_on)}"
                for s in _ranked(house, mine)
            ),
            group="start",
        )
        for day, mine in sorted(by_day.items())
    ]


def _ready(house: House, plan: Plan) -> list[Event]:
    """Days on which lots in process, and starts that take days, are ready."""
    ready: dict[tuple[date, str], float] = defaultdict(float)
    for lot in plan.opening.lots:
        if lot.ready_on is not None and lot.ready_on > plan.on:
            ready[(lot.ready_on, lot.item)] += lot.quantity
    for start in plan.netting.starts:
        if (start.ready_on - start.start_on).days >= LONG_DAYS:
            ready[(start.ready_on, start.recipe)] += start.quantity
    return [
        Event(
            key=f"ready {item} {day.isoformat()}",
            title=f"Ready: {house.name_of(item)}, {shown(quantity, house.unit_of(item))}",
            begins=day,
            group="ready",
        )
        for (day, item), quantity in sorted(ready.items())
    ]


def _ranked(house: House, starts: Iterable[Start]) -> list[Start]:
    """The longest first: what must not be forgotten."""
    return sorted(starts, key=lambda s: (s.start_on - s.ready_on, house.name_of(s.recipe), s.recipe))


def _first(house: House, starts: list[Start]) -> str:
    names = [house.name_of(s.recipe) for s in _ranked(house, starts)]
    rest = len(names) - 1
    return f"{names[0]} and {rest} more" if rest else names[0]
