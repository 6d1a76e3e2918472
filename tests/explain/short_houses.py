"""Houses in which something is short, for what is said of it and what could be done."""

from dataclasses import replace
from datetime import timedelta

import houses
import numpy as np

from ordering.explain.shortages import shortages
from ordering.explain.trace import trace
from ordering.records.buying import Buying, Shortfall
from ordering.records.house import Service
from ordering.records.plan import ItemFlow, Netting, Opening

MONDAY = houses.MONDAY


def on(n):
    return MONDAY + timedelta(days=n)


def home_of(**rest):
    """Ribs age twelve days; a plate takes 0.25 kg of them; fish is bought and sold the same day."""
    return houses.house(
        [
            houses.ingredient("rib", offers=(houses.offer("butcher", "rib", 5.0, "90.00"),), store="walk-in"),
            houses.ingredient(
                "hake", keeps_days=2, offers=(houses.offer("quay", "hake", 2.0, "30.00"),), store="walk-in"
            ),
        ],
        [
            houses.recipe(
                "aged-rib", 4.0, {"rib": 5.0}, takes_days=12, largest=4.0, hazards=("long-ageing",)
            ),
            houses.recipe("rib-plate", 1.0, {"aged-rib": 0.25}, unit="each"),
            houses.recipe("hake-plate", 1.0, {"hake": 0.2}, unit="each"),
        ],
        [
            houses.dish("rib-roast", "rib-plate", price="30.00"),
            houses.dish("hake-fillet", "hake-plate", price="22.00"),
        ],
        [houses.vendor("butcher", (2, 4)), houses.vendor("quay", (1, 3))],
        **rest,
    )


def rows(home, shortfalls=(), unmet=(), deliveries=None, portions=None, flows=None, stock=None):
    forecast = houses.forecast(home, portions or {"rib-roast": [20.0] * 14, "hake-fillet": [10.0] * 14})
    netting = Netting(flows or {}, {}, (), tuple(shortfalls), {})
    given = (
        deliveries
        if deliveries is not None
        else houses.deliveries("butcher", [9, 11]) | houses.deliveries("quay", [3])
    )
    traced = trace(home, netting.flows, len(forecast.days))
    buying = Buying((), (), unmet=tuple(unmet))
    return shortages(home, netting, buying, forecast, given, stock or Opening(), traced)


def rib_short(day, number, cause="no-time"):
    return Shortfall(
        "aged-rib", on(day), number * 0.25, cause, {("rib-roast", on(day), "dinner"): float(number)}
    )


def flow(item, planned, by_parent):
    planned = np.asarray(planned, float)
    nothing = np.zeros_like(planned)
    gross = sum(by_parent.values(), nothing)
    return ItemFlow(
        item, 0.0, gross, by_parent, nothing, nothing, nothing, planned, nothing, nothing, nothing
    )


def hake_flows(portions=10.0, n_days=14):
    plates = np.full(n_days, portions)
    return {
        "hake": flow("hake", plates * 0.2, {"hake-plate": plates * 0.2}),
        "hake-plate": flow("hake-plate", plates, {"dish:hake-fillet": plates}),
    }


BOUGHT = ("no-delivery", "expires", "vendor-closed", "no-offer", "no-time")

MADE = ("no-time", "expires", "capacity", "no-batch")


def of_eggs(*shorts, cause="no-delivery", vendors=(), unknown=frozenset()):
    """Eggs, counted each, short on the days from Monday on."""
    home = houses.house(
        [houses.ingredient("egg", "each", offers=tuple(houses.offer(v.id, "egg", 30.0) for v in vendors))],
        [houses.recipe("bun", 1.0, {"egg": 2.0}, unit="each")],
        [houses.dish("buns", "bun")],
        vendors,
    )
    lacks = [
        Shortfall("egg", on(n), short, cause, {("buns", on(n), "dinner"): short / 2})
        for n, short in enumerate(shorts)
    ]
    return rows(home, lacks, portions={"buns": [20.0] * 5}, deliveries={}, stock=Opening(unknown=unknown))


def trimmed(*lacks, keeps=None, is_whole=False, largest=None, takes=1, weekdays=(0, 1, 2, 3)):
    """Beans take 0.5 kg of trim a pot. A brisket of 10 kg, a day in the smoke, drops 2 kg of it.

    `lacks` : kg of trim short on the days from Monday on
    """
    home = houses.house(
        [houses.ingredient("brisket"), houses.ingredient("trim", keeps_days=keeps)],
        [
            replace(
                houses.recipe("smoked", 10.0, {"brisket": 15.0}, takes_days=takes, largest=largest),
                also_makes=(("trim", 2.0),),
                is_whole=is_whole,
            ),
            houses.recipe("pot", 1.0, {"trim": 0.5}, unit="each"),
        ],
        [houses.dish("beans", "pot")],
        services={"dinner": Service("dinner", frozenset(weekdays))},
    )
    found = [
        Shortfall("trim", on(n), lack, "no-offer", {("beans", on(n), "dinner"): lack * 2})
        for n, lack in enumerate(lacks)
        if lack
    ]
    return rows(home, found, portions={"beans": [20.0] * 7}, deliveries={})[0]
