"""A house that cooks for others: what they take is the demand of its own run.

Each house's order of each thing becomes a dish of its own, served with the deliveries of the day: one portion
is one pack. So batches, ageing, starts, shortages and buying are decided as for guests, and safety is held
once, for what all houses take together.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date

import numpy as np
from numpy.typing import NDArray

from ordering.amounts import LEAST_SHOWN, shown
from ordering.explode.horizon import horizon_days
from ordering.faults import Fault, Refused, nearest
from ordering.records.group import HouseDemand
from ordering.records.house import Dish, House, Recipe, RecipeLine, Service
from ordering.records.plan import QUANTILES, Array, Forecast, Plan, Slot, Start
from ordering.units import UnitError, convert

DELIVERIES = "deliveries"


def supplying(house: House, demands: Sequence[HouseDemand]) -> House:
    """The house with a dish for each thing that each house takes, served with the deliveries of every day.

    Raises
    ------
    Refused : a code that is no item of this house, or a pack that cannot be told in the item's unit
    """
    faults = [fault for demand in demands if (fault := _fault(house, demand)) is not None]
    if faults:
        raise Refused(faults)
    recipes = {dish_id(d): _packed(house, d) for d in demands}
    dishes = {dish_id(d): _taken(house, d) for d in demands}
    service = Service(DELIVERIES, frozenset(range(7)))
    return replace(
        house,
        services={**house.services, DELIVERIES: service},
        recipes={**house.recipes, **recipes},
        dishes={**house.dishes, **dishes},
    )


def with_demands(own: Forecast, demands: Sequence[HouseDemand], days: Sequence[date], seed: int) -> Forecast:
    """The house's own forecast with what the other houses take.

    The houses drew their paths apart from each other, so theirs are shuffled by house: two of them are busy
    on the same path no more often than chance has it.
    """
    n_days, n_paths = len(days), own.covers.shape[1]
    slots = tuple(Slot(day, DELIVERIES, n) for n, day in enumerate(days))
    taken = np.zeros((len(demands), n_days, n_paths))
    for n, demand in enumerate(demands):
        known = min(n_days, len(demand.packs))
        taken[n, :known] = demand.packs[:known, shuffled(demand, seed, n_paths)]
    n_own, n_dishes = len(own.slots), len(own.dishes)
    nothing = np.zeros(n_days)
    every = (*own.slots, *slots)
    in_time = sorted(range(len(every)), key=lambda n: every[n].day)

    def beside(theirs: Array, mine: Array) -> Array:
        """Own dishes on own slots, then those of the houses on theirs.

        theirs : [demand, day, ...]; mine : [dish, slot, ...].
        """
        shape = (n_dishes + len(demands), n_own + n_days, *mine.shape[2:])
        both = np.zeros(shape)
        both[:n_dishes, :n_own], both[n_dishes:, n_own:] = mine, theirs
        return both[:, in_time]

    quantiles = np.moveaxis(np.quantile(taken, QUANTILES, axis=2, method="inverted_cdf"), 0, 2)
    certain = np.zeros((len(demands), n_days))
    for n, demand in enumerate(demands):
        known = min(n_days, len(demand.placed))
        certain[n, :known] = demand.placed[:known]
    return replace(
        own,
        slots=tuple(every[n] for n in in_time),
        dishes=(*own.dishes, *(dish_id(d) for d in demands)),
        covers_mean=np.concatenate([own.covers_mean, nothing])[in_time],
        covers_quantiles=np.concatenate([own.covers_quantiles, np.zeros((n_days, len(QUANTILES)))])[in_time],
        covers=np.concatenate([own.covers, np.zeros((n_days, n_paths))])[in_time],
        mean=beside(taken.mean(axis=2), own.mean),
        quantiles=beside(quantiles, own.quantiles),
        portions=beside(taken, own.portions),
        party=beside(certain, own.party),
        booked=np.concatenate([own.booked, np.full(n_days, np.nan)])[in_time],
        unknown=frozenset(n for n, at in enumerate(in_time) if at >= n_own or at in own.unknown),
    )


def told_by_house(house: House, plan: Plan, demands: Sequence[HouseDemand]) -> Plan:
    """The plan with a note at each start of a thing that houses take: for whom, and how much of it."""
    starts = tuple(_noted(house, plan, start, demands) for start in plan.netting.starts)
    return replace(plan, netting=replace(plan.netting, starts=starts))


def _noted(house: House, plan: Plan, start: Start, demands: Sequence[HouseDemand]) -> Start:
    """The start with what each house takes of it: from the day it is ready on, as many days as it lasts.

    It lasts at least the first day on which something is taken, and no longer than to the next start. What
    is not ordered yet counts as it is likely to be.
    """
    mine = [demand for demand in demands if demand.item == start.recipe]
    later = (s.ready_on for s in plan.netting.starts if s.recipe == start.recipe)
    end = min((day for day in later if day > start.ready_on), default=plan.days[-1])
    first, last = (start.ready_on - plan.on).days, (end - plan.on).days
    if not mine or first >= last:
        return start
    likely = np.array([_in_own_unit(house, d) * d.packs[first:last].mean(axis=1) for d in mine])
    taken = np.cumsum(likely.sum(axis=0))
    n_days = max(int(np.sum(taken <= start.quantity + LEAST_SHOWN)), int(np.argmax(taken > 0)) + 1)
    theirs = zip(mine, likely[:, :n_days].sum(axis=1), strict=True)
    told = ", ".join(f"{demand.name} {shown(much, start.unit)}" for demand, much in theirs if much > 0)
    return replace(start, note="; ".join(part for part in (start.note, told and f"for {told}") if part))


def days_ahead(house: House) -> int:
    """Days that a house must know of what others take: its horizon were all that it makes on the menu."""
    every = {r.id: Dish(r.id, r.name, r.id, 1.0) for r in house.recipes.values()}
    return horizon_days(replace(house, dishes={**house.dishes, **every}))


def dish_id(demand: HouseDemand) -> str:
    """The id under which the central kitchen's run knows a house's demand."""
    return f"{demand.item}-for-{demand.house}"


def shuffled(demand: HouseDemand, seed: int, n_paths: int) -> NDArray[np.int64]:
    """Which of the house's paths stands for each of `n_paths`: the same for all it takes, whatever it is.

    Returns [path].
    """
    letters = [seed, *demand.house.encode()]
    order = np.random.default_rng(letters).permutation(demand.packs.shape[1])
    return np.resize(order, n_paths)


def _packed(house: House, demand: HouseDemand) -> Recipe:
    """One pack, made up of the item as it is taken."""
    quantity = _in_own_unit(house, demand)
    name = f"{house.name_of(demand.item)} for {demand.name}"
    lines = (RecipeLine(demand.item, quantity),)
    return Recipe(dish_id(demand), name, "each", 1.0, lines)


def _in_own_unit(house: House, demand: HouseDemand) -> float:
    """What a pack holds, in the unit that the item has in its kitchen."""
    unit = house.unit_of(demand.item)
    return convert(demand.pack_quantity, demand.unit, unit, *_bridges(house, demand.item))


def _taken(house: House, demand: HouseDemand) -> Dish:
    name = f"{house.name_of(demand.item)} ({demand.pack}) for {demand.name}"
    return Dish(dish_id(demand), name, dish_id(demand), 1.0, demand.price, frozenset({DELIVERIES}))


def _bridges(house: House, item: str) -> tuple[float | None, float | None]:
    held = house.ingredients.get(item) or house.recipes[item]
    return held.each_g, held.density_kg_per_l


def _fault(house: House, demand: HouseDemand) -> Fault | None:
    known = [*house.ingredients, *house.recipes]
    if demand.item not in known:
        wrong = f"{house.name} has no item '{demand.item}'"
        right = nearest(demand.item, known) or "the code of its offer is the id of the item there"
        return Fault(f"house {demand.house}", 0, demand.item, wrong, right, "unknown-item")
    try:
        _packed(house, demand)
    except UnitError as error:
        return Fault(f"house {demand.house}", 0, demand.item, error.wrong, error.right, "no-bridge")
    return None
