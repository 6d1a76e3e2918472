"""What the demo house has in its stores on the morning of a run, and what is on its way: all invented.

Stock is sized by the house's own recent sales, exploded through its recipes: enough until the next delivery
can come or the next batch can be ready, a little more or less by chance.
"""

from __future__ import annotations

import zlib
from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

import numpy as np
from invented_demand import SEED, Sitting

from ordering.records.house import House
from ordering.records.vendors import DeliveryDay, Offer

Count = tuple[date, str, float, str, date | None, date | None]
OpenOrder = tuple[str, str, int, date]
Uses = Mapping[str, np.ndarray]

DRY = ("dry store", "cellar", "shed", "chemical and paper", "bakery", "mains")
WHOLE = ("each", "bunch", "oz", "fl oz")
# The ageing room and what else is under way: (item, quantity of one lot, ready so many days from the run's
# Thursday, number of lots). Friday fortnight a delivery fell short, and one rib hangs where three should.
UNDER_WAY = (
    ("aged-rib", 7.3, -6, 2),
    ("aged-rib", 7.5, 1, 3),
    ("aged-rib", 7.5, 8, 3),
    ("aged-rib", 7.5, 15, 1),
    ("aged-rib", 7.5, 22, 3),
    ("aged-rib", 7.5, 29, 3),
    ("aged-duck-crown", 12, -5, 1),
    ("aged-duck-crown", 22, 2, 1),
    ("aged-duck-crown", 21, 9, 1),
    ("aged-duck-crown", 25, 16, 1),
    ("pressed-cheek", 20, 1, 1),
    ("pressed-cheek", 20, 2, 1),
    ("smoked-trout", 2.4, 1, 1),
    ("levain", 3.2, 0, 1),
    ("levain", 3.2, 1, 1),
    ("seeded-sourdough", 24, 0, 1),
    ("pickled-damsons", 3, 5, 1),
    ("confit-duck-leg", 24, 1, 1),
    ("pork-belly-pressed", 16, 1, 1),
)
# Ribs ordered two weeks ago and one week ago: (days from the run's Thursday, packs).
RIBS_COMING = ((1, 2), (8, 3))
# Items whose count does not follow from use: hung on the day they come, or let run low.
HELD = {
    "rib": 0.0,
    "duck": 0.0,
    "duck-crown": 0.0,
    "duck-leg": 4.0,
    "confit-duck-leg": 22.0,
    "buttermilk": 1.4,
    "fresh-yeast": 0.2,
    "duck-bones": 9.0,
    "fish-frames": 2.8,
    "fennel": 3.0,
    "cucumber": 8.0,
    "red-cabbage": 5.0,
    "water": 60_000.0,
    "candles": 60.0,
}


@dataclass(frozen=True, slots=True)
class Morning:
    """The morning of a run, with the mean use of every item by weekday, in the item's unit."""

    house: House
    on: date
    uses: Uses

    def need(self, item: str, first: int, last: int) -> float:
        """Use of an item on days `first` to `last` from the run, both included."""
        weekdays = [(self.on + timedelta(days=n)).weekday() for n in range(first, last + 1)]
        return float(sum(self.uses[item][w] for w in weekdays))

    def rng(self, item: str, what: int) -> np.random.Generator:
        """Chance of its own for each item, so that a new one does not reshuffle the others."""
        return np.random.default_rng([SEED, self.on.toordinal(), what, zlib.crc32(item.encode())])

    def rounded(self, item: str, quantity: float) -> float:
        """A quantity as a cook would write it on a clipboard."""
        whole = self.house.unit_of(item) in WHOLE
        steps = ((1, 0.05), (20, 0.1), (100, 0.5), (1000, 10))
        step = 1 if whole else next((s for limit, s in steps if quantity < limit), 100)
        return round(max(quantity, 0.0) / step) * step


def _add(house: House, into: dict[str, float], item: str, quantity: float) -> None:
    into[item] += quantity
    recipe = house.recipes.get(item)
    if recipe is None:
        return
    batches = quantity / recipe.makes
    for line in recipe.lines:
        _add(house, into, line.item, (line.drawn - line.returns) * batches)


