"""Packs of the parts of one portion, chosen together.

Each part is decided by itself (`net/safety_stock.py`), in any amount and as if the others were enough. Packs
and portions come whole: the last pack of fish is worth having only with one more box of what goes on the
plate beside it, and what is less than a portion serves nobody. So for the next delivery the numbers of packs
are tried together: one more or one less of a part, or of two parts of one dish, as long as the money of all
dishes that share them grows on the mean of the paths. Who loses least when something is scarce goes without
first.

Looked at are parts that go off, come in packs on the same days, and are drawn by plates alone. Others are
decided by themselves: what keeps can wait for its companions. `tests/bench/holding.py` holds what comes of it
against trying every number of packs.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from ordering.net.lots import EPS
from ordering.net.safety_stock import Stake
from ordering.records.plan import Array

MOST_STEPS = 40  # packs changed one after the other for one dish; a guard against going round


@dataclass(frozen=True, slots=True)
class PackedPart:
    """One part at its next delivery.

    window : day indices of the delivery and of the next chance; size : what a pack holds; packs : decided for
    the part alone; need : [path], what is wanted of it in the window; later : [path], what is wanted of it
    after that while it is good, infinite where it is good beyond the days looked at
    """

    item: str
    window: tuple[int, int]
    size: float
    packs: int
    need: Array
    later: Array
    stake: Stake


@dataclass(frozen=True, slots=True)
class Eaters:
    """Who eats the parts, by dish.

    portions : [path], in the window; loss : money lost with a portion; takes : by item, units in a portion
    """

    portions: Mapping[str, Array]
    loss: Mapping[str, float]
    takes: Mapping[str, Mapping[str, float]]


def packs_together(parts: Sequence[PackedPart], eaters: Eaters) -> dict[str, int]:
    """By item, packs to have where that is another number than for the part alone.

    parts : of one window
    """
    by_item = {part.item: part for part in parts}
    packs = {part.item: part.packs for part in parts}
    dishes_of = {part.item: [d for d, takes in eaters.takes.items() if part.item in takes] for part in parts}
    at_stake = {d: eaters.loss[d] * float(eaters.portions[d].mean()) for d in eaters.takes}
    for dish in sorted(at_stake, key=lambda d: (-at_stake[d], d)):
        mine = [by_item[i] for i in sorted(eaters.takes[dish]) if i in by_item]
        if not mine:
            continue
        sharing = sorted({d for part in mine for d in dishes_of[part.item]})
        near = {i for d in sharing for i in eaters.takes[d]}
        around = [by_item[i] for i in sorted(near, key=lambda i: (len(dishes_of[i]), i))]
        packs |= _climbed(mine, around, sharing, eaters, packs)
    return {item: n for item, n in packs.items() if n != by_item[item].packs}


def _climbed(
    mine: Sequence[PackedPart],
    around: Sequence[PackedPart],
    dishes: Sequence[str],
    eaters: Eaters,
    packs: Mapping[str, int],
) -> dict[str, int]:
    """Packs of the parts of one dish, changed one or two at a time while that brings more."""
    now = {part.item: packs[part.item] for part in around}
    best = _money(around, dishes, eaters, now)
    changes = list(_changes([part.item for part in mine]))
    for _ in range(MOST_STEPS):
        tried = [now | {i: now[i] + n for i, n in change.items()} for change in changes]
        tried = [one for one in tried if min(one.values()) >= 0]
        money = [_money(around, dishes, eaters, one) for one in tried]
        at = int(np.argmax(money))
        if money[at] <= best + EPS:
            break
        best, now = money[at], tried[at]
    return {part.item: now[part.item] for part in mine}


def _changes(items: Sequence[str]) -> Iterable[dict[str, int]]:
    for item, n in itertools.product(items, (1, -1)):
        yield {item: n}
    for (one, other), n, m in itertools.product(itertools.combinations(items, 2), (1, -1), (1, -1)):
        yield {one: n, other: m}


def _money(
    parts: Sequence[PackedPart], dishes: Sequence[str], eaters: Eaters, packs: Mapping[str, int]
) -> float:
    """Money that so many packs bring, mean over paths, against having all that is wanted for nothing.

    parts : those of fewest dishes first, so that who misses one frees what is shared
    """
    missed = {d: np.zeros_like(parts[0].need) for d in dishes}
    lost = {part.item: np.zeros_like(part.need) for part in parts}  # not wanted: its portion is missed anyway
    for part in parts:
        short = part.need - packs[part.item] * part.size - lost[part.item]
        for dish in sorted(
            (d for d in dishes if part.item in eaters.takes[d]),
            key=lambda d: (eaters.loss[d] / eaters.takes[d][part.item], d),
        ):
            each = eaters.takes[dish][part.item]
            more = np.ceil(np.maximum(short, 0.0) / each - EPS)  # a portion is served whole
            more = np.minimum(more, eaters.portions[dish] - missed[dish])
            missed[dish] += more
            short = short - more * each
            for other, units in eaters.takes[dish].items():
                if other in lost:
                    lost[other] += more * units
    money = -sum(eaters.loss[d] * float(missed[d].mean()) for d in dishes)
    for part in parts:
        have = packs[part.item] * part.size
        left = have - np.clip(part.need - lost[part.item], 0.0, have)
        thrown = np.maximum(left - part.later, 0.0)
        days = part.window[1] - part.window[0]
        money -= float((part.stake.cost * thrown + part.stake.a_day * days * (left - thrown)).mean())
    return money
