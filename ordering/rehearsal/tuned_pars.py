"""What a careful kitchen does without a forecast: pars by weekday for what is bought and what is made."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

import numpy as np

from ordering.amounts import EPS
from ordering.days import span
from ordering.explode.drawn import drawn_through, from_the_top, in_portions
from ordering.records.buying import Delivery
from ordering.records.house import House, Recipe
from ordering.records.plan import Array
from ordering.records.rehearsal_results import WayResult
from ordering.records.vendors import Offer
from ordering.rehearsal.guests import Sold, by_dish, walk_ins
from ordering.rehearsal.kitchen import Kitchen, start
from ordering.rehearsal.minimums import Wanted, send

Use = Array

PAR_DAYS = 28
_MADE_AHEAD_DAYS = 2
_FRESH_DAYS = 4
PAR_FACTORS = (0.8, 1.0, 1.2, 1.5, 1.9, 2.4)
MOST_LIVES = len(PAR_FACTORS) + 3 * 2  # what `best_pars` tries at most


@dataclass(frozen=True, slots=True)
class Factors:
    """How much of the usual use a par holds.

    Of what is made, of what is bought and keeps four days or less, and of what keeps longer.
    """

    made: float
    fresh: float
    kept: float

    def of(self, house: House, item: str) -> float:
        """The factor of an item."""
        if item in house.recipes:
            return self.made
        keeps = house.keeps_days(item)
        return self.fresh if keeps is not None and keeps <= _FRESH_DAYS else self.kept


def best_pars(live: Callable[[Factors], WayResult]) -> WayResult:
    """What the best pars come to: the best common factor first, then each kind of goods by itself."""
    alike = {factor: live(Factors(factor, factor, factor)) for factor in PAR_FACTORS}
    best_factor, best = max(alike.items(), key=lambda entry: entry[1].profit)
    chosen = Factors(best_factor, best_factor, best_factor)
    for kind in ("fresh", "made", "kept"):
        at = PAR_FACTORS.index(best_factor)
        for factor in (*PAR_FACTORS[max(0, at - 1) : at], *PAR_FACTORS[at + 1 : at + 2]):
            tried = replace(chosen, **{kind: factor})
            outcome = live(tried)
            if outcome.profit > best.profit:
                chosen, best = tried, outcome
    return best


def use_per_portion(house: House) -> dict[str, dict[str, float]]:
    """By dish, what one portion takes of every item through all its recipes, in the item's unit."""
    recipes = from_the_top(house)
    return {dish: drawn_through(recipes, in_portions(house, {dish: 1.0})) for dish in house.dishes}


def use_per_unit(house: House) -> dict[str, dict[str, float]]:
    """By recipe made ahead, what one unit of it takes of every item, itself not among them."""
    recipes = from_the_top(house)
    made_ahead = [recipe.id for recipe in recipes if recipe.takes_days]
    found = {made: drawn_through(recipes, {made: 1.0}) for made in made_ahead}
    return {made: {item: n for item, n in use.items() if item != made} for made, use in found.items()}


def weekday_use(
    house: House, per_portion: Mapping[str, Mapping[str, float]], sold: Sold, before: date
) -> dict[str, Use]:
    """Mean use of every item by weekday over the four weeks before a day; shape (7,), Monday first.

    Private parties are no part of it, nor are days on which nothing was sold: they were closed.
    """
    lately = walk_ins(house, by_dish(sold, span(before - timedelta(days=PAR_DAYS), PAR_DAYS)))
    use: dict[str, Use] = defaultdict(lambda: np.zeros(7))
    n_days = np.bincount(
        [day.weekday() for day, dishes in lately.items() if any(dishes.values())], minlength=7
    )
    for day, dishes in lately.items():
        for dish, portions in dishes.items():
            for item, quantity in per_portion.get(dish, {}).items():
                use[item][day.weekday()] += quantity * portions
    return {item: by_weekday / np.maximum(n_days, 1) for item, by_weekday in use.items()}


def coming_use(
    house: House,
    use: Mapping[str, Use],
    per_portion: Mapping[str, Mapping[str, float]],
    first: date,
    n_days: int,
) -> dict[str, Use]:
    """Use of every item on each of the days from `first` on, shape (n_days,), as a good chef foresees it.

    The usual use of the weekday; none on days the house is closed; private parties added by hand.
    """
    days = span(first, n_days)
    is_open = np.array([any(house.is_open(day, service) for service in house.services) for day in days])
    weekday = np.array([day.weekday() for day in days])
    coming = {item: np.where(is_open, by_weekday[weekday], 0.0) for item, by_weekday in use.items()}
    for party in house.parties:
        n = (party.date - first).days
        if 0 <= n < n_days:
            for dish, portions in party.menu.items():
                for item, quantity in per_portion.get(dish, {}).items():
                    coming.setdefault(item, np.zeros(n_days))[n] += quantity * portions
    return coming


