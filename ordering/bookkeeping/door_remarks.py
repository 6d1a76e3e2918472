"""What is asked and said of a delivery beside its order: invoice, temperature, condition, credit."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from pathlib import Path

from ordering.amounts import plural
from ordering.bookkeeping.running_out import Ahead
from ordering.cautions import CHILLED, CHILLED_AT_MOST, TAGGED
from ordering.days import format_day
from ordering.faults import Fault
from ordering.ledger import rows, store
from ordering.ledger.doubting import FileLines
from ordering.ledger.order_matching import LATE_DAYS, Matching
from ordering.ledger.receiving import called
from ordering.records.books import Receipt
from ordering.records.documents import CREDIT, DELIVERY, Document, Paper
from ordering.records.house import House
from ordering.records.money import cents, receipt_money
from ordering.texts import listed, told_apart
from ordering.units import degree_unit, degrees
from ordering.units import format_number as plain

MOST_CONFIRMED = 20


@dataclass(frozen=True, slots=True)
class Invoice:
    """What stands on the vendor's invoice: its number, and the total of the goods."""

    number: str = ""
    total: Decimal | None = None


@dataclass(frozen=True, slots=True)
class Given:
    """What is about to be booked in: receipts with their units, what goes back, where each was read."""

    source: str
    number: str
    came: list[tuple[Receipt, str]]
    back: list[tuple[Receipt, str]]
    where: FileLines
    on: date
    invoice: Invoice | None
    ahead: Ahead | None = None


def invoice_off(house: House, given: Given) -> list[Fault]:
    """A question where the lines of no vendor come to the total of the invoice, what went back off or not."""
    total = given.invoice.total if given.invoice else None
    if total is None:
        return []
    vendors = sorted({r.vendor for r, _ in (*given.came, *given.back)})
    came = {vendor: _money(house, given.came, vendor) for vendor in vendors}
    sums = {vendor: money + _money(house, given.back, vendor) for vendor, money in came.items()}
    if total in (*came.values(), *sums.values()):
        return []
    names = [(house.vendors[v].name if v in house.vendors else v, money) for v, money in sums.items()]
    each = f" ({listed([f'{name} {money:,}' for name, money in names])})" if len(names) > 1 else ""
    wrong = f"the invoice says {total:,}, its lines come to {sum(sums.values(), Decimal(0)):,}{each}"
    right = "check packs, weights and prices against it; if the invoice is wrong, book it in with --yes"
    subject = given.invoice.number if given.invoice else ""
    return [Fault(given.where.place or given.source, 0, subject, wrong, right, "unbalanced")]


def back_unseen(house: House, given: Given, matching: Matching) -> list[Fault]:
    """A question where a vendor has come, and of a line due nothing is written but what goes back.

    matching : with the delivery already in it
    """
    here = {r.vendor for r, _ in given.came if r.packs}
    found = []
    for r, _ in given.back:
        waits = [
            e
            for e in matching.expected
            if (e.key.vendor, e.key.code) == (r.vendor, r.code)
            and not e.is_settled
            and 0 <= (r.delivered_on - e.key.deliver_on).days <= LATE_DAYS
        ]
        if waits and r.vendor in here:
            due = format_day(waits[0].key.deliver_on)
            wrong = (
                f"{plural(-r.packs, 'pack')} goes back, but none is written as come of the order for {due}"
            )
            right = (
                "if it came and goes back, write what came in its own line and what goes back in an "
                "empty one; if it came earlier, book it in with --yes"
            )
            found.append(given.where.fault(r, called(house, r.item, r.code), (wrong, right, "back-unseen")))
    return found


def _money(house: House, read: Sequence[tuple[Receipt, str]], vendor: str) -> Decimal:
    return cents(sum((receipt_money(house, r) for r, _ in read if r.vendor == vendor), Decimal(0)))


def at_the_door(house: House, given: Given) -> list[str]:
    """Goods with a hazard that came without a temperature, and what came in poor condition."""
    lines = []
    known = [r for r, _ in given.came if r.packs and r.item in house.ingredients]
    cold = [r for r in known if house.ingredients[r.item].hazards and r.temperature is None]
    if cold:
        names = list(dict.fromkeys(house.name_of(r.item) for r in cold))
        lines.append(f"no temperature written down for {told_apart(names)}")
    lines += [
        f"{called(house, r.item, r.code)}: {r.condition}"
        + ("" if r.temperature is None else f", {_degrees(house, r.temperature)}")
        for r, _ in given.came
        if r.condition
    ]
    return lines


