"""What a user may write in each file of a house: a class per file or part; `words.csv` has what it means."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal
from fractions import Fraction
from typing import Annotated, Self

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, model_validator

from ordering.read import fields
from ordering.read.field_types import (
    Allergen,
    Amount,
    Batches,
    Book,
    BreakFrom,
    Code,
    Country,
    Covers,
    Currency,
    CutOff,
    Date,
    Days,
    Density,
    Email,
    FoodLaw,
    Hazard,
    Hours,
    Id,
    Level,
    Many,
    Mapped,
    Missed,
    Money,
    Note,
    OrderPrefix,
    Orders,
    PackSize,
    Paths,
    Per,
    Phone,
    Portions,
    Seed,
    Subdivision,
    Text,
    TimeZone,
    Truth,
    UnitName,
    Weekday,
    Weeks,
    Weight,
    Yield,
    many,
    none_as_empty,
)

EVERY = "*"


def _closures(value: object) -> object:
    """A bare day or range stands for a closure of the whole house."""
    return [{"dates": [one]} if isinstance(one, str) else one for one in many(value)]


class YamlPart(BaseModel):
    """A part of a file: no key beyond those named, nothing changed after reading."""

    model_config = ConfigDict(frozen=True, extra="forbid", hide_input_in_errors=True)


class ServiceIn(YamlPart):
    """A service of `house.yaml`."""

    days: Many[Weekday]


class PolicyIn(YamlPart):
    """How `house.yaml` weighs running out, and how many paths are drawn."""

    missed_cost: Missed | None = None
    service_level: Level | None = None
    paths: Paths = 300
    seed: Seed = 1


class HolidaysIn(YamlPart):
    """Whose public holidays hold."""

    country: Country
    subdivision: Subdivision = ""


class ConsumableIn(YamlPart):
    """What the service itself uses up."""

    item: Id
    quantity: Amount
    per: Per


class HouseIn(YamlPart):
    """`house.yaml`."""

    name: Text
    shared: Text = ""
    alike: Truth = False
    email: Email = ""
    address: Note = ""
    contact: Text = ""
    phone: Phone = ""
    currency: Currency = ""
    timezone: TimeZone = "UTC"
    services: Mapped[Id, ServiceIn] = Field(default_factory=dict)
    order_prefix: OrderPrefix = "PO-"
    order_day: Many[Weekday] = Field(default_factory=lambda: [3])
    policy: Annotated[PolicyIn, BeforeValidator(none_as_empty)] = PolicyIn()
    budget: Money | None = None
    holidays: HolidaysIn | None = None
    food_law: FoodLaw = ""
    consumables: Many[ConsumableIn] = Field(default_factory=list)
    headers: Mapped[Book, Mapped[Text, Text]] = Field(default_factory=dict)
    dish_names: Mapped[Text, Id] = Field(default_factory=dict)
    service_names: Mapped[Text, Id] = Field(default_factory=dict)
    ignore: Many[Text] = Field(default_factory=list)
    sources: Mapped[Text, Mapped[Text, Text]] = Field(default_factory=dict)
    answered: Many[Text] = Field(default_factory=list)


class DeliveryIn(YamlPart):
    """A weekday on which a vendor comes."""

    day: Weekday
    order_by: CutOff
    weeks_ahead: Weeks = 0


class VendorIn(YamlPart):
    """An entry of `vendors.yaml`."""

    name: Text
    email: Email = ""
    contact: Text = ""
    phone: Phone = ""
    orders: Orders = "letter"
    account: Text = ""
    notes: Note = ""
    deliveries: Many[DeliveryIn] = Field(default_factory=list)
    minimum: Money = Decimal(0)
    delivery_fee: Money = Decimal(0)
    fee_waived_over: Money | None = None
    closed: Many[Days] = Field(default_factory=list)
    house: Text = ""
    together: Truth = False


class OfferIn(YamlPart):
    """An offer of an ingredient."""

    vendor: Id
    code: Code
    pack: PackSize
    price: Money | None = None
    per: UnitName | None = None
    breaks: Mapped[BreakFrom, Money] = Field(default_factory=dict)
    preferred: Truth = False
    description: Text = ""
    from_: Date | None = Field(default=None, alias="from")
    until: Date | None = None


class IngredientIn(YamlPart):
    """An entry of `ingredients.yaml`."""

    name: Text = ""
    unit: UnitName
    store: Text = ""
    keeps: Hours | None = None
    yield_: Yield = Field(default=1.0, alias="yield")
    reason: Text = ""
    par: Amount | None = None
    each: Weight | None = None
    density: Density | None = None
    allergens: Many[Allergen] = Field(default_factory=list)
    free_of: Many[Allergen] = Field(default_factory=list)
    hazards: Many[Hazard] = Field(default_factory=list)
    offers: Many[OfferIn] = Field(default_factory=list)


class LineIn(YamlPart):
    """A line of a recipe."""

    item: Id
    quantity: Amount
    yield_: Yield | None = Field(default=None, alias="yield")
    reason: Text = ""
    returns: Amount | None = None
    at: Hours = Fraction(0)
    optional: Truth = False


class ByProductIn(YamlPart):
    """What comes off a batch beside what is made."""

    item: Id
    quantity: Amount


class RecipeIn(YamlPart):
    """An entry of `recipes.yaml`."""

    name: Text = ""
    makes: Amount
    batches: Batches = "any"
    takes: Hours = Fraction(0)
    prepared_at: Hours = Fraction(0)
    keeps: Hours | None = None
    smallest: Amount | None = None
    largest: Amount | None = None
    room: Amount | None = None
    store: Text = ""
    station: Text = ""
    par: Amount | None = None
    each: Weight | None = None
    density: Density | None = None
    from_: Many[LineIn] = Field(default_factory=list, alias="from")
    also_makes: Many[ByProductIn] = Field(default_factory=list)
    hazards: Many[Hazard] = Field(default_factory=list)
    allergens: Many[Allergen] = Field(default_factory=list)
    free_of: Many[Allergen] = Field(default_factory=list)
    reason: Text = ""
    notes: Note = ""


class DishIn(YamlPart):
    """An entry of `menu.yaml`."""

    name: Text = ""
    recipe: Id
    portion: Amount
    price: Money | None = None
    services: Many[Id] = Field(default_factory=lambda: [EVERY])
    from_: Date | None = Field(default=None, alias="from")
    until: Date | None = None
    like: Id | None = None
    missed_cost: Missed | None = None
    service_level: Level | None = None


class ClosureIn(YamlPart):
    """Days on which the house, or some of its services, is closed."""

    date: Days | None = None
    dates: Many[Days] = Field(default_factory=list)
    from_: Date | None = Field(default=None, alias="from")
    until: Date | None = None
    services: Many[Id] = Field(default_factory=list)
    why: Text = ""

    @model_validator(mode="after")
    def _has_days(self) -> Self:
        has_range = self.from_ is not None
        if has_range != (self.until is not None):
            raise fields.refuse("bad-range", "'from' and 'until' go together", "write both, or 'date: DATE'")
        if has_range + bool(self.dates) + (self.date is not None) != 1:
            right = "write one of 'date', 'dates', or 'from' and 'until'"
            raise fields.refuse("bad-range", "the days of this closure are not clear", right)
        return self

    def ranges(self) -> list[tuple[dt.date, dt.date]]:
        """(first, last) of each stretch of days; whether they run forwards is checked elsewhere."""
        if self.from_ is not None and self.until is not None:
            return [(self.from_, self.until)]
        return self.dates or [self.date] if self.date is not None else self.dates


class EventIn(YamlPart):
    """A private party (`date`, `service`, `covers`, `menu`, `instead`) or a named event (`dates`)."""

    name: Text
    date: Date | None = None
    service: Id | None = None
    covers: Covers | None = None
    menu: Mapped[Id, Portions] = Field(default_factory=dict)
    instead: Truth = False
    dates: Many[Days] = Field(default_factory=list)
    services: Many[Id] = Field(default_factory=list)

    @model_validator(mode="after")
    def _is_one_kind(self) -> Self:
        named, party = bool(self.dates), self.date is not None
        if named == party:
            right = "a party has 'date', a named event has 'dates'"
            raise fields.refuse("bad-event", "neither a party nor a named event", right)
        if party and (self.service is None or self.covers is None or self.services):
            right = "write 'date', 'service' and 'covers'"
            raise fields.refuse("bad-event", "a party is at one service and has covers", right)
        if named and (self.service or self.covers or self.menu or self.instead):
            right = "take out service, covers, menu and instead; or write 'date' for a party"
            raise fields.refuse("bad-event", "a named event has only 'dates' and 'services'", right)
        return self


class CalendarIn(YamlPart):
    """`calendar.yaml`."""

    closures: Annotated[list[ClosureIn], BeforeValidator(_closures)] = Field(default_factory=list)
    events: Many[EventIn] = Field(default_factory=list)
