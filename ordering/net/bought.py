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
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from ordering.amounts import EPS
from ordering.net.problem import Problem
from ordering.net.recipe_plan import is_listed
from ordering.net.safety_stock import Held, Pieces, Stake, Worth, held
from ordering.net.shelf_life import Days
from ordering.records.buying import Delivery
from ordering.records.plan import Array, ItemFlow, Requirement

TOGETHER = 32  # goods decided at a time, for speed and memory alone: the answer is that of each by itself
BOUGHT_AHEAD = 21  # days for which it is decided how much to hold of what is bought; then the mean


@dataclass(frozen=True, slots=True)
class AlikeGoods:
    """Bought items that come on the same days, and what is decided of each.

    need : [item, day, path], what is wanted of it; comes : day indices; last : [item, day], last day index of
    what comes that day: all are good until the next comes, or all equally long; stakes, pieces : [item]
    """

    items: Sequence[str]
    need: Array
    comes: Sequence[int]
    last: Days
    stakes: Sequence[Stake]
    pieces: Sequence[Pieces]
    held: Held

    def with_first(self, n: int, amount: float) -> AlikeGoods:
        """One of them alone, where so much of it comes first."""
        need, stakes, pieces = self.need[n : n + 1], self.stakes[n : n + 1], self.pieces[n : n + 1]
        last = self.last[n : n + 1]
        one = held(need, self.comes, last, stakes, pieces, first=amount)
        return AlikeGoods(self.items[n : n + 1], need, self.comes, last, stakes, pieces, one)


def requirements(
    problem: Problem,
    value: Worth,
    deliveries: Mapping[str, tuple[Delivery, ...]],
    items: Sequence[str],
    need_of: Callable[[str], Array],
    flows: Mapping[str, ItemFlow],
) -> dict[str, Requirement]:
    """What must be bought, by item.

    items : bought; need_of : what is wanted of one and is not there, [day, path]; flows : by item, known once
    its need has been asked for
    """
    found: dict[str, Requirement] = {}
    parts: dict[tuple[int, int], list[PackedPart]] = defaultdict(list)
    for goods in _alike(problem, value, deliveries, items, need_of):
        found |= _requirements(problem, goods, flows)
        for n, item in enumerate(goods.items):
            if _is_part_of_portions(problem, item, goods.pieces[n]) and (part := _part(goods, n)) is not None:
                parts[part.window].append(part)
    for mine in parts.values():
        packs = _packs_together(problem, value, mine)
        for part in mine:
            if packs[part.item] != part.packs:
                goods = part.goods.with_first(part.n, packs[part.item] * part.size)
                found |= _requirements(problem, goods, flows)
    return {item: found[item] for item in items}


def _alike(
    problem: Problem,
    value: Worth,
    deliveries: Mapping[str, tuple[Delivery, ...]],
    items: Sequence[str],
    need_of: Callable[[str], Array],
) -> Iterator[AlikeGoods]:
    """Bought items by the days they come and go off, a few at a time, and what is held of each.

    need_of : [day, path], as in `requirements`
    """
    far = 2 * problem.n_days
    groups: dict[tuple[tuple[int, ...], int], list[tuple[int, str]]] = defaultdict(list)
    for item in items:
        comes, offset = tuple(comes_on(problem, item, deliveries)), problem.offsets[item]
        keeps = far if offset is None else offset
        longest = max((after - day for day, after in itertools.pairwise(comes)), default=0)
        groups[comes, min(keeps, longest)].append((keeps, item))
    for (comes, _), alike in groups.items():
        alike.sort(key=lambda one: one[0])
        for at in range(0, len(alike), TOGETHER):
            kept, few = zip(*alike[at : at + TOGETHER], strict=True)
            last = np.arange(problem.n_days) + np.array(kept)[:, None]
            need = np.stack([need_of(item) for item in few])
            stakes = [value.stakes[item] for item in few]
            pieces = [Pieces(smallest_pack(problem, item)) for item in few]
            amounts = held(need, comes, last, stakes, pieces)
            yield AlikeGoods(few, need, comes, last, stakes, pieces, amounts)


def _requirements(
    problem: Problem, goods: AlikeGoods, flows: Mapping[str, ItemFlow]
) -> dict[str, Requirement]:
    """What must be bought of goods that are alike, by item.

    `stock_left` is what is there on the morning of each day, that day's receipts in, nothing bought: what is
    bought is drawn the day it is needed, so evenings are the same without it.
    """
    mean, rest = goods.need.mean(axis=2), goods.held.rest.mean(axis=2)
    daily, given_up = mean.copy(), np.zeros_like(mean)
    for day, following in itertools.pairwise(goods.comes):
        served = slice(day, min(following, int(goods.last[:, day].min()) + 1))
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
    """Day indices on which an item can come: all ordered now, `BOUGHT_AHEAD` at the least, and the next one.

    Every day where no calendar is known.
    """
    n_days = problem.n_days
    offers = problem.house.ingredients[item].offers
    comes = [c for o in offers for c in deliveries.get(o.vendor, ()) if o.holds_on(c.deliver_on)]
    days = sorted({c.day for c in comes if c.day < n_days})
    days = days or list(range(min(problem.arrival.get(item, n_days), n_days), n_days))
    far = max([BOUGHT_AHEAD, *(c.day + 1 for c in comes if c.is_now)])
    return [*(day for day in days if day < far), next((day for day in days if day >= far), n_days)]


def smallest_pack(problem: Problem, item: str) -> float:
    """The smallest pack of a bought item; 0 where a batch made ahead waits for all of it."""
    users = [problem.house.recipes[use.recipe] for use in problem.graph.uses.get(item, ())]
    if any(user.takes_days or user.is_whole for user in users):
        return 0.0
    return min((o.pack_quantity for o in problem.house.ingredients[item].offers), default=0.0)


