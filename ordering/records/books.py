"""The books of a house as the stages see them: ids known, quantities in their item's own unit."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal

import pandas as pd

SALES_COLUMNS = ("date", "service", "dish", "sold", "sold_out")
COVERS_COLUMNS = ("date", "service", "covers")
BOOKINGS_COLUMNS = ("taken_on", "date", "service", "booked")


@dataclass(frozen=True, slots=True)
class Lot:
    """One parcel of an item with its dates.

    `use_by` is the last day on which it may be used (None: no date); `ready_on` the first
    (None: usable now). A lot with `ready_on` ahead is in process.
    """

    item: str
    quantity: float
    use_by: date | None = None
    ready_on: date | None = None


@dataclass(frozen=True, slots=True)
class Begun:
    """Batches that are under way on the morning of the run: a start on an earlier day.

    What its first day draws is drawn; lines of later days, by-products and what comes back are to come.
    """

    recipe: str
    started_on: date
    batches: float


@dataclass(frozen=True, slots=True)
class CountedLot:
    """A line of a count: what was there that morning, with the dates on it."""

    counted_on: date
    item: str
    quantity: float
    use_by: date | None = None
    ready_on: date | None = None


@dataclass(frozen=True, slots=True)
class Allowance:
    """Money that a vendor credits with no goods: an overcharge, a late van. `code` may be empty."""

    credited_on: date
    vendor: str
    code: str
    money: Decimal
    reason: str


@dataclass(frozen=True, slots=True)
class OpenOrder:
    """Packs placed with a vendor and not received: the scheduled receipt of `quantity` in the item's unit.

    `use_by` is the last day of what is to come, once netting has dated it; None: no date.
    """

    vendor: str
    code: str
    item: str
    packs: float
    quantity: float
    deliver_on: date
    use_by: date | None = None


@dataclass(frozen=True, slots=True)
class Receipt:
    """What came through the door; with packs and quantity below 0 what goes back, for a `reason`.

    `item` is empty for goods nobody planned: a code that no offer has. `instead_of` is the code it came for,
    `order` the number of the order it came for, where the paper says so; `temperature` in degrees Celsius and
    `condition` as found at the door.
    """

    delivered_on: date
    vendor: str
    code: str
    item: str
    packs: float
    quantity: float
    price: Decimal | None = None
    use_by: date | None = None
    instead_of: str = ""
    reason: str = ""
    temperature: float | None = None
    condition: str = ""
    order: str = ""


@dataclass(frozen=True, slots=True)
class Waste:
    """What was thrown away on a day, in the item's unit."""

    date: date
    item: str
    quantity: float
    reason: str = ""


@dataclass(frozen=True, slots=True)
class Batch:
    """One making of a recipe: `drawn` is its main ingredient's quantity, `made` what it gave.

    In the ledger `drawn` is of `drawn_item`, the recipe's first line as it was booked, in `drawn_unit`. Both
    empty: as the recipe has it now.
    """

    started_on: date
    recipe: str
    drawn: float
    made: float
    drawn_item: str = ""
    drawn_unit: str = ""


@dataclass(frozen=True, slots=True)
class LeftOut:
    """Sales of a dish the menu does not know: in `n_rows` rows, the first of them at `place:line`."""

    dish: str
    sold: float
    n_rows: int
    place: str
    line: int


@dataclass(frozen=True, slots=True)
class SisterShare:
    """Portions of a dish a cover at the other houses of the group, and how far this house's may be from it.

    `spread` is the standard deviation of the natural log of this house's share about theirs.
    """

    per_cover: float
    spread: float


def _table(columns: Sequence[str], dates: Sequence[str]) -> pd.DataFrame:
    empty = pd.DataFrame({c: pd.Series(dtype="str") for c in columns})
    for column in dates:
        empty[column] = empty[column].astype("datetime64[ns]")
    for column in {"sold", "covers", "booked"} & set(columns):
        empty[column] = empty[column].astype("float64")
    if "sold_out" in columns:
        empty["sold_out"] = empty["sold_out"].astype("bool")
    return empty


@dataclass(frozen=True, slots=True)
class Books:
    """Tables hold what their `*_COLUMNS` say, dates as datetime64, one row per key, sorted by date.

    `sales`: float `sold`, bool `sold_out`. `receipts` come from the ledger. Every table may be empty.
    `sisters`, by service and dish, is what the other houses of a group sell.
    `files` has the path of each book that was there, `unread` those of files that look like a book and are
    none, with the book each may be meant for.
    """

    sales: pd.DataFrame = field(default_factory=lambda: _table(SALES_COLUMNS, ["date"]))
    covers: pd.DataFrame = field(default_factory=lambda: _table(COVERS_COLUMNS, ["date"]))
    bookings: pd.DataFrame = field(default_factory=lambda: _table(BOOKINGS_COLUMNS, ["taken_on", "date"]))
    counts: tuple[CountedLot, ...] = ()
    open_orders: tuple[OpenOrder, ...] = ()
    receipts: tuple[Receipt, ...] = ()
    waste: tuple[Waste, ...] = ()
    batches: tuple[Batch, ...] = ()
    left_out: tuple[LeftOut, ...] = ()
    sisters: Mapping[tuple[str, str], SisterShare] = field(default_factory=dict)
    files: Mapping[str, str] = field(default_factory=dict)
    unread: Mapping[str, str] = field(default_factory=dict)
