"""What is in the house, on its way, and will come off batches under way, as parcels by item."""

from __future__ import annotations

from collections import defaultdict
from datetime import date, timedelta
from itertools import product

import numpy as np

from ordering.explode.graph import Fall, falls_of
from ordering.explode.horizon import FAR_DAYS
from ordering.net.shelf_life import Parcel, is_marked, last_offset
from ordering.records.books import Begun
from ordering.records.house import House
from ordering.records.plan import Forecast, Opening


def opening_parcels(house: House, opening: Opening, forecast: Forecast) -> dict[str, tuple[Parcel, ...]]:
    """Lots, what comes off batches under way after today, and open orders, as parcels by item."""
    first, n_days = forecast.days[0], len(forecast.days)
    parcels: dict[str, list[Parcel]] = defaultdict(list)
    own = {(lot.item, lot.ready_on) for lot in opening.lots if lot.ready_on is not None}
    for lot in opening.lots:
        ready = 0 if lot.ready_on is None else max(0, (lot.ready_on - first).days)
        last = FAR_DAYS if lot.use_by is None else (lot.use_by - first).days
        if last >= ready:
            parcels[lot.item].append(Parcel(ready, last, lot.quantity, "in-process" if ready else "opening"))
    for order in opening.scheduled:
        due = max(0, (order.deliver_on - first).days)
        keeps = last_offset(house, order.item)
        last = n_days if keeps is None else due + keeps
        if order.use_by is not None:
            last = (order.use_by - first).days
        parcels[order.item].append(Parcel(due, last, order.quantity, "scheduled"))
    for item, falls in falls_of(house).items():  # also what goes round in a circle: these batches are begun
        for fall, one in product(falls, opening.begun):
            ready_on = one.started_on + timedelta(days=fall.after_days)
            if one.recipe == fall.recipe and ready_on > first and (item, ready_on) not in own:
                parcels[item].append(_to_come(house, opening, item, fall, (one, first, n_days)))
    return {i: tuple(sorted(p, key=_rank)) for i, p in parcels.items()}


def _to_come(house: House, opening: Opening, item: str, fall: Fall, begun: tuple[Begun, date, int]) -> Parcel:
    """What a batch under way will leave or give back. begun : the batch, day 0, number of days."""
    one, first, n_days = begun
    ready, quantity = (one.started_on - first).days + fall.after_days, fall.quantity * one.batches
    offset, before = how_long(house, item, fall)
    if before is None:
        return Parcel(ready, n_days if offset is None else ready + offset, quantity, "by-product")
    drawn = ready - before
    last = n_days if offset is None else drawn + offset
    known = opening.oldest.get((item, first + timedelta(days=drawn)))
    if known is not None:
        last = min(last, (known - first).days)
    return Parcel(ready, last, quantity, "by-product", drawn)


def how_long(house: House, item: str, fall: Fall) -> tuple[int | None, int | None]:
    """Days that what comes off a batch keeps; how many before it was drawn, if it keeps the date of that."""
    is_carried = fall.drawn_after is not None and is_marked(house, item)
    before = fall.after_days - (fall.drawn_after or 0) if is_carried else None
    comes_back = fall.drawn_after is not None
    return last_offset(house, item) if comes_back else last_offset(house, item, fall.recipe), before


def _rank(parcel: Parcel) -> tuple[int, int, float, str]:
    return parcel.last, parcel.first, float(np.sum(parcel.quantity)), parcel.kind
