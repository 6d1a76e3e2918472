"""One sweep down the recipe graph: gross requirement, stock, batches, item by item.

Only the starts of recipes outlive their own item, [day, path] each; everything else is
forgotten at once or kept as a mean.

What the house has or has coming is drawn first, first expired first out; what is yet to be started is
planned for the rest, and its leftovers are drawn before the next batch is begun.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field

import numpy as np
from scipy import sparse

from ordering.net.dates import dated_parts
from ordering.net.frame import Frame, draws_begun
from ordering.net.par import planned
from ordering.net.starts import Making, making
from ordering.net.stock import DUST, Days, Drawn, Parcel, cohorts, draw, fallen
from ordering.records.plan import Array, Forecast


@dataclass(slots=True)
class Demand:
    """What is asked of the kitchen: portions by dish, [slot, path], and which slots each day has.

    to_days : [day, slot], 1 where the slot is on the day
    """

    portions: Mapping[str, Array]
    to_days: sparse.csr_array

    def by_day(self, dish: str) -> Array:
        """Portions of a dish, [day, path]."""
        daily: Array = self.to_days @ self.portions[dish]
        return daily

    def less(self, cuts: Mapping[str, Array]) -> Demand:
        """The demand without portions given up."""
        left = {d: np.maximum(p - cuts[d], 0.0) if d in cuts else p for d, p in self.portions.items()}
        return Demand(left, self.to_days)


def demand_of(forecast: Forecast, dishes: Iterable[str]) -> Demand:
    """The forecast as demand for these dishes; one the forecast does not have is asked for by nobody."""
    portions = dict.fromkeys(dishes, np.zeros(forecast.portions.shape[1:]))
    portions |= dict(zip(forecast.dishes, forecast.portions, strict=True))
    n_slots = len(forecast.slots)
    on = ([slot.day for slot in forecast.slots], np.arange(n_slots))
    return Demand(portions, sparse.csr_array((np.ones(n_slots), on), shape=(len(forecast.days), n_slots)))


DATE_ROUNDS = 4  # sweeps after the first, at most, until dates of parts that are kept settle

Dates = Mapping[str, Days]  # by item whose date date-marked recipes keep, the earliest drawn each day


@dataclass(slots=True)
class Sweep:
    """What a sweep leaves behind. Arrays [day, path]; starts in batches by start day.

    `lacks` : by item, what of its draws nothing can meet (bought too late, no time, no room).
    `oldest` : by item whose date date-marked recipes keep, the earliest last day index drawn that day;
    `dates` : those it was made with.
    """

    dates: Dates
    starts: dict[str, Array] = field(default_factory=dict)
    lacks: dict[str, Array] = field(default_factory=dict)
    oldest: dict[str, Days] = field(default_factory=dict)


def gross_of(
    frame: Frame, demand: Demand, starts: Mapping[str, Array], item: str, until: int | None = None
) -> Array:
    """Gross requirement of an item: dishes, recipes that draw it, begun or to be started, consumables.
    [day, path]

    until : days from this day index on are left out; None: none are
    """
    n_days = frame.n_days if until is None else min(until, frame.n_days)
    gross = np.zeros((n_days, frame.n_paths))
    for dish in frame.graph.dishes.get(item, ()):
        gross += demand.by_day(dish)[:n_days] * frame.house.dishes[dish].portion
    for use in frame.graph.uses.get(item, ()):
        made = starts.get(use.recipe)
        if made is not None:
            gross[use.at_days :] += made[: max(0, n_days - use.at_days)] * use.quantity
        if use.recipe in frame.begun:
            gross += draws_begun(frame, use)[:n_days, None]
    if item in frame.consumables:
        gross += frame.consumables[item][:n_days]
    return gross


def parcels_of(frame: Frame, starts: Mapping[str, Array], item: str) -> list[Parcel]:
    """What is there, on its way, begun sooner, or falls out of other recipes' starts."""
    parcels = list(frame.parcels.get(item, ()))
    parcels += [
        Parcel(one.ready, one.last, one.batches * frame.house.recipes[item].makes, "sooner")
        for one in frame.sooner.get(item, ())
    ]
    falls = [f for f in frame.graph.falls.get(item, ()) if f.recipe in starts]
    if falls:
        came = np.zeros((frame.n_days, frame.n_paths))
        for fall in falls:
            made = starts[fall.recipe]
            came[fall.after_days :] += made[: max(0, frame.n_days - fall.after_days)] * fall.quantity
        parcels.extend(fallen(came, frame.offsets[item]))
    return parcels


def terms_of(frame: Frame, item: str, oldest: Mapping[str, Days]) -> Making:
    """How a recipe may be made: its last days, shortened to those of its oldest part where marked."""
    recipe = frame.house.recipes[item]
    ready = np.arange(frame.n_days)
    offset = frame.offsets[item]
    last = np.full(frame.n_days, 2 * frame.n_days) if offset is None else ready + offset
    dated = dated_parts(frame.house, item)
    for line in recipe.lines:
        if line.item in dated and line.item in oldest:
            drawn_on = ready - recipe.takes_days + line.at_days
            known = (drawn_on >= 0) & (drawn_on < frame.n_days)
            last[known] = np.minimum(last[known], oldest[line.item][drawn_on[known]])
    return making(recipe, np.maximum(last, ready), frame.windows.get(item), frame.par_off.get(item))


def with_sooner(frame: Frame, item: str, own: Array) -> Array:
    """Batches by start day, [day] or [day, path], with those begun sooner to use up a lot."""
    begun = [one for one in frame.sooner.get(item, ()) if one.day < own.shape[0]]
    if not begun:
        return own
    started = own.copy()
    for one in begun:
        started[one.day] += one.batches
    return started


