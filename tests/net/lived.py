"""One path of a plan lived day by day in plain numbers: an independent witness for what netting claims.

It takes the starts and purchases of a plan literally: every lot with its dates, every draw on its day, the
oldest date first; a date-marked recipe in batches that keep takes the freshest of its marked parts. It shares
no arithmetic with the program; it is slow and obvious.
"""

from collections import defaultdict
from dataclasses import dataclass, field
from datetime import timedelta

from ordering.explode.graph import folded, recipe_graph

FOR_EVER = 10_000


@dataclass
class Lived:
    """Of one item, by day: what nobody could give, what was thrown away that morning, what lies there in the
    evening, the earliest date drawn, and that of what date-marked recipes drew that are kept."""

    short: list = field(default_factory=list)
    thrown: list = field(default_factory=list)
    left: list = field(default_factory=list)
    oldest: list = field(default_factory=list)
    marked: list = field(default_factory=list)


@dataclass
class Kitchen:
    """lots : by item, (is planned, first day, last day, quantity, day on which what comes back with its date
    mark was drawn); draws : by item, day and who draws."""

    n_days: int
    house: object = None
    lots: dict = field(default_factory=lambda: defaultdict(list))
    draws: dict = field(default_factory=lambda: defaultdict(lambda: defaultdict(float)))

    def add(self, item, first, last, quantity, is_planned=False, drawn=None):
        if first < self.n_days:
            self.lots[item].append((is_planned, first, last, quantity, drawn))

    def draw(self, item, day, who, quantity):
        self.draws[item, day][who] += quantity

    def drawn(self, item):
        return [sum(self.draws[item, day].values()) for day in range(self.n_days)]

    def live(self, item, rank):
        lots, found = [list(lot) for lot in self.lots[item]], Lived()
        for day, asked in enumerate(self.drawn(item)):
            for lot in lots:
                if lot[4] is not None and 0 <= lot[4] < day:
                    lot[2], lot[4] = min(lot[2], found.oldest[lot[4]]), None
            # what comes back on the day it was drawn is as old as the oldest of that day: it goes first
            lots.sort(
                key=lambda lot, today=day: rank([*lot[:2], today, *lot[3:]] if lot[4] == today else lot)
            )
            past = [lot for lot in lots if lot[2] < day]
            lots = [lot for lot in lots if lot[2] >= day]
            draws = self.draws[item, day].items()
            by_marked = sum(quantity for who, quantity in draws if keeps_mark(self.house, who, item))
            short, marked = take(sorted(lots, key=lambda lot: -lot[2]), day, by_marked)
            need, oldest = take(lots, day, asked - by_marked)
            need, oldest = need + short, min(oldest, marked)
            found.short.append(need)
            found.marked.append(marked)
            found.thrown.append(sum(lot[3] for lot in past))
            found.left.append(sum(lot[3] for lot in lots if lot[1] <= day))
            found.oldest.append(oldest)
        return found


def take(lots, day, need):
    """Lots in turn give what is needed: what is missing, and the earliest date that was drawn."""
    oldest = FOR_EVER
    for lot in lots:
        given = min(need, lot[3]) if lot[1] <= day else 0.0
        lot[3], need = lot[3] - given, need - given
        oldest = min(oldest, lot[2]) if given > 1e-9 else oldest
    return need, oldest


def keeps_mark(house, who, item):
    """Whether who draws is a date-marked recipe that is made in batches and kept, and the item has a mark."""
    recipe, part = house.recipes.get(who), house.recipes.get(item) or house.ingredients[item]
    if recipe is None or "date-mark" not in recipe.hazards or "date-mark" not in part.hazards:
        return False
    return bool((recipe.is_whole or recipe.smallest) and (recipe.takes_days or house.keeps_days(who)))


def planned_last(lot):
    """As netting takes them: what is there or comes by itself before what is planned; each by its date."""
    return lot[0], lot[2], lot[1]


def by_date(lot):
    """First expired first out, whatever it is."""
    return lot[2], lot[1]


def last_day(house, item, ready):
    keeps = house.keeps_days(item)
    return FOR_EVER if keeps is None else ready + keeps


def left_behind(house, recipe):
    """What a batch leaves and gives back, and how long after its start what keeps its date mark was drawn."""
    left = [(item, quantity, None) for item, quantity in recipe.also_makes]
    for x in recipe.lines:
        if x.returns:
            part = house.recipes.get(x.item) or house.ingredients[x.item]
            left.append((x.item, x.returns, x.at_days if "date-mark" in part.hazards else None))
    return left


