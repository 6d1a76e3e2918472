"""How long netting takes and how much memory it needs; run by hand.

    python tests/bench/netting.py            the house of 60 dishes, then growth to 6,000 dishes
    python tests/bench/netting.py --quick    the house of 60 dishes alone

Aims: 60 dishes, 120 sub-recipes, 250 ingredients, 63 days, 200 paths in 0.3 s; time linear in dishes up to
6,000 dishes and 25,000 ingredients at 20 paths, in 30 s and 1 GB. Times are of the
processor, so that a busy machine does not count against them. `empty` is the worst case: nothing counted,
every service of the first days short.
"""

from __future__ import annotations

import resource
import sys
import time
import tracemalloc
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[2]))  # this tree, whatever is installed
sys.path.insert(0, str(Path(__file__).parents[1]))
import houses

from ordering.memory import collect_rarely
from ordering.net.netting import net_all
from ordering.records.books import Lot
from ordering.records.house import House, Ingredient, Policy, Recipe, RecipeLine
from ordering.records.plan import Forecast, Netting, Opening

DAYS = 63


def house(n_dishes: int, rng: np.random.Generator) -> House:
    """Two sub-recipes and four ingredients a dish; sub-recipes in three levels, six lines each."""
    n_subs, n_ingredients = 2 * n_dishes, round(n_dishes * 250 / 60)
    bought = [_ingredient(n, rng) for n in range(n_ingredients)]
    subs = [_recipe(f"sub-{n}", _lines(n, n_subs, n_ingredients, rng), rng) for n in range(n_subs)]
    plates = [
        houses.recipe(f"plate-{n}", 1.0, _lines(-1, n_subs, n_ingredients, rng, n_made=3), unit="each")
        for n in range(n_dishes)
    ]
    dishes = [houses.dish(f"dish-{n}", f"plate-{n}", 1.0, price=20) for n in range(n_dishes)]
    return houses.house(bought, [*subs, *plates], dishes, [houses.vendor("v")], policy=Policy(0.95, 200, 1))


def _ingredient(n: int, rng: np.random.Generator) -> Ingredient:
    keeps = rng.choice([2, 5, 14, 60, 0])
    offers = (houses.offer("v", f"ing-{n}", 1.0, 4),)
    return houses.ingredient(f"ing-{n}", keeps_days=int(keeps) or None, offers=offers)


def _recipe(name: str, lines: list[RecipeLine], rng: np.random.Generator) -> Recipe:
    makes = 0.8 * sum(x.quantity for x in lines)
    takes = int(rng.choice([0, 0, 0, 1, 1, 2, 3]))
    return houses.recipe(
        name,
        makes,
        lines,
        is_whole=bool(rng.random() < 0.5),
        takes_days=takes,
        keeps_days=int(rng.choice([1, 3, 5, 10])),
        largest=makes * 40 if rng.random() < 0.3 else None,
    )


def _lines(
    level: int, n_subs: int, n_ingredients: int, rng: np.random.Generator, n_made: int = 1
) -> list[RecipeLine]:
    """Lines of a plate (level -1) or of a sub-recipe, which draws on those of the third after its own."""
    third = n_subs // 3
    first = 0 if level < 0 else (level // third + 1) * third
    made = [] if first >= n_subs else [f"sub-{n}" for n in rng.integers(first, n_subs, n_made)]
    bought = [f"ing-{n}" for n in rng.integers(0, n_ingredients, 6 - len(made))]
    return [houses.line(i, float(rng.uniform(0.05, 0.4))) for i in dict.fromkeys([*made, *bought])]


def demand(home: House, n_paths: int, rng: np.random.Generator) -> Forecast:
    base = rng.uniform(2, 12, (len(home.dishes), 1, 1)) * rng.gamma(20, 1 / 20, (1, DAYS, n_paths))
    sold = rng.poisson(base).astype(float)
    return houses.forecast(home, {d: sold[n] for n, d in enumerate(home.dishes)})


def stock(home: House) -> Opening:
    """Enough of everything for the first days, in two lots, so that nothing is short."""
    first = houses.MONDAY
    lots = []
    for item in [*home.ingredients, *home.recipes]:
        if not item.startswith("plate"):
            lots.append(Lot(item, 200.0, first + timedelta(days=4)))
            lots.append(Lot(item, 200.0, first + timedelta(days=9)))
    return Opening(tuple(lots))


def timed(run: Callable[[], Netting], repeats: int) -> tuple[float, Netting]:
    best = float("inf")
    for _ in range(repeats):
        began = time.process_time()
        found = run()
        best = min(best, time.process_time() - began)
    return best, found


def measured(home: House, wanted: Forecast, opening: Opening, repeats: int) -> str:
    deliveries = houses.deliveries("v", range(0, DAYS, 2))
    arrival = dict.fromkeys(home.ingredients, 0 if opening.lots else 2)

    def run() -> Netting:
        return net_all(home, opening, wanted, deliveries, arrival)

    seconds, found = timed(run, repeats)
    if len(home.dishes) > 600:  # tracing would take minutes: the whole process instead
        peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e3
    else:
        tracemalloc.start()
        run()
        peak = tracemalloc.get_traced_memory()[1] / 1e6
        tracemalloc.stop()
    return (
        f"{'stocked' if opening.lots else 'empty':8} {seconds:7.2f} s "
        f"{1000 * seconds / len(home.dishes):6.2f} ms a dish, peak {peak:6.0f} MB, "
        f"{len(found.shortfalls)} shortfalls"
    )


def main() -> None:
    collect_rarely()  # as in the command
    rng = np.random.default_rng(5)
    for n_dishes, n_paths, repeats in ((60, 200, 5), (60, 20, 3), (600, 20, 1), (2400, 20, 1), (6000, 20, 1)):
        home = house(n_dishes, rng)
        wanted = demand(home, n_paths, rng)
        print(
            f"{n_dishes} dishes, {2 * n_dishes} sub-recipes, {len(home.ingredients)} ingredients, "
            f"{DAYS} days, {n_paths} paths"
        )
        for opening in (stock(home), Opening()) if n_dishes <= 600 else (stock(home),):
            print("  ", measured(home, wanted, opening, repeats), flush=True)
        if "--quick" in sys.argv:
            return


if __name__ == "__main__":
    main()
