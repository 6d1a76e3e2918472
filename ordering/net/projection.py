"""The flow of what is bought, with what the lines of a run bring in place of its net requirement."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import replace
from datetime import date

import numpy as np

from ordering.amounts import EPS
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
    bought = [
        flow
        for item, flow in netting.flows.items()
        if item in house.ingredients and (item in lines or flow.planned.any())
    ]
    planned, past = np.zeros((2, len(bought), len(days)))
    for row, flow in enumerate(bought):
        for line in lines[flow.item]:
            planned[row, (line.deliver_on - days[0]).days] += line.quantity
    arrived = np.cumsum(planned, axis=1)
    for row, flow in enumerate(bought):
        if (offset := last_offset(house, flow.item)) is not None:
            past[row, offset + 1 :] = arrived[row, : max(len(days) - offset - 1, 0)]
    needs = np.array([flow.planned for flow in bought]).reshape(planned.shape)
    unmet, expired = _met_in_turn(arrived, past, needs)
    return {
        flow.item: _with_lines(flow, *rows)
        for flow, *rows in zip(bought, planned, unmet, expired, strict=True)
    }


def _met_in_turn(arrived: Array, past: Array, needs: Array) -> tuple[Array, Array]:
    """What of each day's need no delivery meets, and what is over its last day that evening, oldest first.

    arrived, past : what has come of an item by a day, and what of it is past its last day; needs : of the
    day; all [item, day], in the item's unit
    """
    unmet, expired, gone = np.zeros_like(needs), np.zeros_like(needs), np.zeros(len(needs))
    for day in range(needs.shape[1]):
        expired[:, day] = np.maximum(past[:, day] - gone, 0.0)
        wanted = np.maximum(gone, past[:, day]) + needs[:, day]
        gone = np.minimum(wanted, arrived[:, day])
        unmet[:, day] = wanted - gone
    return np.where(unmet > EPS, unmet, 0.0), np.where(expired > EPS, expired, 0.0)


def _with_lines(flow: ItemFlow, planned: Array, unmet: Array, expired: Array) -> ItemFlow:
    """The flow with what the lines of its item bring, what they do not meet and what goes off, all [day]."""
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
