"""The draft e-mail to one vendor: plain text that holds the whole order, the sheet attached."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from zoneinfo import ZoneInfo

from ordering.amounts import is_piece, pack_words, plural, shown
from ordering.days import american, format_day
from ordering.pages.order_sheet import charged
from ordering.pages.parts import aligned, long_day
from ordering.records.buying import OrderLine
from ordering.records.house import House
from ordering.records.page import Letter, Text, Workbook
from ordering.records.vendor_orders import Order
from ordering.records.vendors import Vendor
from ordering.texts import listed, wrapped

WIDTH = 74  # RFC 5322, 2.1.1: lines should be no longer than 78 characters; four are left to a reply's `> `
WIDTHS = (5, 10, 34, 19)
# RFC 2606, section 2: the top-level domain `invalid` never exists, so a draft cannot go out by mistake.
NOBODY = "set-your-address@house.invalid"


NOT_PLACED = "NOT PLACED YET"


def letter(
    house: House,
    vendor: Vendor,
    orders: Sequence[Order],
    made: datetime,
    sheet: Workbook,
    is_placed: bool = True,
    machine: Mapping[str, Text] | None = None,
) -> Letter:
    """The draft that places orders with one vendor; the mail program asks for a sender where none is known.

    Before they are placed the draft says so in its subject: the sheet may still be changed, and `place`
    writes the letter as it must go out. `machine`: orders for a machine that go with it, by file name.
    """
    numbers = [order.number for order in orders if order.number]
    what = f"Order{'s' if len(numbers) > 1 else ''} {listed(numbers)}".rstrip()
    days = [order.deliver_on for order in orders]
    on = (
        long_day(days[0])
        if len(days) == 1
        else f"{listed([format_day(day) for day in days])} {days[-1].year}"
    )
    subject = f"{what} from {house.name} for delivery on {on}"
    body = "\n".join(_body(house, vendor, orders)) + "\n"
    if not is_placed:
        subject = f"{NOT_PLACED}: {subject}"
        body = "\n".join([*wrapped(_WAIT, WIDTH), "", body])
    attached = {f"{vendor.id}.xlsx": sheet}
    machines = {name: order.text.encode() for name, order in (machine or {}).items()}
    return _letter(house, vendor, subject, body, made, {**attached, **machines})


_WAIT = (
    "[Do not send this draft yet: 'ordering place' books the order and writes this letter as it must go out.]"
)


def amendment(
    house: House, vendor: Vendor, before: Order, now: Order, made: datetime, sheet: Workbook | None
) -> Letter:
    """The draft that changes an order already placed, or cancels it: each change, then what now stands.

    `sheet`: the order as it now stands; None with a cancellation, to which there is nothing to deliver.
    """
    on = long_day(now.deliver_on)
    what = f"Amendment {now.amendment} to order {now.number}"
    opening = f"Please change our order {now.number} for delivery on {on}. What changes is:"
    if not now.lines:
        what = f"Cancellation of order {now.number}"
        opening = f"Please cancel our order {now.number} for delivery on {on}, all of it:"
    body = [_greeting(vendor), "", *wrapped(opening, WIDTH), ""]
    body += [line for text in changes(before, now) for line in wrapped(f"- {text}", WIDTH)]
    body += ["", *_facts([("account", vendor.account)])]
    body += ["The whole order now reads:", "", *_delivery(house, now)] if now.lines else []
    ending = "Please let us know as soon as you can whether this reaches you in time."
    return _letter(
        house,
        vendor,
        f"{what} from {house.name} for delivery on {on}",
        "\n".join([*body, *wrapped(ending, WIDTH), "", "With thanks,", *_signed(house)]) + "\n",
        made,
        {} if sheet is None else {f"{vendor.id}.xlsx": sheet},
    )


def changes(before: Order, now: Order) -> list[str]:
    """What an order asks for that it did not ask for before, a line each."""
    was = {line.code: line for line in before.lines}
    has = {line.code: line for line in now.lines}
    told = []
    for code in sorted(was.keys() | has.keys()):
        old, new = was.get(code), has.get(code)
        line = new or old
        assert line is not None
        what = f"{code} {line.description}"
        if old is None:
            told.append(f"{what}: {plural(line.packs, 'pack')} more, was not ordered")
        elif new is None:
            told.append(f"{what}: cancelled, was {plural(old.packs, 'pack')}")
        elif new.packs != old.packs:
            told.append(f"{what}: {plural(new.packs, 'pack')}, was {old.packs}")
        elif new.price != old.price:
            told.append(f"{what}: at {new.price}, was {old.price}")
    return told


def _letter(
    house: House,
    vendor: Vendor,
    subject: str,
    body: str,
    made: datetime,
    attached: Mapping[str, bytes | Workbook],
) -> Letter:
    turned = american if house.is_american else str
    return Letter(
        sender=house.email or NOBODY,
        sender_name=house.name,
        to=vendor.email,
        to_name=vendor.name,
        subject=turned(subject),
        body=turned(body),
        dated=made.replace(tzinfo=ZoneInfo(house.timezone)) if made.tzinfo is None else made,
        attachments=tuple(attached.items()),
    )


def _body(house: House, vendor: Vendor, orders: Sequence[Order]) -> list[str]:
    body = [_greeting(vendor), "", *wrapped(f"Please deliver to {house.name}:", WIDTH), ""]
    body += _facts(
        [
            *(("address", house.address), ("contact", house.contact), ("telephone", house.phone)),
            *(("account", vendor.account), ("note", vendor.notes)),
        ]
    )
    for order in orders:
        body += _delivery(house, order)
    currency = f" in {house.currency}," if house.currency else ""
    ending = (
        f"Prices are{currency} as we have them. Please let us know as soon as you can of any price change "
        "or shortage. The attached sheet has the same order."
    )
    return [*body, *wrapped(ending, WIDTH), "", "With thanks,", *_signed(house)]


def _greeting(vendor: Vendor) -> str:
    """`Dear Ms Vane,`, `Dear order desk,`; `Hello,` where nobody is named."""
    if not vendor.contact:
        return "Hello,"
    return f"Dear {vendor.contact.removeprefix('The ').removeprefix('the ')},"


def _signed(house: House) -> list[str]:
    return [line for text in (house.contact, house.name) if text for line in wrapped(text, WIDTH)]


def _facts(pairs: Sequence[tuple[str, str]]) -> list[str]:
    known = [(name, text) for name, text in pairs if text]
    return [*aligned(known, (10, WIDTH - 12)), ""] if known else []


def _delivery(house: House, order: Order) -> list[str]:
    """One delivery as a vendor picks it: its day and number, a line for each code, and what it comes to."""
    title = f"Delivery on {long_day(order.deliver_on)}"
    title = american(title) if house.is_american else title  # turned here, to be underlined to its length
    number = f"order {order.number}" if order.number else ""
    if order.adds_to:
        number += f"{', ' * bool(number)}in addition to {listed(order.adds_to)} for the same day"
    rows = [("packs", "code", "description", "pack"), tuple("-" * width for width in WIDTHS)]
    rows += [(str(line.packs), line.code, _described(line), _pack(line)) for line in order.lines]
    money = f", {order.goods:,.2f} {house.currency}".rstrip() if order.goods else ""
    charge = f", delivery {order.fee:,.2f}, {order.total:,.2f} in all" if order.fee else ""
    return [
        title,
        "=" * len(title),
        *(wrapped(number, WIDTH) if number else ()),
        "",
        *aligned(rows, WIDTHS, right=(0,)),
        "",
        f"{plural(len(order.lines), 'line')}{money}{charge}",
        "",
    ]


def _described(line: OrderLine) -> str:
    told = charged(line)
    return f"{line.description}\n({told})" if told else line.description


def _pack(line: OrderLine) -> str:
    """The pack; of catch weight also what is expected of all packs, or of one where it is counted."""
    if not line.is_catch_weight:
        return pack_words(line.pack)
    held, _, weight = (part.strip() for part in line.pack.partition("~"))
    if not is_piece(line.unit):
        return f"{pack_words(held)}\nabout {shown(line.quantity, line.unit)} in all"
    return f"{pack_words(held)}\nabout {weight} a pack" if weight else pack_words(held)
