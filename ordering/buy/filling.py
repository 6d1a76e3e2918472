"""Orders a little below a vendor's minimum, filled: the vendor would not come for less."""

from __future__ import annotations

from collections.abc import Iterator

from ordering.buy.choices import Drop, Problem
from ordering.buy.curve import NOTHING
from ordering.buy.fallback import Packs
from ordering.buy.money import packs_needed
from ordering.records.money import price_at

MOST = 0.2
"""Part of a minimum bought beyond the need to reach it; where more lacks, the purchaser must talk to the
vendor (common practice, no source)."""
LONG_DAYS = 30
"""What keeps as long is as good as any other to fill an order with (common practice, no source)."""


def filled(problem: Problem, packs: Packs) -> Packs:
    """The packs of each choice, [choice], with those that bring a delivery up to its vendor's minimum.

    One kind of goods fills an order: what keeps longest, then what costs least.
    """
    packs = packs.copy()
    for drop, seller in zip(problem.drops, problem.sellers, strict=True):
        best = min(_fillings(problem, packs, drop, float(seller.minimum)), default=None)
        if best is not None:
            packs[best[-1]] += best[-2]
    return packs


def _fillings(
    problem: Problem, packs: Packs, drop: Drop, minimum: float
) -> Iterator[tuple[int, float, str, int, int]]:
    """Ways to fill an order, best first by their order: (keeps, money, code, packs, choice)."""
    inside = [i for i, c in enumerate(problem.choices) if c.chance.is_now and c.drop == drop]
    value = sum(float(packs[i]) * problem.choices[i].each for i in inside)
    if not NOTHING < value < minimum - NOTHING:
        return
    for i in inside:
        choice = problem.choices[i]
        more = packs_needed(minimum - value, choice.each) if choice.each > 0 else 0
        price = price_at(choice.offer, float(packs[i] + more))
        is_same_price = price is not None and abs(float(price) - choice.each) < NOTHING
        if more and is_same_price and more * choice.each <= MOST * minimum:
            keeps = problem.covers[choice.cover].keeps_days
            lasts = LONG_DAYS if keeps is None else min(keeps, LONG_DAYS)
            yield -lasts, more * choice.each, choice.offer.code, more, i
