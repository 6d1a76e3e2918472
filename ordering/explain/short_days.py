"""What falls short on which day, and the portions it costs, gathered from netting and buying.

Days of one item and one cause that follow one another are a spell: remedies are sought for it as a whole.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, timedelta

import numpy as np

from ordering.amounts import LEAST_SHOWN
from ordering.explain.run_facts import house_contents
from ordering.explain.trace import Trace
from ordering.records.buying import Buying, Delivery, Shortfall
from ordering.records.house import House
from ordering.records.optional import optional_users
from ordering.records.plan import Forecast, Netting, Opening
from ordering.records.vendors import Offer

Portions = Mapping[tuple[str, date, str], float]
"""Portions by dish, date and service."""

_MARGIN_ALONE = 0.05
"""Share of what is short below which what is expected is met and only the margin is not."""
_LONGEST_GAP = 3  # two closed days between two short ones are no end of a spell


@dataclass(frozen=True, slots=True)
class ShortDay:
    """What one item falls short by on one day; `causes` the weightiest first.

    `portions` are those it costs. `expected` is the part of `short` that is expected to be wanted, the rest
    is what the service level adds; infinite where all of it is. `under_way`: recipes of batches under way
    that draw it. `users`: recipes that can go without it.
    """

    item: str
    on: date
    short: float
    causes: tuple[str, ...]
    portions: Portions = field(default_factory=dict)
    expected: float = math.inf
    under_way: tuple[str, ...] = ()
    users: tuple[str, ...] = ()

    @property
    def is_margin(self) -> bool:
        """Whether next to none of it is expected to be wanted."""
        return self.expected < _MARGIN_ALONE * self.short

    @property
    def is_optional(self) -> bool:
        """Whether all that draws it can go without."""
        return bool(self.users) and not self.portions and not self.under_way

    def n_portions(self) -> float:
        """Portions it costs in all."""
        return sum(self.portions.values())


@dataclass(frozen=True, slots=True)
class ShortSpell:
    """Short days of one item with one cause that follow one another, with what remedies are found from.

    `expected` : mean portions by (dish, date, service); `short_dishes` : dishes short of anything at all;
    `content` : quantity of the item in one portion, by dish; `today` : the day of the run.
    `is_counted` : whether its stock was ever counted, else it is taken as none; `is_explained` : whether
    counts and books explain what went out; `on_its_way` : the first day after the first
    short one on which some of it, on order already, is due.
    """

    house: House
    days: tuple[ShortDay, ...]
    expected: Portions
    short_dishes: frozenset[str]
    deliveries: Mapping[str, Sequence[Delivery]]
    content: Mapping[str, float]
    today: date
    is_counted: bool = True
    is_explained: bool = True
    on_its_way: date | None = None

    @property
    def item(self) -> str:
        """The item that is short."""
        return self.days[0].item

    @property
    def unit(self) -> str:
        """Its unit."""
        return self.house.unit_of(self.item)

    @property
    def keeps(self) -> int | None:
        """Days it keeps; None: as long as is looked ahead."""
        return self.house.keeps_days(self.item)

    @property
    def offers(self) -> tuple[Offer, ...]:
        """What vendors sell of it; nothing where it is made here."""
        return self.house.ingredients[self.item].offers if self.item in self.house.ingredients else ()

    @property
    def cause(self) -> str:
        """The weightiest cause."""
        return self.days[0].causes[0]

    @property
    def first(self) -> date:
        """The first short day."""
        return self.days[0].on

    @property
    def short(self) -> float:
        """What is short on all days together, in the item's unit."""
        return sum(day.short for day in self.days)

    @property
    def portions(self) -> dict[tuple[str, date, str], float]:
        """Portions it costs by dish, date and service."""
        return _total(day.portions for day in self.days)

    def freshest(self, on: date) -> date:
        """The first day, from today on, from which what is there is still good on a day."""
        return self.today if self.keeps is None else max(self.today, on - timedelta(days=self.keeps))


def short_days(
    house: House, netting: Netting, buying: Buying, forecast: Forecast, traced: Trace
) -> list[ShortDay]:
    """Every short day, one per item and day, the earliest and then the most portions first.

    Where netting already says that an item is short on a day, what buying says of it is the same with its
    margin, and is left out.
    """
    found = _from_netting(netting)
    known = {(day.item, day.on) for day in found}
    rows = [
        row
        for row in buying.unmet
        if row.short > LEAST_SHOWN
        and (row.item, row.needed_on) not in known
        and row.item in netting.flows
        and row.needed_on in forecast.days
    ]
    if rows:
        found += _from_buying(house, netting, rows, forecast, traced)
    users = optional_users(house)
    found = [replace(day, users=users.get(day.item, ())) for day in found]
    return sorted(found, key=lambda day: (day.on, -day.n_portions(), day.item))


