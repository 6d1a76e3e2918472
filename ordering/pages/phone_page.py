"""Today on a phone: one file that fetches nothing, to be read in a walk-in and ticked with a thumb."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from urllib.parse import quote

from ordering.amounts import plural, shown
from ordering.days import american, day_and_time, format_day, span_said
from ordering.faults import ANSWER
from ordering.pages import short_and_over as words
from ordering.pages.food_safety import hazards_of
from ordering.pages.parts import html_page, item_name, long_day, sentence, vendor_name
from ordering.pages.start_list import by_station, coming_starts
from ordering.pages.today import Placing, placings, to_check
from ordering.records.house import House
from ordering.records.plan import Plan, Start


@dataclass(frozen=True, slots=True)
class PhoneLine:
    """One thing on the page: what is said large, what small; `done` is the id of its tick, empty without one.

    `mail` and `call` are addresses to tap, already encoded.
    """

    head: str
    lines: tuple[str, ...] = ()
    amount: str = ""
    done: str = ""
    mail: str = ""
    call: str = ""


@dataclass(frozen=True, slots=True)
class PhonePart:
    """A part of the page: a heading, its entries, and what is said where there is none."""

    id: str
    title: str
    entries: tuple[PhoneLine, ...]
    empty: str = ""


def today_html(house: House, plan: Plan) -> str:
    """The whole page; everything that comes from input is escaped by the template."""
    return html_page(
        "today.html",
        house.is_american,
        title=f"{house.name}: {long_day(plan.on)}",
        house=house.name,
        day=long_day(plan.on),
        next_run=format_day(plan.next_run),
        parts=tuple(part for part in _parts(house, plan) if part.entries or part.empty),
        answer=ANSWER if plan.doubts else "",
    )


def _parts(house: House, plan: Plan) -> Iterator[PhonePart]:
    orders = tuple(_order(house, one, n) for n, one in enumerate(placings(house, plan)))
    yield PhonePart("order", "Order", orders, "Nothing to order before the next run.")
    yield PhonePart("attention", "Needs attention", tuple(PhoneLine(text) for text in plan.needs_attention))
    today = coming_starts(plan, n_days=1)
    starts = tuple(_starts(house, plan, today))
    yield PhonePart("start", "Start today", starts, "Nothing to start today.")
    yield PhonePart("short", "Running short", tuple(_shorts(house, plan)), words.nothing_short(plan))
    yield PhonePart("use", "Use first", tuple(_lots(house, plan)))
    yield PhonePart("check", "Check these", tuple(PhoneLine(text) for text in to_check(plan)))


def _order(house: House, one: Placing, n: int) -> PhoneLine:
    vendor = house.vendors.get(one.vendor)
    many = f"{plural(one.n_lines, 'line')} for {format_day(one.deliver_on)}"
    lines = [f"by {day_and_time(one.order_by)}: {many}"]
    if one.lacking:
        lines.append(f"{one.lacking:,.2f} under the minimum order")
    day = format_day(one.deliver_on)
    subject = quote(f"Order for {american(day) if house.is_american else day}")
    return PhoneLine(
        head=vendor_name(house, one.vendor),
        lines=tuple(lines),
        amount=f"{one.amount + one.fee:,.2f} {house.currency}".rstrip(),
        done=f"order-{n}",
        mail=f"mailto:{quote(vendor.email, safe='@')}?subject={subject}" if vendor and vendor.email else "",
        call=_dial(vendor.phone) if vendor else "",
    )


def _dial(phone: str) -> str:
    """A telephone number as a phone dials it (RFC 3966): digits, a plus in front."""
    digits = re.sub(r"[^0-9]", "", phone)
    return f"tel:{'+' if phone.startswith('+') else ''}{digits}" if digits else ""


def _starts(house: House, plan: Plan, today: tuple[Start, ...]) -> Iterator[PhoneLine]:
    n = 0
    for station, work in by_station(house, today).items():
        for start in work:
            n += 1
            ready = f"ready {format_day(start.ready_on)}" if start.ready_on > plan.on else "for today"
            minded = ", ".join(hazard.replace("-", " ") for hazard in hazards_of(house, start))
            lines = [
                f"{station}, {ready}",
                start.note,
                f"Caution: {minded} (see the start list)" if minded else "",
            ]
            yield PhoneLine(
                head=item_name(house, start.recipe),
                lines=tuple(line for line in lines if line),
                amount=shown(start.quantity, start.unit),
                done=f"start-{n}",
            )


def _shorts(house: House, plan: Plan) -> Iterator[PhoneLine]:
    for short in words.shortages_besides(plan):
        hit = words.hit_in_short(short)
        lines = (
            f"{span_said(short.date, words.last_day(plan, short))}: {words.cause_in_short(short)}",
            f"For {hit}" if hit else "",
            sentence(words.first_remedy(short)),
        )
        much = words.amount_short(house, short)
        yield PhoneLine(item_name(house, short.item), tuple(line for line in lines if line), much)


def _lots(house: House, plan: Plan) -> Iterator[PhoneLine]:
    for lot in words.use_first(plan):
        what = sentence(words.what_to_do(house, plan, lot))
        yield PhoneLine(words.left_said(house, lot), (f"By {format_day(lot.use_by)}. {what}",))
