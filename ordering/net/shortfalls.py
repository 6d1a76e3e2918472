"""Which shortages are worth saying and what causes them; what a chef must hear of stages and lots to come."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import replace
from datetime import date, timedelta

import numpy as np

from ordering.amounts import EPS, plural, shown, to_get
from ordering.days import format_day
from ordering.net.allocation import Cutback, ShortageSource
from ordering.net.batches import LITTLE
from ordering.net.problem import Problem, draws_begun, terms_of
from ordering.net.safety_stock import Worth
from ordering.net.shelf_life import Days, Lots
from ordering.net.start_days import sooner
from ordering.records.buying import Shortfall
from ordering.records.house import House, Recipe
from ordering.records.optional import optional_users
from ordering.records.plan import Array, Expiring, ItemFlow, Opening, Start

LEAST_PORTIONS = 0.5  # expected portions below which a shortage is not said
AGEING_DAYS = 7  # a stage of this many days or more has several lots ageing at once
RARE = 0.05  # what is short on no more of the paths is safety not held, and not said


def shortfalls(
    problem: Problem,
    cutbacks: Iterable[Cutback],
    flows: Mapping[str, ItemFlow],
) -> tuple[Shortfall, ...]:
    """Shortages that matter, by day and item.

    One is said when it costs half a portion or more on the mean of the paths (or, for what no dish
    names, such as charcoal or the herbs of a batch under way, when any is short) and happens on more than a
    few of the paths: what is short only in the tail is safety not bought, not a shortage.
    """
    found: list[Shortfall] = []
    short_items, hits = _added_up(problem, cutbacks)
    optional = optional_users(problem.house)
    for source, amount in short_items.items():
        item, day = source
        portions = {k: n for k, n in hits.get(source, {}).items() if n >= LEAST_PORTIONS / 10}
        under_way = _under_way(problem, item, day)
        is_for_none = item in problem.consumables or item in optional or bool(under_way)
        no_dish_names_it = not portions and is_for_none
        is_felt = sum(portions.values()) >= LEAST_PORTIONS or no_dish_names_it
        if not is_felt or float(np.mean(amount > EPS)) <= RARE:
            continue
        short = float(np.mean(amount))
        found.append(
            Shortfall(
                item=item,
                needed_on=problem.forecast.days[day],
                short=short,
                cause=cause_of(problem, item, day, short, flows.get(item)),
                portions={
                    _at(problem, k): n for k, n in sorted(portions.items(), key=lambda kn: kn[0][::-1])
                },
                under_way=under_way,
            )
        )
    return tuple(sorted(found, key=lambda s: (s.needed_on, s.item)))


def _under_way(problem: Problem, item: str, day: int) -> tuple[str, ...]:
    """Recipes whose batches under way need an item on a day."""
    uses = [u for u in problem.graph.uses.get(item, ()) if not u.is_optional]
    return tuple(sorted({u.recipe for u in uses if draws_begun(problem, u)[day] > EPS}))


def _added_up(
    problem: Problem, cutbacks: Iterable[Cutback]
) -> tuple[dict[ShortageSource, Array], dict[ShortageSource, dict[tuple[str, int], float]]]:
    """Roots and portions hit over all rounds. What was never counted is said once, on its first day.

    By source, [path].
    """
    short_items: dict[ShortageSource, Array] = {}
    hits: dict[ShortageSource, dict[tuple[str, int], float]] = {}
    first: dict[str, int] = {}
    for cutback in cutbacks:
        for item, day in sorted(cutback.sources):
            first.setdefault(item, day)
        for (item, day), amount in cutback.sources.items():
            if item in problem.unknown:
                source = (item, first[item])
                short_items[source] = short_items.get(source, 0.0) + amount
            else:
                short_items[item, day] = np.maximum(short_items.get((item, day), 0.0), amount)
        for (item, day), portions in cutback.hits.items():
            into = hits.setdefault((item, first[item] if item in problem.unknown else day), {})
            for key, n in portions.items():
                into[key] = into.get(key, 0.0) + n
    return short_items, hits


def _at(problem: Problem, key: tuple[str, int]) -> tuple[str, date, str]:
    slot = problem.forecast.slots[key[1]]
    return key[0], slot.date, slot.service


def cause_of(problem: Problem, item: str, day: int, short: float, flow: ItemFlow | None = None) -> str:
    """Why an item is short on a day: the first of these that is so.

    expires: what is thrown away by then would have met half of it; no-batch: a liquor that
    is carried over and is not there; no-time: no batch begun now is ready; capacity: the day's limit.
    For bought goods: no-offer, vendor-closed, no-delivery.
    """
    house = problem.house
    recipe = house.recipes.get(item)
    if any(u.returns for u in problem.graph.uses.get(item, ())):
        return "no-batch"
    if flow is not None and float(flow.expired[: day + 1].sum()) >= short / 2:
        return "expires"
    if recipe is not None:
        return "no-time" if day < recipe.takes_days else "capacity"
    offers = [o for o in house.ingredients[item].offers if o.vendor in house.vendors]
    coming = [(o, d) for o in offers for d in _comes_on(house, problem, o.vendor, day)]
    holding = [(o, d) for o, d in coming if o.holds_on(d)]
    if not offers or (coming and not holding):
        return "no-offer"
    return "vendor-closed" if any(d in house.vendors[o.vendor].closed for o, d in holding) else "no-delivery"


def _comes_on(house: House, problem: Problem, vendor: str, day: int) -> list[date]:
    """Days up to one on which a vendor comes, closed or not."""
    comes = {d.weekday for d in house.vendors[vendor].deliveries}
    return [d for d in problem.forecast.days[: day + 1] if d.weekday() in comes]


def room_warnings(problem: Problem, starts: Mapping[str, Array]) -> tuple[str, ...]:
    """On which days the room of what ages is full, one sentence each, by recipe.

    starts : by recipe, batches by start day, [day, path]. A day is said to be full when more than half
    of the paths would start all that `largest` allows.
    """
    ageing = _ageing(problem.house)
    return tuple(said for recipe in ageing for said in _full(problem, recipe, starts.get(recipe.id)))


def ageing_gaps(problem: Problem, cutbacks: Iterable[Cutback]) -> dict[str, str]:
    """What a chef must hear weeks before it hurts, a sentence by recipe.

    A gap is a stretch of days ahead on which the row of ages already begun cannot serve what is expected and
    nothing begun now is ready.
    """
    cutbacks = list(cutbacks)
    told = {recipe.id: _gap(problem, recipe, cutbacks) for recipe in _ageing(problem.house)}
    return {item: said for item, said in told.items() if said}


def _ageing(house: House) -> list[Recipe]:
    return [one for _, one in sorted(house.recipes.items()) if one.takes_days >= AGEING_DAYS]


def begun_from_nothing(
    house: House, opening: Opening, starts: Iterable[Start]
) -> tuple[tuple[Start, ...], tuple[str, ...]]:
    """The starts, those noted that need part of their own last batch while none is there; one warning each.

    They stay on the list: a chef must begin from something. What is in process counts as there, and what
    the first of them gives serves those begun when it is ready.
    """
    there = {lot.item: date.min for lot in opening.lots if lot.quantity > EPS}
    noted, said_of = [], []
    for start in starts:
        recipe = house.recipes[start.recipe]
        own = sum(x.drawn for x in recipe.lines if x.item == recipe.id and x.returns)
        is_first = recipe.id not in there
        if own and start.start_on < there.setdefault(recipe.id, start.ready_on):
            of_it = f"{shown(own * start.batches, recipe.unit)} of its last batch"
            note = f"takes {of_it}, and there is none: start it without"
            start = replace(start, note="; ".join(x for x in (start.note, note) if x))
            if is_first:
                said_of.append(
                    f"{recipe.name}, {format_day(start.start_on)}: it is started with {of_it}, and there is "
                    "none in the house: start it without, or get some from another kitchen"
                )
        noted.append(start)
    return tuple(noted), tuple(said_of)


def _full(problem: Problem, recipe: Recipe, started: Array | None) -> list[str]:
    """Days on which a recipe's room is full, said; started : [day, path]."""
    if started is None:
        return []
    said_of = []
    most = recipe.most_batches
    if most is not None and recipe.largest is not None:
        days = np.flatnonzero((started >= most * (1 - EPS)).mean(axis=1) > 0.5)
        said_of += _full_days(problem, recipe, days, f"{shown(recipe.largest, recipe.unit)} a day")
    if recipe.room is not None:
        free = terms_of(problem, recipe.id, {}).free
        assert free is not None
        span = recipe.takes_days
        before = np.cumsum(started, axis=0)
        under_way = before.copy()
        under_way[span:] -= before[: max(0, before.shape[0] - span)]
        least = max(recipe.step if recipe.is_whole else 0.0, (recipe.smallest or 0.0) / recipe.makes)
        left = sooner(free[:, None], span) - under_way
        is_begun = started.mean(axis=1) > EPS
        days = np.flatnonzero(is_begun & ((left < max(least, EPS)).mean(axis=1) > 0.5))
        said_of += _full_days(problem, recipe, days, f"{shown(recipe.room, recipe.unit)} at one time")
    return said_of


