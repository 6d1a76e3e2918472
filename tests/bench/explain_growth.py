"""Time of pegging as a house grows; run by hand: `python tests/bench/explain_growth.py`.

Houses of n dishes, 2n sub-recipes and 4n ingredients over 63 days, along one path, with a delivery
of every ingredient once a week.
"""

import sys
import time
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parent.parent))

import houses
import plans

from ordering.records.buying import Buying

N_DAYS = 63


def house_of(n_dishes: int, seed: int = 1):
    """Dishes of a plate each; a plate draws two sub-recipes and two goods, a sub-recipe four goods."""
    rng = np.random.default_rng(seed)
    n_subs, n_goods = 2 * n_dishes, 4 * n_dishes
    goods = [houses.ingredient(f"i{n}") for n in range(n_goods)]
    subs = [
        houses.recipe(
            f"s{n}",
            2.0,
            {f"i{i}": 0.5 for i in rng.choice(n_goods, 4, replace=False)},
            takes_days=int(rng.integers(0, 4)),
            is_whole=bool(rng.random() < 0.5),
        )
        for n in range(n_subs)
    ]
    plates = [
        houses.recipe(
            f"p{n}",
            1.0,
            {f"s{i}": 0.2 for i in rng.choice(n_subs, 2, replace=False)}
            | {f"i{i}": 0.1 for i in rng.choice(n_goods, 2, replace=False)},
        )
        for n in range(n_dishes)
    ]
    return houses.house(goods, [*plates, *subs], [houses.dish(f"d{n}", f"p{n}") for n in range(n_dishes)])


def measure(n_dishes: int) -> None:
    house = house_of(n_dishes)
    rng = np.random.default_rng(2)
    forecast = plans.forecast_of({d: list(rng.poisson(8, N_DAYS)) for d in house.dishes}, N_DAYS)
    netting = plans.netted(house, forecast, margin=0.2)
    lines = [
        plans.line(house, item, day, int(np.ceil(week)), 1.0)
        for item, need in netting.requirements.items()
        for day in range(0, N_DAYS, 7)
        if (week := need.required[min(day + 6, N_DAYS - 1)] - (need.required[day - 1] if day else 0.0)) > 0
    ]
    buying = Buying(tuple(lines), ())
    began = time.perf_counter()
    pegs = plans.pegged(house, netting, buying, forecast)
    seconds = time.perf_counter() - began
    print(f"{n_dishes:6d} dishes {len(lines):7d} lines {len(pegs):9d} pegs {seconds:8.2f} s")


if __name__ == "__main__":
    for size in [int(arg) for arg in sys.argv[1:]] or [20, 40, 80, 160, 320]:
        measure(size)
