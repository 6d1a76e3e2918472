"""A run's order lines with what was changed in the vendors' sheets, ready to be placed. Pure."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal

from ordering.amounts import plural
from ordering.days import format_day
from ordering.faults import Fault, nearest
from ordering.ledger.order_lines import LineKey, name_of, run_line_key
from ordering.records.buying import OrderLine
from ordering.records.house import House
from ordering.records.money import line_amount, offer_of, price_at, price_said
from ordering.records.vendor_orders import line_of_offer

TIMES_TOO_MUCH = 10


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


def settled(
    house: House, lines: Sequence[OrderLine], sheets: Sequence[SheetLine], is_confirmed: bool
) -> tuple[list[OrderLine], list[Fault]]:
    """The lines of a run with what its sheets now say: crossed off without packs, added by hand at the end.

    `lines` are those of the vendors whose sheets were read; `is_confirmed`: what looks like a slip is meant.
    Faults: an entry that is no whole number of packs or no price, or ten times what was proposed; a line
    missing from its sheet; a line added for a code or a day that cannot be.
    """
    days = {
        v: sorted({line.deliver_on for line in lines if line.vendor == v})
        for v, _, _ in map(run_line_key, lines)
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
    for line in lines:
        entry = entries.pop(run_line_key(line), None)
        if entry is None:
            faults.append(_lost(places.get(line.vendor, line.vendor), line))
            continue
        found.append(_entered(house, entry, line, is_confirmed, faults))
    for key, entry in sorted(entries.items()):
        added = _added(house, lines, key, entry, is_confirmed, faults)
        if added is not None:
            found.append(added)
    return found, faults


def changes(
    house: House, before: Iterable[OrderLine], now: Iterable[OrderLine], is_placed: bool
) -> Iterator[str]:
    """What an order's lines ask for that they did not before, in words.

    `is_placed`: before was placed, not only proposed by the run.
    """
    left = {run_line_key(line): line for line in now}
    for line in before:
        yield from _change(house, line, left.pop(run_line_key(line), None), is_placed)
    for added in left.values():
        if added.packs:
            yield f"added: {_what(house, added)}: {plural(added.packs, 'pack')}"


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
        amount=line_amount(price, packs),
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
        wrong = f"{entry.cell}: this run orders nothing of {vendor} for {format_day(day)}"
        faults.append(Fault(entry.place, 0, code, wrong, right, "unknown-day"))
    if isinstance(packs, Fault):
        faults.append(packs)
    if code not in offers or not beside or isinstance(packs, Fault):
        return None
    offer = offers[code]
    bare = line_of_offer(house, offer, packs, day, beside[0].order_by)
    price = _price(entry, bare.price) if entry.price else bare.price
    if isinstance(price, Fault):
        faults.append(price)
        return None
    if price == bare.price:
        return bare
    return replace(bare, price=price, amount=line_amount(price, packs), quoted="")


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


def _change(house: House, before: OrderLine, now: OrderLine | None, is_placed: bool) -> Iterator[str]:
    if now is None or not now.packs:
        packs = plural(before.packs, "pack")
        yield f"crossed off: {_what(house, before)}: {f'was {packs}' if is_placed else f'{packs} proposed'}"
        return
    if now.packs != before.packs:
        was = f"was {before.packs}" if is_placed else f"{before.packs} proposed"
        yield f"changed: {_what(house, now)}: {plural(now.packs, 'pack')}, {was}"
    if now.price != before.price and now.price is not None and now.packs == before.packs:
        was = price_said(before.price) if before.price is not None else "not known"
        yield f"price: {_what(house, now)}: {price_said(now.price)} a pack, was {was}"


def _what(house: House, line: OrderLine) -> str:
    vendor = house.vendors[line.vendor].name
    return f"{vendor} {line.code} {name_of(house, line.item)}, {format_day(line.deliver_on)}"


def _lost(place: str, line: OrderLine) -> Fault:
    wrong = f"the line for {format_day(line.deliver_on)} is no longer in the sheet"
    right = "write 0 packs to cross a line off; a damaged sheet: make the run again"
    return Fault(place, 0, line.code, wrong, right, "lost-line")