def _full_days(problem: Problem, recipe: Recipe, days: Days, room: str) -> list[str]:
    """One sentence on the days, indices, on which a recipe's room is full; none where there are none."""
    if not days.size:
        return []
    first, last = problem.forecast.days[int(days[0])], problem.forecast.days[int(days[-1])]
    when = (
        f"on {format_day(first)}"
        if first == last
        else f"on {days.size} days from {format_day(first)} to {format_day(last)}"
    )
    return [
        f"{recipe.name}: the room for {room} is full {when}. "
        "What does not fit is started earlier where it keeps, and is short where it does not"
    ]


def _gap(problem: Problem, recipe: Recipe, cutbacks: list[Cutback]) -> str:
    lost: dict[int, float] = {}
    portions: dict[int, float] = {}
    for cutback in cutbacks:
        for (item, day), amount_short in cutback.sources.items():
            if item == recipe.id and day < recipe.takes_days:
                lost[day] = lost.get(day, 0.0) + float(np.mean(amount_short))
                hit = sum(cutback.hits.get((item, day), {}).values())
                portions[day] = portions.get(day, 0.0) + hit
    days = sorted(d for d in lost if portions[d] >= LEAST_PORTIONS)
    if not days:
        return ""
    first, last = problem.forecast.days[days[0]], problem.forecast.days[days[-1]]
    when = format_day(first) if first == last else f"{format_day(first)} to {format_day(last)}"
    missing = shown(to_get(sum(lost[d] for d in days), recipe.unit), recipe.unit)
    served = plural(math.ceil(sum(portions[d] for d in days) - EPS), "portion")
    does = "hung" if "long-ageing" in recipe.hazards else "started"
    start = _first_start(problem, recipe)
    begun = f"Anything {does} today"
    if start:
        on = f", on {format_day(problem.forecast.days[start])}," if start < problem.n_days else ""
        begun = f"The first that can be {does}{on}"
    ready = "is ready too late to help"
    if start + recipe.takes_days < problem.n_days:
        ready = f"is ready on {format_day(problem.forecast.days[start + recipe.takes_days])}"
    return f"{recipe.name}: {missing} short ({served}), {when}. {begun} {ready}"


