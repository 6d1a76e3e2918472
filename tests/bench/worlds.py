"""What the program is worth in six kinds of invented world: the past replayed under pars, plan and foresight.

    python tests/bench/worlds.py [seeds]     three seeds unless said; about a minute a world and seed

One small kitchen with an ageing room, a two-day braise and goods that keep a day; what differs is how guests
come. Each row gives profit over six weeks, and the part of the way from pars alone to foresight that the
program closes. Invented worlds prove little about any real house: they show where the program is weak.
"""

from __future__ import annotations

import statistics
import sys
from collections.abc import Callable, Mapping
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import numpy as np
import pandas as pd
from numpy.random import Generator

sys.path.insert(0, str(Path(__file__).parents[1]))
from houses import books, dish, house, ingredient, line, offer, recipe, vendor

from ordering.records.books import BOOKINGS_COLUMNS, Books
from ordering.records.house import Dish, House, Party, Policy, Service
from ordering.rehearse import distance_closed, rehearse

LAST = date(2026, 11, 25)
N_DAYS = 3 * 365
REPLAYED_DAYS = 42
LEVEL = 55.0
WEEKDAY = np.array([0.0, 0.7, 0.8, 0.9, 1.25, 1.5, 0.85])
MIX = {
    "rib": 0.14,
    "cheek": 0.18,
    "lamb": 0.16,
    "fish": 0.24,
    "dumplings": 0.18,
    "cured-trout": 0.22,
    "mushrooms": 0.2,
    "greens": 0.35,
    "gratin": 0.3,
    "custard": 0.33,
}
Covers = np.ndarray
World = Callable[[Generator, list[date]], tuple[House, Covers, dict[str, np.ndarray], list[tuple[str, ...]]]]


def kitchen() -> House:
    """Ten dishes over an ageing room, a braise, a cure, a stock, and things made the same day."""
    goods = [
        ("rib", 5, "ager", 8, 112),
        ("cheek", 4, "butcher", 2, 19),
        ("lamb", 4, "butcher", 1.5, 26),
        ("bones", 4, "butcher", 5, 9),
        ("fish", 1, "quay", 1, 19),
        ("trout", 2, "quay", 1, 13),
        ("greens", 4, "garden", 3, 8),
        ("mushrooms", 4, "garden", 1, 9),
        ("herbs", 3, "garden", 0.1, 2),
        ("roots", 14, "garden", 5, 6),
        ("potatoes", 21, "garden", 10, 9),
        ("cream", 7, "garden", 2, 8),
        ("eggs", 21, "garden", 5, 16),
        ("flour", None, "mill", 10, 11),
        ("sugar", None, "mill", 5, 6),
        ("wine", None, "mill", 5, 20),
    ]
    braised = {"cheek": 6.0, "wine": 2.0, "stock": 2.0}
    return house(
        ingredients=[
            ingredient(i, keeps_days=keeps, offers=(offer(seller, i, pack, price),))
            for i, keeps, seller, pack, price in goods
        ],
        recipes=[
            recipe("aged-rib", 6.2, {"rib": 8.0}, is_whole=True, takes_days=28, keeps_days=7),
            recipe("stock", 8.0, {"bones": 4.0, "roots": 1.0}, is_whole=True, takes_days=1, keeps_days=5),
            recipe("braise", 4.0, braised, is_whole=True, takes_days=2, keeps_days=5),
            recipe("cure", 1.6, {"trout": 2.0, "sugar": 0.2}, is_whole=True, takes_days=3, keeps_days=8),
            recipe("dough", 1.0, {"flour": 0.9, "eggs": 0.3}, takes_days=1, keeps_days=2),
            recipe("set-custard", 3.0, {"cream": 1.8, "eggs": 1.0, "sugar": 0.4}, takes_days=1, keeps_days=3),
            plate("rib", {"aged-rib": 0.3}),
            plate("cheek", {"braise": 0.2, "roots": 0.1}),
            plate("lamb", [line("lamb", 0.2, yield_fraction=0.8), line("stock", 0.05)]),
            plate("fish", [line("fish", 0.17, yield_fraction=0.85), line("cream", 0.03)]),
            plate("dumplings", {"dough": 0.18, "mushrooms": 0.05, "cream": 0.04}),
            plate("cured-trout", {"cure": 0.07, "herbs": 0.004}),
            plate("mushrooms", {"mushrooms": 0.12, "herbs": 0.004}),
            plate("greens", [line("greens", 0.14, yield_fraction=0.75)]),
            plate("gratin", {"potatoes": 0.22, "cream": 0.06}),
            plate("custard", {"set-custard": 0.14}),
        ],
        dishes=[
            served("rib", 36),
            served("cheek", 23),
            served("lamb", 27),
            served("fish", 24),
            served("dumplings", 17),
            served("cured-trout", 11),
            served("mushrooms", 9),
            served("greens", 5),
            served("gratin", 6),
            served("custard", 8),
        ],
        vendors=[
            vendor("ager", (4,), weeks_ahead=1),
            vendor("butcher", (1, 4)),
            vendor("quay", (1, 2, 3, 4, 5)),
            vendor("garden", (1, 3, 5)),
            vendor("mill", (2,), minimum=60, delivery_fee=8),
        ],
        services={"dinner": Service("dinner", frozenset(range(1, 7)))},
        order_weekdays=frozenset({3}),
        policy=Policy(0.95, 200, 1),
    )


def plate(name: str, lines: object) -> object:
    return recipe(f"{name}-plate", 1.0, lines, unit="each")


def served(name: str, price: float) -> Dish:
    return dish(name, f"{name}-plate", price=price)