def morning(house: House, on: date, past: list[Sitting], weeks: int = 2) -> Morning:
    """Mean use by weekday over the last weeks of sales, consumables with it."""
    uses: dict[str, np.ndarray] = defaultdict(lambda: np.zeros(7))
    for sitting in past:
        if not on - timedelta(weeks=weeks) <= sitting.day < on:
            continue
        drawn: dict[str, float] = defaultdict(float)
        for dish_id, sold in sitting.sold.items():
            dish = house.dishes[dish_id]
            _add(house, drawn, dish.recipe, sold * dish.portion)
        for one in house.consumables:
            drawn[one.item] += one.quantity * (sitting.covers if one.per == "cover" else 1)
        for item, quantity in drawn.items():
            uses[item][sitting.day.weekday()] += quantity / weeks
    return Morning(house, on, uses)


def _cut_off(delivery: DeliveryDay, deliver_on: date) -> datetime:
    back = (delivery.weekday - delivery.order_by_weekday) % 7 + 7 * delivery.weeks_ahead
    return datetime.combine(deliver_on - timedelta(days=back), delivery.order_by_time)


def deliveries(house: House, vendor: str, on: date, days: int = 21) -> list[tuple[date, bool]]:
    """(day, whether it can still be ordered on the morning `on`) of a vendor's coming deliveries."""
    ahead = [on + timedelta(days=n) for n in range(days)]
    return [
        (day, _cut_off(delivery, day) >= datetime.combine(on, time(0)))
        for day in ahead
        for delivery in house.vendors[vendor].deliveries
        if delivery.weekday == day.weekday() and day not in house.vendors[vendor].closed
    ]


def _first_days(house: House, item: str, on: date) -> int:
    """Days until an order made on the morning `on` can bring the item."""
    offers = house.ingredients[item].offers
    reach = [day for offer in offers for day, is_open in deliveries(house, offer.vendor, on) if is_open]
    return (min(reach) - on).days if reach else 7


def _lead_days(house: House, item: str) -> int:
    """Days a made item takes, those of what it is made of included."""
    recipe = house.recipes.get(item)
    if recipe is None:
        return 0
    hung = {one[0] for one in UNDER_WAY if one[0].startswith("aged-")}
    below = [_lead_days(house, line.item) for line in recipe.lines if line.item not in hung]
    return recipe.takes_days + max(below, default=0)


def _bought(m: Morning, item: str, coming: Mapping[str, int]) -> list[Count]:
    """What is left of a bought item: to last until the next van, and the day after that.

    `coming` has the days until a van that was told before today, by item.
    """
    ingredient = m.house.ingredients[item]
    rng, unit = m.rng(item, 1), ingredient.unit
    is_dry = ingredient.store in DRY
    counted_on = m.on - timedelta(days=3 if is_dry else 0)
    last = _first_days(m.house, item, m.on)
    quantity = m.need(item, -3 if is_dry else 0, last) * rng.uniform(1.25, 1.7)
    if not is_dry and item in coming:
        quantity = m.need(item, 0, coming[item]) * rng.uniform(0.4, 0.8)
    if ingredient.par:
        pack = _cheapest(m.house, item).pack_quantity
        quantity = max(quantity, ingredient.par + pack * rng.uniform(-0.1, 1) - 0.4 * m.need(item, 0, 6))
    quantity = HELD.get(item, quantity)
    keeps = ingredient.keeps_days
    if keeps is None or keeps > 60 or m.rounded(item, quantity) == 0:
        return [(counted_on, item, m.rounded(item, quantity), unit, None, None)]
    late = m.on + timedelta(days=max(last + 1, int(keeps * rng.uniform(0.5, 0.8))))
    soon = m.on + timedelta(days=max(1, int(keeps * rng.uniform(0.15, 0.4))))
    if keeps < 5 or soon >= late or m.rounded(item, quantity * 0.2) == 0:
        return [(counted_on, item, m.rounded(item, quantity), unit, late, None)]
    part = rng.uniform(0.2, 0.4)
    return [
        (counted_on, item, m.rounded(item, quantity * part), unit, soon, None),
        (counted_on, item, m.rounded(item, quantity * (1 - part)), unit, late, None),
    ]


