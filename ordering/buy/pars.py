"""Pars beside what they should be."""

from __future__ import annotations

import itertools
import math
import statistics
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np

from ordering.amounts import percent, plural
from ordering.buy.deliveries import item_deliveries
from ordering.buy.requirements import EPS
from ordering.days import WEEKDAY_NAMES
from ordering.records.buying import Delivery, ParAdvice
from ordering.records.house import House, Ingredient
from ordering.records.plan import Array, Requirement

SLACK = 0.05
"""Share by which a par may miss what is justified before it is flagged; no source."""
PLACES = 6
"""Decimals of a unit to which levels are compared: what sums leave over differs between machines."""


@dataclass(frozen=True, slots=True)
class _Cycle:
    """One delivery: what is used until the next (`expected`), `margin` on it, `kept`: used while it keeps."""

    weekday: int
    next_weekday: int
    expected: float
    margin: float
    kept: float

    @property
    def justified(self) -> float:
        return self.expected + self.margin


def par_advice(
    house: House,
    requirements: Mapping[str, Requirement],
    deliveries: Mapping[str, Sequence[Delivery]],
    days: Sequence[date],
) -> tuple[ParAdvice, ...]:
    """For each ingredient with a par, what the forecast would justify by weekday of delivery.

    That is what must be there after a delivery to last until the next one at the service level. The
    flag is `waste` where the par is more than is used while it keeps, `shortage` where it is less than
    what is justified after some delivery, empty otherwise.
    """
    advice = []
    for item in sorted(house.ingredients):
        ingredient = house.ingredients[item]
        if ingredient.par is not None and item in requirements:
            arrivals = sorted({c.day for _, c in item_deliveries(house, item, deliveries)})
            cycles = _cycles(requirements[item], arrivals, days, ingredient.keeps_days)
            advice.append(_advice(ingredient, requirements[item], cycles))
    return tuple(advice)


def _cycles(
    requirement: Requirement, arrivals: Sequence[int], days: Sequence[date], keeps_days: int | None
) -> list[_Cycle]:
    """One for each delivery after which another can follow within the horizon.

    What keeps longer than the horizon is taken to be used on as it is within it.
    """
    used = np.concatenate([[0.0], np.cumsum(_expected_use(requirement))])
    cycles = []
    for day, again in itertools.pairwise(arrivals):
        kept_to = len(days) if keeps_days is None else day + keeps_days + 1
        in_sight = min(kept_to, len(days))
        cycles.append(
            _Cycle(
                weekday=days[day].weekday(),
                next_weekday=days[again].weekday(),
                expected=float(used[again] - used[day]),
                margin=_margin(requirement, day, again),
                kept=float(used[in_sight] - used[day]) * (kept_to - day) / (in_sight - day),
            )
        )
    return cycles


def _expected_use(requirement: Requirement) -> Array:
    """Expected use by day, shape [day]: what is drawn from stock, and what must be bought on top."""
    left = np.append(requirement.stock_left, requirement.stock_left[-1])
    return np.maximum(-np.diff(left), 0.0) + np.diff(requirement.expected, prepend=0.0)


def _margin(requirement: Requirement, day: int, again: int) -> float:
    """Margin of the service level for days `day` to `again` - 1.

    Read off the required curve where no stock blurs it, and scaled with the square root of the days
    (independent days; common practice, no source).
    """
    bare = requirement.stock_left[again - 1 :] <= EPS
    at = again - 1 + int(bare.argmax()) if bare.any() else len(requirement.required) - 1
    spread = max(0.0, float(requirement.required[at] - requirement.expected[at]))
    return spread * math.sqrt((again - day) / (at + 1))


def _advice(ingredient: Ingredient, requirement: Requirement, cycles: Sequence[_Cycle]) -> ParAdvice:
    par = ingredient.par or 0.0
    if not cycles:
        return ParAdvice(ingredient.id, par, {}, "fewer than two deliveries within the horizon")
    by_weekday: dict[int, list[_Cycle]] = defaultdict(list)
    for cycle in cycles:
        by_weekday[cycle.weekday].append(cycle)
    justified = {
        weekday: statistics.median(c.justified for c in of_day)
        for weekday, of_day in sorted(by_weekday.items())
    }
    most = round(max(justified.values()), PLACES)
    hardest = min(
        (c for c in cycles if round(justified[c.weekday], PLACES) == most),
        key=lambda c: round(abs(c.justified - most), PLACES),
    )
    kept = round(statistics.median(c.kept for c in cycles), PLACES)
    reason = (
        f"from {WEEKDAY_NAMES[hardest.weekday]} to {WEEKDAY_NAMES[hardest.next_weekday]} about "
        f"{hardest.expected:.3g} {ingredient.unit} are used, plus {hardest.margin:.3g} in case it is busy"
    )
    if requirement.enough is None:
        reason += f" at {percent(requirement.level)}"
    if ingredient.keeps_days is not None and par > (1 + SLACK) * max(kept, most):
        days = plural(ingredient.keeps_days, "day")
        over = f"; about {kept:.3g} {ingredient.unit} are used in the {days} it keeps"
        return ParAdvice(ingredient.id, par, justified, reason + over, "waste")
    flag = "shortage" if par < (1 - SLACK) * most else ""
    return ParAdvice(ingredient.id, par, justified, reason, flag)
