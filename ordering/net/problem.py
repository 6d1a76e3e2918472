"""What one netting is about, laid out for arrays: demand, what there is and comes, limits, who draws what."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from datetime import date

import numpy as np
from scipy import sparse

from ordering.amounts import EPS
from ordering.explode.graph import Fall, Graph, Use, folded, recipe_graph
from ordering.net.batches import Making, free_batches
from ordering.net.parcels import how_long, opening_parcels
from ordering.net.shelf_life import Days, Flags, Parcel, dates_kept, last_offset
from ordering.net.start_days import Supply, Window, windows_of
from ordering.records.buying import Delivery
from ordering.records.house import House
from ordering.records.order_days import next_order_day
from ordering.records.plan import Array, Forecast, Opening


@dataclass(frozen=True, slots=True)
class EarlyStart:
    """Batches begun sooner than they would be, on every path: see `net/early_starts.py`.

    batches : all that are begun that day, `own` of which were planned for it anyway; day, ready, last :
    indices of the day they are begun, ready, and last good; quantity of item : what they take of a lot whose
    last day index is `lot_last`
    """

    day: int
    batches: float
    own: float
    ready: int
    last: int
    item: str
    quantity: float
    lot_last: int


@dataclass(frozen=True, slots=True)
class Problem:
    """Everything a sweep over the items needs and does not change.

    rows : the forecast's row of each dish; to_days : [day, slot], 1 where the slot is on the day; consumables
    : by item, [day, path]; parcels : by item, what is there or on its way; offsets : by item, days from ready
    to last day; arrival : by item, first day index on which a purchase can be there; decided_days : day
    indices below it are decided by this run; unknown : items never counted; windows : by recipe whose starts
    are not all just in time, the days on which it can be started; begun : by recipe, batches under way as
    (day index of their start, batches); par_off : by recipe whose par waits for what goes into it, [day]
    whether it is not kept that evening; early : by recipe, batches begun sooner to use up a lot; limits : by
    recipe whose parts cannot be there, most batches to start on each day, [day]; dated : by part, the recipes
    that keep its date mark, and whether they take the freshest of it; together : those of these parts that
    are made for them; age : by part, days since it was made when it is usually drawn.
    """

    house: House
    graph: Graph
    forecast: Forecast
    rows: Mapping[str, int]
    to_days: sparse.csr_array
    consumables: Mapping[str, Array]
    parcels: Mapping[str, tuple[Parcel, ...]]
    offsets: Mapping[str, int | None]
    arrival: Mapping[str, int]
    decided_days: int
    unknown: frozenset[str] = frozenset()
    windows: Mapping[str, Window] = field(default_factory=dict)
    begun: Mapping[str, tuple[tuple[int, float], ...]] = field(default_factory=dict)
    par_off: Mapping[str, Flags] = field(default_factory=dict)
    early: Mapping[str, tuple[EarlyStart, ...]] = field(default_factory=dict)
    limits: Mapping[str, Array] = field(default_factory=dict)
    dated: Mapping[str, Mapping[str, bool]] = field(default_factory=dict)
    together: frozenset[str] = frozenset()
    age: Mapping[str, int] = field(default_factory=dict)

    @property
    def n_days(self) -> int:
        """Length of the day axis."""
        return len(self.forecast.days)

    @property
    def n_paths(self) -> int:
        """Length of the path axis."""
        return int(self.forecast.portions.shape[2])

    def portions(self, dish: str) -> Array:
        """Portions of a dish, [slot, path]; one the forecast does not have is asked for by nobody."""
        if dish not in self.rows:
            return np.zeros(self.forecast.portions.shape[1:])
        found: Array = self.forecast.portions[self.rows[dish]]
        return found

    def portions_by_day(self, dish: str) -> Array:
        """Portions of a dish, [day, path]."""
        daily: Array = self.to_days @ self.portions(dish)
        return daily


def problem_of(
    house: House,
    opening: Opening,
    forecast: Forecast,
    arrival: Mapping[str, int],
    deliveries: Mapping[str, tuple[Delivery, ...]] | None = None,
) -> Problem:
    """The problem of one netting. Recipes that carry over their own output are folded, see `folded`."""
    house = folded(house)
    graph = recipe_graph(house)
    first = forecast.days[0]
    offsets = {i: last_offset(house, i) for i in graph.items}
    parcels = opening_parcels(house, opening, forecast)
    supply = Supply(
        house, graph, parcels, offsets, arrival, deliveries or {}, opening.unknown, len(forecast.days)
    )
    return Problem(
        house=house,
        graph=graph,
        forecast=forecast,
        rows={dish: n for n, dish in enumerate(forecast.dishes)},
        to_days=_to_days(forecast),
        consumables=consumables(house, forecast),
        parcels=parcels,
        offsets=offsets,
        arrival=arrival,
        decided_days=min(len(forecast.days), (next_order_day(house, first) - first).days),
        unknown=opening.unknown,
        windows=windows_of(supply, forecast),
        begun=_begun(opening, first),
        dated=dates_kept(house),
    )


def _begun(opening: Opening, first: date) -> dict[str, tuple[tuple[int, float], ...]]:
    begun: dict[str, list[tuple[int, float]]] = defaultdict(list)
    for one in opening.begun:
        begun[one.recipe].append(((one.started_on - first).days, one.batches))
    return {recipe: tuple(sorted(starts)) for recipe, starts in begun.items()}


def draws_begun(problem: Problem, use: Use) -> Array:
    """What batches under way still draw by one line, [day]. What their first day draws is drawn."""
    drawn = np.zeros(problem.n_days)
    for started, batches in problem.begun.get(use.recipe, ()):
        day = started + use.at_days
        if use.at_days > 0 and 0 <= day < problem.n_days:
            drawn[day] += batches * use.quantity
    return drawn


def consumables(house: House, forecast: Forecast) -> dict[str, Array]:
    """What consumables draw: by item, [day, path]; only where the house is open or let to a party."""
    n_days, n_paths = len(forecast.days), forecast.portions.shape[2]
    parties = {(p.date, p.service) for p in house.parties}
    is_open = [(s.date, s.service) in parties or house.is_open(s.date, s.service) for s in forecast.slots]
    drawn: dict[str, Array] = {}
    for consumable in house.consumables:
        use = drawn.setdefault(consumable.item, np.zeros((n_days, n_paths)))
        days_done: set[int] = set()
        for k, slot in enumerate(forecast.slots):
            if not is_open[k] or (consumable.per == "day" and slot.day in days_done):
                continue
            days_done.add(slot.day)
            use[slot.day] += consumable.quantity * (forecast.covers[k] if consumable.per == "cover" else 1.0)
    return drawn


def _to_days(forecast: Forecast) -> sparse.csr_array:
    on = ([slot.day for slot in forecast.slots], np.arange(len(forecast.slots)))
    shape = (len(forecast.days), len(forecast.slots))
    return sparse.csr_array((np.ones(len(forecast.slots)), on), shape=shape)


def gross_of(problem: Problem, starts: Mapping[str, Array], item: str, until: int | None = None) -> Array:
    """Gross requirement of an item, [day, path]: of dishes, recipes begun or to be started, consumables.

    until : days from this day index on are left out; None: none are
    """
    n_days = problem.n_days if until is None else min(until, problem.n_days)
    gross = np.zeros((n_days, problem.n_paths))
    for dish in problem.graph.dishes.get(item, ()):
        gross += problem.portions_by_day(dish)[:n_days] * problem.house.dishes[dish].portion
    for use in problem.graph.uses.get(item, ()):
        made = starts.get(use.recipe)
        if made is not None:
            gross[use.at_days :] += made[: max(0, n_days - use.at_days)] * use.quantity
        if use.recipe in problem.begun:
            gross += draws_begun(problem, use)[:n_days, None]
    if item in problem.consumables:
        gross += problem.consumables[item][:n_days]
    return gross


def parcels_of(
    problem: Problem, starts: Mapping[str, Array], item: str, oldest: Days | None = None
) -> list[Parcel]:
    """What is there, on its way, begun sooner, or comes off other recipes' starts.

    starts : by recipe, batches, [day, path]; oldest : [2, day], last days drawn, see `net/date_marks.py`
    """
    parcels = list(problem.parcels.get(item, ()))
    parcels += [
        Parcel(one.ready, one.last, one.batches * problem.house.recipes[item].makes, "early")
        for one in problem.early.get(item, ())
    ]
    alike: dict[tuple[int | None, int | None], list[Fall]] = defaultdict(list)
    for fall in problem.graph.falls.get(item, ()):
        if fall.recipe in starts:
            alike[how_long(problem.house, item, fall)].append(fall)
    for (offset, before), falls in alike.items():
        came = np.zeros((problem.n_days, problem.n_paths))
        for fall in falls:
            made = starts[fall.recipe]
            came[fall.after_days :] += made[: max(0, problem.n_days - fall.after_days)] * fall.quantity
        parcels.extend(_fallen(came, offset, before))
    return [_redated(one, oldest) for one in parcels]


def _fallen(quantity: Array, offset: int | None, drawn_before: int | None = None) -> Iterator[Parcel]:
    """By-products of each day as parcels. quantity : [day, path]; offset None: they keep for ever.

    drawn_before : days since what comes back was drawn, where it keeps its date; None: it has its own
    """
    for t in np.flatnonzero(quantity.max(axis=1) > EPS).tolist():
        drawn = None if drawn_before is None else t - drawn_before
        last = quantity.shape[0] if offset is None else (t if drawn is None else drawn) + offset
        yield Parcel(t, last, quantity[t], "by-product", drawn)


def _redated(parcel: Parcel, oldest: Days | None) -> Parcel:
    """A parcel that, if it comes back, is no longer good than what was drawn; past it, it goes at once.

    oldest : [2, day], the earliest last day index drawn on each day; None: not known yet
    """
    if parcel.drawn is None:
        return parcel
    known = () if oldest is None or parcel.drawn < 0 else oldest[0, parcel.drawn : parcel.drawn + 1].tolist()
    return replace(parcel, last=max(min([parcel.last, *known]), parcel.first - 1))


def fresh_last(problem: Problem, item: str) -> Days:
    """Last day index of what comes or is ready on each day, [day], by its own date."""
    keeps = problem.offsets[item]
    return np.arange(problem.n_days) + (2 * problem.n_days if keeps is None else keeps)


def last_of(problem: Problem, item: str, oldest: Mapping[str, Days]) -> Days:
    """Last day index of what is ready on a day, [day], shortened to that of its oldest part where marked.

    oldest : by part, what is known of it; else it is fresh
    """
    recipe, ready, last = problem.house.recipes[item], np.arange(problem.n_days), fresh_last(problem, item)
    for line in recipe.lines:
        is_freshest = problem.dated.get(line.item, {}).get(item)
        if is_freshest is not None:
            known = oldest.get(line.item)
            part = fresh_last(problem, line.item) if known is None else known[int(is_freshest)]
            drawn_on = ready - recipe.takes_days + line.at_days
            here = (drawn_on >= 0) & (drawn_on < problem.n_days)
            last[here] = np.minimum(last[here], part[drawn_on[here]])
    return np.maximum(last, ready, out=last)


def terms_of(problem: Problem, item: str, oldest: Mapping[str, Days]) -> Making:
    """How a recipe may be made."""
    recipe, last = problem.house.recipes[item], last_of(problem, item, oldest)
    window = problem.windows.get(item)
    on, can = (None, None) if window is None else window.ready_days(recipe.takes_days, last)
    return Making(
        makes=recipe.makes,
        is_whole=recipe.is_whole,
        first_ready=recipe.takes_days,
        last=last,
        most=recipe.most_batches,
        on=on,
        can=can,
        par=recipe.par or 0.0,
        par_off=problem.par_off.get(item),
        step=recipe.step,
        least=(recipe.smallest or 0.0) / recipe.makes,
        free=free_batches(recipe, problem.parcels.get(item, ()), problem.n_days),
    )
