"""A run's order lines with what was changed in the vendor sheets, ready to be recorded. Pure."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from decimal import Decimal

from ordering.amounts import plural
from ordering.days import said
from ordering.faults import Fault, nearest
from ordering.ledger.matching import expectations, matched
from ordering.records.house import House
from ordering.records.ledger import Bookings, OrderKey, Placed
from ordering.records.money import cents, offer_of, quoted_price

TIMES_TOO_MUCH = 10


@dataclass(frozen=True, slots=True)
class RunLine:
    """A line of a run's orders.csv. `price` is of one pack."""

    vendor: str
    code: str
    item: str
    packs: int
    quantity: float
    unit: str
    price: Decimal | None
    amount: Decimal
    order_by: datetime
    deliver_on: date


@dataclass(frozen=True, slots=True)
class SheetLine:
    """A line read back from a vendor's sheet: `packs` as written, `cell` where it stands (`Order!F12`)."""

    vendor: str
    code: str
    deliver_on: date
    packs: str
    place: str
    cell: str


@dataclass(frozen=True, slots=True)
class Placing:
    """`lines` to be recorded (struck-out ones not among them), `struck` those taken out."""

    lines: tuple[Placed, ...]
    struck: tuple[Placed, ...]
    changes: tuple[str, ...]
    warnings: tuple[str, ...]


def unknown_vendors(place: str, lines: Iterable[RunLine], without: Iterable[str]) -> list[Fault]:
    """Vendors to be left out that the run, whose orders stand in `place`, does not order from."""
    vendors = sorted({line.vendor for line in lines})
    known = f"it orders from {', '.join(vendors)}" if vendors else "it orders nothing at all"
    wrong = "the run orders nothing from this vendor"
    return [
        Fault(place, 0, vendor, wrong, nearest(vendor, vendors) or known, "no-vendor")
        for vendor in without
        if vendor not in vendors
    ]


def placing(
    run: str,
    lines: Sequence[RunLine],
    sheets: Sequence[SheetLine],
    house: House,
    on: date,
    standing: Iterable[Placed] = (),
) -> tuple[Placing, list[Fault]]:
    """What is placed of a run: its lines with the packs the sheets now say.

    `lines` are those of the vendors not left out; `standing` what other runs have on order, which comes with
    the same deliveries. A line struck out or set to nothing is not placed.
    Faults: a sheet's entry that is not a whole number of packs, or ten times what was proposed; a line
    missing from its sheet; an entry for something the run does not order.
    """
    entries = {OrderKey(s.vendor, s.code, s.deliver_on): s for s in sheets}
    faults = [*_doubled(sheets), *_strangers(lines, entries)]
    places = {s.vendor: s.place for s in sheets}
    placed: list[Placed] = []
    for line in lines:
        entry = entries.get(OrderKey(line.vendor, line.code, line.deliver_on))
        packs = line.packs
        if entry is None:
            faults.append(_lost(places.get(line.vendor, run), line))
        else:
            read = _packs(entry, line)
            if isinstance(read, Fault):
                faults.append(read)
                continue
            packs = read
        placed.append(_placed(run, line, packs, house, on))
    kept = tuple(p for p in placed if p.packs)
    changes = tuple(_change(p, house) for p in placed if p.packs != p.proposed)
    warnings = (*_late(lines, kept, on), *_below_minimum(kept, standing, house))
    return Placing(kept, tuple(p for p in placed if not p.packs), changes, warnings), faults


def _packs(entry: SheetLine, line: RunLine) -> int | Fault:
    text = entry.packs.strip()
    if text in {"", "-", "–", "—"}:
        return 0
    right = f"write whole packs, 0 to strike the line out (the run says {line.packs})"
    if not re.fullmatch(r"\d{1,6}(\.0*)?", text, re.ASCII):
        wrong = f"{entry.cell}: '{text[:40]}' is not a whole number of packs"
        return Fault(entry.place, 0, line.code, wrong, right, "bad-packs")
    packs = int(float(text))
    if packs >= TIMES_TOO_MUCH * max(line.packs, 1):
        wrong = f"{entry.cell}: {packs} packs, the run says {line.packs}"
        right = "a slip of the pen? If it is meant, order the rest by hand and book it in when it comes"
        return Fault(entry.place, 0, line.code, wrong, right, "too-many-packs")
    return packs


def _placed(run: str, line: RunLine, packs: int, house: House, on: date) -> Placed:
    price, amount = line.price, line.amount
    if packs != line.packs:
        offer = offer_of(house, line.item, line.vendor, line.code)
        if offer is not None and not offer.is_catch_weight and offer.breaks:
            price = quoted_price(offer, packs)
        amount = cents(price * packs) if price is not None else Decimal(0)
    return Placed(
        number="",
        run=run,
        vendor=line.vendor,
        code=line.code,
        item=line.item,
        packs=packs,
        proposed=line.packs,
        quantity=line.quantity / line.packs * packs,
        unit=line.unit,
        price=price,
        amount=amount,
        deliver_on=line.deliver_on,
        placed_on=on,
    )


