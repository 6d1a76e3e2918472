"""Random houses, stocks and forecasts for hypothesis, in one place.

Every quantity is in kg, so that mass can be weighed: a batch makes no more than its lines put in, less
what falls out of it. Recipe k draws only from recipes after it and from ingredients: no loops. By-products
may go anywhere, also to where they close a circle.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta

import houses
import numpy as np
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st

from ordering.records.books import Lot
from ordering.records.house import House, Policy, Recipe
from ordering.records.plan import Forecast, Opening

LAW = settings(suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])
SHARES = (0.25, 0.5, 0.6, 0.75, 0.9, 1.0)


@dataclass(frozen=True)
class Case:
    """A house with its stock, its demand and the day index on which purchases can first arrive."""

    house: House
    opening: Opening
    forecast: Forecast
    arrival: dict[str, int]


@st.composite
def recipes(draw: st.DrawFn, k: int, n_recipes: int, n_ingredients: int, is_plain: bool = False) -> Recipe:
    """Recipe `r{k}`. Plain: any batches, no by-products, no limits, no par, keeps for ever."""
    below = [f"r{n}" for n in range(k + 1, n_recipes)] + [f"i{n}" for n in range(n_ingredients)]
    takes = draw(st.integers(0, 3))
    parts = draw(st.lists(st.sampled_from(below), min_size=1, max_size=3, unique=True))
    lines = []
    for part in parts:
        quantity = draw(st.integers(1, 20)) / 4
        back = 0.0 if is_plain or draw(st.integers(0, 9)) else quantity * 0.75
        at = draw(st.integers(0, takes))
        lines.append(
            houses.line(
                part,
                quantity,
                yield_fraction=draw(st.sampled_from(SHARES)),
                returns=back,
                at_days=at,
            )
        )
    mass = sum(x.quantity - x.returns for x in lines)
    also: tuple[tuple[str, float], ...] = ()
    if not is_plain and draw(st.integers(0, 3)) == 0:
        anything = [f"r{n}" for n in range(n_recipes) if n != k] + [f"i{n}" for n in range(n_ingredients)]
        also = ((draw(st.sampled_from(anything)), mass * 0.2),)
    makes = mass * draw(st.sampled_from((0.4, 0.5, 0.8)))
    return houses.recipe(
        f"r{k}",
        makes,
        lines,
        is_whole=not is_plain and draw(st.booleans()),
        takes_days=takes,
        keeps_days=None if is_plain else draw(st.sampled_from((None, 0, 1, 2, 5))),
        largest=None if is_plain or draw(st.integers(0, 3)) else makes * draw(st.integers(1, 4)),
        smallest=None if is_plain or draw(st.integers(0, 5)) else makes / 2,
        room=None if is_plain or not takes or draw(st.integers(0, 3)) else makes * draw(st.integers(2, 5)),
        par=None if is_plain or draw(st.integers(0, 3)) else draw(st.integers(1, 12)) / 4,
        also_makes=also,
        hazards=("date-mark",) if not is_plain and draw(st.booleans()) else (),
    )


@st.composite
def random_houses(draw: st.DrawFn, is_plain: bool = False, n_paths: int = 1) -> House:
    """A house of one to five recipes, one to four dishes and one to four ingredients."""
    n_recipes, n_ingredients = draw(st.integers(1, 5)), draw(st.integers(1, 4))
    made = [draw(recipes(k, n_recipes, n_ingredients, is_plain)) for k in range(n_recipes)]
    bought = [
        houses.ingredient(
            f"i{n}",
            keeps_days=None if is_plain else draw(st.sampled_from((None, 0, 2, 7))),
            hazards=("date-mark",) if not is_plain and draw(st.booleans()) else (),
            offers=(houses.offer("v", f"i{n}", 1, draw(st.integers(1, 9))),),
        )
        for n in range(n_ingredients)
    ]
    dishes = [
        houses.dish(
            f"d{n}",
            draw(st.sampled_from([r.id for r in made])),
            draw(st.integers(1, 8)) / 8,
            price=draw(st.integers(5, 30)),
            service_level=draw(st.sampled_from((None, 0.8, 0.99))),
        )
        for n in range(draw(st.integers(1, 4)))
    ]
    consumables = [("i0", draw(st.integers(1, 4)) / 2, draw(st.sampled_from(("service", "day", "cover"))))]
    return houses.house(
        bought,
        made,
        dishes,
        [houses.vendor("v")],
        policy=Policy(0.9, n_paths, 1),
        consumables=consumables if draw(st.booleans()) else (),
    )


@st.composite
def stocks(draw: st.DrawFn, house: House, n_days: int) -> Opening:
    """Lots with and without dates, some in process, and open orders."""
    items = sorted([*house.ingredients, *house.recipes])
    made = sorted(house.recipes)
    lots = []
    for item in draw(st.lists(st.sampled_from(items), max_size=5)):
        ready = draw(st.integers(1, 5)) if item in made and draw(st.booleans()) else 0
        days = draw(st.sampled_from((None, 0, 1, 3, 8)))
        lots.append(
            Lot(
                item,
                draw(st.integers(1, 40)) / 4,
                None if days is None else houses.MONDAY + timedelta(days=ready + days),
                houses.MONDAY + timedelta(days=ready) if ready else None,
            )
        )
    coming = [
        houses.coming(
            item,
            draw(st.integers(1, 40)) / 4,
            houses.MONDAY + timedelta(days=draw(st.integers(-1, n_days - 1))),
        )
        for item in draw(st.lists(st.sampled_from(sorted(house.ingredients)), max_size=2))
    ]
    return Opening(tuple(lots), tuple(coming), houses.begun(house, lots))


@st.composite
def cases(draw: st.DrawFn, is_plain: bool = False, is_late: bool = True, n_paths: int = 3) -> Case:
    """A whole case. Plain: see `recipes`; late: purchases may come too late for what is needed."""
    house = draw(random_houses(is_plain, n_paths))
    n_days = draw(st.integers(6, 12))
    seed = draw(st.integers(0, 2**16))
    rng = np.random.default_rng(seed)
    sold = {d: rng.poisson(rng.integers(0, 12), (n_days, n_paths)) for d in sorted(house.dishes)}
    forecast = houses.forecast(house, sold)
    arrival = {i: draw(st.integers(0, 4)) if is_late else 0 for i in sorted(house.ingredients)}
    return Case(house, draw(stocks(house, n_days)), forecast, arrival)
