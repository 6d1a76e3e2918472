"""A run's order lines with what was changed in the vendors' sheets, ready to be placed. Pure."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from decimal import Decimal

from ordering.amounts import plural
from ordering.days import said
from ordering.faults import Fault, nearest
from ordering.records.buying import DeliveryKey, OrderLine
from ordering.records.house import House
from ordering.records.ledger import Placed
from ordering.records.money import cents, offer_of, price_at, price_said
from ordering.records.orders import Order, short_of_minimum
from ordering.records.vendors import Offer

TIMES_TOO_MUCH = 10
LineKey = tuple[str, date, str]  # vendor, day of the delivery, code


@dataclass(frozen=True, slots=True)
class SheetLine:
    """A line read back from a vendor's sheet, as it is written there; `cell` is that of the packs.

    `deliver_on` is None where no day is written. `price` is None where the sheet has no such column.
    """

    vendor: str
    code: str
    deliver_on: date | None
    packs: str
    price: str | None
    place: str
    cell: str
    price_cell: str = ""


@dataclass(frozen=True, slots=True)
class Settled:
    """`lines` with the packs and prices of the sheets, crossed out ones with none; `changes` in words."""

    lines: tuple[OrderLine, ...]
    changes: tuple[str, ...]


def settled(
    house: House, lines: Sequence[OrderLine], sheets: Sequence[SheetLine], is_confirmed: bool
) -> tuple[Settled, list[Fault]]:
    """The lines of a run with what its sheets now say, lines added by hand among them.

    `lines` are those of the vendors whose sheets were read; `is_confirmed`: what looks like a slip is meant.
    Faults: an entry that is no whole number of packs or no price, or ten times what was proposed; a line
    missing from its sheet; a line added for a code or a day that cannot be.
    """
    days = {
        v: sorted({line.deliver_on for line in lines if line.vendor == v}) for v, _, _ in map(_key, lines)
    }
    faults: list[Fault] = []
    entries: dict[LineKey, SheetLine] = {}
    for s in sheets:
        key = _placed_in(s, days.get(s.vendor, []), faults)
        if key in entries:
            wrong = f"{s.cell}: the same line stands at {entries[key].cell}"
            faults.append(Fault(s.place, 0, s.code, wrong, "keep one of them", "doubled-line"))
        elif key is not None:
            entries[key] = s
    places = {s.vendor: s.place for s in sheets}
    found: list[OrderLine] = []
    changes: list[str] = []
    for line in lines:
        entry = entries.pop(_key(line), None)
        if entry is None:
            faults.append(_lost(places.get(line.vendor, line.vendor), line))
            continue
        now = _entered(house, entry, line, is_confirmed, faults)
        found.append(now)
        changes += _change(house, line, now)
    for key, entry in sorted(entries.items()):
        added = _added(house, lines, key, entry, is_confirmed, faults)
        if added is not None:
            found.append(added)
            changes.append(f"added: {_what(house, added)}: {plural(added.packs, 'pack')}")
    return Settled(tuple(found), tuple(changes)), faults


def _key(line: OrderLine) -> LineKey:
    return line.vendor, line.deliver_on, line.code


def _placed_in(s: SheetLine, days: Sequence[date], faults: list[Fault]) -> LineKey | None:
    """Which line an entry is; a line without a day belongs to the only delivery there is."""
    if s.deliver_on is not None:
        return s.vendor, s.deliver_on, s.code
    if len(days) == 1:
        return s.vendor, days[0], s.code
    right = f"write the day under 'deliver on': {' or '.join(day.isoformat() for day in days)}"
    faults.append(Fault(s.place, 0, s.code, f"{s.cell}: no day of delivery is written", right, "which-day"))
    return None


def _entered(
    house: House, entry: SheetLine, line: OrderLine, is_confirmed: bool, faults: list[Fault]
) -> OrderLine:
    """The line with the packs and the price of its entry."""
    packs = _packs(entry, line.packs, is_confirmed)
    price = _price(entry, line.price)
    faults += [read for read in (packs, price) if isinstance(read, Fault)]
    if isinstance(packs, Fault) or isinstance(price, Fault):
        return line
    offer = offer_of(house, line.item, line.vendor, line.code)
    is_priced = price != line.price
    if packs != line.packs and not is_priced and offer is not None and offer.breaks:
        price = price_at(offer, packs)  # another break may be reached
    each = offer.pack_quantity if offer is not None else line.quantity / line.packs
    return replace(
        line,
        packs=packs,
        quantity=each * packs,
        price=price,
        amount=Decimal(0) if price is None else cents(price * packs),
        quoted="" if is_priced else line.quoted,
    )


def _added(
    house: House,
    lines: Sequence[OrderLine],
    key: LineKey,
    entry: SheetLine,
    is_confirmed: bool,
    faults: list[Fault],
) -> OrderLine | None:
    """A line that somebody added to a sheet; None where it has no packs, or cannot be."""
    vendor, day, code = key
    packs = _packs(entry, 0, is_confirmed)
    if not isinstance(packs, Fault) and not packs:
        return None
    offers = {o.code: o for one in house.ingredients.values() for o in one.offers if o.vendor == vendor}
    beside = [line for line in lines if (line.vendor, line.deliver_on) == (vendor, day)]
    if code not in offers:
        right = nearest(code, offers) or "add it to an ingredient's offers in ingredients.yaml"
        wrong = f"{entry.cell}: {vendor} has no offer '{code}'"
        faults.append(Fault(entry.place, 0, code, wrong, right, "unknown-code"))
    if not beside:
        days = sorted({line.deliver_on for line in lines if line.vendor == vendor})
        right = f"write one of this run's days: {' or '.join(d.isoformat() for d in days)}"
        wrong = f"{entry.cell}: this run orders nothing of {vendor} for {said(day)}"
        faults.append(Fault(entry.place, 0, code, wrong, right, "unknown-day"))
    if isinstance(packs, Fault):
        faults.append(packs)
    if code not in offers or not beside or isinstance(packs, Fault):
        return None
    offer = offers[code]
    bare = offered(house, offer, packs, day, beside[0].order_by)
    price = _price(entry, bare.price) if entry.price else bare.price
    if isinstance(price, Fault):
        faults.append(price)
        return None
    amount = Decimal(0) if price is None else cents(price * packs)
    return replace(bare, price=price, amount=amount, quoted=bare.quoted if price == bare.price else "")


def offered(house: House, offer: Offer, packs: int, deliver_on: date, order_by: datetime) -> OrderLine:
    """A line of so many packs of an offer at the price the house has."""
    price = price_at(offer, packs)
    ingredient = house.ingredients[offer.item]
    return OrderLine(
        vendor=offer.vendor,
        code=offer.code,
        item=offer.item,
        description=offer.description or ingredient.name,
        packs=packs,
        pack=offer.pack,
        quantity=packs * offer.pack_quantity,
        unit=ingredient.unit,
        price=price,
        amount=Decimal(0) if price is None else cents(price * packs),
        order_by=order_by,
        deliver_on=deliver_on,
        is_catch_weight=offer.is_catch_weight,
        quoted=f"{offer.price_per} per {offer.per_unit}" if offer.price_per is not None else "",
    )


def _packs(entry: SheetLine, proposed: int, is_confirmed: bool) -> int | Fault:
    text = entry.packs.strip()
    if text in {"", "-", "–", "—"}:
        return 0
    was = f" (the run says {proposed})" if proposed else ""
    if not re.fullmatch(r"\d{1,6}(\.0*)?", text, re.ASCII):
        wrong = f"{entry.cell}: '{text[:40]}' is not a whole number of packs"
        right = f"write whole packs, 0 to cross the line off{was}"
        return Fault(entry.place, 0, entry.code, wrong, right, "bad-packs")
    packs = int(float(text))
    if proposed and packs >= TIMES_TOO_MUCH * proposed and not is_confirmed:
        wrong = f"{entry.cell}: {packs} packs, the run says {proposed}"
        return Fault(
            entry.place, 0, entry.code, wrong, "if it is meant, place it with --yes", "too-many-packs"
        )
    return packs


def _price(entry: SheetLine, known: Decimal | None) -> Decimal | Fault | None:
    """The price of a pack as the sheet has it; an empty cell leaves the known one."""
    text = (entry.price or "").strip().replace(",", "") if entry.price is not None else ""
    if not text:
        return known
    if not re.fullmatch(r"\d{1,9}(\.\d{1,6})?", text, re.ASCII):
        wrong = f"{entry.price_cell}: '{text[:40]}' is not a price"
        return Fault(entry.place, 0, entry.code, wrong, "write an amount such as 12.50", "bad-price")
    price = Decimal(text)
    return known if known is not None and abs(price - known) < Decimal("0.005") else price


def _change(house: House, before: OrderLine, now: OrderLine) -> Iterator[str]:
    if not now.packs:
        yield f"crossed off: {_what(house, now)}: {plural(before.packs, 'pack')} proposed"
        return
    if now.packs != before.packs:
        yield f"changed: {_what(house, now)}: {plural(now.packs, 'pack')}, {before.packs} proposed"
    if now.price != before.price and now.price is not None and not now.quoted and now.packs == before.packs:
        was = price_said(before.price) if before.price is not None else "not known"
        yield f"price: {_what(house, now)}: {price_said(now.price)} a pack, was {was}"


def _what(house: House, line: OrderLine) -> str:
    return f"{line.vendor} {line.code} {_name(house, line.item)}, {said(line.deliver_on)}"


def _lost(place: str, line: OrderLine) -> Fault:
    wrong = f"the line for {said(line.deliver_on)} is no longer in the sheet"
    right = "write 0 packs to cross a line off; a damaged sheet: make the run again"
    return Fault(place, 0, line.code, wrong, right, "lost-line")


def placed_lines(order: Order, proposed: Mapping[LineKey, int], run: str, on: date) -> tuple[Placed, ...]:
    """The lines of an order as they are booked; `proposed` are the packs of the run."""
    return tuple(
        Placed(
            number=order.number,
            run=run,
            vendor=line.vendor,
            code=line.code,
            item=line.item,
            packs=line.packs,
            proposed=proposed.get(_key(line), 0),
            quantity=line.quantity,
            unit=line.unit,
            price=line.price,
            amount=line.amount,
            deliver_on=line.deliver_on,
            placed_on=on,
        )
        for line in order.lines
    )


def line_of_placed(house: House, placed: Placed) -> OrderLine:
    """A line as it was placed, with what the vendor calls it as the house now has it."""
    offer = offer_of(house, placed.item, placed.vendor, placed.code)
    day = datetime.combine(placed.deliver_on, datetime.min.time())
    return OrderLine(
        vendor=placed.vendor,
        code=placed.code,
        item=placed.item,
        description=(offer.description if offer else "") or _name(house, placed.item),
        packs=placed.packs,
        pack=offer.pack if offer else "",
        quantity=placed.quantity,
        unit=placed.unit,
        price=placed.price,
        amount=placed.amount,
        order_by=day,
        deliver_on=placed.deliver_on,
        is_catch_weight=offer is not None and offer.is_catch_weight,
    )


def _name(house: House, item: str) -> str:
    return house.name_of(item) if item in house.ingredients else item


def late(orders: Iterable[Order], on: date) -> Iterator[str]:
    """Orders whose cut-off was on a day before that of placing."""
    for order in orders:
        order_by = min((line.order_by for line in order.lines), default=None)
        if order_by is not None and order_by.date() < on:
            yield (
                f"late: {order.vendor} for {said(order.deliver_on)}: the cut-off was "
                f"{said(order_by.date())} {order_by:%H:%M}; ask whether it is still taken"
            )


def below_minimum(house: House, orders: Iterable[Order]) -> Iterator[str]:
    """Deliveries that are below their vendor's minimum, all orders for them counted."""
    for order in orders:
        if short_of_minimum(house, order):
            least = house.vendors[order.vendor].minimum
            yield (
                f"below the minimum: {order.vendor} for {said(order.deliver_on)}: "
                f"{cents(order.goods + order.earlier)} of {least}; the vendor may not come"
            )


def drops_meant(
    words: Iterable[str], drops: Iterable[DeliveryKey], place: str, option: str
) -> tuple[set[DeliveryKey], list[Fault]]:
    """What `VENDOR` or `VENDOR,DAY` stands for among a run's deliveries."""
    known = sorted(set(drops))
    vendors = sorted({vendor for vendor, _ in known})
    meant: set[DeliveryKey] = set()
    faults = []
    for word in words:
        vendor, _, day = word.partition(",")
        mine = {
            drop for drop in known if drop[0] == vendor and (not day or drop[1].isoformat() == day.strip())
        }
        if mine:
            meant |= mine
        elif vendor in vendors:
            days = ", ".join(d.isoformat() for v, d in known if v == vendor)
            wrong = f"the run orders nothing of this vendor for '{day}'"
            faults.append(Fault(place, 0, f"{option} {word}", wrong, f"write one of {days}", "no-vendor"))
        else:
            has = f"it orders from {', '.join(vendors)}" if vendors else "it orders nothing at all"
            wrong = "the run orders nothing from this vendor"
            faults.append(Fault(place, 0, vendor, wrong, nearest(vendor, vendors) or has, "no-vendor"))
    return meant, faults
