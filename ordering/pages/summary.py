"""What a run says on the terminal: read at a glance, 80 columns, sense without colour."""

from __future__ import annotations

import re
from collections.abc import Sequence
from decimal import Decimal
from itertools import chain

from ordering.amounts import plural, shown
from ordering.days import day_and_time, format_day
from ordering.pages import short_and_over as words
from ordering.pages.parts import aligned, clipped, item_name, vendor_name
from ordering.pages.start_list import coming_starts
from ordering.pages.today import Placing, placings, to_check
from ordering.records.house import House
from ordering.records.plan import Plan, Shortage
from ordering.texts import cells_wide, padded, wrapped

LONGEST_TEXT = 4  # lines
MOST_STARTS, MOST_SHORT, MOST_USE_UP, MOST_DOUBTS, MOST_ATTENTION = 12, 5, 3, 3, 5
NARROWEST = 72
LONGEST_NAME = 40
BOLD, RED, PLAIN = "\033[1m", "\033[31m", "\033[0m"


def summary(house: House, plan: Plan, width: int = 80, colour: bool = False) -> list[str]:
    """What to order by when, what needs attention, what to start, what is short, to use up and doubtful.

    No line is wider than `width` columns (`NARROWEST` at least). `colour` sets headings bold and shortages
    red; nothing is said by colour alone.
    """
    width = max(width, NARROWEST)
    until = f"next run {format_day(plan.next_run)}"
    name = wrapped(f"{house.name}, {format_day(plan.on)}", width - len(until) - 2)[0]
    lines = [padded(name, width - len(until)) + until, ""]
    lines += [*_orders(house, plan, width, colour), ""]
    if plan.needs_attention:
        lines += [_loud("Needs attention", BOLD + RED, colour), *_attention(plan, width), ""]
    lines += [_loud("Start today", BOLD, colour), *_starts(house, plan, width), ""]
    if words.shortages_besides(plan):
        lines += [_loud("Running short", BOLD + RED, colour), *_short(house, plan, width), ""]
    else:
        lines += [words.nothing_short(plan), ""]
    if words.use_first(plan):
        lines += [_loud("Use first", BOLD, colour), *_use_up(house, plan, width), ""]
    return [*lines, *_doubts(plan, width)]


def _loud(text: str, how: str, colour: bool) -> str:
    return f"{how}{text}{PLAIN}" if colour else text


def _orders(house: House, plan: Plan, width: int, colour: bool) -> list[str]:
    """The orders of the day and, apart, those to place before the next run."""
    found = placings(house, plan)
    if not found:
        return [_loud("Order", BOLD, colour), "  nothing before the next run"]
    rows = [_order(house, one) for one in found]
    total = sum((one.amount + one.fee for one in found), Decimal(0))
    together = f"{plural(len(found), 'order')}, {house.currency}".rstrip(", ")
    n_lines = plural(sum(one.n_lines for one in found), "line")
    rows.append(("", together, "", n_lines, f"{total:,.2f}"))
    fixed = (18 if house.is_american else 16, 14, 9, 10)
    name = min(max(cells_wide(row[1]) for row in rows), width - 2 - sum(fixed) - 8)
    laid = [[f"  {line}" for line in aligned([row], (fixed[0], name, *fixed[1:]), (3, 4))] for row in rows]
    n_now = sum(one.order_by.date() <= plan.on for one in found)
    lines = [_loud("Order today", BOLD, colour), *chain(*laid[:n_now])] if n_now else []
    if n_now < len(found):
        lines += [_loud("Order before the next run", BOLD, colour), *chain(*laid[n_now:-1])]
    return [*lines, *laid[-1]]


def _order(house: House, one: Placing) -> tuple[str, ...]:
    return (
        day_and_time(one.order_by),
        clipped(vendor_name(house, one.vendor), LONGEST_NAME),
        f"for {format_day(one.deliver_on)}",
        plural(one.n_lines, "line"),
        f"{one.amount + one.fee:,.2f}",
    )


