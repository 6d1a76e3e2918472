"""What must be bought: what is wanted of an item, and how much of it is worth having with each delivery.

Each item is decided by itself (`net/safety_stock.py`), in any amount and as if the others were enough; then
the packs of the parts of one portion together. Packs and portions come whole: the last pack of fish is worth
having only with one more box of what goes on the plate beside it, and what is less than a portion serves
nobody. So for the next delivery the numbers of packs are tried together: one more or one less of a part, or
of two parts of one dish, as long as the money of all dishes that share them grows on the mean of the paths.
Who loses least when something is scarce goes without first.

Looked at together are parts that go off, come in packs on the same days, and are drawn by plates alone. What
keeps can wait for its companions. `tests/bench/holding.py` holds what comes of it against trying every number
of packs.
"""

from __future__ import annotations

import itertools
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from ordering.amounts import EPS
from ordering.net.lots import Days
from ordering.net.problem import Problem
from ordering.net.recipe_plan import is_listed
from ordering.net.safety_stock import Held, Pieces, Stake, held
from ordering.net.stakes import Worth
from ordering.records.buying import Delivery
from ordering.records.plan import Array, ItemFlow, Requirement

TOGETHER = 32  # goods decided at a time: that many are quick, and take little memory
BOUGHT_AHEAD = 21  # days for which it is decided how much to hold of what is bought; then the mean


@dataclass(frozen=True, slots=True)
class WantedGoods:
    """What is wanted of goods that come and go off on the same days, and what is decided of each.

    need : [item, day, path]; comes : day indices; last : [day], last day index of what comes that day;
    stakes, pieces : [item]
    """

    items: Sequence[str]
    need: Array
    comes: list[int]
    last: Days
    stakes: Sequence[Stake]
    pieces: Sequence[Pieces]
    held: Held

    def with_first(self, n: int, amount: float) -> WantedGoods:
        """One of them alone, where so much of it comes first."""
        need, stakes, pieces = self.need[n : n + 1], self.stakes[n : n + 1], self.pieces[n : n + 1]
        one = held(need, self.comes, self.last, stakes, pieces, first=amount)
        return WantedGoods(self.items[n : n + 1], need, self.comes, self.last, stakes, pieces, one)


def alike(
    problem: Problem, items: Iterable[str], deliveries: Mapping[str, tuple[Delivery, ...]]
) -> Iterator[tuple[list[int], list[str]]]:
    """Bought items that come and go off on the same days, a few at a time, and the days they come."""
    groups: dict[tuple[tuple[int, ...], int | None], list[str]] = defaultdict(list)
    for item in items:
        groups[tuple(comes_on(problem, item, deliveries)), problem.offsets[item]].append(item)
    for (comes, _), mine in groups.items():
        for at in range(0, len(mine), TOGETHER):
            yield list(comes), mine[at : at + TOGETHER]


def wanted_of(
    problem: Problem, items: Sequence[str], need: Array, stakes: Mapping[str, Stake], comes: list[int]
) -> WantedGoods:
    """What is wanted of goods that are alike (see `alike`) and what is held of them.

    need : [item, day, path]; comes : day indices
    """
    keeps = problem.offsets[items[0]]
    last = np.full(problem.n_days, 2 * problem.n_days) if keeps is None else np.arange(problem.n_days) + keeps
    pieces = [Pieces(smallest_pack(problem, item)) for item in items]
    theirs = [stakes[item] for item in items]
    return WantedGoods(items, need, comes, last, theirs, pieces, held(need, comes, last, theirs, pieces))


def is_part_of_portions(problem: Problem, item: str, pieces: Pieces) -> bool:
    """Whether an item goes off, comes in packs and is drawn by plates alone."""
    uses = problem.graph.uses.get(item, ())
    return (
        problem.offsets[item] is not None
        and pieces.size > 0
        and item not in problem.consumables
        and not any(use.is_optional or is_listed(problem, use.recipe) for use in uses)
    )


def requirements_together(
    problem: Problem, value: Worth, wanted: Iterable[WantedGoods], flows: Mapping[str, ItemFlow]
) -> dict[str, Requirement]:
    """By item, what must be bought where the parts of a portion together ask for other packs than alone."""
    found: dict[str, Requirement] = {}
    at = {
        item: (goods, n)
        for goods in wanted
        for n, item in enumerate(goods.items)
        if is_part_of_portions(problem, item, goods.pieces[n])
    }
    for item, packs in _together(problem, value, at).items():
        goods, n = at[item]
        found |= requirements_of(problem, goods.with_first(n, packs * goods.pieces[n].size), flows)
    return found


