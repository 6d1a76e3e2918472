"""Which service level each item is held at, and what one unit of it is worth."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from ordering.explode.graph import Use
from ordering.net.frame import Frame
from ordering.net.spare import Spare
from ordering.net.stock import Days
from ordering.records.costs import unit_costs, unpriced
from ordering.records.plan import Chance


@dataclass(frozen=True, slots=True)
class Level:
    """A service level and, in words, how it came about; `spare`: where not all of it may be worth having."""

    value: float
    why: str
    spare: Spare | None = None

    @property
    def least(self) -> float:
        """The level if all that is over spoiled: what lacks more rarely is safety not worth having."""
        spare = self.spare
        if spare is None:
            return self.value
        return max(spare.promised, critical_fractile(spare.margin, spare.thrown))


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
    be had more surely than its parts. Of what may spoil before it is wanted less may be worth having: what
    comes on Friday and is good until Tuesday serves whoever comes within these days. How long a thing takes
    does not matter here: what ages five weeks and then keeps nine days serves whoever comes within the nine.
    What a dish asks for in its own right is a promise to its guests and kept whatever it wastes.
    """
    wanted, promised = service_levels(frame), promises(frame)
    return {i: _level(frame, i, (*wanted[i], promised[i]), value, chances) for i in frame.graph.items}


def promises(frame: Frame) -> dict[str, float]:
    """By item the highest level that a dish which needs it asks for in its own right; 0 where none does."""
    promised: dict[str, float] = {}
    for item in frame.graph.items:
        own = [frame.house.dishes[d].service_level or 0.0 for d in frame.graph.dishes.get(item, ())]
        above = [promised[u.recipe] for u in frame.graph.uses.get(item, ())]
        promised[item] = max([*own, *above], default=0.0)
    return promised


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
    wanted: tuple[float, str, float],
    value: Worth,
    chances: Mapping[str, tuple[Chance, ...]],
) -> Level:
    service, why, promised = wanted
    said = f"service level {service:.2f} {why}"
    keeps = frame.offsets[item]
    margin, thrown = value.margin.get(item), value.cost.get(item, 0.0)
    if keeps is None or margin is None or margin + thrown <= 0 or promised >= service:
        return Level(service, said)
    if critical_fractile(margin, thrown) >= service:  # worth its level even where all that is over spoils
        return Level(service, said)
    recipe = frame.house.recipes.get(item)
    last_chance = _last_chance(frame, item, chances)
    piece = _smallest_pack(frame, item) if recipe is None else float(recipe.is_whole)
    at_least = f", and what a dish asks for, {promised:.2f}, at the least" if promised else ""
    return Level(
        service,
        f"keeps {keeps} d; a unit short loses {margin:.2f}, a unit over that spoils wastes {thrown:.2f}; "
        f"as much as is likelier to pay than to spoil, up to the {said}{at_least}",
        Spare(
            margin=margin,
            thrown=thrown,
            good_until=np.maximum(last_chance + keeps, np.arange(frame.n_days)),
            piece=piece,
            is_whole=recipe is not None and recipe.is_whole,
            promised=promised,
        ),
    )


def _smallest_pack(frame: Frame, item: str) -> float:
    """The smallest pack of a bought item; 0 where a batch made ahead waits for all of it."""
    users = [frame.house.recipes[use.recipe] for use in frame.graph.uses.get(item, ())]
    if any(user.takes_days or user.is_whole for user in users):
        return 0.0
    return min((o.pack_quantity for o in frame.house.ingredients[item].offers), default=0.0)


def _last_chance(frame: Frame, item: str, chances: Mapping[str, tuple[Chance, ...]]) -> Days:
    """The latest day up to each, [day], on which an item can come or be started.

    Before the first such day, and where no calendar is known, it is the day itself.
    """
    days = np.arange(frame.n_days)
    if item in frame.house.recipes:
        window = frame.windows.get(item)
        can = np.ones(frame.n_days, dtype=bool) if window is None else window.preferred
    else:
        offers = frame.house.ingredients[item].offers
        comes = [c.day for o in offers for c in chances.get(o.vendor, ()) if o.holds_on(c.deliver_on)]
        can = np.isin(days, comes)
    last = np.maximum.accumulate(np.where(can, days, -1))
    return np.where(last < 0, days, last)
