"""Rolling a count forward: receipts and batches in; use of what was sold, consumables and waste out.

A batch written down draws its parts and stands behind later draws of what it made. What no count and no
batch stands behind was made all the same and not written down: it draws the parts by the recipe, so that
a kitchen that writes down some batches and forgets others is not thought to have what they used up.
"""

from __future__ import annotations

import functools
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import date, timedelta

import pandas as pd

from ordering.amounts import EPS
from ordering.explode.graph import Graph
from ordering.net.shelf_life import dates_kept, drawn_off, is_marked, use_by
from ordering.records.books import Batch, Begun, Books, CountedLot, Lot
from ordering.records.house import House, Recipe
from ordering.records.services_held import ServiceHeld, consumed, services_held

FAR = date.max
DUBIOUS = 0.1  # share of what went out that no stock explains, above which a count is doubted


@dataclass
class Roll:
    """The state of one rolling forward.

    draws : by item, quantity by day; marked : by item and day, what of that went into recipes that take the
    freshest; incoming : by item, receipts, batches and what came off them; written : by recipe, every batch
    of the books, those that are in a count too; since : by item, the first day whose draws matter; oldest :
    by item and day, the earliest last day drawn; kept : the same, of what is in `marked`; came_back : by
    item, what came back with its date mark and the day it was drawn; beyond : items of which more went than
    came; forgotten : recipes some of whose batches the books hold, of which more went than they made; begun :
    batches counted in process, and those of the books that no count has; unwritten : services by the calendar
    alone, of which the books have neither covers nor sales yet.
    """

    house: House
    graph: Graph
    on: date
    counts: Mapping[str, tuple[CountedLot, ...]]
    draws: dict[str, dict[date, float]] = field(default_factory=lambda: defaultdict(dict))
    marked: dict[tuple[str, date], float] = field(default_factory=lambda: defaultdict(float))
    incoming: dict[str, list[Lot]] = field(default_factory=lambda: defaultdict(list))
    written: dict[str, list[Lot]] = field(default_factory=lambda: defaultdict(list))
    since: dict[str, date] = field(default_factory=dict)
    oldest: dict[tuple[str, date], date] = field(default_factory=dict)
    kept: dict[tuple[str, date], date] = field(default_factory=dict)
    beyond: list[str] = field(default_factory=list)
    forgotten: list[str] = field(default_factory=list)
    came_back: dict[str, list[tuple[date, Lot]]] = field(default_factory=lambda: defaultdict(list))
    begun: list[Begun] = field(default_factory=list)
    unwritten: list[ServiceHeld] = field(default_factory=list)

    @functools.cached_property
    def dated(self) -> dict[str, dict[str, bool]]:
        """By part, the recipes that keep its date mark, and whether they take the freshest of it."""
        return dates_kept(self.house)

    def add_draw(self, item: str, day: date, quantity: float, recipe: str = "") -> None:
        """Note what was drawn of an item on a day since its count; recipe : what it went into."""
        if self.since.get(item, FAR) <= day < self.on:
            self.draws[item][day] = self.draws[item].get(day, 0.0) + quantity
            if self.dated.get(item, {}).get(recipe):
                self.marked[item, day] += quantity

    def began(self, item: str) -> date:
        """The day from whose morning on the stock of an item is followed."""
        counted = self.counts.get(item)
        if counted:
            return counted[0].counted_on
        came = [*self.incoming.get(item, ()), *(lot for _, lot in self.came_back.get(item, ()))]
        return min((x.ready_on for x in came if x.ready_on is not None), default=FAR)

    def made_before_count(self, item: str) -> list[Lot]:
        """What batches of the books stand behind draws on days before the item was counted."""
        began = self.began(item)
        return [x for x in self.written.get(item, ()) if (x.ready_on or FAR) < began]


