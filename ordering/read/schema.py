"""What a user may write in each file of a house: a class per file or part; `words.csv` has what it means."""

from __future__ import annotations

import datetime as dt
from datetime import time
from decimal import Decimal
from fractions import Fraction
from typing import Annotated, Any, Self, TypeVar

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, PlainValidator, model_validator

from ordering import units
from ordering.cautions import ALLERGEN_ALIASES, ALLERGENS, FOOD_LAWS, HAZARDS
from ordering.packs import Pack, parse_pack
from ordering.read import fields, meant
from ordering.read.spans import parse_hours
from ordering.records.house import MissedCost

_AT_THE_DOOR = ("use_by", "instead_of", "reason", "temperature", "condition")
COLUMNS = {
    "sales": ("date", "service", "dish", "sold", "sold_out"),
    "covers": ("date", "service", "covers"),
    "bookings": ("taken_on", "date", "service", "booked"),
    "counts": ("counted_on", "item", "quantity", "unit", "use_by", "ready_on"),
    "open_orders": ("vendor", "code", "packs", "deliver_on"),
    "waste": ("date", "item", "quantity", "unit", "reason"),
    "batches": ("started_on", "recipe", "drawn", "made", "unit", "drawn_unit"),
    "sisters": ("service", "dish", "per_cover", "spread"),
    "deliveries": ("delivered_on", "vendor", "code", "packs", "quantity", "unit", "price", *_AT_THE_DOOR),
}
OPTIONAL = {
    "sales": {"sold_out"},
    "counts": {"use_by", "ready_on"},
    "deliveries": set(_AT_THE_DOOR),
    "batches": {"drawn_unit"},
}
BOOKS = tuple(COLUMNS)
EVERY = "*"

Text = Annotated[str, PlainValidator(fields.a_text)]
Note = Annotated[str, PlainValidator(fields.a_note)]
Id = Annotated[str, PlainValidator(fields.an_id)]
Code = Annotated[str, PlainValidator(fields.a_code)]
Email = Annotated[str, PlainValidator(fields.an_email)]
Phone = Annotated[str, PlainValidator(fields.a_phone)]
Money = Annotated[Decimal, PlainValidator(fields.money)]
Yield = Annotated[float, PlainValidator(fields.a_yield)]
Truth = Annotated[bool, PlainValidator(fields.truth)]
Weekday = Annotated[int, PlainValidator(fields.weekday)]
Date = Annotated[dt.date, PlainValidator(fields.a_date)]
CutOff = Annotated[tuple[int, time], PlainValidator(fields.cut_off)]
TimeZone = Annotated[str, PlainValidator(fields.time_zone)]
Currency = Annotated[str, PlainValidator(fields.upper_code("currency", r"[A-Z]{3}", "GBP"))]
OrderPrefix = Annotated[
    str, PlainValidator(fields.upper_code("beginning of an order number", r"[A-Z][A-Z0-9]{1,7}-?", "PO-"))
]
Country = Annotated[str, PlainValidator(fields.upper_code("country", r"[A-Z]{2,3}", "GB"))]
Subdivision = Annotated[str, PlainValidator(fields.upper_code("subdivision", r"[A-Za-z0-9-]{1,6}", "ENG"))]
Amount = Annotated[
    units.Quantity, PlainValidator(fields.from_units(fields.positive, "a quantity such as 250 g"))
]
Weight = Annotated[
    units.Quantity, PlainValidator(fields.from_units(fields.of_mass, "a weight such as 180 g"))
]
UnitName = Annotated[str, PlainValidator(fields.from_units(units.unit_name, "a unit such as kg"))]
PackSize = Annotated[Pack, PlainValidator(fields.from_units(parse_pack, "a pack such as 6 x 1 kg"))]
Hours = Annotated[Fraction, PlainValidator(fields.from_units(parse_hours, "a span such as 2 d"))]
Density = Annotated[Fraction, PlainValidator(fields.from_units(units.parse_density, "0.92 kg/l"))]
Level = Annotated[float, PlainValidator(fields.within(Decimal("0.5"), Decimal("0.999"), "0.95"))]
Missed = Annotated[MissedCost, PlainValidator(fields.missed_cost)]
Portions = Annotated[float, PlainValidator(fields.within(Decimal("0.01"), Decimal(fields.MAX_COUNT), "12"))]
Paths = Annotated[int, PlainValidator(fields.whole(20, 2000, "300"))]
Seed = Annotated[int, PlainValidator(fields.whole(0, 2**31 - 1, "1"))]
Covers = Annotated[int, PlainValidator(fields.whole(1, fields.MAX_COUNT, "40"))]
Weeks = Annotated[int, PlainValidator(fields.whole(0, 52, "2"))]
BreakFrom = Annotated[int, PlainValidator(fields.whole(2, fields.MAX_COUNT, "4"))]
Hazard = Annotated[str, PlainValidator(fields.one_of("hazard", HAZARDS))]
Allergen = Annotated[
    str, PlainValidator(fields.one_of("allergen", (*ALLERGENS, *ALLERGEN_ALIASES), meant.allergen))
]
FoodLaw = Annotated[str, PlainValidator(fields.one_of("food law", FOOD_LAWS))]
Per = Annotated[str, PlainValidator(fields.one_of("way to count", ("service", "cover", "day")))]
Batches = Annotated[str, PlainValidator(fields.one_of("way to scale", ("whole", "halves", "any")))]
Orders = Annotated[str, PlainValidator(fields.one_of("way to order", ("letter", "ubl")))]
Book = Annotated[str, PlainValidator(fields.one_of("book", BOOKS))]