def _first_start(problem: Problem, recipe: Recipe) -> int:
    """Index of the first day on which the parts of the least batch can be there; length of the days: none."""
    whole, smallest = recipe.step if recipe.is_whole else 0.0, (recipe.smallest or 0.0) / recipe.makes
    least = max(whole, smallest) * (1 - LITTLE)
    needed = [x for x in recipe.lines if x.drawn > 0 and not x.is_optional and x.item != recipe.id]
    return max((max(0, _there_from(problem, x.item, least * x.drawn) - x.at_days) for x in needed), default=0)


def _there_from(problem: Problem, item: str, quantity: float) -> int:
    """Index of the first day on which so much of an item can be there: had, on its way, bought or made.

    What was never counted and what comes off other recipes may be there at once.
    """
    if item in problem.unknown or problem.graph.falls.get(item):
        return 0
    made = problem.house.recipes.get(item)
    more = (
        made.takes_days + _first_start(problem, made) if made else problem.arrival.get(item, problem.n_days)
    )
    there = 0.0
    for parcel in sorted(problem.parcels.get(item, ()), key=lambda parcel: parcel.first):
        there += parcel.mean
        if there >= quantity - EPS:
            return min(parcel.first, more, problem.n_days)
    return min(more, problem.n_days)


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
    return tuple(sorted(found, key=_by_waste))


def _by_waste(lot: Expiring) -> tuple[float, str, str, str]:
    cost = 0.0 if lot.cost is None else round(lot.cost, 6)
    return -cost, lot.use_by.isoformat(), lot.item, str(lot.there_on)
