"""Which service level each item is held at, and what one unit of it is worth."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import pairwise

from ordering.explode.graph import Use
from ordering.net.frame import Frame
from ordering.records.costs import unit_costs, unpriced
from ordering.records.plan import Chance

DAYS_BETWEEN_DELIVERIES = 7  # where the calendar shows fewer than two: common practice, no source


@dataclass(frozen=True, slots=True)
class Level:
    """A service level and, in words, how it came about."""

    value: float
    why: str


@dataclass(frozen=True, slots=True)
class Worth:
    """By item. cost : money a unit, of what has a price; margin : money of dishes lost for want of a unit,
    None where no dish with a price needs it; unpriced : items whose cost is not or not wholly known."""

    cost: Mapping[str, float]
    margin: Mapping[str, float | None]
    unpriced: frozenset[str] = frozenset()


def critical_fractile(margin: float, thrown_away: float) -> float:
    """Probability with which one more unit should be wanted: margin / (margin + thrown_away).

    The newsvendor ratio cu / (cu + co), Snyder & Shen, Fundamentals of Supply Chain Theory, 2nd ed.
    (2019), chapter 4. Special case: nothing to gain gives 0.

    Raises
    ------
    ValueError : a negative amount, or both zero
    """
    if margin < 0 or thrown_away < 0 or margin + thrown_away == 0:
        raise ValueError("margin and loss must not be negative nor both zero")
    return margin / (margin + thrown_away)


def worth(frame: Frame) -> Worth:
    """Cost of every item on the day of the run, and the dishes' margin carried down to its parts.

    An item several dishes share is worth their mean, weighted by forecast portions. A dish without a
    price is left out, and so is a part without one.
    """
    on = frame.forecast.days[0]
    cost = unit_costs(frame.house, on)
    mean = frame.forecast.mean.sum(axis=1)
    portions = dict(zip(frame.forecast.dishes, mean.tolist(), strict=True))
    money: dict[str, float] = {}
    units: dict[str, float] = {}
    for item in frame.graph.items:
        earned, asked = 0.0, 0.0
        for name in frame.graph.dishes.get(item, ()):
            dish = frame.house.dishes[name]
            if dish.price is not None:
                margin = max(0.0, float(dish.price) - cost[item] * dish.portion)
                earned += portions.get(name, 0.0) * margin
                asked += portions.get(name, 0.0) * dish.portion
        for use in frame.graph.uses.get(item, ()):
            if use.recipe in units:
                earned += money[use.recipe]
                asked += units[use.recipe] * _net_use(use) / frame.house.recipes[use.recipe].makes
        money[item], units[item] = earned, asked
    margins = {i: money[i] / units[i] if units[i] > 0 else None for i in money}
    return Worth(cost, margins, unpriced(frame.house, on))


def _net_use(use: Use) -> float:
    return max(0.0, use.quantity - use.returns)


def levels_of(frame: Frame, value: Worth, chances: Mapping[str, tuple[Chance, ...]]) -> dict[str, Level]:
    """Service level of every item.

    An item is held at the highest level among the dishes that need it: a dish promised 0.98 cannot
    be had more surely than its parts. Where what one decision leaves does not keep until the next one
    brings more (`review_days`), what is not wanted is thrown away, and the newsvendor fractile
    holds, if it is lower. How long a thing takes does not matter here: what ages five weeks and then
    keeps nine days serves whoever comes within the nine.
    """
    wanted = service_levels(frame)
    return {i: _level(frame, i, wanted[i], value, chances) for i in frame.graph.items}


def service_levels(frame: Frame) -> dict[str, tuple[float, str]]:
    """By item the highest service level among what needs it, and whose it is."""
    house = frame.house.policy.service_level
    wanted: dict[str, tuple[float, str]] = {}
    for item in frame.graph.items:
        asked = [
            (level, f"asked for by {frame.house.dishes[d].name}")
            for d in frame.graph.dishes.get(item, ())
            if (level := frame.house.dishes[d].service_level) is not None
        ]
        if len(asked) < len(frame.graph.dishes.get(item, ())) or item in frame.consumables:
            asked.append((house, "of the house"))
        asked += [wanted[u.recipe] for u in frame.graph.uses.get(item, ())]
        wanted[item] = max(asked, key=lambda a: a[0], default=(house, "of the house"))
    return wanted


def _level(
    frame: Frame,
    item: str,
    wanted: tuple[float, str],
    value: Worth,
    chances: Mapping[str, tuple[Chance, ...]],
) -> Level:
    service, why = wanted
    plain = Level(service, f"service level {service:.2f} {why}")
    keeps, wait = frame.offsets[item], review_days(frame, item, chances)
    margin, thrown = value.margin.get(item), value.cost.get(item, 0.0)
    if keeps is None or keeps >= wait or margin is None or margin + thrown <= 0:
        return plain
    fractile = critical_fractile(margin, thrown)
    if fractile >= service:
        return plain
    return Level(
        fractile,
        f"{fractile:.2f}: keeps {keeps} d, must last {wait} d; a unit short loses {margin:.2f}, "
        f"a unit over wastes {thrown:.2f}; below the service level {service:.2f} {why}",
    )


def review_days(frame: Frame, item: str, chances: Mapping[str, tuple[Chance, ...]]) -> int:
    """Days from what one decision brings to what the next one can bring: the review period.

    Made: the longest wait from one day on which it can be started to the next, a day where its material
    does not limit it. Bought: the longest wait from one delivery to the next among the vendors that
    offer it. Both in the three weeks from the first chance.
    """
    if item in frame.house.recipes:
        window = frame.windows.get(item)
        return 1 if window is None else window.longest_wait()
    vendors = {o.vendor for o in frame.house.ingredients[item].offers}
    days = sorted({c.day for v in vendors for c in chances.get(v, ())})
    days = [d for d in days if d <= days[0] + 21]
    gaps = [b - a for a, b in pairwise(days)]
    return max(gaps, default=DAYS_BETWEEN_DELIVERIES)
