"""What the program is worth in invented worlds: the past replayed under pars, plan and foresight.

    python tests/bench/worlds.py              every kind of world, two seeds, four weeks: twenty minutes
    python tests/bench/worlds.py --short      every kind, one seed, two weeks: about three minutes
    python tests/bench/worlds.py --only dear --seeds 3 --days 42

One small kitchen with an ageing room, a two-day braise and goods that keep a day, that orders and starts each
day; what differs is how guests come, or one thing about the kitchen that has hurt. Each row gives profit, and
the part of the way from pars alone to foresight that the program closes. Invented worlds prove little about
any real house: they show where the program is weak. Ends with 1 where a least is not reached: 75 % of the way
pooled, no kind below 50 %, no more than 3.6 times as much thrown away as under foresight; of one kind alone
only its own counts. Two seeds tell a kind to about ten: one below its least is played with as many
more before it is judged. (With `--short` a kind is two weeks of one seed, which tells too little of it: only
what is pooled counts.)

Twice as much as foresight, which one would like, is not to be had for nothing: who knows the true odds of
every night, but not the night, throws away four times as much in the steady world, at no more profit than the
program. Weighing what is thrown away at two and a half times its price brings all kinds down to 2.5 times
foresight's, and takes the rough world from 58 to 34 % of the way.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable, Mapping
from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from pathlib import Path

import numpy as np
import pandas as pd
from numpy.random import Generator

sys.path.insert(0, str(Path(__file__).parents[2]))  # this tree, whatever is installed
sys.path.insert(0, str(Path(__file__).parents[1]))
from houses import books, dish, house, ingredient, line, offer, recipe, vendor

from ordering.records.books import BOOKINGS_COLUMNS, Books
from ordering.records.house import Dish, House, NamedEvent, Party, Policy, Service
from ordering.rehearse import distance_closed, rehearse

LAST = date(2026, 11, 25)
N_DAYS = 3 * 365
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
LEAST_POOLED, LEAST_OF_A_KIND = 75.0, 50.0  # of the way from pars to foresight, in %
MOST_WASTE = 3.6  # times what foresight throws away, all kinds pooled
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
        order_weekdays=frozenset(range(7)),
        policy=Policy(paths=200),
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


def weekly(rng: Generator, days: list[date]):
    """The same week for ever, in a kitchen that orders on Thursdays alone."""
    home, *rest = steady(rng, days)
    return replace(home, order_weekdays=frozenset({3})), *rest


def declining(rng: Generator, days: list[date]):
    """A quarter fewer guests each year."""
    return kitchen(), rng.poisson(week(days) * 1.6 * 0.75 ** (np.arange(len(days)) / 365.0)), {}, []


def festive(rng: Generator, days: list[date]):
    """A festival of five days comes each half year and doubles the guests; nobody delivers meanwhile."""
    last = len(days) - 1
    firsts = list(range(last - 12, 0, -182))
    feast = [n for first in firsts for n in range(first, min(first + 5, last + 1))]
    covers = week(days)
    covers[feast] *= 2.2
    home = kitchen()
    shut = frozenset(days[n] for n in feast)
    vendors = {name: replace(one, closed=shut) for name, one in home.vendors.items()}
    event = NamedEvent("Festival", tuple(days[n] for n in sorted(feast)))
    return replace(home, vendors=vendors, events=(event,)), rng.poisson(covers), {}, []


def new_menu(rng: Generator, days: list[date]):
    """Three dishes came on the menu four weeks ago in place of others, and sell otherwise than they did."""
    home, changed = kitchen(), len(days) - 42
    then = np.arange(len(days)) >= changed
    mix = {"lamb": 0.26 * then, "dumplings": 0.1 * then, "mushrooms": 0.3 * then}
    dishes = {
        name: replace(one, from_on=days[changed]) if name in mix else one for name, one in home.dishes.items()
    }
    return replace(home, dishes=dishes), rng.poisson(week(days)), mix, []


def by_products(rng: Generator, days: list[date]):
    """The stock is made of what comes off ribs and of the frames of fish; bones are bought besides."""
    home = kitchen()
    recipes = dict(home.recipes)
    recipes["aged-rib"] = replace(recipes["aged-rib"], also_makes=(("bones", 1.4),))
    recipes["filleted"] = recipe(
        "filleted", 1.7, {"fish": 2.0}, takes_days=0, keeps_days=1, also_makes=(("frames", 0.3),)
    )
    recipes["fish-plate"] = plate("fish", {"filleted": 0.17, "cream": 0.03})
    recipes["stock"] = recipe(
        "stock", 8.0, {"bones": 2.5, "frames": 1.5, "roots": 1.0}, is_whole=True, takes_days=1, keeps_days=5
    )
    frames = ingredient("frames", keeps_days=2, offers=(offer("quay", "frames", 2, 4),))
    goods = {**home.ingredients, "frames": frames}
    return replace(home, recipes=recipes, ingredients=goods), rng.poisson(week(days)), {}, []


def dear(rng: Generator, days: list[date]):
    """Whole batches of dear things that keep two or three days."""
    home = kitchen()
    recipes = dict(home.recipes)
    recipes["braise"] = replace(recipes["braise"], keeps_days=2)
    double = tuple(replace(x, quantity=2 * x.quantity) for x in recipes["cure"].lines)
    recipes["cure"] = replace(recipes["cure"], makes=3.2, lines=double, keeps_days=3)
    recipes["set-custard"] = replace(recipes["set-custard"], is_whole=True, keeps_days=2)
    return replace(home, recipes=recipes), rng.poisson(week(days)), {}, []


def same_day(rng: Generator, days: list[date]):
    """What is made for the day goes into what is made the day before: a base under the braise, a jus."""
    home = kitchen()
    recipes = dict(home.recipes)
    recipes["base"] = recipe("base", 2.0, {"wine": 1.0, "roots": 1.2}, keeps_days=2, is_whole=True)
    recipes["braise"] = recipe(
        "braise", 4.0, {"cheek": 6.0, "base": 1.0, "stock": 2.0}, is_whole=True, takes_days=1, keeps_days=4
    )
    recipes["jus"] = recipe("jus", 1.0, {"stock": 1.5}, keeps_days=3)
    recipes["lamb-plate"] = plate("lamb", [line("lamb", 0.2, yield_fraction=0.8), line("jus", 0.05)])
    recipes["rib-plate"] = plate("rib", {"aged-rib": 0.3, "jus": 0.04})
    return replace(home, recipes=recipes), rng.poisson(week(days)), {}, []


def catch_weight(rng: Generator, days: list[date]):
    """Fish and lamb come as whole pieces of about so much, charged by the kilo."""
    home, goods = kitchen(), {}
    for item, size in (("fish", 2.3), ("lamb", 2.6), ("trout", 1.4)):
        one = home.ingredients[item]
        each = float(one.offers[0].price) / one.offers[0].pack_quantity
        piece = offer(
            one.offers[0].vendor,
            item,
            size,
            round(each * size, 2),
            price_per=Decimal(str(round(each, 2))),
            per_unit="kg",
            is_catch_weight=True,
        )
        goods[item] = replace(one, offers=(piece,))
    return replace(home, ingredients={**home.ingredients, **goods}), rng.poisson(week(days)), {}, []


WORLDS: Mapping[str, World] = {
    "steady": steady,
    "weekly": weekly,
    "seasonal": seasonal,
    "growing": growing,
    "declining": declining,
    "rough": rough,
    "booked": booked,
    "parties": parties,
    "festive": festive,
    "new menu": new_menu,
    "by-products": by_products,
    "dear": dear,
    "same day": same_day,
    "catch weight": catch_weight,
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


def played(name: str, seeds: range, n_days: int) -> np.ndarray:
    """Profit three ways and what two of them throw away, over some seeds of a kind, told a line each; [5]."""
    total = np.zeros(5)
    for seed in seeds:
        home, record = lived(WORLDS[name], seed)
        outcomes = rehearse(home, record, LAST - timedelta(days=n_days - 1), LAST)
        profits = "".join(f"{one.profit:10.0f}" for one in outcomes)
        missed = "/".join(f"{one.missed:.0f}" for one in outcomes)
        wasted = "/".join(f"{one.wasted:.0f}" for one in outcomes)
        closed = 100 * distance_closed(*outcomes)
        print(f"{name:<13}{seed:5d}{profits}{closed:8.0f} %{missed:>15}{wasted:>19}", flush=True)
        total += [*(one.profit for one in outcomes), outcomes[1].wasted, outcomes[2].wasted]
    return total


def misses(sums: Mapping[str, np.ndarray], is_short: bool) -> list[str]:
    """What is not reached, in words. sums : by kind, profit three ways and what two of them throw away"""
    found = []
    *_, wasted, least = total = sum(sums.values())
    is_all = len(sums) == len(WORLDS)
    if is_all and way_closed(total) < LEAST_POOLED:
        found.append(f"less than {LEAST_POOLED:.0f} % of the way pooled")
    if is_all and wasted > MOST_WASTE * max(least, 1.0):
        found.append(f"more than {MOST_WASTE} times as much thrown away as under foresight")
    kinds = () if is_short else sums.items()
    found += [
        f"{kind}: less than {LEAST_OF_A_KIND:.0f} %"
        for kind, one in kinds
        if way_closed(one) < LEAST_OF_A_KIND
    ]
    return found


def way_closed(total: np.ndarray) -> float:
    """Part of the way from pars to foresight, in %."""
    pars, program, foresight = total[:3]
    return 100 * (program - pars) / (foresight - pars)


def main() -> int:
    asked = argparse.ArgumentParser(description="What the program is worth in invented worlds.")
    asked.add_argument("--seeds", type=int, default=2)
    asked.add_argument("--days", type=int, default=28)
    asked.add_argument("--only", choices=sorted(WORLDS))
    asked.add_argument("--short", action="store_true")
    options = asked.parse_args()
    n_seeds, n_days = (1, 14) if options.short else (options.seeds, options.days)
    ways = "".join(f"{way:>10}" for way in ("pars", "program", "foresight"))
    print(f"{'world':<13}{'seed':>5}{ways}{'closed':>10}{'missed':>15}{'thrown away':>19}")
    sums: dict[str, np.ndarray] = {}
    for name in [options.only] if options.only else WORLDS:
        sums[name] = played(name, range(1, 1 + n_seeds), n_days)
        if not options.short and way_closed(sums[name]) < LEAST_OF_A_KIND:
            sums[name] += played(name, range(1 + n_seeds, 1 + 2 * n_seeds), n_days)
    for name, total in (*sums.items(), ("all pooled", sum(sums.values()))):
        print(
            f"{name:<13} {way_closed(total):4.0f} % of the way, "
            f"{total[3] / max(total[4], 1.0):.1f} times as much thrown away as under foresight"
        )
    wrong = misses(sums, options.short)
    print("\n".join(f"not reached: {one}" for one in wrong) or "every least is reached")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
