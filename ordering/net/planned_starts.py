"""The starts as a list for the kitchen: what to start, when, how much, from which lots, good until when.

The last day that is written beside a start is no later than that of any marked part that may go into it.
What the margin leaves of a part goes, a day older, into the next batch of a recipe that keeps the date of
its parts (`net/shelf_life.py`). So once all is decided, dates are worked out anew, parts first, from what
is there on any path when a batch is begun. Nothing is decided again: the plan may count on a batch for
longer than is written on it, and the next run, which finds the written date in the count, plans with
that.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import date, timedelta

import numpy as np

from ordering.amounts import EPS, LEAST_SHOWN, shown
from ordering.days import format_day
from ordering.explode.horizon import FAR_DAYS
from ordering.net.date_marks import can_be_fresh, comes_back, oldest_drawn
from ordering.net.problem import Problem, draws_begun, gross_of, parcels_of, terms_of
from ordering.net.recipe_plan import Made, is_listed, made_later
from ordering.net.shelf_life import Days, Flags, Parcel, cohorts, use_by
from ordering.net.sweep import Sweep
from ordering.records.house import Recipe, RecipeLine
from ordering.records.plan import Array, ItemFlow, Start, TakenForStart

DAYS_SHOWN_AFTER = 7  # starts of the week after the next run are shown as planned


def printed_last(problem: Problem, found: Sweep) -> dict[str, Days]:
    """By recipe, the last day index, [day], to write on what is ready that day; never later than planned."""
    starts, until = found.starts, min(problem.n_days, problem.decided_days + DAYS_SHOWN_AFTER)
    last, oldest = {item: one.terms.last for item, one in found.made.items()}, dict[str, Days]()
    for item in reversed(problem.graph.items):
        terms, made = None, list[Parcel]()
        if item in last:
            terms = terms_of(problem, item, oldest)
            last[item] = np.minimum(last[item], terms.last)
            terms = replace(terms, last=last[item])
        if item not in problem.dated and not comes_back(problem, item):
            continue
        if terms is not None:
            made = cohorts(made_later(problem, item, starts[item]), last[item])
        parcels = parcels_of(problem, starts, item, found.dates.get(item))
        gross = gross_of(problem, starts, item)
        oldest[item] = oldest_drawn(problem, starts, item, terms, [*parcels, *made], gross, until)
    return last


LONG_DAYS = 2  # a stage of this many days or more says from which parcels it is to be made


@dataclass(slots=True)
class RemainingLot:
    """What is left of parcels of one kind and the same days on the expected path: see `Parcel`."""

    last: int
    first: int
    kind: str
    left: float


@dataclass(slots=True)
class Store:
    """Parcels of every item that listed starts take from, and what others draw from them by day."""

    problem: Problem
    lots: dict[str, list[RemainingLot]] = field(default_factory=lambda: defaultdict(list))
    others: dict[str, Array] = field(default_factory=dict)
    done: int = 0

    def live_until(self, day: int) -> None:
        """Let others draw their expected share on the days before `day`."""
        for t in range(self.done, day):
            for item, drawn in self.others.items():
                self.draw(item, t, float(drawn[t]))
        self.done = day

    def usable(self, item: str, day: int) -> list[RemainingLot]:
        """Lots of an item that may be used on a day, oldest first."""
        return [h for h in self.lots[item] if h.first <= day <= h.last and h.left > EPS]

    def draw(
        self, item: str, day: int, quantity: float, is_freshest: bool = False
    ) -> list[tuple[RemainingLot, float]]:
        """Lots and what each gives, first expired first out, or what is good longest."""
        given = []
        for lot in self.usable(item, day)[:: -1 if is_freshest else 1]:
            amount = min(lot.left, quantity)
            lot.left -= amount
            quantity -= amount
            given.append((lot, amount))
        return given


def store_of(
    problem: Problem, found: Sweep, flows: Mapping[str, ItemFlow], recipes: Collection[str]
) -> Store:
    """Stock of the parts of these recipes, what is on its way and what will come off others.

    Parts made the same day are taken apart into theirs.
    """
    items, makers = _parts(problem, recipes)
    store = Store(problem)
    for item in sorted(items):
        there: dict[tuple[int, int, str], float] = defaultdict(float)
        for one in parcels_of(problem, found.starts, item, found.dates.get(item)):
            if one.kind != "early":
                there[one.last, one.first, one.kind] += one.mean
        store.lots[item] = [RemainingLot(*days, quantity) for days, quantity in sorted(there.items())]
        flow = flows[item]
        drawn = (one for parent, one in flow.by_parent.items() if parent in makers)
        mine = sum(drawn, np.zeros(problem.n_days))
        for use in problem.graph.uses.get(item, ()):
            if use.recipe in makers:  # what is under way draws before what is yet to be started
                mine = mine - draws_begun(problem, use)
        store.others[item] = np.maximum(0.0, flow.gross - mine)
    return store


def _parts(problem: Problem, recipes: Collection[str]) -> tuple[set[str], set[str]]:
    """Items drawn by recipes and by their same-day parts; and the recipes that draw them."""
    items: set[str] = set()
    makers = set(recipes)
    ring = sorted(recipes)
    while ring:
        drawn = {x.item for r in ring for x in _lines(problem, r)} - items
        items |= drawn
        ring = sorted(
            i for i in drawn if i in problem.house.recipes and not problem.house.recipes[i].takes_days
        )
        makers.update(ring)
    return items, makers


def _lines(problem: Problem, recipe_id: str) -> list[RecipeLine]:
    """Lines of a recipe that are planned, in a fixed order: what goes round in a circle is set aside."""
    aside = {one.item for one in problem.graph.set_aside if one.recipe == recipe_id}
    lines = (x for x in problem.house.recipes[recipe_id].lines if x.item not in aside)
    return sorted(lines, key=lambda x: (x.item, x.at_days, x.drawn))


def take(store: Store, recipe_id: str, day: int, batches: float) -> tuple[TakenForStart, ...]:
    """Take what a start needs: the parcels, in the order it takes them, and what is still to come."""
    found: list[TakenForStart] = []
    for line in _lines(store.problem, recipe_id):
        is_freshest = store.problem.dated.get(line.item, {}).get(recipe_id, False)
        found.extend(_taken(store, line, (day + line.at_days, is_freshest), line.drawn * batches))
    return tuple(found)


def _is_made_for_it(problem: Problem, item: str, day: int) -> bool:
    """Whether a part is made fresh for the marked recipe that draws it on a day."""
    if item not in problem.together:
        return False
    return bool(can_be_fresh(problem, item, terms_of(problem, item, {}))[day : day + 1].any())


def _taken(store: Store, line: RecipeLine, at: tuple[int, bool], quantity: float) -> Iterable[TakenForStart]:
    """At : day index, and whether the freshest is taken; what is made for it that day is no parcel yet."""
    problem, first = store.problem, store.problem.forecast.days[0]
    day, is_freshest = at
    part = problem.house.recipes.get(line.item)
    if is_freshest and _is_made_for_it(problem, line.item, day):
        yield TakenForStart(line, quantity, is_freshest=True)
        return
    n_usable = len(store.usable(line.item, day))
    for lot, given in store.draw(line.item, day, quantity, is_freshest):
        quantity -= given
        if given > EPS:
            is_labelled = lot.kind in ("opening", "in-process")
            use_by = first + timedelta(days=lot.last) if is_labelled and lot.last < FAR_DAYS else None
            comes_on = None if is_labelled else first + timedelta(days=lot.first)
            yield TakenForStart(line, given, use_by, comes_on, n_usable == 1, is_freshest=is_freshest)
    if quantity > EPS and part is not None and not part.takes_days:
        yield from take(store, line.item, day, quantity / part.makes)
    elif quantity > EPS:
        yield TakenForStart(line, quantity, is_only=not n_usable, is_missing=True)


def listed_starts(
    problem: Problem,
    found: Sweep,
    flows: Mapping[str, ItemFlow],
    last: Mapping[str, Days],
) -> tuple[Start, ...]:
    """Starts in order of day, on each day parts before what is made from them, then by recipe.

    Those before the next run are decided; a week more is listed as planned, for stages that take a
    day or more. What is made for the same service is listed when it is made in whole batches, keeps
    to the next day, has a par, or goes into other recipes; a plate is not.

    last : by recipe, last day index by ready day, as it is to be written
    """
    recipes = {r for r in found.made if is_listed(problem, r)}
    long = {r for r in recipes if problem.house.recipes[r].takes_days >= LONG_DAYS}
    store = store_of(problem, found, flows, long)
    wanted = sorted(
        (day, -problem.graph.levels[item], item, batches)
        for item in recipes
        for day, batches in _shown(problem, item, found.made[item])
    )
    choice = {item: _is_choice(problem, found, item) for item in problem.dated}
    listed: list[Start] = []
    for day, _, item, batches in wanted:
        store.live_until(day)
        recipe = problem.house.recipes[item]
        if batches * recipe.makes >= LEAST_SHOWN:
            lots = take(store, item, day, batches) if item in long else ()
            start = _start(problem, recipe, day, batches, lots, last[item])
            listed.append(replace(start, note=_note(problem, recipe, (day, batches), choice)))
    return tuple(listed)


def _shown(problem: Problem, item: str, made: Made) -> list[tuple[int, float]]:
    """Day index and batches: as decided, then for a week as planned on the mean of the paths."""
    recipe = problem.house.recipes[item]
    days = made.decided[: problem.decided_days].tolist()
    if recipe.takes_days:
        until = problem.decided_days + DAYS_SHOWN_AFTER
        days += _foreseen(recipe, made.starts[problem.decided_days : until].mean(axis=1).tolist())
    return [(t, b) for t, b in enumerate(days) if b * recipe.makes >= LEAST_SHOWN]


def _foreseen(recipe: Recipe, mean: Iterable[float]) -> list[float]:
    """Batches by day that can be made: whole ones, or the least there is, when half of one is reached."""
    least, wanted, days = (recipe.smallest or 0.0) / recipe.makes, 0.0, []
    for more in mean:
        wanted += more
        batches = recipe.at_most(wanted + recipe.step / 2) if recipe.is_whole else wanted
        if batches < least * (1 - EPS):
            batches = least if wanted >= least / 2 else 0.0
        days.append(batches)
        wanted -= batches
    return days


def _start(
    problem: Problem, recipe: Recipe, day: int, batches: float, lots: tuple[TakenForStart, ...], last: Days
) -> Start:
    """A start as listed; last : [day], by ready day, as it is to be written."""
    on = problem.forecast.days[day]
    return Start(
        start_on=on,
        recipe=recipe.id,
        batches=batches,
        quantity=batches * recipe.makes,
        unit=recipe.unit,
        ready_on=on + timedelta(days=recipe.takes_days),
        from_lots=lots,
        hazards=recipe.hazards,
        use_by=_use_by(problem, recipe, day + recipe.takes_days, last),
    )


def _is_choice(problem: Problem, found: Sweep, item: str) -> Flags:
    """Whether an item with different last days can be there, [day]."""
    lots = parcels_of(problem, found.starts, item, found.dates.get(item))
    if item in found.made:
        lots += cohorts(made_later(problem, item, found.starts[item]), found.made[item].terms.last)
    least, most = np.full(problem.n_days, FAR_DAYS), np.full(problem.n_days, -1)
    for one in lots:
        there = slice(one.first, one.last + 1)
        least[there], most[there] = np.minimum(least[there], one.last), np.maximum(most[there], one.last)
    return np.asarray(least < most)


def _note(problem: Problem, recipe: Recipe, at: tuple[int, float], choice: Mapping[str, Flags]) -> str:
    """Why a start is begun sooner than needed, of what it takes the freshest, and where it is not whole.

    at : day index, batches; choice : by marked part, whether it can be there with different last days, [day]
    """
    house, first, (day, batches) = problem.house, problem.forecast.days[0], at
    lots = [
        f"{shown(one.quantity, house.unit_of(one.item))} {house.name_of(one.item)}, "
        f"use by {format_day(first + timedelta(days=one.lot_last))}"
        for one in problem.early.get(recipe.id, ())
        if one.day == day
    ]
    early = [f"early, to use {'; '.join(lots)}"] if lots else []
    fresh = [
        f"with the freshest {house.name_of(x.item)}"
        for x in recipe.lines
        if problem.dated.get(x.item, {}).get(recipe.id)
        and choice[x.item][day + x.at_days : day + x.at_days + 1].any()
    ]
    is_little_less = recipe.is_whole and not np.isclose(batches, recipe.enough(batches))
    less = ["a little less than a whole batch: as much as there is for it"] if is_little_less else []
    return "; ".join(early + fresh + less)


def _use_by(problem: Problem, recipe: Recipe, ready: int, last: Days) -> date | None:
    """Last day of what a start makes that is ready on a day index, as planned with."""
    first = problem.forecast.days[0]
    if problem.offsets[recipe.id] is None and (ready >= last.size or last[ready] >= problem.n_days):
        return None
    if ready < last.size:
        return first + timedelta(days=int(last[ready]))
    return use_by(problem.house, recipe.id, first + timedelta(days=ready))
