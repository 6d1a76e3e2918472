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
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from ordering.net.lots import EPS, Days
from ordering.net.problem import Problem
from ordering.net.recipe_plan import is_listed
from ordering.net.safety_stock import Held, Pieces, Stake, held
from ordering.net.stakes import Worth
from ordering.records.buying import Delivery
from ordering.records.plan import Array, ItemFlow, Requirement

BOUGHT_AHEAD = 21  # days for which it is decided how much to hold of what is bought; then the mean
MOST_CHANGES = 40  # packs changed one after the other for one dish; a guard against going round


@dataclass(frozen=True, slots=True)
class WantedItem:
    """What is wanted of a bought item, `need`, [day, path], and what is decided of it."""

    item: str
    need: Array
    comes: list[int]
    last: Days
    stake: Stake
    pieces: Pieces
    held: Held

    def with_first(self, amount: float) -> WantedItem:
        """The same where so much of it comes first."""
        one = held(self.need, self.comes, self.last, self.stake, self.pieces, first=amount)
        return replace(self, held=one)


def wanted_of(
    problem: Problem, item: str, net: Array, stake: Stake, deliveries: Mapping[str, tuple[Delivery, ...]]
) -> WantedItem:
    """What is wanted of a bought item and what is held of it; net : [day, path]."""
    keeps = problem.offsets[item]
    last = np.full(problem.n_days, 2 * problem.n_days) if keeps is None else np.arange(problem.n_days) + keeps
    comes = comes_on(problem, item, deliveries)
    pieces = Pieces(smallest_pack(problem, item))
    return WantedItem(item, net, comes, last, stake, pieces, held(net, comes, last, stake, pieces))


def is_part_of_portions(problem: Problem, item: str, one: WantedItem) -> bool:
    """Whether an item goes off, comes in packs and is drawn by plates alone."""
    uses = problem.graph.uses.get(item, ())
    return (
        problem.offsets[item] is not None
        and one.pieces.size > 0
        and item not in problem.consumables
        and not any(use.is_optional or is_listed(problem, use.recipe) for use in uses)
    )


def requirements_together(
    problem: Problem, value: Worth, wanted: Mapping[str, WantedItem], flows: Mapping[str, ItemFlow]
) -> dict[str, Requirement]:
    """By item, what must be bought where the parts of a portion together ask for other packs than alone."""
    found: dict[str, Requirement] = {}
    for item, packs in _together(problem, value, wanted).items():
        one = wanted[item].with_first(packs * wanted[item].pieces.size)
        found[item] = requirement_of(problem, one, flows[item])
    return found


def _together(problem: Problem, value: Worth, wanted: Mapping[str, WantedItem]) -> dict[str, int]:
    """By item, packs of its next delivery where the parts of a portion together ask for another number."""
    parts: dict[tuple[int, int], list[PackedPart]] = defaultdict(list)
    for one in wanted.values():
        part = _packed(one)
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


def _packed(one: WantedItem) -> PackedPart | None:
    """A part at the first delivery on which anything of it is wanted; None: there is none."""
    n_days = one.need.shape[0]
    for day, following in itertools.pairwise(one.comes):
        end = int(one.last[day]) + 1
        until = min(following, end)
        now = one.need[day:until].sum(axis=0)
        if now.max(initial=0.0) > EPS:
            later = one.need[until:end].sum(axis=0) if end <= n_days else np.full(now.shape, np.inf)
            packs = int(np.ceil(one.held.amounts[day] / one.pieces.size - EPS))
            return PackedPart(one.item, (day, until), one.pieces.size, packs, now, later, one.stake)
    return None


def requirement_of(problem: Problem, wanted: WantedItem, flow: ItemFlow) -> Requirement:
    """What must be bought.

    `stock_left` is what is there on the morning of each day, that day's receipts in, nothing bought: what is
    bought is drawn the day it is needed, so evenings are the same without it.
    """
    item, keeps = wanted.item, problem.offsets[wanted.item]
    return Requirement(
        item=item,
        required=np.cumsum(_by_day(wanted)),
        expected=np.cumsum(wanted.need.mean(axis=1)),
        stock_left=np.maximum(0.0, flow.projected + flow.gross - flow.planned - flow.short),
        level=float(wanted.held.enough[: problem.decided_days + 1].min()),
        why=wanted.stake.why(keeps),
        enough=wanted.held.enough,
        given_up=_given_up(wanted),
        by_path=wanted.need if _is_supplied_by_house(problem, item) else None,
    )


def _is_supplied_by_house(problem: Problem, item: str) -> bool:
    house = problem.house
    sellers = (house.vendors.get(o.vendor) for o in house.ingredients[item].offers)
    return any(seller is not None and bool(seller.house) for seller in sellers)


def _by_day(wanted: WantedItem) -> Array:
    """What is decided for each chance, [day] on which it is needed; the mean where none is decided for."""
    mean = wanted.need.mean(axis=1)
    daily: Array = mean.copy()
    for day, following in itertools.pairwise(wanted.comes):
        served = slice(day, min(following, int(wanted.last[day]) + 1))
        expected = float(mean[served].sum())
        if expected > EPS:
            daily[served] = mean[served] * (wanted.held.amounts[day] / expected)
    return daily


def _given_up(wanted: WantedItem) -> Array:
    """Mean need, [day], that nothing is had for though most paths have it: it costs more than it saves."""
    rest = wanted.held.rest.mean(axis=1)
    given_up: Array = np.zeros_like(rest)
    for day, following in itertools.pairwise(wanted.comes):
        if wanted.held.amounts[day] == 0 and wanted.held.enough[day] < 0.5:
            served = slice(day, min(following, int(wanted.last[day]) + 1))
            given_up[served] = rest[served]
    return given_up


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
    for _ in range(MOST_CHANGES):
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
