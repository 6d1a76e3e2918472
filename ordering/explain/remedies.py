"""What can still be done about what is short, in the order in which a chef would try it."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from datetime import date, timedelta

from ordering.amounts import is_piece
from ordering.days import format_day, span_said
from ordering.explain.short_days import Portions, ShortDay, ShortSpell, next_delivery
from ordering.explain.ways_to_buy import FIND_A_VENDOR, takes_days, ways_to_buy
from ordering.explain.wording import amount, counted, short_amount
from ordering.records.house import Dish, Recipe
from ordering.texts import listed
from ordering.units import UNITS

_SMALLEST_SHARE = 0.75
"""A portion cut below three quarters is another dish. Common practice, no source."""
_A_WEIGHT = re.compile(r"\b[0-9]+([.,/][0-9]+)?[ -]?(g|kg|oz|lb|ml|cl)\b", re.IGNORECASE)
_NEAR_WHOLE = 0.985  # a smaller cut than this is said in words: nobody weighs it
_MOST_DISHES = 3


def remedies(spell: ShortSpell) -> list[str]:
    """Remedies for a whole spell: get it, make it, serve fewer or less, or another dish."""
    is_bought = spell.item in spell.house.ingredients
    get, off_another = ways_to_buy(spell) if is_bought else _ways_to_make(spell), _off_another(spell)
    if off_another and is_bought and not spell.offers:
        # Nobody sells it, but the kitchen has it.
        get, off_another = off_another, [*(text for text in get if text != FIND_A_VENDOR), FIND_A_VENDOR]
    return [*_look(spell, is_bought), *get, *off_another, *_ways_to_serve(spell)]


def _look(spell: ShortSpell, is_bought: bool) -> list[str]:
    """Where the stock is a guess and would still be good, to look is the first thing: it may all be there."""
    if not spell.is_counted:
        return ["count it: it has never been counted, so it is taken as none"]
    if spell.is_explained or spell.freshest(spell.first) > spell.today:
        return []
    book = "book in what was delivered" if is_bought else "log the batches made"
    return [f"count it, or {book}: sales used more than you had"]


def _ways_to_make(spell: ShortSpell) -> list[str]:
    """Ways to make it: more makings than planned, an earlier start, or wait until it is ready."""
    recipe = spell.house.recipes[spell.item]
    ready = spell.today + timedelta(days=recipe.takes_days)
    too_late = f"started today it is ready on {format_day(ready)}, too late for {format_day(spell.first)}"
    is_late = ready > spell.first
    more = short_amount(spell.short, recipe.unit)
    match spell.cause:
        case "capacity" if recipe.room is not None:
            return [f"make room for {more} more, or start it as room comes free"]
        case "capacity" if recipe.largest is not None:
            a_day = amount(recipe.largest, recipe.unit)
            return [f"make room for {more} more than the {a_day} a day, or start it a day earlier"]
        case "no-batch":
            return [f"start {recipe.name} again from scratch, with nothing from an earlier batch"]
        case "expires" if is_late:
            return [f"sell what there is by {format_day(spell.first - timedelta(days=1))}", too_late]
        case "expires":
            return [f"make {recipe.name} closer to the day, in smaller batches"]
        case "no-time" if is_late and takes_days(recipe):
            return [too_late]
        case "no-time" if is_late:
            return ["borrow some from another kitchen, or buy it ready made", too_late]
        case "no-time":
            return _parts_sooner(spell, recipe)
    return []


def _parts_sooner(spell: ShortSpell, recipe: Recipe) -> list[str]:
    """There is time to make it, but what goes into it comes too late: that is what to ask for."""
    start = spell.first - timedelta(days=recipe.takes_days)
    late = [
        spell.house.name_of(line.item)
        for line in recipe.lines
        if (coming := next_delivery(spell, line.item)) is not None
        and coming.deliver_on > start + timedelta(days=line.at_days)
    ]
    what = listed(list(dict.fromkeys(late)), 4) or "what goes into it"
    locally = "" if takes_days(recipe) else ", or buy it locally"
    return [f"get {what} here by {format_day(start)}: call the vendor{locally}"]


def comes_off(spell: ShortSpell) -> dict[str, float]:
    """Recipes the item comes off as a by-product, with how much of it one batch gives, most first."""
    given: dict[str, float] = {}
    for recipe in spell.house.recipes.values():
        for item, quantity in recipe.also_makes:
            if item == spell.item and quantity > 0:
                given[recipe.id] = given.get(recipe.id, 0.0) + quantity
    return dict(sorted(given.items(), key=lambda one: (-one[1], one[0])))


def _off_another(spell: ShortSpell) -> list[str]:
    """A batch of what it comes off, for the first day that it can still be ready for."""
    found: list[tuple[date, str]] = []
    for source, given in comes_off(spell).items():
        recipe = spell.house.recipes[source]
        for day in spell.days:
            start = _last_start(spell, recipe, day.on)
            if start is not None:
                found.append((day.on, _batch(spell, recipe, given, (day, start))))
                break
    return [text for _, text in sorted(found, key=lambda one: one[0])[:2]]


def _last_start(spell: ShortSpell, recipe: Recipe, on: date) -> date | None:
    """The last day with a service on which it can be started to be there, and still good, on a day."""
    last = on - timedelta(days=recipe.takes_days)
    days = [last - timedelta(days=n) for n in range((last - spell.freshest(last)).days + 1)]
    return next((d for d in days if any(spell.house.is_open(d, s) for s in spell.house.services)), None)


def _batch(spell: ShortSpell, recipe: Recipe, given: float, when: tuple[ShortDay, date]) -> str:
    short_day, start = when
    wanted = short_day.short / given
    most, enough = recipe.most_batches, recipe.enough(wanted)
    batches = enough if most is None else min(enough, most)
    more = amount(batches * recipe.makes, recipe.unit)
    comes = amount(batches * given, spell.unit)
    day = "today" if start == spell.today else f"on {format_day(start)}"
    later = ", and the same for the days after" if short_day is not spell.days[-1] else ""
    begin = f"start {more} more of {recipe.name} {day}"
    return f"{begin}: {comes} comes off it for {format_day(short_day.on)}{later}"


def _ways_to_serve(spell: ShortSpell) -> list[str]:
    """What to do at the pass: the dishes that lose the most first, the rest by name."""
    portions = spell.portions
    by_dish: dict[str, float] = {}
    for (dish, _, _), number in portions.items():
        by_dish[dish] = by_dish.get(dish, 0.0) + number
    ranked = sorted((d for d in by_dish if d in spell.house.dishes), key=lambda d: (-by_dish[d], d))
    out: list[str] = []
    for dish in ranked[:_MOST_DISHES]:
        out += _at_the_pass(spell, spell.house.dishes[dish], portions)
    if len(ranked) > _MOST_DISHES:
        rest = [spell.house.dishes[d].name for d in ranked[_MOST_DISHES:]]
        out.append(f"the same for {listed(rest, 4)}")
    return out


def _at_the_pass(spell: ShortSpell, dish: Dish, portions: Portions) -> list[str]:
    days = sorted({on for d, on, _ in portions if d == dish.id})
    lost = sum(number for (d, _, _), number in portions.items() if d == dish.id)
    wanted = sum(n for (d, on, _), n in spell.expected.items() if d == dish.id and on in days)
    left = max(0.0, wanted - lost)
    when = f"on {span_said(min(days), max(days))}"
    if left < 1:
        return [f"take {dish.name} off the menu {when}{_instead(spell, dish, days)}"]
    enough = f"{counted(math.floor(left), 'portion')} of {round(wanted)}"
    served = f"{dish.name} {when}: there is enough for {enough}"
    full = spell.content.get(dish.id, 0.0)
    unit, share = spell.unit, left / wanted
    less, usual = amount(full * share, unit), amount(full, unit)
    if share < _SMALLEST_SHARE or _is_weighed(spell, dish):
        return [f"{served}, then take it off{_instead(spell, dish, days)}"]
    if _is_on_the_plate(spell, dish) and not is_piece(unit) and less != usual:
        return [f"{served}, or for all with {less} of {spell.house.name_of(spell.item)} instead of {usual}"]
    if share > _NEAR_WHOLE:
        return [f"{served}, or for all in slightly smaller portions"]
    return [f"{served}, or for all at {100 * share:.0f} % of a portion"]


def _is_weighed(spell: ShortSpell, dish: Dish) -> bool:
    """Whether the menu states what a portion weighs: a guest who pays for 14 oz is served 14 oz."""
    kind = UNITS.get(spell.house.unit_of(dish.recipe), ("", 0))[0]
    return kind in ("mass", "volume") or _A_WEIGHT.search(dish.name) is not None


def _is_on_the_plate(spell: ShortSpell, dish: Dish) -> bool:
    """Whether the item is what is portioned: the dish's own recipe, or a line of it."""
    recipe = spell.house.recipes.get(dish.recipe)
    return spell.item == dish.recipe or (recipe is not None and spell.item in {x.item for x in recipe.lines})


def _instead(spell: ShortSpell, dish: Dish, days: Sequence[date]) -> str:
    """Another dish that the menu itself says this one is `like`, of the same services and not short itself.

    Nearness in price is no kinship: a pint of slaw stands in for no sandwich.
    """
    services = {(on, s) for d, on, s in spell.expected if d == dish.id and on in days}
    offered = [
        other
        for other in spell.house.dishes.values()
        if _is_kin(dish, other)
        and other.id not in spell.short_dishes
        and all((other.id, on, service) in spell.expected for on, service in services)
    ]
    if not services or not offered:
        return ""
    nearest = min(offered, key=lambda o: (o.id != dish.like, o.id))
    return f", and push {nearest.name}"


def _is_kin(dish: Dish, other: Dish) -> bool:
    return dish.id != other.id and (
        other.id == dish.like or dish.id == other.like or (dish.like is not None and dish.like == other.like)
    )
