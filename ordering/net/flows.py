"""Expected flows of every item, lots that will likely be left over, and what must be bought."""

from __future__ import annotations

import itertools
from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import timedelta

import numpy as np

from ordering.net.joint_packs import Eaters, PackedPart, packs_together
from ordering.net.lots import EPS, Days, Lots, Parcel, draw, left_over, received
from ordering.net.problem import Problem, by_ready, draws_begun, gross_of, parcels_of
from ordering.net.recipe_plan import is_listed, without_early
from ordering.net.safety_stock import Held, Pieces, Stake, held
from ordering.net.stakes import Worth
from ordering.net.sweep import Sweep, too_soon
from ordering.records.buying import Delivery
from ordering.records.plan import Array, Expiring, ItemFlow, Requirement


def expiring(problem: Problem, lots: Mapping[str, Lots], value: Worth) -> tuple[Expiring, ...]:
    """Lots that will likely be left, by item, as records: the dearest waste first, unknown cost last."""
    first = problem.forecast.days[0]
    found = []
    for item, mine in lots.items():
        for (kind, there, last), (quantity, left) in mine.items():
            unused = float(left.mean())
            each = None if item in value.unpriced else value.cost.get(item)
            found.append(
                Expiring(
                    item=item,
                    use_by=first + timedelta(days=last),
                    quantity=quantity,
                    unused=unused,
                    there_on=None if kind == "opening" else first + timedelta(days=there),
                    is_ordered=kind == "scheduled",
                    cost=None if each is None else each * unused,
                )
            )
    return tuple(sorted(found, key=_rank))


def _rank(lot: Expiring) -> tuple[float, str, str, str]:
    cost = 0.0 if lot.cost is None else round(lot.cost, 6)
    return -cost, lot.use_by.isoformat(), lot.item, str(lot.there_on)


BOUGHT_AHEAD = 21  # days for which it is decided how much to hold of what is bought; then the mean


@dataclass(frozen=True, slots=True)
class Flows:
    """What netting came to, by item.

    flows, left : the expected path, and lots that will likely be past their date before they are used up
    requirements : by bought item
    """

    flows: dict[str, ItemFlow]
    left: dict[str, Lots]
    requirements: dict[str, Requirement]


def flows_of(
    problem: Problem, found: Sweep, value: Worth, chances: Mapping[str, tuple[Delivery, ...]]
) -> Flows:
    """What a sweep comes to, item by item."""
    all_of = Flows({}, {}, {})
    wanted: dict[str, Wanted] = {}
    starts = found.starts
    means = {item: started.mean(axis=1) for item, started in starts.items()}
    for item in problem.graph.items:
        parcels = parcels_of(problem, starts, item, found.oldest.get(item))
        one = found.made.get(item)
        if one is not None:
            recipe = problem.house.recipes[item]
            made = by_ready(without_early(problem, item, one.starts), recipe.takes_days) * recipe.makes
            gone, left = (one.short, one.expired, one.thrown), one.left
        else:
            drawn = draw(parcels, gross_of(problem, starts, item))
            shortage = too_soon(problem, item, drawn)
            made = drawn.unmet - shortage
            shortage[shortage < EPS] = 0.0
            gone = shortage.mean(axis=1), drawn.expired, np.zeros(problem.n_days)
            left = left_over(drawn.taken, problem.n_days)
        flow = _flow(problem, (item, parcels), made, gone, _by_parent(problem, means, item))
        all_of.flows[item], all_of.left[item] = flow, left
        if item not in found.made:
            bought = _wanted(problem, item, made, value.stakes[item], chances)
            all_of.requirements[item] = _requirement(problem, bought, flow)
            if _is_part_of_portions(problem, item, bought):
                wanted[item] = bought
    for item, packs in _together(problem, value, wanted).items():
        bought = wanted[item].with_first(packs * wanted[item].pieces.size)
        all_of.requirements[item] = _requirement(problem, bought, all_of.flows[item])
    return all_of


def lots_left(problem: Problem, found: Sweep) -> dict[str, Lots]:
    """By item, what a sweep leaves of its lots. Of what is bought the days until the last lot tell it."""
    left, starts = {}, found.starts
    for item in problem.graph.items:
        lasts = [p.last for p in problem.parcels.get(item, ()) if p.last + 1 < problem.n_days]
        if item in found.made:
            left[item] = found.made[item].left
        elif lasts:
            gross = gross_of(problem, starts, item, max(lasts) + 1)
            parcels = parcels_of(problem, starts, item, found.oldest.get(item))
            left[item] = left_over(draw(parcels, gross).taken, problem.n_days)
    return left


def _by_parent(problem: Problem, means: Mapping[str, Array], item: str) -> dict[str, Array]:
    """Mean draw of each parent by day; only parents that draw anything. means : by recipe, [day]."""
    n_days = problem.n_days
    parents: dict[str, Array] = {}
    for dish in problem.graph.dishes.get(item, ()):
        drawn = problem.portions_by_day(dish).mean(axis=1) * problem.house.dishes[dish].portion
        parents[f"dish:{dish}"] = drawn
    for use in problem.graph.uses.get(item, ()):
        drawn = draws_begun(problem, use)
        if use.recipe in means:
            drawn[use.at_days :] += means[use.recipe][: max(0, n_days - use.at_days)] * use.quantity
        parents[use.recipe] = parents.get(use.recipe, 0.0) + drawn
    if item in problem.consumables:
        parents["*consumables"] = problem.consumables[item].mean(axis=1)
    return {p: a for p, a in parents.items() if a.any()}