def _made(m: Morning, item: str) -> list[Count]:
    """What stands ready of a made item: to last until a batch begun today is ready."""
    recipe = m.house.recipes[item]
    rng = m.rng(item, 2)
    keeps_days = m.house.keeps_days(item)
    keeps = 365 if keeps_days is None else keeps_days
    if not keeps or any(item == one[0] and one[2] <= 0 for one in UNDER_WAY):
        return []
    if not HELD.get(item, 1.0):
        return [(m.on, item, 0.0, recipe.unit, None, None)]
    lead = _lead_days(m.house, item)
    quantity = (
        m.need(item, 0, lead) * rng.uniform(1.3, 1.6) if lead else m.need(item, 0, 0) * rng.uniform(0.3, 0.9)
    )
    quantity += sum(line.quantity for r in m.house.recipes.values() for line in r.lines
                    if line.item == item and line.returns)  # fmt: skip
    quantity = HELD.get(item, quantity)
    use_by = m.on + timedelta(days=min(keeps, max(lead, round(keeps * rng.uniform(0.4, 0.8)), 1)))
    if recipe.is_whole and keeps >= 4:
        quantity = max(quantity, recipe.makes * rng.uniform(0.3, 0.8))
    amount = m.rounded(item, quantity)
    return [(m.on, item, amount, recipe.unit, use_by if amount else None, None)]


def _under_way(m: Morning) -> list[Count]:
    """Lots that age, press, cure and prove, from `UNDER_WAY`."""
    rows: list[Count] = []
    for item, quantity, ready, lots in UNDER_WAY:
        recipe = m.house.recipes[item]
        ready_on = m.on + timedelta(days=ready)
        use_by = ready_on + timedelta(days=m.house.keeps_days(item) or 0)
        for n in range(lots):
            weight = quantity
            if recipe.unit == "kg":
                weight = round(quantity * m.rng(f"{item}{ready}{n}", 3).uniform(0.94, 1.06), 2)
            rows.append((m.on, item, weight, recipe.unit, use_by, ready_on if ready > 0 else None))
    return rows


def counts(m: Morning) -> list[Count]:
    """Rows of counts.csv: dry stores on Monday, the rest on the morning itself."""
    item_of = {(o.vendor, o.code): i.id for i in m.house.ingredients.values() for o in i.offers}
    coming = {item_of[vendor, code]: (day - m.on).days for vendor, code, _, day in open_orders(m)}
    rows = [row for item in m.house.ingredients for row in _bought(m, item, coming)]
    plates = {
        dish.recipe for dish in m.house.dishes.values() if m.house.recipes[dish.recipe].keeps_days is None
    }
    rows += [row for item in m.house.recipes if item not in plates for row in _made(m, item)]
    return rows + _under_way(m)


def _cheapest(house: House, item: str) -> Offer:
    offers = house.ingredients[item].offers
    return min(offers, key=lambda o: (not o.is_preferred, float(o.price or 0) / o.pack_quantity))


def open_orders(m: Morning) -> list[OpenOrder]:
    """Orders whose cut-off has passed and that have not come: yesterday's for today, and the ribs."""
    rows = [
        ("brackenhurn-beef", "BB-109", packs, m.on + timedelta(days=ahead)) for ahead, packs in RIBS_COMING
    ]
    for vendor in m.house.vendors:
        if vendor == "brackenhurn-beef":
            continue
        coming = deliveries(m.house, vendor, m.on)
        for n, (day, is_open) in enumerate(coming[:-1]):
            if is_open:
                continue
            first, last = (day - m.on).days, (coming[n + 1][0] - m.on).days
            rows += _packs(m, vendor, day, first, last)
    return rows


def _packs(m: Morning, vendor: str, day: date, first: int, last: int) -> list[OpenOrder]:
    rows = []
    for item in m.house.ingredients:
        offer = _cheapest(m.house, item)
        keeps = m.house.ingredients[item].keeps_days
        is_fresh = keeps is not None and keeps <= 21
        if offer.vendor != vendor or (not is_fresh and m.rng(item, 4).random() < 0.5):
            continue
        packs = round(m.need(item, first, last - 1) * 1.25 / offer.pack_quantity + 0.25)
        if packs:
            rows.append((vendor, offer.code, packs, day))
    return rows
