"""What a kitchen can make of what is short: the thing itself, or what it comes off."""

from __future__ import annotations

import math
from datetime import date, timedelta

from ordering.days import format_day
from ordering.explain.hit import Hole
from ordering.explain.lack import Run, next_arrival
from ordering.explain.telling import amount, lacking
from ordering.records.house import Recipe
from ordering.texts import listed

_DUST = 1e-9


def ways_to_make(run: Run) -> list[str]:
    """Ways to make it: more makings than planned, an earlier start, or wait until it is ready."""
    recipe = run.house.recipes[run.item]
    ready = run.today + timedelta(days=recipe.takes_days)
    if run.cause == "capacity" and recipe.largest is not None:
        more, room = lacking(run.short, recipe.unit), amount(recipe.largest, recipe.unit)
        return [f"make room for {more} more than the {room} a day, or start it a day earlier"]
    if run.cause == "no-batch":
        return [f"start {recipe.name} afresh, without anything from a batch before it"]
    if run.cause == "expires" and ready > run.first:
        last = format_day(run.first - timedelta(days=1))
        return [f"sell what there is by {last}", _too_late(run, ready)]
    if run.cause == "expires":
        return [f"make {recipe.name} closer to the day, in smaller batches"]
    if run.cause == "no-time" and ready > run.first:
        elsewhere = [] if takes_days(recipe) else ["borrow some from another kitchen, or buy it ready made"]
        return [*elsewhere, _too_late(run, ready)]
    if run.cause == "no-time":
        return _parts_sooner(run, recipe)
    return []


def takes_days(recipe: Recipe) -> bool:
    """Whether nobody else has it ready: it ages, or takes more than a day."""
    return recipe.takes_days > 1 or "long-ageing" in recipe.hazards


def _too_late(run: Run, ready: date) -> str:
    return f"started today it is ready on {format_day(ready)}, too late for {format_day(run.first)}"


def _parts_sooner(run: Run, recipe: Recipe) -> list[str]:
    """There is time to make it, but what goes into it comes too late: that is what to ask for."""
    start = run.first - timedelta(days=recipe.takes_days)
    late = [
        run.house.name_of(line.item)
        for line in recipe.lines
        if (coming := next_arrival(run, line.item)) is not None
        and coming.deliver_on > start + timedelta(days=line.at_days)
    ]
    what = listed(list(dict.fromkeys(late)), 4) or "what goes into it"
    locally = "" if takes_days(recipe) else ", or buy it locally"
    return [f"get {what} here by {format_day(start)}: call the vendor{locally}"]


def falls_out_of(run: Run) -> dict[str, float]:
    """Recipes the item comes off as a by-product, with how much of it one batch gives, most first."""
    given: dict[str, float] = {}
    for recipe in run.house.recipes.values():
        for item, quantity in recipe.also_makes:
            if item == run.item and quantity > 0:
                given[recipe.id] = given.get(recipe.id, 0.0) + quantity
    return dict(sorted(given.items(), key=lambda one: (-one[1], one[0])))


def let_fall(run: Run) -> list[str]:
    """A batch of what it comes off, for the first day that it can still be ready for."""
    found: list[tuple[date, str]] = []
    for source, given in falls_out_of(run).items():
        recipe = run.house.recipes[source]
        for hole in run.holes:
            start = _last_start(run, recipe, hole.on)
            if start is not None:
                found.append((hole.on, _batch(run, recipe, given, (hole, start))))
                break
    return [text for _, text in sorted(found, key=lambda one: one[0])[:2]]


def _last_start(run: Run, recipe: Recipe, on: date) -> date | None:
    """The last day with a service on which it can be started to be there, and still good, on a day."""
    keeps = run.house.keeps_days(run.item)
    last = on - timedelta(days=recipe.takes_days)
    first = run.today if keeps is None else max(run.today, last - timedelta(days=keeps))
    days = [last - timedelta(days=n) for n in range((last - first).days + 1)]
    return next((d for d in days if any(run.house.is_open(d, s) for s in run.house.services)), None)


def _batch(run: Run, recipe: Recipe, given: float, when: tuple[Hole, date]) -> str:
    hole, start = when
    wanted = hole.short / given
    most = math.ceil(wanted) if recipe.largest is None else recipe.largest / recipe.makes
    step = recipe.step
    steps = max(1, min(math.ceil(wanted / step - _DUST), math.floor(most / step + _DUST)))
    batches = steps * step if recipe.is_whole else min(wanted, most)
    more = amount(batches * recipe.makes, recipe.unit)
    falls = amount(batches * given, run.house.unit_of(run.item))
    day = "today" if start == run.today else f"on {format_day(start)}"
    later = ", and the same for the days after" if hole is not run.holes[-1] else ""
    return f"start {more} more of {recipe.name} {day}: {falls} comes off it for {format_day(hole.on)}{later}"
