"""A kitchen that lives through days: deliveries, starts, services, spoilage, all by the recipes.

The state is a plain mutable object that never leaves a rehearsal. Every quantity is in its item's
unit; stock is drawn first-expired-first-out, by marked batches the freshest first, and never after its
use-by.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import date, timedelta

import numpy as np

from ordering.amounts import EPS, LEAST_SHOWN
from ordering.net.batches import held_back
from ordering.net.shelf_life import dated_parts, drawn_off, is_marked, is_usable, takes_freshest, use_by
from ordering.records.books import Lot, OpenOrder
from ordering.records.house import House, Recipe, RecipeLine


@dataclass(slots=True)
class Tally:
    """What a stretch of days came to, in the house's money and in portions."""

    revenue: float = 0.0
    spent: float = 0.0
    wasted: float = 0.0
    wanted: float = 0.0
    served: float = 0.0
    lost_revenue: float = 0.0
    lost: dict[str, float] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Draw:
    """A line that batches need on a day, and the day they are ready."""

    day: date
    line: RecipeLine
    recipe: Recipe
    batches: float
    ready_on: date

    @property
    def quantity(self) -> float:
        """What they need of it."""
        return self.line.drawn * self.batches


@dataclass(slots=True)
class Kitchen:
    """promised : money of goods ordered so far, by vendor and day of delivery."""

    house: House
    costs: Mapping[str, float]
    lots: dict[str, list[Lot]] = field(default_factory=dict)
    due: list[OpenOrder] = field(default_factory=list)
    promised: dict[tuple[str, date], float] = field(default_factory=dict)
    late_draws: list[Draw] = field(default_factory=list)
    tally: Tally = field(default_factory=Tally)


def put(kitchen: Kitchen, lot: Lot) -> None:
    """Put a parcel where it belongs, first to expire first."""
    if lot.quantity > EPS:
        shelf = kitchen.lots.setdefault(lot.item, [])
        shelf.append(lot)
        shelf.sort(key=lambda other: (other.use_by or date.max, other.ready_on or date.min))


def usable(kitchen: Kitchen, item: str, day: date) -> float:
    """Stock of an item that is ready and in date."""
    return math.fsum(lot.quantity for lot in kitchen.lots.get(item, ()) if is_usable(lot, day))


def morning(kitchen: Kitchen, day: date) -> None:
    """What is past its date goes, what is due comes."""
    for item, shelf in kitchen.lots.items():
        gone = [lot for lot in shelf if lot.use_by is not None and lot.use_by < day]
        kitchen.tally.wasted += sum(lot.quantity for lot in gone) * kitchen.costs.get(item, 0.0)
        kitchen.lots[item] = [lot for lot in shelf if lot.use_by is None or lot.use_by >= day]
    for order in [order for order in kitchen.due if order.deliver_on <= day]:
        put(kitchen, Lot(order.item, order.quantity, use_by(kitchen.house, order.item, day)))
    kitchen.due = [order for order in kitchen.due if order.deliver_on > day]


def finish(kitchen: Kitchen, day: date) -> None:
    """Draw the lines that batches begun before need today. They come before what is begun today.

    The part of the batches that goes without such a line is lost, and what it cost with it.
    """
    for draw in [draw for draw in kitchen.late_draws if draw.day <= day]:
        item, quantity = draw.line.item, draw.quantity
        prepare(kitchen, item, quantity, day)
        drawn, good_until = take(kitchen, item, quantity, day, draw.recipe)
        lost = (quantity - drawn) / quantity if quantity - drawn > EPS else 0.0
        if lost:
            _lose(kitchen, draw, lost)
        _keep_mark(kitchen, draw, good_until)
        come_back(kitchen, draw, good_until, 1.0 - lost)
    kitchen.late_draws = [draw for draw in kitchen.late_draws if draw.day > day]


def _lose(kitchen: Kitchen, draw: Draw, part: float) -> None:
    recipe = draw.recipe
    lost, kept = recipe.makes * draw.batches * part, []
    for lot in kitchen.lots.get(recipe.id, ()):
        gone = min(lost, lot.quantity) if lot.ready_on == draw.ready_on else 0.0
        lost -= gone
        kitchen.tally.wasted += gone * kitchen.costs.get(recipe.id, 0.0)
        if lot.quantity - gone > EPS:
            kept.append(Lot(lot.item, lot.quantity - gone, lot.use_by, lot.ready_on))
    kitchen.lots[recipe.id] = kept


def _keep_mark(kitchen: Kitchen, draw: Draw, good_until: date | None) -> None:
    """Batches that carry a date mark are good no longer than the marked part they draw, good until a day."""
    recipe = draw.recipe
    if good_until is None or draw.line.item not in dated_parts(kitchen.house, recipe.id):
        return
    last = max(good_until, draw.ready_on)
    shelf = kitchen.lots.get(recipe.id, [])
    kitchen.lots[recipe.id] = []
    for lot in shelf:
        is_older = lot.ready_on == draw.ready_on and (lot.use_by is None or last < lot.use_by)
        put(kitchen, replace(lot, use_by=last) if is_older else lot)


