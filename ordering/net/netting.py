"""Gross to net, top to bottom: what to start, what must be bought, what nothing can meet."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from ordering.net.flows import decide
from ordering.net.frame import frame_of
from ordering.net.levels import levels_of, worth
from ordering.net.listing import listed_starts
from ordering.net.sweep import Demand, sweep
from ordering.records.house import House
from ordering.records.plan import Chance, Forecast, Netting, Opening


def net_all(
    house: House,
    opening: Opening,
    forecast: Forecast,
    chances: Mapping[str, tuple[Chance, ...]],
    arrival: Mapping[str, int],
) -> Netting:
    """Net every item of the house on every path of the forecast.

    Parameters
    ----------
    chances : by vendor, the deliveries that can still be ordered
    arrival : by item, the first day index on which a purchase can be in the house; `n_days` when none
    """
    frame = frame_of(house, opening, forecast, arrival)
    demand = Demand(
        dict(zip(forecast.dishes, forecast.portions, strict=True)),
        np.array([slot.day for slot in forecast.slots], dtype=np.intp),
    )
    value = worth(frame)
    levels = levels_of(frame, value, chances)
    found = sweep(frame, demand, {})
    decision = decide(frame, demand, levels, found.oldest, frozenset())
    return Netting(
        flows=decision.flows,
        requirements=decision.requirements,
        starts=listed_starts(frame, decision),
        shortfalls=(),
        levels={i: level.value for i, level in levels.items()},
        warnings=frame.graph.set_aside,
    )
