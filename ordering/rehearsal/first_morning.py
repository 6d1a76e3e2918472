"""The stock a rehearsed kitchen begins with: the same for every way of ordering."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import date, timedelta

from ordering.net.shelf_life import use_by
from ordering.records.books import Lot
from ordering.records.house import House
from ordering.records.plan import Array
from ordering.rehearsal.kitchen import Draw, Kitchen, come_back, put, under_way

_OPENING_DAYS = 7


def opening_lots(house: House, use: Mapping[str, Array], day: date) -> Iterator[Lot]:
    """A week of everything, of what takes days a steady row in process, of liquors one full batch.

    use : by item, [day].
    """
    carried = {
        line.item: line.drawn for recipe in house.recipes.values() for line in recipe.lines if line.returns
    }
    for item in (*house.ingredients, *house.recipes):
        rate = float(use[item].mean()) if item in use else 0.0
        recipe = house.recipes.get(item)
        takes = recipe.takes_days if recipe else 0
        if recipe is not None and takes == 0:
            continue
        keeps = house.keeps_days(item)
        n_days = _OPENING_DAYS if keeps is None else min(_OPENING_DAYS, keeps)
        yield Lot(item, max(rate * n_days, carried.get(item, 0.0)), use_by(house, item, day))
        for ahead in range(n_days, takes, 7):
            ready_on = day + timedelta(days=ahead)
            yield Lot(item, rate * 7, use_by(house, item, ready_on), ready_on)


def put_in(kitchen: Kitchen, lot: Lot, begin_on: date) -> None:
    """A lot of the first morning.

    One in process with what it still draws, what will come off it and what it gives back.
    """
    put(kitchen, lot)
    recipe = kitchen.house.recipes.get(lot.item)
    if recipe is not None and lot.ready_on is not None:
        started_on = lot.ready_on - timedelta(days=recipe.takes_days)
        batches = lot.quantity / recipe.makes
        under_way(kitchen, recipe, batches, started_on)
        for line in recipe.lines:
            day = started_on + timedelta(days=line.at_days)
            if not line.at_days or day < begin_on:
                come_back(kitchen, Draw(day, line, recipe, batches, lot.ready_on), None)
        kitchen.late_draws = [draw for draw in kitchen.late_draws if draw.day >= begin_on]
