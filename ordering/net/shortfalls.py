"""Which shortages are worth saying, and what causes them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date

import numpy as np

from ordering.net.frame import Frame
from ordering.net.scarce import Relief, Root
from ordering.net.stock import DUST
from ordering.records.house import House
from ordering.records.plan import Array, ItemFlow, Shortfall

LEAST_PORTIONS = 0.5  # expected portions below which a shortage is not said


def shortfalls(
    frame: Frame,
    reliefs: Iterable[Relief],
    levels: Mapping[str, float],
    flows: Mapping[str, ItemFlow],
) -> tuple[Shortfall, ...]:
    """Shortages that matter, by day and item.

    One is said when it costs half a portion or more on the mean of the paths (or, for what no dish
    names, such as charcoal, when any is short) and happens on more paths than the service
    level leaves open: what lacks only in the tail beyond it is safety not bought, not a shortage.
    """
    found: list[Shortfall] = []
    lacking: dict[Root, Array] = {}
    hits: dict[Root, dict[tuple[str, int], float]] = {}
    for relief in reliefs:
        for root, amount in relief.roots.items():
            lacking[root] = np.maximum(lacking.get(root, 0.0), amount)
        for root, portions in relief.hits.items():
            for key, n in portions.items():
                hits.setdefault(root, {})
                hits[root][key] = hits[root].get(key, 0.0) + n
    for root, amount in lacking.items():
        item, day = root
        portions = {k: n for k, n in hits.get(root, {}).items() if n >= LEAST_PORTIONS / 10}
        is_felt = sum(portions.values()) >= LEAST_PORTIONS or (not portions and item in frame.consumables)
        if not is_felt or float(np.mean(amount > DUST)) <= 1 - levels[item]:
            continue
        found.append(
            Shortfall(
                item=item,
                needed_on=frame.forecast.days[day],
                short=float(np.mean(amount)),
                cause=cause_of(frame, item, day, float(np.mean(amount)), flows.get(item)),
                portions={_at(frame, k): n for k, n in sorted(portions.items(), key=lambda kn: kn[0][::-1])},
            )
        )
    return tuple(sorted(found, key=lambda s: (s.needed_on, s.item)))


def _at(frame: Frame, key: tuple[str, int]) -> tuple[str, date, str]:
    slot = frame.forecast.slots[key[1]]
    return key[0], slot.date, slot.service


def cause_of(frame: Frame, item: str, day: int, short: float, flow: ItemFlow | None = None) -> str:
    """Why an item lacks on a day: the first of these that is so.

    expires: what is thrown away by then would have met half of it; no-batch: a liquor that
    is carried over and is not there; no-time: no batch begun now is ready; capacity: the day's limit.
    For bought goods: no-offer, vendor-closed, no-delivery.
    """
    house = frame.house
    recipe = house.recipes.get(item)
    if any(u.returns for u in frame.graph.uses.get(item, ())):
        return "no-batch"
    if flow is not None and float(flow.expired[: day + 1].sum()) >= short / 2:
        return "expires"
    if recipe is not None:
        return "no-time" if day < recipe.takes_days else "capacity"
    vendors = {o.vendor for o in house.ingredients[item].offers if o.vendor in house.vendors}
    if not vendors:
        return "no-offer"
    return "vendor-closed" if any(_is_closed(house, frame, v, day) for v in vendors) else "no-delivery"


def _is_closed(house: House, frame: Frame, vendor: str, day: int) -> bool:
    """Whether a vendor would have come by a day, were it not closed."""
    comes = {d.weekday for d in house.vendors[vendor].deliveries}
    days = frame.forecast.days[: day + 1]
    return any(d in house.vendors[vendor].closed and d.weekday() in comes for d in days)
