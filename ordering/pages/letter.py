"""The draft e-mail to one vendor: plain text that holds the whole order, the sheet attached."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from decimal import Decimal
from zoneinfo import ZoneInfo

from ordering.amounts import plural, shown
from ordering.days import said
from ordering.pages.order_sheet import charged, vendor_lines
from ordering.pages.parts import aligned, long_day
from ordering.records.house import House, Vendor
from ordering.records.page import Letter, Workbook
from ordering.records.plan import OrderLine, Plan
from ordering.texts import listed, wrapped

WIDTH = 74  # RFC 5322, 2.1.1: lines should be no longer than 78 characters; four are left to a reply's `> `
WIDTHS = (5, 10, 34, 19)
# RFC 2606, section 2: the top-level domain `invalid` never exists, so a draft cannot go out by mistake.
NOBODY = "set-your-address@house.invalid"


def letter(house: House, plan: Plan, vendor: Vendor, sheet: Workbook) -> Letter:
    """The draft that places one vendor's order; the mail program asks for a sender where none is known."""
    lines = vendor_lines(plan, vendor.id)
    days = sorted({line.deliver_on for line in lines})
    on = long_day(days[0]) if len(days) == 1 else f"{listed([said(day) for day in days])} {days[-1].year}"
    return Letter(
        sender=house.email or NOBODY,
        sender_name=house.name,
        to=vendor.email,
        to_name=vendor.name,
        subject=f"Order from {house.name} for delivery on {on}",
        body="\n".join(_body(house, plan, vendor, lines)) + "\n",
        dated=plan.now.replace(tzinfo=ZoneInfo(house.timezone)) if plan.now.tzinfo is None else plan.now,
        attachments=((f"{vendor.id}.xlsx", sheet),),
    )


def _body(house: House, plan: Plan, vendor: Vendor, lines: Sequence[OrderLine]) -> list[str]:
    days = sorted({line.deliver_on for line in lines})
    body = ["Good day,", "", *wrapped(f"please deliver to {house.name}:", WIDTH), ""]
    body += _facts([("address", house.address), ("account", vendor.account), ("note", vendor.notes)])
    for day in days:
        body += _delivery(plan, vendor, day, [line for line in lines if line.deliver_on == day])
    currency = f" ({house.currency})" if house.currency else ""
    ending = (
        f"Prices{currency} are as we have them. Please let us know as soon as you can of any price change "
        "or shortage. The attached sheet holds the same order."
    )
    return [*body, *wrapped(ending, WIDTH), "", "With thanks,", *wrapped(house.name, WIDTH)]


def _facts(pairs: Sequence[tuple[str, str]]) -> list[str]:
    known = [(name, text) for name, text in pairs if text]
    return [*aligned(known, (10, WIDTH - 12)), ""] if known else []


def _delivery(plan: Plan, vendor: Vendor, day: date, lines: Sequence[OrderLine]) -> list[str]:
    title = f"Delivery on {long_day(day)}"
    rows = [("packs", "code", "description", "pack"), tuple("-" * width for width in WIDTHS)]
    rows += [(str(line.packs), line.code, _described(line), _pack(line)) for line in lines]
    goods = sum((line.amount for line in lines), Decimal(0))
    fee = plan.buying.fees.get((vendor.id, day), Decimal(0))
    money = f", {goods:,.2f}" if goods else ""
    charge = f", delivery {fee:,.2f}" if fee else ""
    return [
        title,
        "=" * len(title),
        "",
        *aligned(rows, WIDTHS, right=(0,)),
        "",
        f"{plural(len(lines), 'line')}{money}{charge}",
        "",
    ]


def _described(line: OrderLine) -> str:
    told = charged(line)
    return f"{line.description}\n({told})" if told else line.description


def _pack(line: OrderLine) -> str:
    about = f"\nabout {shown(line.quantity, line.unit)}" if line.is_catch_weight else ""
    return f"{line.pack}{about}"