def draw_sold(roll: Roll, sales: pd.DataFrame) -> None:
    """Every sale before the run as a draw on the dish's recipe."""
    wanted = {d.id: d for d in roll.house.dishes.values() if roll.since.get(d.recipe, FAR) < roll.on}
    if not wanted or sales.empty:
        return
    first = pd.Timestamp(min(roll.since[d.recipe] for d in wanted.values()))
    days = sales["date"]
    past = sales[(days >= first) & (days < pd.Timestamp(roll.on)) & (sales["sold"] > 0)]
    past = past[past["dish"].isin(list(wanted))]
    daily = past.groupby(["date", "dish"], sort=True, as_index=False)["sold"].sum()
    for day, name, sold in zip(daily["date"], daily["dish"], daily["sold"], strict=True):
        dish = wanted[str(name)]
        roll.add_draw(dish.recipe, day.date(), float(sold) * dish.portion)


def draw_consumed(roll: Roll, books: Books) -> None:
    """What the services held before the run used up of consumables."""
    first = min((roll.since.get(c.item, FAR) for c in roll.house.consumables), default=FAR)
    held = services_held(roll.house, books, first, roll.on) if first < roll.on else []
    for item, days in consumed(roll.house, held).items():
        for day, quantity in days.items():
            roll.add_draw(item, day, quantity)
    roll.unwritten = [one for one in held if one.covers is None]


def set_since(roll: Roll) -> None:
    """Per item the first day whose draws change any stock followed: its own or that of its parts.

    A batch of the books that was there on that day and still good is followed from the day it was
    ready, so that what was drawn of it before is not drawn of it again.
    """
    for item in reversed(roll.graph.items):
        since = roll.began(item)
        recipe = roll.house.recipes.get(item)
        if recipe is not None:
            for line in recipe.lines:
                part = roll.since.get(line.item, FAR)
                if part < FAR - timedelta(days=800):
                    since = min(since, part + timedelta(days=recipe.takes_days - line.at_days))
            there = (x.ready_on for x in roll.made_before_count(item) if x.ready_on and _is_good(x, since))
            since = min([since, *there])
        roll.since[item] = since


def _is_good(lot: Lot, day: date) -> bool:
    """Whether a lot with a date may still be used on a day; without one nothing is said."""
    return lot.use_by is not None and lot.use_by >= day


def batch_in(roll: Roll, batch: Batch) -> Begun:
    """What a batch of the books gave: the item itself, by-products, what it returned. As a start."""
    recipe = roll.house.recipes[batch.recipe]
    begun = Begun(recipe.id, batch.started_on, batches_of(recipe, batch))
    made = made_in(roll.house, batch)
    roll.written[recipe.id].append(made)
    if not _is_counted(roll.counts.get(recipe.id, ()), batch.started_on, made.ready_on or FAR):
        roll.incoming[recipe.id].append(made)
        roll.begun.append(begun)
    _come_off(roll, begun)
    return begun


def counted_in(roll: Roll) -> list[tuple[Begun, date]]:
    """Batches counted in process that no batch of the books stands behind, with the day of their count.

    Every batch counted in process is a start `takes` days before it is ready. What came off it since is
    in, unless the books have the batch itself.
    """
    unwritten = []
    for item, rows in roll.counts.items():
        recipe = roll.house.recipes.get(item)
        for row in rows if recipe is not None else ():
            if recipe is None or row.ready_on is None or row.ready_on <= row.counted_on or not row.quantity:
                continue
            started_on = row.ready_on - timedelta(days=recipe.takes_days)
            begun = Begun(item, started_on, row.quantity / recipe.makes)
            roll.begun.append(begun)
            if not any(lot.ready_on == row.ready_on for lot in roll.written.get(item, ())):
                _come_off(roll, begun)
                unwritten.append((begun, row.counted_on))
    return unwritten


