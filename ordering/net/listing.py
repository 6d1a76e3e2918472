"""The starts as a list for the kitchen: what to put up, when, how much, from which parcels."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import replace
from datetime import date, timedelta

from ordering.amounts import shown
from ordering.days import said
from ordering.net.dates import use_by
from ordering.net.flows import DAYS_SHOWN_AFTER, Decision
from ordering.net.frame import Frame
from ordering.net.materials import LONG_DAYS, possible_batches, store_of, take
from ordering.records.house import Recipe
from ordering.records.plan import Array, Opening, Start

LEAST = 1e-6  # quantities below this are not worth a line


def listed_starts(
    frame: Frame,
    opening: Opening,
    decision: Decision,
    held_back: Collection[str],
) -> tuple[Start, ...]:
    """Starts in order of day, on each day parts before what is made from them, then by recipe.

    Those before the next run are decided; a week more is listed as planned, for stages that take a
    day or more. What is made for the same service is listed when it is made in whole batches, keeps
    to the next day, has a par, or goes into other recipes; a plate is not.

    held_back : recipes whose parts are scarce; their starts are cut to what is there
    """
    decided = decision.decided
    recipes = {r for r in decided if _is_listed(frame, frame.house.recipes[r])}
    long = {r for r in recipes if frame.house.recipes[r].takes_days >= LONG_DAYS}
    store = store_of(frame, opening, decision.flows, long | set(held_back))
    wanted = sorted(
        (day, -frame.graph.levels[item], item, batches)
        for item in recipes
        for day, batches in _shown(frame, item, decided[item])
    )
    listed: list[Start] = []
    for day, _, item, batches in wanted:
        store.live_until(day)
        if item in held_back:
            batches = possible_batches(store, item, day, batches)
        recipe = frame.house.recipes[item]
        if batches * recipe.makes >= LEAST:
            lots = take(store, item, day, batches) if item in long or item in held_back else ()
            start = _start(frame, recipe, day, batches, lots if item in long else ())
            note = _note(frame, item, day)
            listed.append(replace(start, use_by=_use_by(frame, decision, start), note=note))
    return tuple(listed)


def _shown(frame: Frame, item: str, decided: Array) -> list[tuple[int, float]]:
    recipe = frame.house.recipes[item]
    days = frame.decided_days + (DAYS_SHOWN_AFTER if recipe.takes_days else 0)
    return [(t, b) for t, b in enumerate(decided[:days].tolist()) if b * recipe.makes >= LEAST]


def _start(frame: Frame, recipe: Recipe, day: int, batches: float, lots: tuple[str, ...]) -> Start:
    on = frame.forecast.days[day]
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


def _note(frame: Frame, item: str, day: int) -> str:
    """Why a start is begun sooner than needed: the lots it uses up."""
    house, first = frame.house, frame.forecast.days[0]
    lots = [
        f"{shown(one.quantity, house.unit_of(one.item))} {house.name_of(one.item)}, "
        f"use by {said(first + timedelta(days=one.lot_last))}"
        for one in frame.sooner.get(item, ())
        if one.day == day
    ]
    return f"early, to use {'; '.join(lots)}" if lots else ""


def _use_by(frame: Frame, decision: Decision, start: Start) -> date | None:
    """Last day of what a start makes, as planned with."""
    first = frame.forecast.days[0]
    ready = (start.ready_on - first).days
    last = decision.last[start.recipe]
    if frame.offsets[start.recipe] is None and (ready >= last.size or last[ready] >= frame.n_days):
        return None
    if ready < last.size:
        return first + timedelta(days=int(last[ready]))
    return use_by(frame.house, start.recipe, start.ready_on)


def _is_listed(frame: Frame, recipe: Recipe) -> bool:
    keeps = frame.offsets[recipe.id]
    if recipe.takes_days or recipe.is_whole or recipe.par or frame.graph.uses.get(recipe.id):
        return True
    return keeps is not None and keeps > 0
