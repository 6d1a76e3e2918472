"""What can be done at the pass: how many can be served, how small, what comes off the menu, what instead."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from datetime import date

from ordering.amounts import is_piece
from ordering.explain.hit import Portions
from ordering.explain.lack import Run
from ordering.explain.telling import amount, counted, days_said
from ordering.records.house import Dish
from ordering.texts import listed
from ordering.units import UNITS

_SMALLEST_SHARE = 0.75
"""A portion cut below three quarters is another dish. Common practice, no source."""
_A_WEIGHT = re.compile(r"\b[0-9]+([.,/][0-9]+)?[ -]?(g|kg|oz|lb|ml|cl)\b", re.IGNORECASE)
_NEAR_WHOLE = 0.985
_MOST_DISHES = 3


def ways_to_serve(run: Run) -> list[str]:
    """What to do at the pass: the dishes hit the most first, the rest by name."""
    portions = run.portions
    by_dish: dict[str, float] = {}
    for (dish, _, _), number in portions.items():
        by_dish[dish] = by_dish.get(dish, 0.0) + number
    ranked = sorted((d for d in by_dish if d in run.house.dishes), key=lambda d: (-by_dish[d], d))
    out: list[str] = []
    for dish in ranked[:_MOST_DISHES]:
        out += _at_the_pass(run, run.house.dishes[dish], portions)
    if len(ranked) > _MOST_DISHES:
        rest = [run.house.dishes[d].name for d in ranked[_MOST_DISHES:]]
        out.append(f"the same for {listed(rest, 4)}")
    return out


def _at_the_pass(run: Run, dish: Dish, portions: Portions) -> list[str]:
    days = sorted({on for d, on, _ in portions if d == dish.id})
    hit = sum(number for (d, _, _), number in portions.items() if d == dish.id)
    wanted = sum(n for (d, on, _), n in run.expected.items() if d == dish.id and on in days)
    left = max(0.0, wanted - hit)
    when = f"on {days_said(days)}"
    if left < 1:
        return [f"take {dish.name} off the menu {when}{_instead(run, dish, days)}"]
    enough = f"{counted(math.floor(left), 'portion')} of {round(wanted)}"
    served = f"{dish.name} {when}: there is enough for {enough}"
    full = run.content.get(dish.id, 0.0)
    unit = run.house.unit_of(run.item)
    share = left / wanted
    less, usual = amount(full * share, unit), amount(full, unit)
    if share >= _SMALLEST_SHARE and _is_weighed(run, dish):
        return [f"{served}, then take it off{_instead(run, dish, days)}"]
    if share >= _SMALLEST_SHARE and _is_on_the_plate(run, dish) and not is_piece(unit) and less != usual:
        return [f"{served}, or for all with {less} of {run.house.name_of(run.item)} instead of {usual}"]
    if share >= _SMALLEST_SHARE:
        smaller = (
            "in slightly smaller portions" if share > _NEAR_WHOLE else f"at {100 * share:.0f} % of a portion"
        )
        return [f"{served}, or for all {smaller}"]
    return [f"{served}, then take it off{_instead(run, dish, days)}"]


def _is_weighed(run: Run, dish: Dish) -> bool:
    """Whether the menu states what a portion weighs: a guest who pays for 14 oz is served 14 oz."""
    kind = UNITS.get(run.house.unit_of(dish.recipe), ("", 0))[0]
    return kind in ("mass", "volume") or _A_WEIGHT.search(dish.name) is not None


def _is_on_the_plate(run: Run, dish: Dish) -> bool:
    """Whether the item is what is portioned: the dish's own recipe, or a line of it."""
    recipe = run.house.recipes.get(dish.recipe)
    return run.item == dish.recipe or (recipe is not None and run.item in {x.item for x in recipe.lines})


def _instead(run: Run, dish: Dish, days: Sequence[date]) -> str:
    """Another dish that the menu itself says this one is `like`, of the same services and not short itself.

    Nearness in price is no kinship: a pint of slaw stands in for no sandwich.
    """
    services = {(on, s) for d, on, s in run.expected if d == dish.id and on in days}
    kin = [other for other in run.house.dishes.values() if _is_kin(dish, other) and other.id not in run.hit]
    offered = [o for o in kin if all((o.id, on, service) in run.expected for on, service in services)]
    if not services or not offered:
        return ""
    nearest = min(offered, key=lambda o: (o.id != dish.like, o.id))
    return f", and push {nearest.name}"


def _is_kin(dish: Dish, other: Dish) -> bool:
    return dish.id != other.id and (
        other.id == dish.like or dish.id == other.like or (dish.like is not None and dish.like == other.like)
    )