def days_of_past() -> list[date]:
    return [LAST - timedelta(days=N_DAYS - 1 - n) for n in range(N_DAYS)]


def week(days: list[date]) -> np.ndarray:
    return LEVEL * WEEKDAY[[day.weekday() for day in days]]


def year(days: list[date]) -> np.ndarray:
    return 2 * np.pi * np.array([day.timetuple().tm_yday for day in days]) / 365.25


def steady(rng: Generator, days: list[date]):
    """The same week for ever."""
    return kitchen(), rng.poisson(week(days)), {}, []


def seasonal(rng: Generator, days: list[date]):
    """A strong yearly wave that is falling while it is replayed."""
    return kitchen(), rng.poisson(week(days) * np.exp(0.4 * np.cos(year(days) - 4.0))), {}, []


def growing(rng: Generator, days: list[date]):
    """A third more guests each year, who turn from meat to fish."""
    years = np.arange(len(days)) / 365.0
    turn = np.clip(years / 3, 0, 1)
    mix = {"fish": 0.14 + 0.16 * turn, "cheek": 0.26 - 0.12 * turn, "rib": 0.18 - 0.06 * turn}
    return kitchen(), rng.poisson(week(days) * 0.5 * 1.33**years), mix, []


def rough(rng: Generator, days: list[date]):
    """Nights scatter widely, and good and bad spells last for weeks."""
    spell = np.zeros(len(days))
    for n in range(1, len(days)):
        spell[n] = 0.95 * spell[n - 1] + 0.07 * rng.standard_normal()
    night = rng.gamma(1 / 0.06, 0.06, len(days))
    return kitchen(), rng.poisson(week(days) * np.exp(spell) * night), {}, []


def booked(rng: Generator, days: list[date]):
    """Nights scatter widely, but three of four guests book over the two weeks before."""
    covers = rng.poisson(week(days) * rng.gamma(1 / 0.12, 0.12, len(days)))
    rows = []
    for day, n in zip(days, covers, strict=True):
        booking = rng.binomial(n, 0.75)
        for ahead, part in ((14, 0.3), (7, 0.6), (5, 0.7), (3, 0.8), (2, 0.88), (1, 0.95), (0, 1.0)):
            taken_on = day - timedelta(days=ahead)
            rows.append((taken_on.isoformat(), day.isoformat(), "dinner", float(round(booking * part))))
    return kitchen(), covers, {}, rows


def parties(rng: Generator, days: list[date]):
    """Beside an ordinary week, a private party every ten days or so that has been arranged long before."""
    home = kitchen()
    given = [
        Party(f"Party {n}", day, "dinner", 30, {"rib": 15.0, "fish": 15.0, "custard": 30.0})
        for n, day in enumerate(days)
        if day.weekday() != 0 and rng.random() < 0.1
    ]
    return replace(home, parties=tuple(given)), rng.poisson(week(days)), {}, []


WORLDS: Mapping[str, World] = {
    "steady": steady,
    "seasonal": seasonal,
    "growing": growing,
    "rough": rough,
    "booked": booked,
    "parties": parties,
}


def lived(world: World, seed: int) -> tuple[House, Books]:
    """The world's kitchen and what its guests ate."""
    rng = np.random.default_rng(seed)
    days = days_of_past()
    home, covers, mix, bookings = world(rng, days)
    sold = {
        name: rng.binomial(covers.astype(int), np.clip(mix.get(name, share), 0, 1)).astype(float)
        for name, share in MIX.items()
    }
    covers = covers.astype(float)
    for party in home.parties:
        n = days.index(party.date)
        covers[n] += party.covers
        for name, portions in party.menu.items():
            sold[name][n] += portions
    is_open = [n for n, day in enumerate(days) if day.weekday() in home.services["dinner"].weekdays]
    told = [days[n].isoformat() for n in is_open]
    record = books(
        sales=[
            (on, "dinner", name, sold[name][n]) for name in MIX for on, n in zip(told, is_open, strict=True)
        ],
        covers=[(on, "dinner", covers[n]) for on, n in zip(told, is_open, strict=True)],
    )
    if not bookings:
        return home, record
    table = pd.DataFrame(bookings, columns=list(BOOKINGS_COLUMNS))
    for column in ("taken_on", "date"):
        table[column] = pd.to_datetime(table[column])
    return home, replace(record, bookings=table)


def main() -> None:
    seeds = range(1, 1 + (int(sys.argv[1]) if len(sys.argv) > 1 else 3))
    ways = "".join(f"{way:>10}" for way in ("pars", "program", "foresight"))
    print(f"{'world':<9}{'seed':>5}{ways}{'closed':>10}{'missed':>15}{'thrown away':>19}")
    closed: list[float] = []
    for name, world in WORLDS.items():
        for seed in seeds:
            home, record = lived(world, seed)
            outcomes = rehearse(home, record, LAST - timedelta(days=REPLAYED_DAYS - 1), LAST)
            closed.append(100 * distance_closed(*outcomes))
            profits = "".join(f"{one.profit:10.0f}" for one in outcomes)
            missed = "/".join(f"{one.missed:.0f}" for one in outcomes)
            wasted = "/".join(f"{one.wasted:.0f}" for one in outcomes)
            print(f"{name:<9}{seed:5d}{profits}{closed[-1]:8.0f} %{missed:>15}{wasted:>19}", flush=True)
    middle, mean = statistics.median(closed), statistics.mean(closed)
    print(f"median {middle:.0f} %, mean {mean:.0f} %, least {min(closed):.0f} %")


if __name__ == "__main__":
    main()