def set_aside(house, recipe):
    """What goes round in a circle is not planned."""
    return {x.item for x in recipe_graph(house).set_aside if x.recipe == recipe.id}


def come_off(house, found, lot, days):
    """What a batch leaves. What comes back with its mark is no younger than on the day it was drawn."""
    (item, quantity), (begun, ready, at) = lot, days
    if at is None:
        found.add(item, ready, last_day(house, item, ready), quantity)
    else:
        found.add(item, ready, last_day(house, item, begun + at), quantity, drawn=begun + at)


def kitchen(case, starts, bought, portions, last=None):
    """The kitchen of a case.

    starts : by recipe, batches by start day; bought : by ingredient, quantity by day; portions : by dish, by
    day; last : by recipe, last day by ready day, where dates of parts may cut it short
    """
    house = folded(case.house)
    found = Kitchen(len(case.forecast.days), house)
    _there(case, house, found)
    for recipe in house.recipes.values():
        for day, batches in enumerate(starts[recipe.id][: max(0, found.n_days - recipe.takes_days)]):
            if batches > 1e-12:
                _begin(house, found, (recipe, day, batches), last)
    for item, quantities in bought.items():
        for day, quantity in enumerate(quantities):
            found.add(item, day, last_day(house, item, day), quantity, is_planned=True)
    for dish in house.dishes.values():
        for day, sold in enumerate(portions[dish.id]):
            found.draw(dish.recipe, day, f"dish:{dish.id}", sold * dish.portion)
    _consume(case, found)
    return found


def _there(case, house, found):
    """Lots, what is in process and what will come off it, open orders."""
    first = case.forecast.days[0]
    counted = {(lot.item, lot.ready_on) for lot in case.opening.lots if lot.ready_on}
    for lot in case.opening.lots:
        ready = max(0, (lot.ready_on - first).days) if lot.ready_on else 0
        until = FOR_EVER if lot.use_by is None else (lot.use_by - first).days
        if until >= ready:
            found.add(lot.item, ready, until, lot.quantity)
    for one in case.opening.begun:
        recipe, day = house.recipes[one.recipe], (one.started_on - first).days
        ready = day + recipe.takes_days
        for item, quantity, at in left_behind(house, recipe):
            if ready > 0 and (item, one.started_on + timedelta(recipe.takes_days)) not in counted:
                come_off(house, found, (item, quantity * one.batches), (day, ready, at))
        circles = set_aside(house, recipe)
        for line in recipe.lines:
            if line.at_days > 0 and day + line.at_days >= 0 and line.item not in circles:
                found.draw(line.item, day + line.at_days, recipe.id, one.batches * line.drawn)
    for order in case.opening.scheduled:
        due = max(0, (order.deliver_on - first).days)
        until = last_day(house, order.item, due) if order.use_by is None else (order.use_by - first).days
        found.add(order.item, due, until, order.quantity)


def _begin(house, found, making, last):
    """A making: what it draws, what it gives and leaves; what goes round in a circle is not planned."""
    recipe, day, batches = making
    circles = set_aside(house, recipe)
    ready = day + recipe.takes_days
    until = last_day(house, recipe.id, ready) if last is None else last[recipe.id][ready]
    found.add(recipe.id, ready, until, batches * recipe.makes, is_planned=True)
    for line in recipe.lines:
        if line.item not in circles:
            found.draw(line.item, day + line.at_days, recipe.id, batches * line.drawn)
    for item, quantity, at in left_behind(house, recipe):
        if item not in circles:
            come_off(house, found, (item, batches * quantity), (day, ready, at))


def _consume(case, found):
    """Consumables on each day on which any service is held."""
    house, forecast = case.house, case.forecast
    parties = {(p.date, p.service) for p in house.parties}
    held = [
        (k, slot.day)
        for k, slot in enumerate(forecast.slots)
        if house.is_open(slot.date, slot.service) or (slot.date, slot.service) in parties
    ]
    for use in house.consumables:
        for day in range(found.n_days):
            today = [k for k, on in held if on == day]
            covers = float(sum(forecast.covers[k, 0] for k in today))
            times = {"service": len(today), "day": min(1, len(today)), "cover": covers}[use.per]
            found.draw(use.item, day, "*consumables", times * use.quantity)
