"""What a house will order from the house that supplies it, on every sample path."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from datetime import date

import numpy as np
from numpy.typing import NDArray

from ordering.amounts import LEAST_SHOWN
from ordering.buy.deliveries import open_deliveries
from ordering.records.group import GroupLine, HouseDemand
from ordering.records.house import House
from ordering.records.plan import Array, Plan, Requirement
from ordering.records.vendors import Offer


def demands_of(
    house_id: str, house: House, plan: Plan, ordered: Iterable[GroupLine]
) -> tuple[HouseDemand, ...]:
    """What the house takes from houses: what is ordered, then packs as each path comes to need them.

    Parameters
    ----------
    plan : a plan of the house over at least the days that its supplier looks ahead
    ordered : the lines of this run; those that the plan counts on as on their way are not counted twice

    Returns
    -------
    tuple of HouseDemand, by item; nothing where the house buys nothing there
    """
    lines = tuple(ordered)
    offers = [o for i in sorted(house.ingredients) for o in house.ingredients[i].offers]
    return tuple(
        _demand(house_id, house, offer, plan, lines) for offer in offers if house.vendors[offer.vendor].house
    )


def _demand(house_id: str, house: House, offer: Offer, plan: Plan, lines: Sequence[GroupLine]) -> HouseDemand:
    on_their_way = {(s.vendor, s.code, s.deliver_on) for s in plan.opening.scheduled}
    mine = [x for x in lines if x.is_now and (x.vendor, x.code) == (offer.vendor, offer.code)]
    now = [x for x in mine if (x.vendor, x.code, x.deliver_on) not in on_their_way]
    packs: Counter[date] = Counter()
    for line in now:
        packs[line.deliver_on] += line.packs
    for receipt in plan.opening.scheduled:
        if (receipt.vendor, receipt.code) == (offer.vendor, offer.code):
            packs[receipt.deliver_on] += round(receipt.quantity / offer.pack_quantity)
    placed = np.array([packs[day] for day in plan.days], dtype=np.int16)
    later = [
        c.day
        for c in open_deliveries(house, plan.now, plan.next_run, plan.days)[offer.vendor]
        if not c.is_now and offer.holds_on(c.deliver_on)
    ]
    came = sum(line.packs for line in now) * offer.pack_quantity
    to_come = packs_by_path(plan.netting.requirements[offer.item], later, offer.pack_quantity, came)
    return HouseDemand(
        house=house_id,
        name=house.name,
        supplier=house.vendors[offer.vendor].house,
        item=offer.code,
        pack=offer.pack,
        pack_quantity=offer.pack_quantity,
        unit=house.unit_of(offer.item),
        price=offer.price,
        placed=placed,
        packs=placed[:, None] + to_come,
    )


def packs_by_path(need: Requirement, comes: Sequence[int], pack: float, ordered: float) -> NDArray[np.int16]:
    """Packs that the runs to come will order for each later delivery, [day, path].

    Each of them is filled up to what the house holds for the days until the next (its safety included), less
    what the guests of the path have left of the delivery before. Guests who went without do not come again.

    Parameters
    ----------
    comes : day indices of the deliveries that later runs decide, ascending
    pack : content of one pack, in the item's unit
    ordered : what this run orders, in the item's unit
    """
    if need.by_path is None:
        raise ValueError(f"{need.item}: its paths were not kept")
    drawn = need.by_path
    n_days, n_paths = drawn.shape
    packs = np.zeros((n_days, n_paths), dtype=np.int16)
    left: Array = np.full(n_paths, ordered)
    until = comes[0] if comes else n_days
    left = np.maximum(left - drawn[:until].sum(axis=0), 0.0)
    level = np.concatenate([[0.0], need.required])
    for day, following in zip(comes, [*comes, n_days][1:], strict=True):
        short = np.maximum(level[following] - level[day] - left, 0.0)
        packs[day] = np.ceil(short / pack - LEAST_SHOWN).astype(np.int16)
        left = np.maximum(left + packs[day] * pack - drawn[day:following].sum(axis=0), 0.0)
    return packs
