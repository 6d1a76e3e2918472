"""The starts as a list for the kitchen: what to put up, when, how much, from which parcels."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import date, timedelta

import numpy as np

from ordering.amounts import shown
from ordering.days import said
from ordering.net.dates import use_by
from ordering.net.materials import LONG_DAYS, store_of, take
from ordering.net.problem import Problem
from ordering.net.recipe_plan import Made, is_listed
from ordering.net.stock import DUST, Days
from ordering.net.sweep import Sweep
from ordering.records.house import Recipe
from ordering.records.plan import ItemFlow, Opening, Start

DAYS_SHOWN_AFTER = 7  # starts of the week after the next run are shown as planned
LEAST = 1e-6  # quantities below this are not worth a line


def listed_starts(
    problem: Problem,
    opening: Opening,
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
    store = store_of(problem, opening, flows, long)
    wanted = sorted(
        (day, -problem.graph.levels[item], item, batches)
        for item in recipes
        for day, batches in _shown(problem, item, found.made[item])
    )
    listed: list[Start] = []
    for day, _, item, batches in wanted:
        store.live_until(day)
        recipe = problem.house.recipes[item]
        if batches * recipe.makes >= LEAST:
            lots = take(store, item, day, batches) if item in long else ()
            start = _start(problem, recipe, day, batches, lots)
            note = _note(problem, item, day)
            listed.append(replace(start, use_by=_use_by(problem, last, start), note=note))
    return tuple(listed)


def _shown(problem: Problem, item: str, made: Made) -> list[tuple[int, float]]:
    """Day index and batches: as decided, then for a week as planned on the mean of the paths, whole batches
    when half of one is reached."""
    recipe = problem.house.recipes[item]
    days = made.decided[: problem.decided_days].tolist()
    if recipe.takes_days:
        until = problem.decided_days + DAYS_SHOWN_AFTER
        planned = np.cumsum(made.starts[problem.decided_days : until].mean(axis=1))
        planned = np.floor(planned + 0.5 + DUST) if recipe.is_whole else planned
        days += np.diff(planned, prepend=0.0).tolist()
    return [(t, b) for t, b in enumerate(days) if b * recipe.makes >= LEAST]


def _start(problem: Problem, recipe: Recipe, day: int, batches: float, lots: tuple[str, ...]) -> Start:
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
    )


def _note(problem: Problem, item: str, day: int) -> str:
    """Why a start is begun sooner than needed: the lots it uses up."""
    house, first = problem.house, problem.forecast.days[0]
    lots = [
        f"{shown(one.quantity, house.unit_of(one.item))} {house.name_of(one.item)}, "
        f"use by {said(first + timedelta(days=one.lot_last))}"
        for one in problem.sooner.get(item, ())
        if one.day == day
    ]
    return f"early, to use {'; '.join(lots)}" if lots else ""


def _use_by(problem: Problem, written: Mapping[str, Days], start: Start) -> date | None:
    """Last day of what a start makes, as planned with."""
    first = problem.forecast.days[0]
    ready = (start.ready_on - first).days
    last = written[start.recipe]
    if problem.offsets[start.recipe] is None and (ready >= last.size or last[ready] >= problem.n_days):
        return None
    if ready < last.size:
        return first + timedelta(days=int(last[ready]))
    return use_by(problem.house, start.recipe, start.ready_on)
