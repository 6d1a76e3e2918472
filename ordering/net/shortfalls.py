"""Which shortages are worth saying, and what causes them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date

import numpy as np

from ordering.net.problem import Problem, draws_begun
from ordering.net.scarce import Relief, Root
from ordering.net.stock import DUST
from ordering.records.house import House
from ordering.records.plan import Array, ItemFlow, Shortfall

LEAST_PORTIONS = 0.5  # expected portions below which a shortage is not said
RARE = 0.05  # what lacks on no more of the paths is safety not held, and not said


def shortfalls(
    problem: Problem,
    reliefs: Iterable[Relief],
    flows: Mapping[str, ItemFlow],
) -> tuple[Shortfall, ...]:
    """Shortages that matter, by day and item.

    One is said when it costs half a portion or more on the mean of the paths (or, for what no dish
    names, such as charcoal or the herbs of a batch under way, when any is short) and happens on more than a
    few of the paths: what lacks only in the tail is safety not bought, not a shortage.
    """
    found: list[Shortfall] = []
    lacking, hits = _added_up(problem, reliefs)
    for root, amount in lacking.items():
        item, day = root
        portions = {k: n for k, n in hits.get(root, {}).items() if n >= LEAST_PORTIONS / 10}
        under_way = _under_way(problem, item, day)
        no_dish_names_it = not portions and (item in problem.consumables or bool(under_way))
        is_felt = sum(portions.values()) >= LEAST_PORTIONS or no_dish_names_it
        if not is_felt or float(np.mean(amount > DUST)) <= RARE:
            continue
        short = float(np.mean(amount))
        found.append(
            Shortfall(
                item=item,
                needed_on=problem.forecast.days[day],
                short=short,
                cause=cause_of(problem, item, day, short, flows.get(item)),
                portions={
                    _at(problem, k): n for k, n in sorted(portions.items(), key=lambda kn: kn[0][::-1])
                },
                under_way=under_way,
            )
        )
    return tuple(sorted(found, key=lambda s: (s.needed_on, s.item)))


def _under_way(problem: Problem, item: str, day: int) -> tuple[str, ...]:
    """Recipes whose batches under way draw an item on a day."""
    uses = problem.graph.uses.get(item, ())
    return tuple(sorted({u.recipe for u in uses if draws_begun(problem, u)[day] > DUST}))


def _added_up(
    problem: Problem, reliefs: Iterable[Relief]
) -> tuple[dict[Root, Array], dict[Root, dict[tuple[str, int], float]]]:
    """Roots and portions hit over all rounds. What was never counted is said once, on its first day."""
    lacking: dict[Root, Array] = {}
    hits: dict[Root, dict[tuple[str, int], float]] = {}
    first: dict[str, int] = {}
    for relief in reliefs:
        for item, day in sorted(relief.roots):
            first.setdefault(item, day)
        for (item, day), amount in relief.roots.items():
            if item in problem.unknown:
                root = (item, first[item])
                lacking[root] = lacking.get(root, 0.0) + amount
            else:
                lacking[item, day] = np.maximum(lacking.get((item, day), 0.0), amount)
        for (item, day), portions in relief.hits.items():
            into = hits.setdefault((item, first[item] if item in problem.unknown else day), {})
            for key, n in portions.items():
                into[key] = into.get(key, 0.0) + n
    return lacking, hits


def _at(problem: Problem, key: tuple[str, int]) -> tuple[str, date, str]:
    slot = problem.forecast.slots[key[1]]
    return key[0], slot.date, slot.service


def cause_of(problem: Problem, item: str, day: int, short: float, flow: ItemFlow | None = None) -> str:
    """Why an item lacks on a day: the first of these that is so.

    expires: what is thrown away by then would have met half of it; no-batch: a liquor that
    is carried over and is not there; no-time: no batch begun now is ready; capacity: the day's limit.
    For bought goods: no-offer, vendor-closed, no-delivery.
    """
    house = problem.house
    recipe = house.recipes.get(item)
    if any(u.returns for u in problem.graph.uses.get(item, ())):
        return "no-batch"
    if flow is not None and float(flow.expired[: day + 1].sum()) >= short / 2:
        return "expires"
    if recipe is not None:
        return "no-time" if day < recipe.takes_days else "capacity"
    offers = [o for o in house.ingredients[item].offers if o.vendor in house.vendors]
    coming = [(o, d) for o in offers for d in _comes_on(house, problem, o.vendor, day)]
    holding = [(o, d) for o, d in coming if o.holds_on(d)]
    if not offers or (coming and not holding):
        return "no-offer"
    return "vendor-closed" if any(d in house.vendors[o.vendor].closed for o, d in holding) else "no-delivery"


def _comes_on(house: House, problem: Problem, vendor: str, day: int) -> list[date]:
    """Days up to one on which a vendor comes, closed or not."""
    comes = {d.weekday for d in house.vendors[vendor].deliveries}
    return [d for d in problem.forecast.days[: day + 1] if d.weekday() in comes]
