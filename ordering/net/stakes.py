"""What one unit of each item too few or too many costs, in the house's money."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from ordering.net.problem import Problem
from ordering.net.safety_stock import Stake
from ordering.records.costs import portion_costs, portion_losses, unit_costs, unpriced
from ordering.records.house import House

KEPT_A_DAY = 0.05  # of what a thing costs, a day in the house: money bound, room, what goes missing; measured
UNPRICED_LOSS = 19.0  # times its cost: what no dish with a price needs is held 95 times in 100 if it spoils
# A whole batch is begun for what the one before leaves unmet. When its parts are short it is begun with the
# next delivery, and only what would have been eaten of it by then is lost: anything between none and all.
EATEN_OF_LAST = 0.5
MOST_STEPS = 4  # kinds of dishes told apart by what a unit of a shared part is worth to them


@dataclass(frozen=True, slots=True)
class Worth:
    """What too few or too many of each item costs, by item.

    cost : money a unit, of what has a price
    loss : money lost when a unit is short, mean over those who need it, None where no dish with a price does
    stakes : see `Stake`
    unpriced : items whose cost is not or not wholly known
    portions : by dish, money lost when a portion is missing
    takes : by dish with a price, units of each item in a portion
    """

    cost: Mapping[str, float]
    loss: Mapping[str, float | None]
    stakes: Mapping[str, Stake]
    portions: Mapping[str, float]
    takes: Mapping[str, Mapping[str, float]]
    unpriced: frozenset[str] = frozenset()


def worth(problem: Problem) -> Worth:
    """Cost of every item on the day of the run, and what a missed portion loses carried down to its parts.

    A part that several dishes share runs out for those first whose missing costs least for each unit of it.
    What goes off together is wanted together: one more of the fish alone serves nobody, and one more of all
    that is in a portion saves its loss once. So of what goes off a unit saves its share of the loss, by cost,
    and all parts of a portion are as likely to be enough as the portion pays for. What keeps may wait for
    them.
    """
    house, on = problem.house, problem.forecast.days[0]
    cost = unit_costs(house, on)
    losses = portion_losses(house, cost)
    mean = problem.forecast.mean.sum(axis=1)
    portions = dict(zip(problem.forecast.dishes, mean.tolist(), strict=True))
    some = {dish: max(portions.get(dish, 0.0), 1e-6) for dish in losses}  # never none, to divide by
    eaten: dict[str, dict[str, float]] = {}  # by item and dish, units of it in all portions forecast
    batched: dict[str, float] = {}  # by item, share of them that goes into whole batches made ahead
    for item in problem.graph.items:
        mine = eaten[item] = {}
        by_batch = 0.0
        for name in problem.graph.dishes.get(item, ()):
            if name in losses:
                mine[name] = some[name] * house.dishes[name].portion
        for use in problem.graph.uses.get(item, ()):
            user = house.recipes[use.recipe]
            each = 0.0 if use.is_optional else max(0.0, use.quantity - use.returns) / user.makes
            is_batched = user.is_whole and user.takes_days > 0
            for name, units in eaten[user.id].items() if each > 0 else ():
                mine[name] = mine.get(name, 0.0) + units * each
                by_batch += units * each * (1.0 if is_batched else batched[user.id])
        batched[item] = by_batch / total if (total := sum(mine.values())) > 0 else 0.0
    steps = {
        item: _steps([(losses[d] * some[d] / u, u) for d, u in mine.items()]) for item, mine in eaten.items()
    }
    takes: dict[str, dict[str, float]] = {dish: {} for dish in losses}
    for item, mine in eaten.items():
        for name, units in mine.items():
            takes[name][item] = units / some[name]
    costs = portion_costs(house, cost)

    def share(item: str) -> float:
        """What of the loss a unit saves by itself.

        Of what goes off its part of what its portions cost, of what goes into whole batches what is eaten of
        a batch until the next.
        """
        alone = 1.0 - (1.0 - EATEN_OF_LAST) * batched[item]
        if problem.offsets[item] is None or not cost[item] or not eaten[item]:
            return alone
        whole = sum(costs[d] * portions.get(d, 0.0) for d in eaten[item])
        return alone * min(1.0, cost[item] * sum(eaten[item].values()) / whole) if whole > 0 else alone

    return Worth(
        cost=cost,
        loss={item: _mean(found) if found else None for item, found in steps.items()},
        stakes={
            item: _stake(cost.get(item, 0.0), found, house, share(item)) for item, found in steps.items()
        },
        portions=losses,
        takes=takes,
        unpriced=unpriced(house, on),
    )


def _steps(worth_of: list[tuple[float, float]]) -> tuple[tuple[float, float], ...]:
    """(share, money a unit), cheapest first, from (money a unit, units) by dish; like worths are one step."""
    total = sum(units for _, units in worth_of)
    steps: list[list[float]] = []
    for money, units in sorted(worth_of):
        if steps and (money <= 1.1 * steps[-1][1] or len(steps) == MOST_STEPS):
            before = steps[-1][0]
            steps[-1] = [before + units, (before * steps[-1][1] + units * money) / (before + units)]
        else:
            steps.append([units, money])
    shares, reached = [], 0.0
    for units, money in steps:
        reached += units / total
        shares.append((reached, money))
    return tuple(shares)


def _mean(steps: tuple[tuple[float, float], ...]) -> float:
    before, mean = 0.0, 0.0
    for share, money in steps:
        mean += (share - before) * money
        before = share
    return mean


def _stake(cost: float, steps: tuple[tuple[float, float], ...], house: House, share: float) -> Stake:
    if not steps:
        level = house.policy.service_level
        cost = cost or 1.0
        steps = ((1.0, cost * (UNPRICED_LOSS if level is None else level / (1 - level))),)
    return Stake(steps, cost, KEPT_A_DAY * cost, share)
