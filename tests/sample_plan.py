"""A small run written out by hand, for tests of documents: two vendors, a week, an ageing room."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import date, datetime, time, timedelta
from decimal import Decimal

import numpy as np

from ordering.days import next_on, span
from ordering.records.books import Lot, OpenOrder
from ordering.records.buying import Buying, OrderLine, ParAdvice
from ordering.records.house import Dish, House, Ingredient, Recipe, RecipeLine, Service
from ordering.records.plan import (
    Expiring,
    Forecast,
    ItemFlow,
    Netting,
    Opening,
    Peg,
    Plan,
    Shortage,
    Slot,
    Start,
    TakenForStart,
)
from ordering.records.vendors import DeliveryDay, Offer, Vendor

ON = date(2026, 11, 26)
NOW = datetime(2026, 11, 26, 0, 0)
SAT, TUE = date(2026, 11, 28), date(2026, 12, 1)
N_DAYS = 14
DAYS = span(ON, N_DAYS)

MILL = Vendor(
    "hollow-mill",
    "Hollow Mill",
    email="flour@hollow-mill.example",
    account="A-1047",
    notes="Side gate, before ten; ring twice.",
    deliveries=(DeliveryDay(5, 3, time(15, 0)), DeliveryDay(1, 0, time(15, 0))),
    minimum=Decimal("30.00"),
    delivery_fee=Decimal("8.00"),
    fee_waived_over=Decimal("100.00"),
)
QUAY = Vendor(
    "reed-quay",
    "Reed Quay Fish & Sons",
    email="desk@reed-quay.example",
    deliveries=(DeliveryDay(5, 3, time(12, 0)),),
)


def house(names: Mapping[str, str] | None = None) -> House:
    """An inn with five ingredients, four recipes and three dishes; `names` overrules names by id."""
    named = {
        "flour": "Strong white flour",
        "seeds": "Mixed seeds",
        "trout": "Trout, gutted",
        "rib": "Rib of beef",
        "salt": "Sea salt",
        "loaf": "Seeded loaf",
        "levain": "Levain",
        "aged-rib": "Rib of beef, 35 days",
        "brined-trout": "Trout in brine",
        "bread": "Bread and butter",
        "trout-plate": "Smoked trout, pickles",
        "rib-plate": "Aged rib for two",
    } | dict(names or {})
    flour = (
        Offer("hollow-mill", "HM-104", "flour", "25 kg", 25.0, Decimal("21.50"), is_preferred=True),
        Offer("hollow-mill", "HM-105", "flour", "6 x 1.5 kg", 9.0, Decimal("11.40")),
    )
    seeds = (Offer("hollow-mill", "77", "seeds", "5 kg", 5.0, Decimal("18.25")),)
    trout = (
        Offer(
            *("reed-quay", "T1", "trout", "1 each ~ 0.4 kg", 0.4, Decimal("3.80")),
            is_catch_weight=True,
            price_per=Decimal("9.50"),
            per_unit="kg",
        ),
    )
    ingredients = {
        "flour": Ingredient(
            "flour", named["flour"], "kg", "dry store", 90, par=50.0, allergens=("gluten",), offers=flour
        ),
        "seeds": Ingredient(
            "seeds", named["seeds"], "kg", "dry store", 60, allergens=("sesame",), offers=seeds
        ),
        "trout": Ingredient(
            "trout",
            named["trout"],
            "kg",
            "fish fridge",
            2,
            allergens=("fish",),
            hazards=("raw-fish",),
            offers=trout,
        ),
        "rib": Ingredient("rib", named["rib"], "kg", "ageing room", 10),
        "salt": Ingredient("salt", named["salt"], "kg", "dry store"),
    }
    recipes = {
        "levain": Recipe("levain", named["levain"], "kg", 2.0, (RecipeLine("flour", 1.0),), True, 1, 2),
        "loaf": Recipe(
            "loaf",
            named["loaf"],
            "each",
            6.0,
            (RecipeLine("flour", 3.0), RecipeLine("levain", 1.0), RecipeLine("seeds", 0.6)),
            True,
            1,
            3,
        ),
        "aged-rib": Recipe(
            "aged-rib",
            named["aged-rib"],
            "kg",
            7.5,
            (RecipeLine("rib", 8.49),),
            True,
            35,
            14,
            hazards=("long-ageing",),
        ),
        "brined-trout": Recipe(
            "brined-trout",
            named["brined-trout"],
            "kg",
            4.0,
            (RecipeLine("trout", 4.4), RecipeLine("salt", 0.2)),
            False,
            2,
            5,
            hazards=("cured-fish", "smoking"),
        ),
    }
    evening = frozenset({"dinner"})
    dishes = {
        "bread": Dish("bread", named["bread"], "loaf", 0.1, Decimal("4.50"), frozenset({"lunch", "dinner"})),
        "trout-plate": Dish(
            "trout-plate", named["trout-plate"], "brined-trout", 0.12, Decimal("13.00"), evening
        ),
        "rib-plate": Dish("rib-plate", named["rib-plate"], "aged-rib", 0.6, Decimal("68.00"), evening),
    }
    return House(
        name=named.get("house", "The Heron and Reed"),
        currency="GBP",
        timezone="Europe/London",
        address="1 Causeway, Saltmere",
        services={
            "lunch": Service("lunch", frozenset({4, 5, 6})),
            "dinner": Service("dinner", frozenset({1, 2, 3, 4, 5})),
        },
        holiday_country="GB",
        food_law="GB",
        vendors={
            "hollow-mill": replace(MILL, name=named.get("hollow-mill", MILL.name)),
            "reed-quay": replace(QUAY, name=named.get("reed-quay", QUAY.name)),
        },
        ingredients=ingredients,
        recipes=recipes,
        dishes=dishes,
    )


def plan(home: House | None = None) -> Plan:
    """The run of Thursday 26 November: three orders, starts, an ageing room, one shortage."""
    home = home or house()
    forecast = _forecast(home)
    return Plan(
        on=ON,
        now=NOW,
        next_run=next_on(ON, {3}),
        days=DAYS,
        forecast=forecast,
        opening=_opening(),
        netting=_netting(home),
        buying=_buying(home),
        shortages=(
            Shortage(
                date(2026, 12, 5),
                "aged-rib",
                4.2,
                "kg",
                "Aged rib for two: 7 portions (Sat 5 Dec)",
                "no-time",
                "take 7 portions off; offer the smoked trout instead",
            ),
        ),
        pegging=_pegs(),
        doubts=("salt was never counted: taken as none",),
    )


def _forecast(home: House) -> Forecast:
    slots = tuple(
        Slot(day, service, n)
        for n, day in enumerate(DAYS)
        for service in ("lunch", "dinner")
        if home.is_open(day, service)
    )
    dishes = tuple(home.dishes)
    base = np.array([30.0 + 8.0 * s.date.weekday() + (6.0 if s.service == "dinner" else 0.0) for s in slots])
    spread = np.array([0.7, 0.78, 0.9, 1.0, 1.1, 1.22, 1.32])
    mix = np.array([0.8, 0.25, 0.1])
    on = np.array([[float(s.service in home.dishes[d].services) for s in slots] for d in dishes])
    mean = mix[:, None] * base[None, :] * on
    return Forecast(
        days=DAYS,
        slots=slots,
        dishes=dishes,
        covers_mean=base,
        covers_quantiles=np.round(base[:, None] * spread),
        covers=np.repeat(base[:, None], 3, axis=1),
        mean=mean,
        quantiles=np.round(mean[:, :, None] * spread),
        portions=np.repeat(mean[:, :, None], 3, axis=2),
        party=np.zeros_like(mean),
        booked=np.where(np.arange(len(slots)) < 3, 12.0, np.nan),
        notes=("dinner: 40 days of history, so no season is known yet",),
        quality=("lunch: off by 11 % on average over the last 8 weeks", "dinner: off by 9 % on average"),
    )


def _opening() -> Opening:
    return Opening(
        lots=(
            Lot("flour", 18.0, date(2027, 1, 20)),
            Lot("aged-rib", 15.0, date(2026, 12, 20), date(2026, 12, 6)),
            Lot("aged-rib", 7.5, date(2026, 12, 2)),
            Lot("brined-trout", 2.0, date(2026, 12, 2), date(2026, 11, 27)),
        ),
        scheduled=(OpenOrder("hollow-mill", "R9", "rib", 1, 17.0, date(2026, 12, 4)),),
        unknown=frozenset({"salt"}),
        doubts=("salt was never counted: taken as none",),
    )


def _netting(home: House) -> Netting:
    zero = np.zeros(N_DAYS)
    gross = np.full(N_DAYS, 2.0)
    planned = np.where(np.arange(N_DAYS) % 3 == 0, 6.0, 0.0)
    flow = ItemFlow(
        *("loaf", 1.0, gross, {"dish:bread": gross}),
        *(zero, zero, zero, planned, zero, 1.0 + np.cumsum(planned - gross), zero),
    )
    starts = (
        Start(ON, "levain", 1, 2.0, "kg", date(2026, 11, 27)),
        Start(ON, "loaf", 2, 12.0, "each", date(2026, 11, 27)),
        Start(
            ON,
            "aged-rib",
            2,
            15.0,
            "kg",
            date(2026, 12, 31),
            _ribs(),
            ("long-ageing",),
        ),
        Start(
            date(2026, 11, 28),
            "brined-trout",
            1.5,
            6.0,
            "kg",
            date(2026, 11, 30),
            (),
            ("cured-fish", "smoking"),
        ),
        Start(date(2026, 11, 28), "loaf", 3, 18.0, "each", date(2026, 11, 29)),
        Start(TUE, "levain", 1, 2.0, "kg", date(2026, 12, 2)),
    )
    levels = dict.fromkeys((*home.ingredients, *home.recipes), 0.95)
    expiring = (
        Expiring("aged-rib", date(2026, 12, 2), 7.5, 3.12, cost=57.3),
        Expiring("brined-trout", date(2026, 12, 2), 2.0, 0.5, date(2026, 11, 27), cost=6.25),
        Expiring("rib", date(2026, 12, 14), 17.0, 17.0, date(2026, 12, 4), is_ordered=True),
    )
    warnings = ("ageing room: 9 of 10 ribs hang on 4 Dec",)
    return Netting({"loaf": flow}, {}, starts, (), levels, warnings, expiring)


def _ribs() -> tuple[TakenForStart, ...]:
    """Two parcels of what hangs, and one of another item."""
    line = RecipeLine("rib", 8.5)
    return (
        TakenForStart(line, 8.6, date(2026, 12, 4), is_only=False),
        TakenForStart(line, 8.4, date(2026, 12, 8), is_only=False),
    )


def _line(
    home: House, vendor: str, code: str, item: str, packs: int, deliver_on: date, order_by: datetime
) -> OrderLine:
    offer = next(o for o in home.ingredients[item].offers if o.code == code)
    assert offer.price is not None
    return OrderLine(
        *(vendor, code, item, home.name_of(item), packs, offer.pack, packs * offer.pack_quantity),
        *(home.unit_of(item), offer.price, packs * offer.price, order_by, deliver_on),
        is_catch_weight=offer.is_catch_weight,
        quoted="9.50 per kg" if offer.is_catch_weight else "",
    )


def _buying(home: House) -> Buying:
    thursday, monday = datetime(2026, 11, 26, 15), datetime(2026, 11, 30, 15)
    orders = (
        _line(home, "hollow-mill", "HM-104", "flour", 2, SAT, thursday),
        _line(home, "hollow-mill", "77", "seeds", 1, SAT, thursday),
        _line(home, "hollow-mill", "HM-105", "flour", 3, TUE, monday),
        _line(home, "reed-quay", "T1", "trout", 16, SAT, datetime(2026, 11, 26, 12)),
    )
    outlook = (
        _line(home, "reed-quay", "T1", "trout", 10, SAT + timedelta(days=7), datetime(2026, 12, 3, 12)),
    )
    return Buying(
        orders=orders,
        outlook=outlook,
        pars=(
            ParAdvice(
                "flour",
                50.0,
                {5: 62.0, 1: 41.5},
                "0.95 of the days until the next delivery",
                "high on Tuesday",
            ),
        ),
        fees={("hollow-mill", SAT): Decimal("8.00"), ("hollow-mill", TUE): Decimal("8.00")},
        bound_gap=0.004,
        notes=(
            "Orders are proved to be within 0.4 % of the least cost",
            "hollow-mill, Sat 28 Nov: 1 pack more than needed to reach the minimum",
        ),
    )


def _pegs() -> tuple[Peg, ...]:
    return (
        Peg("hollow-mill", "HM-104", SAT, "bread", SAT, 20.0, "kg"),
        Peg("hollow-mill", "HM-104", SAT, "bread", date(2026, 11, 29), 14.0, "kg"),
        Peg("hollow-mill", "HM-104", SAT, "*safety", None, 9.0, "kg"),
        Peg("hollow-mill", "HM-104", SAT, "*rounding", None, 7.0, "kg"),
        Peg("hollow-mill", "77", SAT, "bread", SAT, 4.9, "kg"),
        Peg("hollow-mill", "77", SAT, "*rounding", None, 0.1, "kg"),
        Peg("hollow-mill", "HM-105", TUE, "*par", None, 27.0, "kg"),
        Peg("reed-quay", "T1", SAT, "trout-plate", TUE, 6.4, "kg"),
    )