def start_to_par(kitchen: Kitchen, coming: Mapping[str, Use], factors: Factors, day: date) -> None:
    """Start what brings each made item back to its par, in whole batches, within a day's largest.

    The par is what is used while a batch is in the making and two days more, and never less than the largest
    batch that draws it. coming : from `day` on
    """
    for made, missing in _below_par(kitchen, coming, factors).items():
        recipe = kitchen.house.recipes[made]
        start(kitchen, recipe, _batches(recipe, missing), day)


def _below_par(kitchen: Kitchen, coming: Mapping[str, Use], factors: Factors) -> dict[str, float]:
    """By recipe made ahead, what it is below its par, in process counted in."""
    least = _largest_draws(kitchen)
    found = {}
    for recipe in kitchen.house.recipes.values():
        if recipe.takes_days == 0 or recipe.id not in coming:
            continue
        usual = float(coming[recipe.id][: recipe.takes_days + _MADE_AHEAD_DAYS].sum())
        par = max(factors.made * usual, least.get(recipe.id, 0.0))
        missing = par - math.fsum(lot.quantity for lot in kitchen.lots.get(recipe.id, ()))
        if missing > 0:
            found[recipe.id] = missing
    return found


def order_to_par(
    kitchen: Kitchen,
    coming: Mapping[str, Use],
    factors: Factors,
    chances: Mapping[str, Sequence[Delivery]],
    per_unit: Mapping[str, Mapping[str, float]],
) -> None:
    """Order, for every delivery due now, what brings each ingredient back to its par of those days.

    The par of a delivery is what is used until the next one (or while the goods keep), times its factor,
    and never less than the largest batch that draws it; with the first comes what is needed to bring what is
    made ahead back to its own par. coming : from the day of the order on; per_unit : as `use_per_unit`
    """
    least = _largest_draws(kitchen)
    behind: dict[str, float] = defaultdict(float)
    for made, missing in _below_par(kitchen, coming, factors).items():
        for item, quantity in per_unit[made].items():
            behind[item] += missing * quantity
    wanted: list[Wanted] = []
    for ingredient in kitchen.house.ingredients.values():
        offer = _usual_offer(ingredient.offers, chances)
        if offer is None or ingredient.id not in coming:
            continue
        days, use, ordered = chances[offer.vendor], coming[ingredient.id], 0.0
        for n, chance in enumerate(days):
            if not chance.is_now:
                break
            lasts = days[n + 1].day - chance.day if n + 1 < len(days) else 7
            keeps = ingredient.keeps_days
            lasts = lasts if keeps is None else min(lasts, keeps + 1)
            usual = float(use[chance.day : chance.day + lasts].sum())
            par = max(factors.of(kitchen.house, ingredient.id) * usual, least.get(ingredient.id, 0.0))
            par += behind.pop(ingredient.id, 0.0)
            left = _left(kitchen, ingredient.id, chance.deliver_on, float(use[: chance.day].sum()) - ordered)
            packs = math.ceil((par - left) / offer.pack_quantity - EPS)
            if packs > 0:
                price = float(offer.price or 0)
                pack = offer.pack_quantity
                wanted.append(
                    Wanted(offer.vendor, chance.deliver_on, offer.code, offer.item, float(packs), pack, price)
                )
                ordered += packs * pack
    send(kitchen, wanted)


def _largest_draws(kitchen: Kitchen) -> dict[str, float]:
    """By item what one whole batch of a recipe draws of it, the largest."""
    least: dict[str, float] = {}
    for recipe in kitchen.house.recipes.values():
        for line in recipe.lines if recipe.is_whole else ():
            least[line.item] = max(least.get(line.item, 0.0), line.drawn * recipe.step)
    return least


def _left(kitchen: Kitchen, item: str, on: date, used: float) -> float:
    """What is there and due of an item and still good on a day once so much is used, oldest first."""
    lots = kitchen.lots.get(item, ())
    going = math.fsum(lot.quantity for lot in lots if lot.use_by is not None and lot.use_by < on)
    staying = math.fsum(lot.quantity for lot in lots if lot.use_by is None or lot.use_by >= on)
    due = math.fsum(order.quantity for order in kitchen.due if order.item == item and order.deliver_on <= on)
    return max(0.0, staying + due - max(0.0, used - going))


def _usual_offer(offers: Sequence[Offer], chances: Mapping[str, Sequence[Delivery]]) -> Offer | None:
    """The offer a kitchen sticks to: the preferred one, else the soonest to come, then the cheapest."""
    open_offers = [o for o in offers if chances.get(o.vendor)]
    ranked = sorted(
        open_offers,
        key=lambda o: (
            *(not o.is_preferred, chances[o.vendor][0].day),
            *(float(o.price or 0) / o.pack_quantity, o.vendor, o.code),
        ),
    )
    return ranked[0] if ranked else None


def _batches(recipe: Recipe, quantity: float) -> float:
    wanted, most = recipe.enough(max(quantity, recipe.smallest or 0.0) / recipe.makes), recipe.most_batches
    return wanted if most is None else min(wanted, most)
