"""What the ledger knows, as the pure parts of the program see it: no file, no connection."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from ordering.records.books import Allowance, Batch, CountedLot, Receipt, Waste
from ordering.records.documents import Booked

ISSUED_COLUMNS = (
    "run",
    "issued_on",
    "date",
    "service",
    "dish",
    "mean",
    "q05",
    "q10",
    "q25",
    "q50",
    "q75",
    "q90",
    "q95",
)


@dataclass(frozen=True, slots=True)
class Placed:
    """One line of an order as it stands with the vendor.

    `number` is the order's, `run` the run it belongs to, `placed_on` the day the order was first placed.
    `packs` is what was placed, `proposed` what the run had proposed. `quantity` is in `unit`, the
    item's unit on the day of placing. `price` is of one pack, for catch weight the expected one.
    """

    number: str
    run: str
    vendor: str
    code: str
    item: str
    packs: int
    proposed: int
    quantity: float
    unit: str
    price: Decimal | None
    amount: Decimal
    deliver_on: date
    placed_on: date


@dataclass(frozen=True, slots=True)
class Bookings:
    """Everything booked that stands: of each document the lines of its last version.

    `credits` are goods sent back, packs and quantities below 0; `allowances` are credits of money alone.
    """

    orders: tuple[Placed, ...] = ()
    receipts: tuple[Booked[Receipt], ...] = ()
    counts: tuple[Booked[CountedLot], ...] = ()
    waste: tuple[Booked[Waste], ...] = ()
    batches: tuple[Booked[Batch], ...] = ()
    credits: tuple[Booked[Receipt], ...] = ()
    allowances: tuple[Booked[Allowance], ...] = ()

    def since(self, first: date) -> Bookings:
        """What is of a day or later, orders by the day of their delivery."""
        return Bookings(
            tuple(p for p in self.orders if p.deliver_on >= first),
            tuple(b for b in self.receipts if b.record.delivered_on >= first),
            tuple(b for b in self.counts if b.record.counted_on >= first),
            tuple(b for b in self.waste if b.record.date >= first),
            tuple(b for b in self.batches if b.record.started_on >= first),
            tuple(b for b in self.credits if b.record.delivered_on >= first),
            tuple(b for b in self.allowances if b.record.credited_on >= first),
        )


@dataclass(frozen=True, slots=True)
class OrderKey:
    """A line of an order; `number` is the order's, empty for open orders of the books, all added up."""

    vendor: str
    code: str
    deliver_on: date
    number: str = ""


@dataclass(frozen=True, slots=True)
class Expected:
    """A line of an order as deliveries are held against it; `received` in packs.

    `is_settled`: nothing more is expected of it (it came, came short, or was substituted).
    """

    key: OrderKey
    item: str
    packs: float
    quantity: float
    unit: str
    price: Decimal | None = None
    received: float = 0.0
    received_quantity: float = 0.0
    is_settled: bool = False
    placed_on: date = date.min


@dataclass(frozen=True, slots=True)
class Arrival:
    """What came of one code on a day and answers one order (None: nobody ordered it), rows added up.

    `is_substitute`: it came in place of the ordered code of `answers`; `instead_of` is the code it was said
    to have come for, `order` the number of the order. `item` is empty for goods nobody planned.
    """

    vendor: str
    delivered_on: date
    code: str
    item: str
    packs: float
    quantity: float
    unit: str
    price: Decimal | None
    answers: OrderKey | None = None
    is_substitute: bool = False
    instead_of: str = ""
    order: str = ""


@dataclass(frozen=True, slots=True)
class Variance:
    """Counted less what there should have been; `money` at today's price, None where none is known."""

    item: str
    counted_on: date
    counted: float
    expected: float
    unit: str
    money: Decimal | None

    @property
    def quantity(self) -> float:
        """What is too much (or, below 0, missing), in the item's unit."""
        return self.counted - self.expected