def not_to_take(house: House, given: Given) -> list[str]:
    """What the usual cautions do not take in: chilled goods that came warm, live shellfish without a tag.

    A tag has a date and a number on it: words alone are none.
    """
    lines = [
        (r, house.ingredients[r.item].hazards)
        for r, _ in given.came
        if r.packs and r.item in house.ingredients
    ]
    most = CHILLED_AT_MOST.get(house.food_law)

    def is_warmer(one: float, other: float) -> bool:
        return degrees(one, house.is_american) > degrees(other, house.is_american)

    warm = [
        f"{house.name_of(r.item)} ({_degrees(house, r.temperature)})"
        for r, hazards in lines
        if most and r.temperature and is_warmer(r.temperature, most) and not CHILLED.isdisjoint(hazards)
    ]
    bare = [
        house.name_of(r.item)
        for r, hazards in lines
        if TAGGED in hazards and not any(map(str.isdigit, r.condition))
    ]
    told = []
    if warm and most:
        told.append(
            f"warmer than {_degrees(house, most)}: {listed(warm)}; see the caution on the sheet at the door: "
            "local code and licensed practice decide"
        )
    if bare:
        told.append(
            f"no tag written down for {listed(list(dict.fromkeys(bare)))}: live shellfish without one goes "
            "back; else write harvester, harvest date and place beside the line and book the sheet in again"
        )
    return told


def _degrees(house: House, celsius: float) -> str:
    return f"{plain(degrees(celsius, house.is_american))} {degree_unit(house.is_american)}"


def credit_told(house: House, document: str, back: Sequence[Receipt]) -> list[str]:
    """What went back, and the money to be credited for it; without a line, that nothing goes back."""
    if not back:
        return [f"Credit {document}: nothing goes back any more, nothing to be credited"]
    money = -cents(sum((receipt_money(house, r) for r in back), Decimal(0)))
    lines = [f"Credit {document}: {money:,} {house.currency} to be credited".rstrip()]
    return lines + [
        f"  back: {called(house, r.item, r.code)}: {plural(-r.packs, 'pack')}: {r.reason}" for r in back
    ]


def confirmed(odd: Sequence[Fault]) -> list[str]:
    """What was asked about and is booked in all the same."""
    lines = [f"check: {fault.subject}: {fault.wrong}" for fault in odd[:MOST_CONFIRMED]]
    return [*lines, f"check: {len(odd) - len(lines)} more like these"] if len(odd) > len(lines) else lines


def with_invoice(given: Given, before: Document | None) -> Given:
    """What is given with the invoice of the version before, where none comes with the corrected one."""
    if before is None or not before.version or given.invoice not in (None, Invoice()):
        return given
    return replace(given, invoice=Invoice(before.invoice, before.total))


def papers_of(books_dir: Path, given: Given, before: Document | None) -> list[Paper]:
    """The delivery and, behind it, what goes back; of a credit corrected by its own number that alone.

    A sheet that says of returns alone is still the sheet of its delivery. Where an earlier version of it had
    returns and this one has none, the credit is booked again without a line: nothing goes back any more.
    before : the document that is meant, as it stands
    """
    is_sheet = before is not None and before.kind == DELIVERY
    if not given.came and not is_sheet:
        return [_paper(CREDIT, given, given.back, given.number)]
    delivery = _paper(DELIVERY, given, given.came, given.number)
    credit = store.credit_of(books_dir, given.number) if is_sheet else ""
    return [delivery, *([_paper(CREDIT, given, given.back, credit)] if given.back or credit else [])]


def _paper(kind: str, given: Given, read: Sequence[tuple[Receipt, str]], number: str) -> Paper:
    invoice = given.invoice or Invoice()
    return Paper(
        kind,
        min(r.delivered_on for r, _ in (read or (*given.came, *given.back))),
        tuple(rows.line_of_receipt(r, unit) for r, unit in read),
        number,
        source=given.source,
        invoice=invoice.number,
        total=invoice.total,
    )
