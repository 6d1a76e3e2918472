"""Expected flows of every item, before and after it is bought, and lots that will likely be left over."""

from __future__ import annotations

import functools
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

import numpy as np

from ordering.amounts import EPS
from ordering.net.bought import (
    WantedGoods,
    alike,
    is_part_of_portions,
    requirements_of,
    requirements_together,
    wanted_of,
)
from ordering.net.lots import Lots, Parcel, draw, left_over, received
from ordering.net.problem import Problem, draws_begun, gross_of, parcels_of
from ordering.net.recipe_plan import made_later
from ordering.net.shelf_life import drawn_off, is_usable, use_by
from ordering.net.stakes import Worth
from ordering.net.sweep import Sweep, too_soon
from ordering.records.books import Lot
from ordering.records.buying import Buying, Delivery, OrderLine
from ordering.records.house import House
from ordering.records.plan import Array, Expiring, ItemFlow, Netting, Requirement


def expiring(problem: Problem, lots: Mapping[str, Lots], value: Worth) -> tuple[Expiring, ...]:
    """Lots that will likely be left, by item, as records: the most costly waste first, unknown cost last."""
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
    problem: Problem, found: Sweep, value: Worth, deliveries: Mapping[str, tuple[Delivery, ...]]
) -> Flows:
    """What a sweep comes to, item by item; goods that come on the same days together."""
    flows: dict[str, ItemFlow] = {}
    left: dict[str, Lots] = {}
    requirements: dict[str, Requirement] = {}
    wanted: list[WantedGoods] = []
    means = {item: started.mean(axis=1) for item, started in found.starts.items()}
    for item, one in found.made.items():
        made = made_later(problem, item, one.starts)
        parcels = parcels_of(problem, found.starts, item, found.oldest.get(item))
        gone, left[item] = (one.short, one.expired, one.thrown), one.left
        flows[item] = _flow(problem, item, parcels, made.mean(axis=1), gone, means)
    bought = [item for item in problem.graph.items if item not in found.made]
    for comes, items in alike(problem, bought, deliveries):
        need = np.empty((len(items), problem.n_days, problem.n_paths))
        for n, item in enumerate(items):
            need[n], flows[item], left[item] = _bought(problem, found, item, means)
        goods = wanted_of(problem, items, need, value.stakes, comes)
        requirements |= requirements_of(problem, goods, flows)
        if any(
            is_part_of_portions(problem, item, one) for item, one in zip(items, goods.pieces, strict=True)
        ):
            wanted.append(goods)
    requirements |= requirements_together(problem, value, wanted, flows)
    return Flows(
        {item: flows[item] for item in problem.graph.items},
        {item: left[item] for item in problem.graph.items},
        {item: requirements[item] for item in bought},
    )


@functools.cache
def _nothing(n_days: int) -> Array:
    """One row, [day], for whatever does not come or go, so that a large house has not a million of them."""
    nothing = np.zeros(n_days)
    nothing.flags.writeable = False
    return nothing


def _bought(
    problem: Problem, found: Sweep, item: str, means: Mapping[str, Array]
) -> tuple[Array, ItemFlow, Lots]:
    """What must be bought of an item, [day, path], its expected path, and lots left over."""
    parcels = parcels_of(problem, found.starts, item, found.oldest.get(item))
    drawn = draw(parcels, gross_of(problem, found.starts, item))
    shortage, nothing = too_soon(problem, item, drawn), _nothing(problem.n_days)
    need = drawn.unmet - shortage
    shortage[shortage < EPS] = 0.0
    short = shortage.mean(axis=1) if shortage.any() else nothing
    flow = _flow(problem, item, parcels, need.mean(axis=1), (short, drawn.expired, nothing), means)
    return need, flow, left_over(drawn.taken, problem.n_days)


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
        eaten = problem.to_days @ problem.portions(dish).mean(axis=1)
        parents[f"dish:{dish}"] = eaten * problem.house.dishes[dish].portion
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
    item: str,
    parcels: Iterable[Parcel],
    made: Array,
    gone: tuple[Array, Array, Array],
    means: Mapping[str, Array],
) -> ItemFlow:
    """The expected path of one item.

    made : what is made or bought; gone : what is missing, what goes past its date, and what of that was
    planned; means : by recipe, batches by start day. All means, [day].
    """
    came = defaultdict(lambda: _nothing(problem.n_days), received(parcels, problem.n_days))
    parents = _by_parent(problem, means, item)
    short, expired, thrown = gone
    gross = sum(parents.values(), np.zeros(made.size))
    opening, planned = float(came["opening"].sum()), made + came["early"]
    coming = came["scheduled"] + came["in-process"] + came["by-product"]
    projected = opening + np.cumsum(coming + planned - expired - gross + short)
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


def with_deliveries(
    house: House, netting: Netting, buying: Buying, days: Sequence[date]
) -> dict[str, ItemFlow]:
    """The flow of every item to be bought with what is ordered or foreseen, in place of its net requirement.

    Netting buys each day what that day is short of. Here `planned` is what the lines of the run bring, on the
    day they come; each delivery meets the expected net requirement from that day to the item's last
    day, first expired first out, and what is left of it then is `expired`. What no delivery meets is
    `short`. Rows close as those of netting do (`ItemFlow`).
    """
    lines: dict[str, list[OrderLine]] = defaultdict(list)
    for line in (*buying.orders, *buying.outlook):
        lines[line.item].append(line)
    return {
        item: _delivered(house, flow, lines[item], days)
        for item, flow in netting.flows.items()
        if item in house.ingredients and (item in lines or flow.planned.any())
    }


def _delivered(house: House, flow: ItemFlow, lines: Sequence[OrderLine], days: Sequence[date]) -> ItemFlow:
    planned, unmet, expired = np.zeros(len(days)), np.zeros(len(days)), np.zeros(len(days))
    for line in lines:
        planned[(line.deliver_on - days[0]).days] += line.quantity
    lots: list[Lot] = []
    for t, (day, came, need) in enumerate(zip(days, planned.tolist(), flow.planned.tolist(), strict=True)):
        expired[t] = sum(lot.quantity for lot in lots if not is_usable(lot, day))
        lots = [lot for lot in lots if is_usable(lot, day)]
        if came > 0:
            lots.append(Lot(flow.item, came, use_by(house, flow.item, day), day))
        lots, _, unmet[t] = drawn_off(lots, need, day)
    projected = flow.projected + np.cumsum(planned - (flow.planned - unmet) - expired)
    projected[np.abs(projected) < EPS * max(1.0, float(planned.sum()))] = 0.0
    return replace(
        flow,
        planned=planned,
        expired=flow.expired + expired,
        projected=projected,
        short=flow.short + unmet,
        thrown=expired,
    )
