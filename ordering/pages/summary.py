"""What a run says on the terminal: read at a glance, 80 columns, sense without colour."""

from __future__ import annotations

from decimal import Decimal

from ordering.days import said
from ordering.pages.parts import aligned, counted, day_and_time, padded, shown
from ordering.pages.start_list import coming_starts
from ordering.pages.today import Placing, cause_said, item_name, placings
from ordering.records.house import House
from ordering.records.plan import Plan, Shortage
from ordering.texts import cells_wide, wrapped

MOST_STARTS, MOST_SHORT, MOST_DOUBTS = 12, 6, 3
BOLD, RED, PLAIN = "\033[1m", "\033[31m", "\033[0m"


def summary(house: House, plan: Plan, width: int = 80, colour: bool = False) -> list[str]:
    """What to order by when, what to start, what is short and what is doubtful.

    No line is wider than `width` columns (60 at least). `colour` sets headings bold and shortages
    red; nothing is said by colour alone.
    """
    width = max(width, 60)
    until = f"next run {said(plan.next_run)}"
    name = wrapped(f"{house.name}, {said(plan.on)}", width - len(until) - 2)[0]
    lines = [padded(name, width - len(until)) + until, ""]
    lines += [_loud("Order by", BOLD, colour), *_orders(house, plan, width), ""]
    lines += [_loud("Start today", BOLD, colour), *_starts(house, plan, width), ""]
    if plan.shortages:
        lines += [_loud("Short", BOLD + RED, colour), *_short(house, plan, width), ""]
    else:
        lines += ["Nothing is expected to run short.", ""]
    return [*lines, *_doubts(plan, width)]


def _loud(text: str, how: str, colour: bool) -> str:
    return f"{how}{text}{PLAIN}" if colour else text


def _orders(house: House, plan: Plan, width: int) -> list[str]:
    found = placings(plan)
    if not found:
        return ["  nothing before the next run"]
    rows = [_order(house, one) for one in found]
    total = sum((one.amount + one.fee for one in found), Decimal(0))
    n_lines = sum(one.n_lines for one in found)
    together = f"{counted(len(found), 'order')}, {house.currency}".rstrip(", ")
    rows.append(("", together, "", counted(n_lines, "line"), f"{total:,.2f}"))
    fixed = (16, 14, 9, 10)
    name = min(max(cells_wide(row[1]) for row in rows), width - 2 - sum(fixed) - 8)
    widths = (fixed[0], name, *fixed[1:])
    return [f"  {line}" for line in aligned(rows, widths, right=(3, 4))]


def _order(house: House, one: Placing) -> tuple[str, ...]:
    vendor = house.vendors[one.vendor].name if one.vendor in house.vendors else one.vendor
    amount = one.amount + one.fee
    return (
        day_and_time(one.order_by),
        vendor,
        f"for {said(one.deliver_on)}",
        counted(one.n_lines, "line"),
        f"{amount:,.2f}",
    )


def _starts(house: House, plan: Plan, width: int) -> list[str]:
    starts = coming_starts(plan, n_days=1)
    if not starts:
        return ["  nothing"]
    rows = [
        (shown(s.quantity, s.unit), house.name_of(s.recipe), f"ready {said(s.ready_on)}")
        for s in starts[:MOST_STARTS]
    ]
    name = min(max(cells_wide(row[1]) for row in rows), width - 2 - 12 - 16 - 4)
    lines = [f"  {line}" for line in aligned(rows, (12, name, 16), right=(0,))]
    rest = len(starts) - MOST_STARTS
    return [*lines, f"  and {rest} more in starts.csv"] if rest > 0 else lines


def _short(house: House, plan: Plan, width: int) -> list[str]:
    ranked = sorted(plan.shortages, key=lambda s: (s.date, s.item))
    lines = [line for short in ranked[:MOST_SHORT] for line in _short_lines(house, short, width)]
    rest = len(ranked) - MOST_SHORT
    return [*lines, f"  and {rest} more in shortages.csv"] if rest > 0 else lines


def _short_lines(house: House, short: Shortage, width: int) -> list[str]:
    why = cause_said(short.cause).split(":")[0]
    what = f"{shown(short.short, short.unit)} {item_name(house, short.item)}: {why}"
    dish, *others = short.dishes.split("; ")
    more = f" and {counted(len(others), 'dish', 'dishes')} more" if others else ""
    hit = f"for {dish}{more}" if dish else ""
    rows = [(said(short.date) if n == 0 else "", text) for n, text in enumerate((what, hit)) if text]
    rows += [("", text) for text in wrapped(first_remedy(short), width - 14)[:2]]
    return [f"  {line}" for line in aligned(rows, (10, width - 14))]


def first_remedy(short: Shortage) -> str:
    """The first of the remedies, which stand one after the other with semicolons between."""
    first = short.remedy.split(";")[0].strip()
    return f"-> {first}" if first else ""


def _doubts(plan: Plan, width: int) -> list[str]:
    if not plan.doubts:
        return ["No doubts about the input."]
    n = len(plan.doubts)
    lines = [f"{counted(n, 'doubt')} about the input, all of them in order-book.xlsx:"]
    for doubt in plan.doubts[:MOST_DOUBTS]:
        first, *rest = wrapped(doubt, width - 4)
        lines += [f"  - {first}", *(f"    {line}" for line in rest[:1])]
    return lines
