"""A house as the stages see it: ids resolved, every quantity in its item's own unit.

An *item* is an ingredient or a recipe, of one name space; dishes have their own. An item's `unit` is what all
its quantities are in from here on. Spans are whole days. Weekdays count from Monday = 0.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal

from ordering.amounts import EPS
from ordering.records.vendors import Offer, Vendor

DATE_MARK = "date-mark"
# Seven days, day 1 being the day of preparation: Virginia 12VAC5-421-830 A (text to January 2017), which
MARKED_DAYS = 6  # reproduces section 3-501.17(A) of the model Food Code


@dataclass(frozen=True, slots=True)
class Place:
    """Where something was written: file and line, for faults found far downstream."""

    path: str
    line: int

    def __str__(self) -> str:
        return f"{self.path}:{self.line}" if self.line else self.path


@dataclass(frozen=True, slots=True)
class Service:
    """One sitting of an ordinary week, such as dinner."""

    id: str
    weekdays: frozenset[int]


@dataclass(frozen=True, slots=True)
class MissedCost:
    """What a missed portion costs beyond its margin: an amount of money, or so many times the margin."""

    money: float = 0.0
    times: float = 0.0

    def of(self, margin: float) -> float:
        """Money it costs at a margin."""
        return self.money + self.times * margin


MISSED_COST = MissedCost()
"""For a house that says nothing: measured in `tests/bench/worlds.py`."""


@dataclass(frozen=True, slots=True)
class Policy:
    """`service_level` is an older way to say `missed_cost`: see `costs.portion_losses`."""

    service_level: float | None = None
    paths: int = 300
    seed: int = 1
    weekly_budget: Decimal | None = None
    missed_cost: MissedCost | None = None


@dataclass(frozen=True, slots=True)
class Consumable:
    """What no recipe names: charcoal, parchment. `per` is service, cover or day."""

    item: str
    quantity: float
    per: str


@dataclass(frozen=True, slots=True)
class Ingredient:
    """`keeps_days` None: keeps as long as anyone will want it. `par` None: no par."""

    id: str
    name: str
    unit: str
    store: str = ""
    keeps_days: int | None = None
    yield_fraction: float = 1.0
    par: float | None = None
    each_g: float | None = None
    density_kg_per_l: float | None = None
    allergens: tuple[str, ...] = ()
    free_of: tuple[str, ...] = ()
    hazards: tuple[str, ...] = ()
    offers: tuple[Offer, ...] = ()
    reason: str = ""


@dataclass(frozen=True, slots=True)
class RecipeLine:
    """One line of a batch, in the unit of `item`.

    `quantity` is edible portion; `quantity / yield_fraction` is drawn. `returns` comes back when the batch is
    ready. It is needed `at_days` after the start. `is_optional`: where there is none it is made without.
    `unit` is the one it is written in, "": the item's own; `unit_size` what one of it is in the item's unit.
    """

    item: str
    quantity: float
    yield_fraction: float = 1.0
    returns: float = 0.0
    at_days: int = 0
    reason: str = ""
    is_optional: bool = False
    unit: str = ""
    unit_size: float = 1.0

    @property
    def drawn(self) -> float:
        """As purchased quantity one batch takes out of stock."""
        return self.quantity / self.yield_fraction


@dataclass(frozen=True, slots=True)
class Recipe:
    """What is made in the house.

    `makes` is one batch after all losses. `keeps_days` as written, None: no date of its own. `prepared_days`
    after the start it is cooked or otherwise made ready to eat: day 1 of a date mark.
    """

    id: str
    name: str
    unit: str
    makes: float
    lines: tuple[RecipeLine, ...]
    is_whole: bool = False
    takes_days: int = 0
    keeps_days: int | None = None
    largest: float | None = None
    smallest: float | None = None  # least made at once, as `largest` in the recipe's unit
    room: float | None = None  # most that can be under way at once
    store: str = ""
    station: str = ""
    also_makes: tuple[tuple[str, float], ...] = ()
    each_g: float | None = None
    density_kg_per_l: float | None = None
    par: float | None = None
    hazards: tuple[str, ...] = ()
    allergens: tuple[str, ...] = ()
    free_of: tuple[str, ...] = ()
    prepared_days: int = 0
    notes: str = ""
    reason: str = ""
    step: float = 1.0  # least part of a batch, where `is_whole`: 0.5 for halves

    @property
    def marked_days(self) -> int:
        """Days from the one it is ready to day 7 of a date mark; negative: over before it is ready."""
        return MARKED_DAYS - (self.takes_days - self.prepared_days)

    @property
    def most_batches(self) -> float | None:
        """Batches a day allows; whole ones where batches are whole, and then one at least. None: no limit."""
        if self.largest is None:
            return None
        most = self.at_most(self.largest / self.makes)
        return max(most, self.step) if self.is_whole else most

    def enough(self, batches: float) -> float:
        """The least that can be made, by the step of a batch, that is so many batches or more."""
        return math.ceil(batches / self.step - EPS) * self.step if self.is_whole else batches

    def at_most(self, batches: float) -> float:
        """The most that can be made, by the step of a batch, that is so many batches or fewer."""
        return math.floor(batches / self.step + EPS) * self.step if self.is_whole else batches


@dataclass(frozen=True, slots=True)
class Dish:
    """`portion` is what one sale takes of the recipe's output, in the recipe's unit."""

    id: str
    name: str
    recipe: str
    portion: float
    price: Decimal | None = None
    services: frozenset[str] = frozenset()
    from_on: date | None = None
    until_on: date | None = None
    like: str | None = None
    service_level: float | None = None
    missed_cost: MissedCost | None = None

    def is_on(self, day: date, service: str) -> bool:
        """Whether the menu of that service offers the dish."""
        return (
            service in self.services
            and (self.from_on is None or day >= self.from_on)
            and (self.until_on is None or day <= self.until_on)
        )


@dataclass(frozen=True, slots=True)
class Closure:
    """Both days inclusive. Empty `services`: the whole house."""

    first_on: date
    last_on: date
    services: frozenset[str] = frozenset()
    why: str = ""

    def covers(self, day: date, service: str) -> bool:
        """Whether the service is closed on that day."""
        return self.first_on <= day <= self.last_on and (not self.services or service in self.services)


@dataclass(frozen=True, slots=True)
class Party:
    """A private party: its portions are certain. `is_instead`: the service is closed to walk-ins."""

    name: str
    date: date
    service: str
    covers: int
    menu: Mapping[str, float] = field(default_factory=dict)
    is_instead: bool = False


@dataclass(frozen=True, slots=True)
class NamedEvent:
    """A happening whose effect is learnt from its past dates. Empty `services`: all of them."""

    name: str
    dates: tuple[date, ...]
    services: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class House:
    """A house, all its files together.

    `shared`: the folder of files it begins from; `overrides`: what it writes in their place, in words.
    `is_alike`: guests eat as those of the other houses of its group do.
    """

    name: str
    currency: str = ""
    order_prefix: str = "PO-"
    timezone: str = "UTC"
    address: str = ""
    services: Mapping[str, Service] = field(default_factory=dict)
    order_weekdays: frozenset[int] = frozenset({3})
    policy: Policy = Policy()
    holiday_country: str = ""
    holiday_subdivision: str = ""
    food_law: str = ""  # whose food rules are printed: US, GB, EU; empty where none was read
    consumables: tuple[Consumable, ...] = ()
    vendors: Mapping[str, Vendor] = field(default_factory=dict)
    ingredients: Mapping[str, Ingredient] = field(default_factory=dict)
    recipes: Mapping[str, Recipe] = field(default_factory=dict)
    dishes: Mapping[str, Dish] = field(default_factory=dict)
    closures: tuple[Closure, ...] = ()
    parties: tuple[Party, ...] = ()
    events: tuple[NamedEvent, ...] = ()
    headers: Mapping[str, Mapping[str, str]] = field(default_factory=dict)
    dish_names: Mapping[str, str] = field(default_factory=dict)
    service_names: Mapping[str, str] = field(default_factory=dict)
    ignored: tuple[str, ...] = ()
    piece_words: Mapping[str, str] = field(default_factory=dict)
    places: Mapping[str, Place] = field(default_factory=dict)
    email: str = ""
    contact: str = ""
    phone: str = ""
    answered: frozenset[str] = frozenset()
    shared: str = ""
    is_alike: bool = False
    overrides: tuple[str, ...] = ()

    @property
    def is_american(self) -> bool:
        """Whether days are printed with the month first."""
        return (self.holiday_country.upper() or {"USD": "US"}.get(self.currency)) == "US"

    def unit_of(self, item: str) -> str:
        """Unit in which every quantity of the item is held. KeyError: no such item."""
        return self.ingredients[item].unit if item in self.ingredients else self.recipes[item].unit

    def name_of(self, item: str) -> str:
        """What an item is called. KeyError: no such item."""
        return self.ingredients[item].name if item in self.ingredients else self.recipes[item].name

    def keeps_days(self, item: str) -> int | None:
        """Days from the day an item comes or is ready to its last day; None: no date of its own.

        They are `keeps` as written; a recipe that carries the hazard `date-mark` has no more than its mark
        leaves, whatever is written.
        """
        made = self.recipes.get(item)
        if made is None:
            return self.ingredients[item].keeps_days
        if DATE_MARK not in made.hazards:
            return made.keeps_days
        left = max(0, made.marked_days)
        return left if made.keeps_days is None else min(made.keeps_days, left)

    def is_open(self, day: date, service: str) -> bool:
        """Whether the house opens this service to walk-ins, closures and private hire considered."""
        return (
            day.weekday() in self.services[service].weekdays
            and not any(closure.covers(day, service) for closure in self.closures)
            and not any(p.is_instead and p.date == day and p.service == service for p in self.parties)
        )