def _come_off(roll: Roll, begun: Begun) -> None:
    """By-products of a batch and what it gave back, ready by the run: later ones are netting's to expect."""
    house, recipe = roll.house, roll.house.recipes[begun.recipe]
    ready = begun.started_on + timedelta(days=recipe.takes_days)
    if ready > roll.on:
        return
    off = [(item, quantity, None) for item, quantity in recipe.also_makes]
    for item, quantity, at in [*off, *((x.item, x.returns, x.at_days) for x in recipe.lines if x.returns)]:
        if _is_counted(roll.counts.get(item, ()), begun.started_on, ready):
            continue
        if at is not None and is_marked(house, item):
            drawn_on = begun.started_on + timedelta(days=at)
            lot = Lot(item, quantity * begun.batches, use_by(house, item, drawn_on), ready)
            roll.came_back[item].append((drawn_on, lot))
        else:
            until = use_by(house, item, ready, None if at is not None else recipe.id)
            roll.incoming[item].append(Lot(item, quantity * begun.batches, until, ready))


def draw_begun(roll: Roll, begun: Begun, counted_on: date | None = None) -> None:
    """What a batch drew before the run; one that was counted in process had drawn its first lines by then."""
    for line in roll.house.recipes[begun.recipe].lines:
        day = begun.started_on + timedelta(days=line.at_days)
        if counted_on is not None and line.at_days == 0 and day >= counted_on:
            day = counted_on - timedelta(days=1)
        roll.add_draw(line.item, day, line.drawn * begun.batches, begun.recipe)


def made_in(house: House, batch: Batch) -> Lot:
    """What a batch of the books gave: as written, else by the recipe."""
    recipe = house.recipes[batch.recipe]
    quantity = batch.made or batches_of(recipe, batch) * recipe.makes
    return lot_in(house, recipe.id, quantity, batch.started_on + timedelta(days=recipe.takes_days))


def batches_of(recipe: Recipe, batch: Batch) -> float:
    """How many batches a making was: by what it drew of its first line, else by what it gave."""
    if batch.drawn > 0 and recipe.lines and recipe.lines[0].drawn > 0:
        return batch.drawn / recipe.lines[0].drawn
    return batch.made / recipe.makes


def _is_counted(counted: tuple[CountedLot, ...], started: date, ready: date) -> bool:
    """Whether what a batch gives is in a count already.

    Begun before the count and ready by then: it is. Under way at the count: it is, if the count names
    anything in process.
    """
    if not counted or started >= counted[0].counted_on:
        return False
    is_any_in_process = any(row.ready_on is not None and row.ready_on > row.counted_on for row in counted)
    return is_any_in_process or ready <= counted[0].counted_on


def rolled_lots(roll: Roll, item: str) -> list[Lot]:
    """Lots of an item on the morning of the run; what no stock explains is passed on to its parts."""
    began = roll.began(item)
    counted = roll.counts.get(item, ())
    lots = [lot_in(roll.house, item, x.quantity, x.ready_on or x.counted_on, x.use_by) for x in counted]
    lots += [x for x in roll.incoming.get(item, ()) if x.ready_on is not None and x.ready_on >= began]
    lots.sort(key=lot_rank)
    back = sorted(roll.came_back.get(item, ()), key=lambda one: (one[0], lot_rank(one[1])))
    before = sorted(roll.made_before_count(item), key=lot_rank)
    recipe = roll.house.recipes.get(item)
    drawn = missing = 0.0
    for day, quantity in sorted(roll.draws.get(item, {}).items()):
        lots, back = _with_returned(roll, lots, back, day)
        if day < began:
            before, need = less(roll, item, before, day, quantity)
        else:
            lots, need = less(roll, item, lots, day, quantity)
            drawn, missing = drawn + quantity, missing + need
        if need > EPS and recipe is not None:
            _made_unwritten(roll, recipe, day, need)
    if missing > DUBIOUS * drawn:
        if item in roll.written:
            roll.forgotten.append(item)
        elif recipe is None or recipe.takes_days:
            roll.beyond.append(item)
    return _with_returned(roll, lots, back, FAR)[0]