def short_spells(
    house: House,
    days: Sequence[ShortDay],
    forecast: Forecast,
    deliveries: Mapping[str, Sequence[Delivery]],
    stock: Opening,
) -> list[ShortSpell]:
    """Short days by item and cause; a gap of up to two days between them is no break."""
    expected = expected_portions(forecast)
    short_dishes = frozenset(dish for day in days for dish, _, _ in day.portions)
    recipes = house_contents(house)
    parts: list[list[ShortDay]] = []
    for day in sorted(days, key=lambda day: (day.item, day.causes[0], day.on)):
        last = parts[-1][-1] if parts else None
        is_same = last is not None and (last.item, last.causes[0]) == (day.item, day.causes[0])
        if last is None or not is_same or (day.on - last.on).days > _LONGEST_GAP:
            parts.append([])
        parts[-1].append(day)
    contents = {item: recipes.per_portion(item) for item in {day.item for day in days}}
    spells = []
    for part in map(tuple, parts):
        item = part[0].item
        seen = expected, short_dishes, deliveries, contents[item], forecast.days[0]
        known = item not in stock.unknown, item not in stock.doubtful
        due = [x.deliver_on for x in stock.scheduled if x.item == item and x.deliver_on > part[0].on]
        spells.append(ShortSpell(house, part, *seen, *known, min(due, default=None)))
    return spells


def expected_portions(forecast: Forecast) -> dict[tuple[str, date, str], float]:
    """Mean portions by (dish, date, service), those above zero."""
    dishes, slots = np.nonzero(forecast.mean > 0)
    return {
        (forecast.dishes[d], forecast.slots[s].date, forecast.slots[s].service): float(forecast.mean[d, s])
        for d, s in zip(dishes.tolist(), slots.tolist(), strict=True)
    }


def next_delivery(spell: ShortSpell, item: str) -> Delivery | None:
    """The first delivery of an item that can still be ordered; None: none, or it is made here."""
    ingredient = spell.house.ingredients.get(item)
    coming = [
        delivery
        for offer in (ingredient.offers if ingredient else ())
        for delivery in spell.deliveries.get(offer.vendor, ())
        if offer.holds_on(delivery.deliver_on)
    ]
    return min(coming, key=lambda delivery: (delivery.deliver_on, delivery.vendor), default=None)


def _from_netting(netting: Netting) -> list[ShortDay]:
    rows: dict[tuple[str, date], list[Shortfall]] = {}
    for row in netting.shortfalls:
        if row.short > LEAST_SHOWN:
            rows.setdefault((row.item, row.needed_on), []).append(row)
    found = []
    for key, of_day in rows.items():
        causes: dict[str, float] = {}
        for row in of_day:
            causes[row.cause] = causes.get(row.cause, 0.0) + row.short
        found.append(
            ShortDay(
                *key,
                sum(causes.values()),
                tuple(sorted(causes, key=lambda cause: (-causes[cause], cause))),
                _total(row.portions for row in of_day),
                under_way=of_day[-1].under_way,
            )
        )
    return found


def _total(several: Iterable[Portions]) -> dict[tuple[str, date, str], float]:
    total: dict[tuple[str, date, str], float] = {}
    for portions in several:
        for key, number in portions.items():
            total[key] = total.get(key, 0.0) + number
    return total


def _from_buying(
    house: House, netting: Netting, rows: Sequence[Shortfall], forecast: Forecast, traced: Trace
) -> list[ShortDay]:
    """Short days of bought items, what is short traced up to the portions it costs."""
    drawn = []
    for row in rows:
        day = (row.needed_on - forecast.days[0]).days
        by_day = np.zeros(len(forecast.days))
        by_day[day] = min(row.short, float(netting.flows[row.item].planned[day]))
        drawn.append((row.item, by_day))
    ended = traced.ended(traced.source(drawn))
    whole, needed = house_contents(house), house_contents(house, is_needed=True)
    contents = {
        item: (whole.per_portion(item), needed.per_portion(item)) for item in {row.item for row in rows}
    }
    keys = [(end, day) for end in traced.ends for day in forecast.days]
    served: dict[tuple[str, date], dict[str, float]] = {}
    for (dish, on, service), number in expected_portions(forecast).items():
        served.setdefault((dish, on), {})[service] = number
    return [
        ShortDay(
            row.item,
            row.needed_on,
            row.short,
            (row.cause,),
            _attributed(traced.parts(ended, n, keys), contents[row.item], served),
            float(by_day.sum()),
        )
        for n, (row, (_, by_day)) in enumerate(zip(rows, drawn, strict=True))
    ]


def _attributed(
    quantity: Mapping[tuple[str, date], float],
    content: tuple[Mapping[str, float], Mapping[str, float]],
    served: Mapping[tuple[str, date], Mapping[str, float]],
) -> dict[tuple[str, date, str], float]:
    """Portions that a quantity would have served, spread over the services of its day.

    content : by dish, what a portion holds of the item and what of that it cannot be served without: what
    is optional goes first
    """
    whole, needed = content
    portions = {}
    for (dish, on), short in quantity.items():
        services = served.get((dish, on), {})
        total = sum(services.values())
        each = needed.get(dish, 0.0)
        spared = (whole.get(dish, 0.0) - each) * total
        number = min(max(0.0, short - spared) / each, total) if each else 0.0
        for service, share in services.items():
            if number * share > LEAST_SHOWN * total:
                portions[(dish, on, service)] = number * share / total
    return portions
