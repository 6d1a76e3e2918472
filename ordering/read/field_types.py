"""Types of what stands behind a key: each reads one value from its text or refuses it in words."""

from __future__ import annotations

import datetime as dt
from datetime import time
from decimal import Decimal
from fractions import Fraction
from typing import Annotated, Any, TypeVar

from pydantic import BeforeValidator, PlainValidator

from ordering import units
from ordering.cautions import ALLERGEN_ALIASES, ALLERGENS, FOOD_LAWS, HAZARDS
from ordering.packs import Pack, parse_pack
from ordering.read import fields, suggestions
from ordering.read.book_table import BOOKS
from ordering.read.spans import parse_hours
from ordering.records.house import MissedCost

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
    str, PlainValidator(fields.one_of("allergen", (*ALLERGENS, *ALLERGEN_ALIASES), suggestions.allergen))
]
FoodLaw = Annotated[str, PlainValidator(fields.one_of("food law", FOOD_LAWS))]
Per = Annotated[str, PlainValidator(fields.one_of("way to count", ("service", "cover", "day")))]
Batches = Annotated[str, PlainValidator(fields.one_of("way to scale", ("whole", "halves", "any")))]
Orders = Annotated[str, PlainValidator(fields.one_of("way to order", ("letter", "ubl")))]
Book = Annotated[str, PlainValidator(fields.one_of("book", BOOKS))]
K = TypeVar("K")
T = TypeVar("T")


def many(value: object) -> list[Any]:
    """One value where a list may stand, or nothing at all."""
    return [] if value is None else value if isinstance(value, list) else [value]


def none_as_empty(value: object) -> object:
    """An empty mapping where nothing is written."""
    return {} if value is None else value


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


Many = Annotated[list[T], BeforeValidator(many)]
Mapped = Annotated[dict[K, T], BeforeValidator(none_as_empty)]
Days = Annotated[tuple[dt.date, dt.date], PlainValidator(_days)]
