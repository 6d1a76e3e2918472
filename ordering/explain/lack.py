"""A lack as remedies are sought for it: one item, one cause, days that follow one another."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from ordering.explain.hit import Hole, Portions
from ordering.records.buying import Delivery
from ordering.records.house import House


@dataclass(frozen=True, slots=True)
class Known:
    """How far the stock of an item is known: ever counted; and counts and books explain what went out."""

    is_counted: bool = True
    is_explained: bool = True


@dataclass(frozen=True, slots=True)
class Run:
    """Holes of one item with one cause on days that follow one another.

    `expected` : mean portions by (dish, date, service); `hit` : every dish that lacks anything;
    `content` : quantity of the item in one portion, by dish; `today` : the day of the run;
    `known` : how far its stock is known; of what was never counted the sum takes it that there is none
    """

    house: House
    holes: tuple[Hole, ...]
    expected: Portions
    hit: frozenset[str]
    chances: Mapping[str, Sequence[Delivery]]
    content: Mapping[str, float]
    today: date
    known: Known = Known()

    @property
    def item(self) -> str:
        return self.holes[0].item

    @property
    def cause(self) -> str:
        return self.holes[0].causes[0]

    @property
    def first(self) -> date:
        return self.holes[0].on

    @property
    def short(self) -> float:
        return sum(hole.short for hole in self.holes)

    @property
    def portions(self) -> dict[tuple[str, date, str], float]:
        total: dict[tuple[str, date, str], float] = {}
        for hole in self.holes:
            for key, number in hole.portions.items():
                total[key] = total.get(key, 0.0) + number
        return total


def next_arrival(run: Run, item: str) -> Delivery | None:
    """The first delivery of an item that can still be ordered; None: none, or it is made here."""
    offers = run.house.ingredients[item].offers if item in run.house.ingredients else ()
    coming = [
        chance
        for offer in offers
        for chance in run.chances.get(offer.vendor, ())
        if offer.holds_on(chance.deliver_on)
    ]
    return min(coming, key=lambda chance: (chance.deliver_on, chance.vendor), default=None)