def _flow(
    problem: Problem,
    there: tuple[str, list[Parcel]],
    made: Array,
    gone: tuple[Array, Array, Array],
    parents: dict[str, Array],
) -> ItemFlow:
    """The expected path of one item.

    made : what is made or bought, [day, path]
    gone : what is missing, what goes past its date, and what of that was planned, [day], means
    """
    (item, parcels), (short, expired, thrown) = there, gone
    n_days = problem.n_days
    gross = sum(parents.values(), np.zeros(n_days))
    came = {kind: received(parcels, n_days, kind) for kind in ("scheduled", "in-process", "by-product")}
    opening = float(sum(p.mean for p in parcels if p.kind == "opening"))
    planned = made.mean(axis=1) + received(parcels, n_days, "early")
    projected = opening + np.cumsum(sum(came.values(), planned - expired - gross + short))
    projected[np.abs(projected) < EPS] = 0.0
    return ItemFlow(
        item=item,
        opening=opening,
        gross=gross,
        by_parent=parents,
        scheduled=came["scheduled"],
        in_process=came["in-process"],
        by_product=came["by-product"],
        planned=planned,
        expired=expired,
        projected=projected,
        short=short,
        thrown=thrown,
    )


@dataclass(frozen=True, slots=True)
class Wanted:
    """What is wanted of a bought item, `need`, [day, path], and what is decided of it: see `held`."""

    item: str
    need: Array
    comes: list[int]
    last: Days
    stake: Stake
    pieces: Pieces
    held: Held

    def with_first(self, amount: float) -> Wanted:
        """The same where so much of it comes first."""
        found = held(self.need, self.comes, self.last, self.stake, self.pieces, first=amount)
        return replace(self, held=found)


def _wanted(
    problem: Problem, item: str, net: Array, stake: Stake, chances: Mapping[str, tuple[Delivery, ...]]
) -> Wanted:
    """What is wanted of a bought item and what is held of it; net : [day, path]."""
    keeps = problem.offsets[item]
    last = np.full(problem.n_days, 2 * problem.n_days) if keeps is None else np.arange(problem.n_days) + keeps
    comes = comes_on(problem, item, chances)
    pieces = Pieces(smallest_pack(problem, item))
    return Wanted(item, net, comes, last, stake, pieces, held(net, comes, last, stake, pieces))


def _is_part_of_portions(problem: Problem, item: str, one: Wanted) -> bool:
    """Whether an item goes off, comes in packs and is drawn by plates alone."""
    uses = problem.graph.uses.get(item, ())
    return (
        problem.offsets[item] is not None
        and one.pieces.size > 0
        and item not in problem.consumables
        and not any(use.is_optional or is_listed(problem, use.recipe) for use in uses)
    )


def _together(problem: Problem, value: Worth, wanted: Mapping[str, Wanted]) -> dict[str, int]:
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


def _packed(one: Wanted) -> PackedPart | None:
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


def _requirement(problem: Problem, wanted: Wanted, flow: ItemFlow) -> Requirement:
    """What must be bought.

    `stock_left` is what is there on the morning of each day, that day's receipts in, nothing bought: what is
    bought is drawn the day it is needed, so evenings are the same without it.
    """
    item, one, keeps = wanted.item, wanted.held, problem.offsets[wanted.item]
    return Requirement(
        item=item,
        required=np.cumsum(_by_day(wanted.need, one, wanted.comes, wanted.last)),
        expected=np.cumsum(wanted.need.mean(axis=1)),
        stock_left=np.maximum(0.0, flow.projected + flow.gross - flow.planned - flow.short),
        level=float(one.enough[: problem.decided_days + 1].min()),
        why=wanted.stake.why(keeps),
        enough=one.enough,
        by_path=wanted.need if _is_supplied_by_house(problem, item) else None,
    )


def _is_supplied_by_house(problem: Problem, item: str) -> bool:
    house = problem.house
    sellers = (house.vendors.get(o.vendor) for o in house.ingredients[item].offers)
    return any(seller is not None and bool(seller.house) for seller in sellers)


def _by_day(net: Array, one: Held, comes: list[int], last: Days) -> Array:
    """What is decided for each chance, by the day it is needed; the mean where none is decided for.

    net : [day, path]; returns [day].
    """
    mean = net.mean(axis=1)
    daily: Array = mean.copy()
    for day, following in itertools.pairwise(comes):
        served = slice(day, min(following, int(last[day]) + 1))
        expected = float(mean[served].sum())
        if expected > EPS:
            daily[served] = mean[served] * (one.amounts[day] / expected)
    return daily


def comes_on(problem: Problem, item: str, chances: Mapping[str, tuple[Delivery, ...]]) -> list[int]:
    """Day indices on which an item can come, to the first after `BOUGHT_AHEAD`.

    Every day where no calendar is known.
    """
    n_days = problem.n_days
    offers = problem.house.ingredients[item].offers
    comes = {c.day for o in offers for c in chances.get(o.vendor, ()) if o.holds_on(c.deliver_on)}
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