def _starts(house: House, plan: Plan, width: int) -> list[str]:
    starts = coming_starts(plan, n_days=1)
    if not starts:
        return ["  nothing"]
    rows = [
        (
            shown(s.quantity, s.unit),
            house.name_of(s.recipe),
            f"ready {format_day(s.ready_on)}" if s.ready_on > plan.on else "for today",
        )
        for s in starts[:MOST_STARTS]
    ]
    much = max(12, *(cells_wide(row[0]) for row in rows))
    name = min(max(cells_wide(row[1]) for row in rows), width - 2 - much - 16 - 4)
    lines: list[str] = []
    for row, start in zip(rows, starts, strict=False):
        lines += [f"  {line}" for line in aligned([row], (much, name, 16), right=(0,))]
        lines += [" " * (much + 4) + line for line in wrapped(start.note, width - much - 4) if start.note]
    rest = len(starts) - MOST_STARTS
    return [*lines, f"  and {rest} more in start-list.xlsx"] if rest > 0 else lines


def _short(house: House, plan: Plan, width: int) -> list[str]:
    found = words.shortages_besides(plan)
    lines = [line for short in found[:MOST_SHORT] for line in _short_lines(house, plan, short, width)]
    rest = len(found) - MOST_SHORT
    return [*lines, f"  and {plural(rest, 'item')} more in order-book.xlsx"] if rest > 0 else lines


def _short_lines(house: House, plan: Plan, short: Shortage, width: int) -> list[str]:
    """The item, the dishes it hits on one line, and the first remedy, which is never cut."""
    room = width - 14
    last = words.last_day(plan, short)
    until = f" until {format_day(last)}" if last > short.date else ""
    what = f"{words.amount_short(house, short)} {item_name(house, short.item)}{until}"
    rows = [f"{what}: {words.cause_in_short(short)}"]
    if short.dishes:
        rows.append(f"for {words.hit_in_short(short, room - len('for '))}")
    if short.remedy:
        rows += wrapped(f"-> {words.first_remedy(short)}", room)
    dates = (format_day(short.date), *("" for _ in rows[1:]))
    return [f"  {line}" for line in aligned(zip(dates, rows, strict=True), (10, room))]


def _use_up(house: House, plan: Plan, width: int) -> list[str]:
    """What is left over by its last day, and what can be done."""
    room = width - 14
    lines: list[str] = []
    lots = words.use_first(plan)
    for lot in lots[:MOST_USE_UP]:
        arrow = wrapped(f"-> {words.what_to_do(house, plan, lot)}", room)
        rows = [
            (format_day(lot.use_by), clipped(words.left_said(house, lot), room)),
            *(("", line) for line in arrow),
        ]
        lines += [f"  {line}" for line in aligned(rows, (10, room))]
    rest = len(lots) - MOST_USE_UP
    return [*lines, f"  and {plural(rest, 'more lot')} in order-book.xlsx"] if rest > 0 else lines


def _attention(plan: Plan, width: int) -> list[str]:
    """What the orders and the ageing room ask of a person."""
    lines = _dashed(plan.needs_attention[:MOST_ATTENTION], width)
    rest = len(plan.needs_attention) - MOST_ATTENTION
    return [*lines, f"  and {rest} more in order-book.xlsx"] if rest > 0 else lines


def _doubts(plan: Plan, width: int) -> list[str]:
    if not plan.doubts:
        return ["Nothing to check."]
    heading = f"Check these ({len(plan.doubts)}; all of them in order-book.xlsx)"
    return [heading, *_dashed(to_check(plan)[:MOST_DOUBTS], width)]


def _dashed(texts: Sequence[str], width: int) -> list[str]:
    """Each text behind a dash. Of a long one the middle is cut: what to do about it stands at its end."""
    lines: list[str] = []
    room = width - 4
    for text in texts:
        said = wrapped(text, room)
        if len(said) > LONGEST_TEXT:
            said = _without_middle(text, room)
        lines += [f"  {'-' if n == 0 else ' '} {line}" for n, line in enumerate(said)]
    return lines


def _without_middle(text: str, room: int) -> list[str]:
    """Half of the longest text for its beginning, half for all that fits there of what a semicolon begins."""
    half = LONGEST_TEXT // 2
    ends = [text[found.end() :] for found in re.finditer("; ", text)] or [*re.findall(r"\[\w+\]$", text)]
    end = next((one for one in ends if len(wrapped(one, room)) <= half), ends[-1] if ends else text)
    begun = text.removesuffix(end).strip(" ;")
    return [*(wrapped(clipped(begun, half * room - 10), room) if begun else ()), *wrapped(end, room)]