def _change(placed: Placed, house: House) -> str:
    item = house.name_of(placed.item) if placed.item in house.ingredients else placed.item
    what = f"{placed.vendor} {placed.code} {item}, {said(placed.deliver_on)}"
    if not placed.packs:
        return f"crossed off: {what}: {plural(placed.proposed, 'pack')} proposed"
    return f"changed: {what}: {plural(placed.packs, 'pack')}, {placed.proposed} proposed"


def _lost(place: str, line: RunLine) -> Fault:
    wrong = f"the line for {said(line.deliver_on)} is no longer in the sheet"
    right = "write 0 packs to cross a line off; a damaged sheet: make the run again"
    return Fault(place, 0, line.code, wrong, right, "lost-line")


def _strangers(lines: Iterable[RunLine], entries: Mapping[OrderKey, SheetLine]) -> Iterator[Fault]:
    known = {OrderKey(line.vendor, line.code, line.deliver_on) for line in lines}
    for key in sorted(entries.keys() - known, key=lambda k: (k.vendor, k.deliver_on, k.code)):
        entry = entries[key]
        wrong = f"{entry.cell}: the run orders no such code for {said(key.deliver_on)}"
        right = "order it by hand and book it in when it comes"
        yield Fault(entry.place, 0, key.code, wrong, right, "unknown-line")


def _doubled(sheets: Sequence[SheetLine]) -> Iterator[Fault]:
    seen: dict[OrderKey, str] = {}
    for s in sheets:
        key = OrderKey(s.vendor, s.code, s.deliver_on)
        if key in seen:
            wrong = f"{s.cell}: the same line stands at {seen[key]}"
            yield Fault(s.place, 0, s.code, wrong, "keep one of them", "doubled-line")
        seen.setdefault(key, s.cell)


def _late(lines: Iterable[RunLine], kept: Iterable[Placed], on: date) -> Iterator[str]:
    told = {(p.vendor, p.deliver_on) for p in kept}
    cut_offs = {(line.vendor, line.deliver_on): line.order_by for line in lines}
    for (vendor, deliver_on), order_by in sorted(cut_offs.items()):
        if (vendor, deliver_on) in told and order_by.date() < on:
            yield (
                f"late: {vendor} for {said(deliver_on)}: the cut-off was {said(order_by.date())} "
                f"{order_by:%H:%M}; call and ask if they still take it"
            )


def _below_minimum(kept: Sequence[Placed], standing: Iterable[Placed], house: House) -> Iterator[str]:
    sums = {(p.vendor, p.deliver_on): Decimal(0) for p in kept}
    for p in (*kept, *standing):
        if (p.vendor, p.deliver_on) in sums:
            sums[p.vendor, p.deliver_on] += p.amount
    for (vendor, deliver_on), amount in sorted(sums.items()):
        known = house.vendors.get(vendor)
        if known is not None and amount < known.minimum:
            yield (
                f"below the minimum: {vendor} for {said(deliver_on)}: {cents(amount)} of {known.minimum}; "
                f"they may not deliver"
            )


# --- placing again -------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Replacing:
    """What a second placing of a run changes: lines to add or alter, lines to take back, in words."""

    lines: tuple[Placed, ...]
    taken_back: tuple[Placed, ...]
    changes: tuple[str, ...]


def replacing(run: str, new: Sequence[Placed], bookings: Bookings) -> tuple[Replacing, list[Fault]]:
    """The difference to what was placed of this run before; nothing at all where nothing changed.

    Faults: a changed line whose delivery has come.
    """
    before = {_key(p): p for p in bookings.orders if p.run == run}
    after = {_key(p): p for p in new}
    settled = {
        e.key for e in matched(expectations(bookings.orders), bookings.receipts).expected if e.is_settled
    }
    changed = [k for k in after if k not in before or _terms(before[k]) != _terms(after[k])]
    gone = [k for k in before if k not in after]
    faults = [
        Fault(
            f"orders/{key.vendor}.xlsx",
            0,
            key.code,
            f"what was ordered for {said(key.deliver_on)} has been booked in",
            f"leave the line at {before[key].packs} packs, as it was placed; order more in a new run",
            "delivered",
        )
        for key in (*changed, *gone)
        if key in settled and key in before
    ]
    changes = [_difference(before.get(k), after.get(k)) for k in sorted((*changed, *gone), key=_rank)]
    lines = tuple(after[k] for k in changed)
    return Replacing(lines, tuple(before[k] for k in gone), tuple(changes) if before else ()), faults


def _key(placed: Placed) -> OrderKey:
    return OrderKey(placed.vendor, placed.code, placed.deliver_on)


def _rank(key: OrderKey) -> tuple[str, date, str]:
    return (key.vendor, key.deliver_on, key.code)


def _terms(placed: Placed) -> Placed:
    """The line without number and day of its order, which alone make no difference."""
    return replace(placed, number="", placed_on=date.min)


def _difference(before: Placed | None, after: Placed | None) -> str:
    line = after or before
    assert line is not None
    was = plural(before.packs, "pack") if before else "not placed"
    now = plural(after.packs, "pack") if after else "cancelled"
    return f"placed before: {line.vendor} {line.code}, {said(line.deliver_on)}: was {was}, now {now}"
