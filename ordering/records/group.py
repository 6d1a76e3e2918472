"""A group of houses, and what one run of each of them came to."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from pathlib import Path

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True, slots=True)
class Member:
    """One house of a group: where its files, its books and its runs are."""

    id: str
    config: Path
    books: Path
    runs: Path


@dataclass(frozen=True, slots=True)
class Group:
    """`shared`: files that all houses begin from. `central`: the house that cooks for the others; ""`: none.

    `vans`: sets of houses that one van reaches within a day; none written: it reaches all of them.
    """

    name: str
    members: Mapping[str, Member]
    shared: Path | None = None
    central: str = ""
    vans: tuple[frozenset[str], ...] = ()

    def are_in_reach(self, one: str, other: str) -> bool:
        """Whether a van goes from one house to the other."""
        return not self.vans or any(one in van and other in van for van in self.vans)


@dataclass(frozen=True, slots=True)
class GroupLine:
    """One order line of a house, as the group adds it up with those of the others.

    `price` is of one pack; None: not known. `is_now` False: foreseen, not to be ordered yet. `keeps_days`:
    how long the goods keep; None: as long as anyone will want them.
    """

    vendor: str
    deliver_on: date
    house: str
    code: str
    item: str
    description: str
    packs: int
    price: Decimal | None
    amount: Decimal
    is_now: bool = True
    keeps_days: int | None = None


@dataclass(frozen=True, slots=True)
class JointTerms:
    """What a vendor asks of all houses together: least money of a delivery, price breaks by code.

    A break is (packs, price of each pack from that many on).
    """

    vendor: str
    name: str
    minimum: Decimal
    breaks: Mapping[str, tuple[tuple[int, Decimal], ...]]


@dataclass(frozen=True, slots=True)
class JointOrder:
    """What all houses order of one vendor for one day.

    `amount` is at the prices of all packs together; `added` are packs foreseen for later that are brought
    forward to reach the minimum or a price break; `lacking` is the money that no such pack makes up.
    """

    vendor: str
    name: str
    deliver_on: date
    minimum: Decimal
    amount: Decimal
    lines: tuple[GroupLine, ...]
    added: tuple[GroupLine, ...] = ()
    lacking: Decimal = Decimal(0)


LEAST_WORTH = Decimal("1.00")
"""Money; less is not worth a van's stop."""


@dataclass(frozen=True, slots=True)
class Surplus:
    """What a house is expected to throw away: `use_by` is its last day, `worth` its cost as far as known.

    `there_on` : the first day on which it can be there, by how long it keeps.
    """

    house: str
    item: str
    name: str
    use_by: date
    quantity: float
    unit: str
    worth: Decimal
    there_on: date = date.min


@dataclass(frozen=True, slots=True)
class Want:
    """What a house runs short of on a day, in the item's unit."""

    house: str
    item: str
    name: str
    needed_on: date
    quantity: float
    unit: str


@dataclass(frozen=True, slots=True)
class Transfer:
    """A quantity to be taken from one house to another before its last day."""

    from_house: str
    to_house: str
    item: str
    name: str
    quantity: float
    unit: str
    needed_on: date
    use_by: date
    worth: Decimal


@dataclass(frozen=True, slots=True)
class HouseDemand:
    """What one house takes of one thing from `supplier`, the house that cooks it.

    `item` is its id at the supplier: the code of the offer. One pack is `pack_quantity` of `unit`. `placed`
    [day] are packs ordered for each day, day 0 being the day of the run; `packs` [day, path] what the house
    takes in all, those ordered included, on each of its sample paths.
    """

    house: str
    name: str
    supplier: str
    item: str
    pack: str
    pack_quantity: float
    unit: str
    price: Decimal | None
    placed: NDArray[np.int16]
    packs: NDArray[np.int16]


@dataclass(frozen=True, slots=True)
class Showing:
    """How some weeks of a house went; None where its books do not show it.

    `food_cost` (goods used, consumables aside), `waste` and `lost` are shares of revenue, `lost` being all
    money lost; `wape` is how far the forecast of covers was off, `missed` the
    portions that could not be served.
    """

    covers: float | None = None
    revenue: Decimal | None = None
    food_cost: float | None = None
    waste: float | None = None
    lost: float | None = None
    wape: float | None = None
    missed: float | None = None


@dataclass(frozen=True, slots=True)
class HouseRun:
    """What one house's run came to, small enough to send from machine to machine.

    `exit` as of `ordering order`: 0 done, 1 someone must look, 2 refused (then `faults` say why and the rest
    is empty). `folder` is the run folder, empty where there is none; `was_there`: it was made before.
    `next_run` is the day of the house's next order.
    `seconds` is what making it took, None where it was there.
    """

    house: str
    exit: int
    name: str = ""
    currency: str = ""
    folder: str = ""
    was_there: bool = False
    seconds: float | None = None
    faults: tuple[str, ...] = ()
    next_run: date | None = None
    lines: tuple[GroupLine, ...] = ()
    n_doubts: int = 0
    shortages: tuple[Want, ...] = ()
    surplus: tuple[Surplus, ...] = ()
    joint_terms: tuple[JointTerms, ...] = ()
    demands: tuple[HouseDemand, ...] = ()
    showing: Showing = Showing()

    @property
    def orders(self) -> tuple[GroupLine, ...]:
        """The lines to be ordered now."""
        return tuple(line for line in self.lines if line.is_now)

    @property
    def amount(self) -> Decimal:
        """Money of what is ordered now, without fees."""
        return sum((line.amount for line in self.orders), Decimal(0))
