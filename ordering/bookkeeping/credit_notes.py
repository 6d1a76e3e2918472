"""Booking in a credit of money with no goods: an overcharge, an allowance for a late van."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from pathlib import Path

from ordering.bookkeeping.door_remarks import Invoice
from ordering.bookkeeping.paper_checks import same_again
from ordering.faults import Fault, Refused, nearest
from ordering.ledger import rows, store
from ordering.ledger.receiving import called
from ordering.loading import load
from ordering.records.books import Allowance
from ordering.records.documents import CREDIT, Meant, Paper
from ordering.records.house import House
from ordering.records.report import Report
from ordering.records.vendors import Offer
from ordering.texts import one_line


@dataclass(frozen=True, slots=True)
class CreditNote:
    """What a vendor credits: `whom` is `VENDOR` or `VENDOR,CODE`; the number and the money are the note's."""

    whom: str
    reason: str
    note: Invoice

    @property
    def vendor(self) -> str:
        """Who credits."""
        return self.whom.partition(",")[0].strip()

    @property
    def code(self) -> str:
        """The code it is for; empty where it is for none."""
        return self.whom.partition(",")[2].strip()


def credit(config: Path, books_dir: Path, given: CreditNote, on: date, meant: Meant) -> Report:
    """Book in a credit of money. It moves no goods, and is no waste of the house.

    Raises
    ------
    Refused : no such vendor or code, no money, no reason; it looks like another credit. Nothing has been
        written
    """
    house = load(config, books_dir, on).house
    offers = [o for one in house.ingredients.values() for o in one.offers if o.vendor == given.vendor]
    offer = next((o for o in offers if o.code == given.code), None)
    if faults := list(_faults(house, given, [o.code for o in offers])):
        raise Refused(faults)
    money, name = given.note.total or Decimal(0), given.note.number or "this credit"
    allowance = Allowance(on, given.vendor, given.code, money, one_line(given.reason))
    line = rows.line_of_allowance(allowance, offer.item if offer else "")
    paper = Paper(
        *(CREDIT, on, (line,), meant.corrects, given.vendor, name),
        invoice=given.note.number,
        total=money,
    )
    booking = store.book(books_dir, paper, on, meant)
    if not booking.is_new:
        return same_again(Path(name), booking)
    return Report((_told(house, booking.number, allowance, offer),), 0, (store.ledger_path(books_dir),))


def _told(house: House, number: str, allowance: Allowance, offer: Offer | None) -> str:
    money = f"{allowance.money:,} {house.currency}".rstrip()
    what = f" for {called(house, offer.item, offer.code)}" if offer else ""
    by = house.vendors[allowance.vendor].name
    return f"Credit {number}: {money} credited by {by}{what}: {allowance.reason}"


def _faults(house: House, given: CreditNote, codes: list[str]) -> Iterator[Fault]:
    if given.vendor not in house.vendors:
        right = nearest(given.vendor, house.vendors) or "write a vendor of vendors.yaml"
        yield Fault("--credit", 0, given.vendor, "there is no such vendor", right, "unknown-vendor")
    elif given.code and given.code not in codes:
        wrong, right = (
            f"{given.vendor} has no offer of this code",
            nearest(given.code, codes) or "leave it out",
        )
        yield Fault("--credit", 0, given.code, wrong, right, "unknown-code")
    if given.note.total is None or given.note.total <= 0:
        yield Fault("--total", 0, "", "no money to credit", "write what the note comes to: 12.50", "no-money")
    if not given.reason.strip():
        yield Fault("--reason", 0, "", "no reason is given", "write why it is credited", "no-reason")
