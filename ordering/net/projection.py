"""Projected on hand of what is bought, once it is decided what is ordered and when it comes."""

from __future__ import annotations

from collections import defaultdict, deque
from collections.abc import Sequence
from dataclasses import replace
from datetime import date

import numpy as np

from ordering.net.lots import EPS
from ordering.net.shelf_life import last_offset
from ordering.records.buying import Buying, OrderLine
from ordering.records.house import House
from ordering.records.plan import Array, ItemFlow, Netting


def with_deliveries(
    house: House, netting: Netting, buying: Buying, days: Sequence[date]
) -> dict[str, ItemFlow]:
    """The flow of every item to be bought with what is ordered or foreseen, in place of its net requirement.

    Netting buys each day what that day is short of. Here `planned` is what the lines of the run bring, on the
    day they come; each delivery meets the expected net requirement from that day to the item's last
    day, first expired first out, and what is left of it then is `expired`. What no delivery meets is
    `short`. Rows close as those of netting do (`ItemFlow`).
    """
    lines: dict[str, list[OrderLine]] = defaultdict(list)
    for line in (*buying.orders, *buying.outlook):
        lines[line.item].append(line)
    return {
        item: _delivered(house, flow, lines[item], days)
        for item, flow in netting.flows.items()
        if item in house.ingredients and (item in lines or flow.planned.any())
    }


def _delivered(house: House, flow: ItemFlow, lines: Sequence[OrderLine], days: Sequence[date]) -> ItemFlow:
    n_days = len(days)
    offset = last_offset(house, flow.item)
    planned = np.zeros(n_days)
    for line in lines:
        planned[(line.deliver_on - days[0]).days] += line.quantity
    unmet, expired = _used_up(planned.tolist(), flow.planned.tolist(), n_days if offset is None else offset)
    projected = flow.projected + np.cumsum(planned - (flow.planned - unmet) - expired)
    projected[np.abs(projected) < EPS * max(1.0, float(planned.sum()))] = 0.0
    return replace(
        flow,
        planned=planned,
        expired=flow.expired + expired,
        projected=projected,
        short=flow.short + unmet,
        thrown=expired,
    )


def _used_up(came: Sequence[float], need: Sequence[float], keeps: int) -> tuple[Array, Array]:
    """What deliveries leave unmet and what expires the day after its last, by day, first in first out.

    Both [day].
    """
    unmet, expired = np.zeros(len(came)), np.zeros(len(came))
    lots: deque[list[float]] = deque()
    for day, (quantity, wanted) in enumerate(zip(came, need, strict=True)):
        while lots and lots[0][0] + keeps < day:
            expired[day] += lots.popleft()[1]
        if quantity > 0:
            lots.append([day, quantity])
        while wanted > EPS and lots:
            taken = min(lots[0][1], wanted)
            wanted -= taken
            lots[0][1] -= taken
            if lots[0][1] <= EPS:
                lots.popleft()
        unmet[day] = wanted if wanted > EPS else 0.0
    return unmet, expired