def by_start(ready: Array, takes_days: int) -> Array:
    """Batches by start day from batches by ready day."""
    if takes_days == 0:
        return ready
    started = np.zeros_like(ready)
    started[: max(0, ready.shape[0] - takes_days)] = ready[takes_days:]
    return started


def by_ready(started: Array, takes_days: int) -> Array:
    """Batches by ready day from batches by start day."""
    if takes_days == 0:
        return started
    ready = np.zeros_like(started)
    ready[takes_days:] = started[: max(0, started.shape[0] - takes_days)]
    return ready


def touched(frame: Frame, changed: Collection[str], before: Dates, dates: Dates) -> set[str]:
    """Items whose requirement or stock can change when these items and the dates of marked parts change."""
    found: set[str] = set()
    for item in frame.graph.items:
        sources = [u.recipe for u in frame.graph.uses.get(item, ())]
        sources += [f.recipe for f in frame.graph.falls.get(item, ())]
        is_touched = item in changed or not found.isdisjoint(sources)
        if is_touched or any(_is_redated(before, dates, part) for part in dated_parts(frame.house, item)):
            found.add(item)
    return found


def _is_redated(before: Dates, dates: Dates, part: str) -> bool:
    one, other = before.get(part), dates.get(part)
    return one is not other and (one is None or other is None or not np.array_equal(one, other))


def sweep(
    frame: Frame,
    demand: Demand,
    oldest: Dates,
    before: tuple[Sweep, Collection[str]] | None = None,
    only: Collection[str] | None = None,
) -> Sweep:
    """Every path as if its demand were known: latest starts in time, and what nothing can meet.

    What keeps the date of its parts is swept again until the dates it was swept with are those drawn.

    before : an earlier sweep and the recipes whose dishes changed since; the rest is taken from it
    only : items to sweep, and all above them; None: all. What else changed is left out
    """
    found = _swept(frame, demand, oldest, before, only)
    for _ in range(DATE_ROUNDS):
        if not any(_is_redated(found.dates, found.oldest, part) for part in found.oldest):
            break
        found = _swept(frame, demand, found.oldest, (found, ()), only)
    return found


def _swept(
    frame: Frame,
    demand: Demand,
    oldest: Dates,
    before: tuple[Sweep, Collection[str]] | None,
    only: Collection[str] | None,
) -> Sweep:
    """One sweep with given dates. Of a bought item only the days on which no purchase can be there yet are
    looked at, unless a recipe keeps its date."""
    found = Sweep(oldest)
    dated = {part for recipe in frame.house.recipes for part in dated_parts(frame.house, recipe)}
    fresh = set() if before is None else touched(frame, before[1], before[0].dates, oldest)
    for item in frame.graph.items:
        if before is not None and item not in fresh:
            _keep(found, before[0], item)
            continue
        if only is not None and item not in only:
            continue
        recipe = frame.house.recipes.get(item)
        until = frame.arrival.get(item) if recipe is None and item not in dated else None
        gross = gross_of(frame, demand, found.starts, item, until)
        is_kept = item in dated or (recipe is not None and recipe.par)
        if gross.max(initial=0.0) <= DUST and not is_kept:
            continue
        drawn = draw(parcels_of(frame, found.starts, item), gross)
        made: list[Parcel] = []
        terms = None
        if recipe is None:
            lack = too_soon(frame, item, drawn)
        else:
            terms = terms_of(frame, item, oldest)
            ready, lack = planned(drawn, terms)
            made = cohorts(ready * terms.makes, terms.last) if item in dated else []
            if ready.max(initial=0.0) > 0 or item in frame.sooner:
                found.starts[item] = with_sooner(frame, item, by_start(ready, recipe.takes_days))
        if lack.max(initial=0.0) > DUST:
            found.lacks[item] = lack
        if item in dated:
            found.oldest[item] = oldest_drawn(frame, item, drawn, made, terms)
    return found


def too_soon(frame: Frame, item: str, drawn: Drawn) -> Array:
    """What is drawn of a bought item, and is not there, before a purchase can be. [day, path]"""
    lack = np.zeros((frame.n_days, frame.n_paths))
    lack[: frame.arrival.get(item)] = drawn.unmet[: frame.arrival.get(item)]
    return lack


def _keep(found: Sweep, before: Sweep, item: str) -> None:
    if item in before.starts:
        found.starts[item] = before.starts[item]
    if item in before.lacks:
        found.lacks[item] = before.lacks[item]
    if item in before.oldest:
        found.oldest[item] = before.oldest[item]


def oldest_drawn(frame: Frame, item: str, drawn: Drawn, made: Iterable[Parcel], terms: Making | None) -> Days:
    """Earliest last day among what is drawn on each day, on any path; of fresh goods where nothing is drawn.

    made : what is made of the item, drawn when the parcels are
    """
    n_days = frame.n_days
    offset = frame.offsets[item]
    fresh = np.arange(n_days) + (2 * n_days if offset is None else offset)
    earliest = fresh if terms is None else np.minimum(fresh, terms.last)
    if terms is not None and terms.on is not None:  # made ahead, it is as old as its batch
        earliest = earliest[terms.on]
    if terms is not None and terms.is_whole:  # the rest of yesterday's batch goes first
        before = np.concatenate(([2 * n_days], earliest[:-1]))
        earliest = np.where(before >= np.arange(n_days), np.minimum(earliest, before), earliest)
    earliest = earliest.copy()
    for taken in (*drawn.taken, *draw(made, drawn.unmet).taken):
        parcel = taken.parcel
        until = parcel.last if taken.left.max() > DUST else taken.days[1] if taken.days else -1
        there = slice(parcel.first, until + 1)
        earliest[there] = np.minimum(earliest[there], parcel.last)
    return earliest