def _is_part_of_portions(problem: Problem, item: str, pieces: Pieces) -> bool:
    """Whether an item goes off, comes in packs and is drawn by plates alone."""
    uses = problem.graph.uses.get(item, ())
    return (
        problem.offsets[item] is not None
        and pieces.size > 0
        and item not in problem.consumables
        and not any(use.is_optional or is_listed(problem, use.recipe) for use in uses)
    )


@dataclass(frozen=True, slots=True)
class PackedPart:
    """One part of portions at the first delivery on which anything of it is wanted.

    window : day indices of the delivery and of the next chance; size : what a pack holds; packs : decided for
    the part alone; need : [path], what is wanted of it in the window; later : [path], what is wanted of it
    after that while it is good, infinite where it is good beyond the days looked at; goods, n : where it is
    """

    item: str
    window: tuple[int, int]
    size: float
    packs: int
    need: Array
    later: Array
    stake: Stake
    goods: AlikeGoods
    n: int


@dataclass(frozen=True, slots=True)
class Eater:
    """A dish that takes some of the parts.

    portions : [path], in the window; loss : money lost with a portion; takes : by item, units in a portion
    """

    dish: str
    portions: Array
    loss: float
    takes: Mapping[str, float]


def _part(goods: AlikeGoods, n: int) -> PackedPart | None:
    """One of the goods as a part; None: nothing is wanted of it on the days decided."""
    need, size = goods.need[n], goods.pieces[n].size
    for day, following in itertools.pairwise(goods.comes):
        end = int(goods.last[n, day]) + 1
        until = min(following, end)
        now = need[day:until].sum(axis=0)
        if now.max(initial=0.0) > EPS:
            later = need[until:end].sum(axis=0) if end <= need.shape[0] else np.full(now.shape, np.inf)
            packs = int(np.ceil(goods.held.amounts[n, day] / size - EPS))
            return PackedPart(
                goods.items[n], (day, until), size, packs, now, later, goods.stakes[n], goods, n
            )
    return None


def _packs_together(problem: Problem, value: Worth, parts: Sequence[PackedPart]) -> dict[str, int]:
    """By item, packs to have of parts of one window: the dishes with most at stake first."""
    by_item, window = {part.item: part for part in parts}, slice(*parts[0].window)
    eaten_by = {item: sorted(value.takes[item]) for item in by_item}
    takes: dict[str, dict[str, float]] = defaultdict(dict)
    for item in sorted(by_item):
        for dish in eaten_by[item]:
            takes[dish][item] = value.takes[item][dish]
    eaters = {
        dish: Eater(dish, problem.portions_by_day(dish)[window].sum(axis=0), value.portions[dish], mine)
        for dish, mine in takes.items()
    }
    packs = {part.item: part.packs for part in parts}
    for one in sorted(eaters.values(), key=lambda e: (-e.loss * float(e.portions.mean()), e.dish)):
        sharing = [eaters[d] for d in sorted({d for item in one.takes for d in eaten_by[item]})]
        near = {item for other in sharing for item in other.takes}
        around = [by_item[i] for i in sorted(near, key=lambda i: (len(eaten_by[i]), i))]
        packs |= _climbed(list(one.takes), around, sharing, packs)
    return packs


def _climbed(
    items: Sequence[str], around: Sequence[PackedPart], eaters: Sequence[Eater], packs: Mapping[str, int]
) -> dict[str, int]:
    """Packs where those of some items are changed, one or two at a time, while that brings more."""
    now = {part.item: packs[part.item] for part in around}
    best = _money(around, eaters, now)
    changes = [{item: n} for item, n in itertools.product(items, (1, -1))]
    for (one, other), n, m in itertools.product(itertools.combinations(items, 2), (1, -1), (1, -1)):
        changes.append({one: n, other: m})
    while True:  # each change brings more, so there is an end to it
        tried = [now | {i: now[i] + n for i, n in change.items()} for change in changes]
        tried = [one for one in tried if min(one.values()) >= 0]
        money = [_money(around, eaters, one) for one in tried]
        at = int(np.argmax(money))
        if money[at] <= best + EPS:
            return now
        best, now = money[at], tried[at]


def _money(parts: Sequence[PackedPart], eaters: Sequence[Eater], packs: Mapping[str, int]) -> float:
    """Money that so many packs bring, mean over paths, against having all that is wanted for nothing.

    parts : those of fewest dishes first, so that who misses one frees what is shared
    """
    missed = {one.dish: np.zeros_like(one.portions) for one in eaters}
    lost = {part.item: np.zeros_like(part.need) for part in parts}  # not wanted: its portion is missed anyway
    for part in parts:
        short = part.need - packs[part.item] * part.size - lost[part.item]
        taking = [(one.loss / one.takes[part.item], one) for one in eaters if part.item in one.takes]
        for _, one in sorted(taking, key=lambda found: (found[0], found[1].dish)):
            each = one.takes[part.item]
            more = np.ceil(np.maximum(short, 0.0) / each - EPS)  # a portion is served whole
            more = np.minimum(more, one.portions - missed[one.dish])
            missed[one.dish] += more
            short = short - more * each
            for other, units in one.takes.items():
                lost[other] += more * units
    money = -sum(one.loss * float(missed[one.dish].mean()) for one in eaters)
    for part in parts:
        have = packs[part.item] * part.size
        left = have - np.clip(part.need - lost[part.item], 0.0, have)
        thrown = np.maximum(left - part.later, 0.0)
        days = part.window[1] - part.window[0]
        money -= float((part.stake.cost * thrown + part.stake.a_day * days * (left - thrown)).mean())
    return money