def _with_returned(
    roll: Roll, lots: list[Lot], back: list[tuple[date, Lot]], day: date
) -> tuple[list[Lot], list[tuple[date, Lot]]]:
    """Lots with what was drawn before a day and comes back, as old as what was drawn; and the rest."""
    now = [(drawn_on, lot) for drawn_on, lot in back if drawn_on < day]
    if not now:
        return lots, back
    aged = [
        replace(lot, use_by=min(lot.use_by or FAR, oldest_on(roll, lot.item, drawn_on)))
        for drawn_on, lot in now
    ]
    lots = sorted([*lots, *(x if x.use_by != FAR else replace(x, use_by=None) for x in aged)], key=lot_rank)
    return lots, [one for one in back if one[0] >= day]


def oldest_on(roll: Roll, item: str, day: date) -> date:
    """The earliest last day of what was drawn of an item on a day.

    Where its draws of that day are not followed, of the batches in the books that were good then.
    """
    known = roll.oldest.get((item, day))
    if known is not None:
        return known
    there = [x.use_by for x in roll.written.get(item, ()) if (x.ready_on or FAR) <= day and _is_good(x, day)]
    return min((until for until in there if until is not None), default=FAR)


def _made_unwritten(roll: Roll, recipe: Recipe, day: date, need: float) -> None:
    """What making a quantity for a day drew, by the recipe, and what came off it."""
    for line in recipe.lines:
        at = day - timedelta(days=recipe.takes_days - line.at_days)
        roll.add_draw(line.item, at, (line.drawn - line.returns) * need / recipe.makes, recipe.id)
    for other, left_over in recipe.also_makes:
        if roll.began(other) <= day:
            until = use_by(roll.house, other, day, recipe.id)
            roll.incoming[other].append(Lot(other, left_over * need / recipe.makes, until, day))


def less(roll: Roll, item: str, lots: list[Lot], day: date, quantity: float) -> tuple[list[Lot], float]:
    """Lots after the draws of a day, and what of them they did not give.

    What keeps their date is begun first and takes the freshest; all else takes what is first to expire.
    """
    marked = min(quantity, roll.marked.get((item, day), 0.0))
    fresh, gave, missing = drawn_off(lots[::-1], marked, day)
    _note_dates(roll.kept, (item, day), gave)
    left, also_gave, more = drawn_off(fresh[::-1], quantity - marked, day)
    _note_dates(roll.oldest, (item, day), [*gave, *also_gave])
    return left, missing + more


def _note_dates(dates: dict[tuple[str, date], date], key: tuple[str, date], gave: Iterable[Lot]) -> None:
    for lot in gave:
        dates[key] = min(dates.get(key, FAR), lot.use_by or FAR)


def lot_in(house: House, item: str, quantity: float, ready_on: date, until: date | None = None) -> Lot:
    """What came or became ready on a day, good until what is written on it or else as long as it keeps."""
    return Lot(item, quantity, until or use_by(house, item, ready_on), ready_on)


def dated_by_parts(roll: Roll, lot: Lot) -> Lot:
    """A batch of the books that carries a date mark keeps the earliest date of its marked parts."""
    recipe = roll.house.recipes.get(lot.item)
    if recipe is None or lot.ready_on is None or lot.item not in roll.written:
        return lot
    started = lot.ready_on - timedelta(days=recipe.takes_days)
    dates = []
    for line in recipe.lines:
        takes_freshest = roll.dated.get(line.item, {}).get(lot.item)
        if takes_freshest is not None:
            drawn = roll.kept if takes_freshest else roll.oldest
            dates.append(drawn.get((line.item, started + timedelta(days=line.at_days)), FAR))
    oldest = min(dates, default=FAR)
    return replace(lot, use_by=oldest) if oldest < (lot.use_by or FAR) else lot


def lot_rank(lot: Lot) -> tuple[str, date, date, float]:
    """By item and use-by date, for a stable sequence."""
    return lot.item, lot.use_by or FAR, lot.ready_on or date.min, lot.quantity