def _together(
    problem: Problem, value: Worth, wanted: Mapping[str, tuple[WantedGoods, int]]
) -> dict[str, int]:
    """By item, packs of its next delivery where the parts of a portion together ask for another number."""
    parts: dict[tuple[int, int], list[PackedPart]] = defaultdict(list)
    for goods, n in wanted.values():
        part = _packed(goods, n)
        if part is not None:
            parts[part.window].append(part)
    found: dict[str, int] = {}
    eaten_by: dict[str, list[str]] = defaultdict(list)
    for dish, of_dish in value.takes.items():
        for item in of_dish.keys() & wanted.keys():
            eaten_by[item].append(dish)
    for window, mine in parts.items():
        items = {part.item for part in mine}
        dishes = sorted({dish for item in items for dish in eaten_by[item]})
        takes = {d: {i: each for i, each in value.takes[d].items() if i in items} for d in dishes}
        portions = {d: problem.portions_by_day(d)[slice(*window)].sum(axis=0) for d in dishes}
        found |= packs_together(mine, Eaters(portions, value.portions, takes))
    return found


def _packed(goods: WantedGoods, n: int) -> PackedPart | None:
    """A part at the first delivery on which anything of it is wanted; None: there is none."""
    need, size = goods.need[n], goods.pieces[n].size
    for day, following in itertools.pairwise(goods.comes):
        end = int(goods.last[day]) + 1
        until = min(following, end)
        now = need[day:until].sum(axis=0)
        if now.max(initial=0.0) > EPS:
            later = need[until:end].sum(axis=0) if end <= need.shape[0] else np.full(now.shape, np.inf)
            packs = int(np.ceil(goods.held.amounts[n, day] / size - EPS))
            return PackedPart(goods.items[n], (day, until), size, packs, now, later, goods.stakes[n])
    return None


def requirements_of(
    problem: Problem, goods: WantedGoods, flows: Mapping[str, ItemFlow]
) -> dict[str, Requirement]:
    """What must be bought, by item.

    `stock_left` is what is there on the morning of each day, that day's receipts in, nothing bought: what is
    bought is drawn the day it is needed, so evenings are the same without it.
    """
    mean, rest = goods.need.mean(axis=2), goods.held.rest.mean(axis=2)
    daily, given_up = mean.copy(), np.zeros_like(mean)
    for day, following in itertools.pairwise(goods.comes):
        served = slice(day, min(following, int(goods.last[day]) + 1))
        amounts, expected = goods.held.amounts[:, day], mean[:, served].sum(axis=1)
        asked = expected > EPS
        daily[asked, served] *= (amounts[asked] / expected[asked])[:, None]
        # it costs more than it saves, though most paths have the guests
        is_given_up = (amounts == 0) & (goods.held.enough[:, day] < 0.5)
        given_up[is_given_up, served] = rest[is_given_up, served]
    required, expected = daily.cumsum(axis=1), mean.cumsum(axis=1)
    level = goods.held.enough[:, : problem.decided_days + 1].min(axis=1)
    found: dict[str, Requirement] = {}
    for n, item in enumerate(goods.items):
        flow = flows[item]
        found[item] = Requirement(
            item=item,
            required=required[n],
            expected=expected[n],
            stock_left=np.maximum(0.0, flow.projected + flow.gross - flow.planned - flow.short),
            level=float(level[n]),
            why=goods.stakes[n].why(problem.offsets[item]),
            enough=goods.held.enough[n],
            given_up=given_up[n],
            by_path=goods.need[n] if _is_supplied_by_house(problem, item) else None,
        )
    return found


def _is_supplied_by_house(problem: Problem, item: str) -> bool:
    house = problem.house
    sellers = (house.vendors.get(o.vendor) for o in house.ingredients[item].offers)
    return any(seller is not None and bool(seller.house) for seller in sellers)


def comes_on(problem: Problem, item: str, deliveries: Mapping[str, tuple[Delivery, ...]]) -> list[int]:
    """Day indices on which an item can come, to the first after `BOUGHT_AHEAD`.

    Every day where no calendar is known.
    """
    n_days = problem.n_days
    offers = problem.house.ingredients[item].offers
    comes = {c.day for o in offers for c in deliveries.get(o.vendor, ()) if o.holds_on(c.deliver_on)}
    days = sorted(day for day in comes if day < n_days)
    days = days or list(range(min(problem.arrival.get(item, n_days), n_days), n_days))
    near = [day for day in days if day < BOUGHT_AHEAD]
    return [*near, next((day for day in days if day >= BOUGHT_AHEAD), n_days)]


def smallest_pack(problem: Problem, item: str) -> float:
    """The smallest pack of a bought item; 0 where a batch made ahead waits for all of it."""
    users = [problem.house.recipes[use.recipe] for use in problem.graph.uses.get(item, ())]
    if any(user.takes_days or user.is_whole for user in users):
        return 0.0
    return min((o.pack_quantity for o in problem.house.ingredients[item].offers), default=0.0)


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
    while True:  # each change brings more, so there is an end to it
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
