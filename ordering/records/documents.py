"""Documents of the house as they are kept: what a paper says, line by line, and where it stands.

A document has a number, a day, a party (the vendor; empty where there is none) and lines. It is corrected by
writing it again: the new version takes the place of all lines of the one before.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Generic, TypeVar

R = TypeVar("R")

FORECAST, ORDER, DELIVERY, CREDIT = "forecast", "order", "delivery", "credit"
COUNT, WASTE, BATCHES = "count", "waste", "batches"

MARKS = {FORECAST: "F-", DELIVERY: "D-", CREDIT: "R-", COUNT: "C-", WASTE: "W-", BATCHES: "B-"}
"""What numbers of a kind begin with; those of orders begin with what the house says."""


@dataclass(frozen=True, slots=True)
class Line:
    """One line of a document.

    `day` is when it happened or is to happen, `quantity` is in `unit`. Of an order: `packs` at `price`
    a pack (catch weight: the expected one), `amount` in money, `proposed` the packs of the run. Of a delivery
    or credit: what came or goes back, `price` in the offer's own terms, the number of the order it `answers`,
    the code it came `instead_of`. Of a batch: `item` is the recipe, `quantity` what it made, `drawn` what it
    took of its first ingredient.
    """

    day: date
    item: str
    quantity: float
    unit: str
    party: str = ""
    code: str = ""
    packs: float | None = None
    price: Decimal | None = None
    amount: Decimal | None = None
    proposed: int | None = None
    use_by: date | None = None
    ready_on: date | None = None
    drawn: float | None = None
    drawn_item: str = ""
    drawn_unit: str = ""
    reason: str = ""
    instead_of: str = ""
    answers: str = ""
    temperature: float | None = None
    condition: str = ""


@dataclass(frozen=True, slots=True)
class Paper:
    """A document about to be booked in, with all its lines.

    `number` is the one printed on it; empty where it has none, as on a list somebody typed. `source` is the
    name of the file. `run` is the identity of the run it belongs to, of a credit the number of the delivery
    it went back with; `invoice` and `total` are the vendor's.
    """

    kind: str
    day: date
    lines: tuple[Line, ...]
    number: str = ""
    party: str = ""
    source: str = ""
    run: str = ""
    invoice: str = ""
    total: Decimal | None = None


@dataclass(frozen=True, slots=True)
class Document:
    """A version of a document, without its lines. Version 0 is the form: given out and not booked."""

    kind: str
    number: str
    version: int
    day: date
    party: str
    booked_on: date
    source: str
    run: str
    invoice: str = ""
    total: Decimal | None = None


@dataclass(frozen=True, slots=True)
class Booked(Generic[R]):
    """What a line in the books says, the unit its quantity is in, and where it is written."""

    record: R
    unit: str
    number: str
    version: int = 1
    line: int = 1

    @property
    def at(self) -> str:
        """The line as messages name it: `D-12, line 3`."""
        again = f" version {self.version}" if self.version > 1 else ""
        return f"{self.number}{again}, line {self.line}"


@dataclass(frozen=True, slots=True)
class Meant:
    """What whoever books a paper in says of it.

    `corrects`: it takes the place of the document of that number. `is_further`: it adds to documents that
    look like it. `is_confirmed`: entries that look like a slip are meant.
    """

    corrects: str = ""
    is_further: bool = False
    is_confirmed: bool = False


@dataclass(frozen=True, slots=True)
class Booking:
    """What came of booking a paper: its number and version, and the lines of the version before.

    `is_new` is False where it was booked already, on `booked_on`, and nothing changed.
    """

    number: str
    version: int
    is_new: bool
    booked_on: date
    before: tuple[Line, ...] = ()
