"""Later deliveries of one vendor joined where one by itself would not reach its minimum.

All ingredients are foreseen one by one first. A delivery whose goods stay below the vendor's minimum is
then done without (its goods come with an earlier one, while they keep), or filled with goods of the next
ones; what is tried stays when goods, fees and what is short of minimums cost less than before.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from ordering.buy.curve import Cover
from ordering.buy.money import line_amount
from ordering.buy.outlook import Line, foreseen
from ordering.records.house import Offer, Vendor
from ordering.records.plan import Chance, Requirement

Drop = tuple[str, int]
"""Vendor and index of the day."""
Lines = dict[str, list[Line]]

NEAREST = 3
"""Deliveries before or after one that are tried as company for it; measured."""
WORTH_IT = 0.01
"""Money a change must save."""
ENOUGH = 1e-6
"""Part of a need that rounding may leave open."""


@dataclass(frozen=True, slots=True)
class Wish:
    """One ingredient: its cover, `pairs` over the whole horizon, `par` in its unit (0 for none), and
    `ordered`, (day, quantity) of what this run orders."""

    cover: Cover
    pairs: Sequence[tuple[Offer, Chance]]
    requirement: Requirement
    par: float
    ordered: Sequence[tuple[int, float]]

    def without(self, barred: frozenset[Drop]) -> tuple[list[Line], float]:
        """Lines foreseen when some deliveries bring nothing of it, and the need this leaves open."""
        pairs = [(o, c) for o, c in self.pairs if (c.vendor, c.day) not in barred]
        return foreseen(self.cover, pairs, self.requirement, self.par, self.ordered)


@dataclass(frozen=True, slots=True)
class _Change:
    """New lines of some ingredients, what they may no longer come with, money saved."""

    lines: Lines
    barred: Mapping[str, frozenset[Drop]]
    saved: float


def goods(lines: Mapping[str, Sequence[Line]]) -> dict[Drop, float]:
    """Money for the goods of each delivery."""
    money: dict[Drop, float] = defaultdict(float)
    for of_item in lines.values():
        for offer, chance, packs in of_item:
            money[chance.vendor, chance.day] += float(line_amount(offer, packs))
    return dict(money)


def lacks(vendor: Vendor, value: float) -> float:
    """Money that goods of that value are short of the vendor's minimum; nothing for no delivery."""
    return max(0.0, float(vendor.minimum) - value) if value > WORTH_IT / 2 else 0.0


class _Table:
    """What is foreseen so far, by ingredient and by delivery."""

    def __init__(self, wishes: Mapping[str, Wish], vendors: Mapping[str, Vendor]) -> None:
        self.wishes, self.vendors = wishes, vendors
        self.lines: Lines = {}
        self.open: dict[str, float] = {}
        for item, wish in wishes.items():
            self.lines[item], self.open[item] = wish.without(frozenset())
        self.known: dict[tuple[str, frozenset[Drop]], tuple[list[Line], float]] = {}
        self.barred: dict[str, frozenset[Drop]] = dict.fromkeys(wishes, frozenset())
        self.value = goods(self.lines)
        self.items: dict[Drop, set[str]] = defaultdict(set)
        for item in self.lines:
            self._enter(item)

    def _enter(self, item: str) -> None:
        for _, chance, _ in self.lines[item]:
            self.items[chance.vendor, chance.day].add(item)

    def drops(self, vendor: str) -> list[int]:
        return sorted(day for (v, day), value in self.value.items() if v == vendor and value > WORTH_IT / 2)

    def lacks(self, drop: Drop) -> float:
        return lacks(self.vendors[drop[0]], self.value.get(drop, 0.0))

    def change(self, items: Sequence[str], barred: frozenset[Drop]) -> _Change | None:
        """The ingredients without some deliveries; None when one of them cannot do without."""
        lines: Lines = {}
        for item in items:
            asked = item, self.barred[item] | barred
            if asked not in self.known:
                self.known[asked] = self.wishes[item].without(asked[1])
            lines[item], left = self.known[asked]
            if left > self.open[item] + ENOUGH:
                return None
        more = self._shift(lines)
        saved = sum(
            self._money(drop[0], self.value.get(drop, 0.0))
            - self._money(drop[0], self.value.get(drop, 0.0) + value)
            for drop, value in more.items()
        )
        return _Change(lines, {i: self.barred[i] | barred for i in items}, saved)

    def _shift(self, lines: Lines) -> dict[Drop, float]:
        more = defaultdict(float, goods(lines))
        for drop, value in goods({i: self.lines[i] for i in lines}).items():
            more[drop] -= value
        return more

    def _money(self, vendor_id: str, value: float) -> float:
        """Goods, fee and what is short of the minimum."""
        if value <= WORTH_IT / 2:
            return 0.0
        vendor = self.vendors[vendor_id]
        is_waived = vendor.fee_waived_over is not None and value >= float(vendor.fee_waived_over)
        return value + (0.0 if is_waived else float(vendor.delivery_fee)) + lacks(vendor, value)

    def make(self, change: _Change) -> None:
        for drop, value in self._shift(change.lines).items():
            self.value[drop] = self.value.get(drop, 0.0) + value
        for item, lines in change.lines.items():
            for _, chance, _ in self.lines[item]:
                self.items[chance.vendor, chance.day].discard(item)
            self.lines[item] = lines
            self._enter(item)
        self.barred.update(change.barred)


def joined(wishes: Mapping[str, Wish], vendors: Mapping[str, Vendor]) -> Lines:
    """Lines foreseen of every ingredient, deliveries below their minimum joined where that pays."""
    table = _Table(wishes, vendors)
    for vendor in sorted({vendor for vendor, _ in table.value}):
        for day in reversed(table.drops(vendor)):
            if table.lacks((vendor, day)) > 0:
                change = _with_earlier(table, vendor, day) or _with_later(table, vendor, day)
                if change is not None:
                    table.make(change)
    return table.lines


def _with_earlier(table: _Table, vendor: str, day: int) -> _Change | None:
    """All goods of a delivery brought by one before it, or by other vendors."""
    items = sorted(table.items[vendor, day])
    earlier = [d for d in table.drops(vendor) if d < day][-NEAREST:]
    for after in [day - 1, *reversed(earlier)]:
        barred = frozenset((vendor, d) for d in range(after + 1, day + 1))
        change = table.change(items, barred)
        if change is None:
            return None
        if change.saved > WORTH_IT:
            return change
    return None


def _with_later(table: _Table, vendor: str, day: int) -> _Change | None:
    """A delivery filled with goods of one of the next, all that keep or as many as it takes."""
    for later in [d for d in table.drops(vendor) if d > day][:NEAREST]:
        barred = frozenset((vendor, d) for d in range(day + 1, later + 1))
        able = [
            item for item in sorted(table.items[vendor, later]) if table.change([item], barred) is not None
        ]
        tried = [table.change(able[:n], barred) for n in range(1, len(able) + 1)]
        best = max((c for c in tried if c is not None), key=lambda c: c.saved, default=None)
        if best is not None and best.saved > WORTH_IT:
            return best
    return None
