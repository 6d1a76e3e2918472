"""What must be bought: what is wanted of an item, and how much of it is worth having with each delivery.

Each item is decided by itself (`net/safety_stock.py`); then the packs of the parts of one portion together
(`net/joint_packs.py`).
"""

from __future__ import annotations

import itertools
from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from ordering.net.joint_packs import Eaters, PackedPart, packs_together
from ordering.net.lots import EPS, Days
from ordering.net.problem import Problem
from ordering.net.recipe_plan import is_listed
from ordering.net.safety_stock import Held, Pieces, Stake, held
from ordering.net.stakes import Worth
from ordering.records.buying import Delivery
from ordering.records.plan import Array, ItemFlow, Requirement

BOUGHT_AHEAD = 21  # days for which it is decided how much to hold of what is bought; then the mean


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