def take(
    kitchen: Kitchen, item: str, quantity: float, day: date, recipe: Recipe | None = None
) -> tuple[float, date | None]:
    """Draw up to `quantity`, for a recipe that takes the freshest of it that; all else takes the oldest.

    What was drawn, and the earliest last day of it; None: no date is known.
    """
    turn = -1 if recipe is not None and takes_freshest(kitchen.house, recipe.id, item) else 1
    left, gave, missing = drawn_off(kitchen.lots.get(item, [])[::turn], quantity, day)
    kitchen.lots[item] = left[::turn]
    return quantity - missing, min((lot.use_by for lot in gave if lot.use_by is not None), default=None)


def start(kitchen: Kitchen, recipe: Recipe, batches: float, day: date) -> float:
    """Start as many of `batches` as there is material for; the batches started."""
    first = [line for line in recipe.lines if line.at_days == 0]
    for line in first:
        prepare(kitchen, line.item, line.drawn * batches, day)
    possible = min(
        (usable(kitchen, line.item, day) / line.drawn for line in first if line.drawn > 0), default=batches
    )
    short = max(0.0, batches - possible)
    if recipe.is_whole:
        short = float(held_back(np.array([short]), recipe.step)[0])
    batches = max(0.0, batches - short)
    if batches <= EPS:
        return 0.0
    ready_on = day + timedelta(days=recipe.takes_days)
    draws = [Draw(day, line, recipe, batches, ready_on) for line in first]
    drawn = [take(kitchen, draw.line.item, draw.quantity, day, recipe) for draw in draws]
    put(kitchen, Lot(recipe.id, recipe.makes * batches, use_by(kitchen.house, recipe.id, ready_on), ready_on))
    for draw, (_, good_until) in zip(draws, drawn, strict=True):
        _keep_mark(kitchen, draw, good_until)
        come_back(kitchen, draw, good_until)
    under_way(kitchen, recipe, batches, day)
    return batches


def under_way(kitchen: Kitchen, recipe: Recipe, batches: float, started_on: date) -> None:
    """What batches draw on days after their start, and what comes off them when they are ready."""
    ready_on = started_on + timedelta(days=recipe.takes_days)
    for line in recipe.lines:
        if line.at_days:
            later = started_on + timedelta(days=line.at_days)
            kitchen.late_draws.append(Draw(later, line, recipe, batches, ready_on))
    for item, quantity in recipe.also_makes:
        until = use_by(kitchen.house, item, ready_on, recipe.id)
        put(kitchen, Lot(item, quantity * batches, until, ready_on))


def come_back(kitchen: Kitchen, draw: Draw, good_until: date | None, part: float = 1.0) -> None:
    """What batches give back of a line, or of the part of it that was there.

    What carries a date mark keeps that of what was drawn, which was good until a day; None: no date is known.
    """
    item, is_marked_item = draw.line.item, is_marked(kitchen.house, draw.line.item)
    last = use_by(kitchen.house, item, draw.day if is_marked_item else draw.ready_on)
    if is_marked_item and good_until is not None:
        last = good_until if last is None else min(last, good_until)
    put(kitchen, Lot(item, draw.line.returns * draw.batches * part, last, draw.ready_on))


def prepare(kitchen: Kitchen, item: str, quantity: float, day: date) -> None:
    """See that `quantity` is there, making today what can be made today."""
    recipe = kitchen.house.recipes.get(item)
    missing = quantity - usable(kitchen, item, day)
    if recipe is None or recipe.takes_days or missing <= EPS:
        return
    batches = max(missing, recipe.smallest or 0.0) / recipe.makes
    start(kitchen, recipe, recipe.enough(batches), day)


def serve(kitchen: Kitchen, wanted: Mapping[str, float], day: date) -> dict[str, float]:
    """Serve a service's portions as far as the kitchen can; portions served by dish."""
    served = {}
    for dish_id, portions in wanted.items():
        dish = kitchen.house.dishes[dish_id]
        prepare(kitchen, dish.recipe, portions * dish.portion, day)
        there = usable(kitchen, dish.recipe, day) / dish.portion
        n = min(portions, float(math.floor(there + LEAST_SHOWN)))
        take(kitchen, dish.recipe, n * dish.portion, day)
        price = float(dish.price or 0)
        served[dish_id] = n
        kitchen.tally.wanted += portions
        kitchen.tally.served += n
        kitchen.tally.revenue += n * price
        if portions > n:
            kitchen.tally.lost_revenue += (portions - n) * price
            kitchen.tally.lost[dish_id] = kitchen.tally.lost.get(dish_id, 0.0) + portions - n
    return served


def consume(kitchen: Kitchen, day: date, n_services: int, covers: float) -> None:
    """What no recipe names, used up by the day's trade."""
    times = {"service": float(n_services), "cover": covers, "day": 1.0 if n_services else 0.0}
    for consumable in kitchen.house.consumables:
        take(kitchen, consumable.item, consumable.quantity * times[consumable.per], day)


def stock_worth(kitchen: Kitchen) -> float:
    """Money in the house at cost, in process and on its way included."""
    lots = (lot for shelf in kitchen.lots.values() for lot in shelf)
    there = math.fsum(lot.quantity * kitchen.costs.get(lot.item, 0.0) for lot in lots)
    coming = math.fsum(order.quantity * kitchen.costs.get(order.item, 0.0) for order in kitchen.due)
    return there + coming


def order_in(kitchen: Kitchen, orders: Iterable[OpenOrder], money: float) -> None:
    """Place orders; their money, fees included, counts as spent at once."""
    kitchen.due.extend(orders)
    kitchen.tally.spent += money