K = TypeVar("K")
T = TypeVar("T")


def _many(value: object) -> list[Any]:
    """One value where a list may stand, or nothing at all."""
    return [] if value is None else value if isinstance(value, list) else [value]


def _none_as_empty(value: object) -> object:
    return {} if value is None else value


def _closures(value: object) -> object:
    """A bare day or range stands for a closure of the whole house."""
    return [{"dates": [one]} if isinstance(one, str) else one for one in _many(value)]


def _days(value: object) -> tuple[dt.date, dt.date]:
    """`2026-12-25`, `2026-12-24 to 2026-12-27` or `{from: ..., until: ...}`, both days included."""
    if isinstance(value, dict):
        if set(value) != {"from", "until"}:
            raise fields.refuse(
                "bad-date", "a range has 'from' and 'until'", "write {from: DATE, until: DATE}"
            )
        first, last = fields.a_date(value["from"]), fields.a_date(value["until"])
    elif isinstance(value, str) and " to " in value:
        written = value.split(" to ", 1)
        first, last = fields.a_date(written[0]), fields.a_date(written[1])
    else:
        first = last = fields.a_date(value)
    if not 0 <= (last - first).days <= 400:
        wrong = f"the range from {first} to {last} is backwards or longer than 400 days"
        raise fields.refuse("bad-range", wrong, "write the first day, then the last")
    return first, last


Many = Annotated[list[T], BeforeValidator(_many)]
Mapped = Annotated[dict[K, T], BeforeValidator(_none_as_empty)]
Days = Annotated[tuple[dt.date, dt.date], PlainValidator(_days)]


class Part(BaseModel):
    """A part of a file: no key beyond those named, nothing changed after reading."""

    model_config = ConfigDict(frozen=True, extra="forbid", hide_input_in_errors=True)


class ServiceIn(Part):
    days: Many[Weekday]


class PolicyIn(Part):
    missed_cost: Missed | None = None
    service_level: Level | None = None
    paths: Paths = 300
    seed: Seed = 1


class HolidaysIn(Part):
    country: Country
    subdivision: Subdivision = ""


class ConsumableIn(Part):
    item: Id
    quantity: Amount
    per: Per


class HouseIn(Part):
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
    policy: Annotated[PolicyIn, BeforeValidator(_none_as_empty)] = PolicyIn()
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


class DeliveryIn(Part):
    day: Weekday
    order_by: CutOff
    weeks_ahead: Weeks = 0


class VendorIn(Part):
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


class OfferIn(Part):
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


class IngredientIn(Part):
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


class LineIn(Part):
    item: Id
    quantity: Amount
    yield_: Yield | None = Field(default=None, alias="yield")
    reason: Text = ""
    returns: Amount | None = None
    at: Hours = Fraction(0)
    optional: Truth = False


class ByProductIn(Part):
    item: Id
    quantity: Amount


class RecipeIn(Part):
    name: Text = ""
    makes: Amount
    batches: Batches = "any"
    takes: Hours = Fraction(0)
    prepared_at: Hours = Fraction(0)
    keeps: Hours | None = None
    largest: Amount | None = None
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


class DishIn(Part):
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


class ClosureIn(Part):
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


class EventIn(Part):
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


class CalendarIn(Part):
    closures: Annotated[list[ClosureIn], BeforeValidator(_closures)] = Field(default_factory=list)
    events: Many[EventIn] = Field(default_factory=list)
