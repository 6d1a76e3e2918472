"""Later deliveries foreseen, in whole packs by simple rounding: nothing here is placed yet."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from ordering.buy.pack_prices import packs_needed
from ordering.buy.requirements import EPS, DeliveryConstraints
from ordering.records.buying import Delivery
from ordering.records.plan import Requirement
from ordering.records.vendors import Offer

Pairs = Sequence[tuple[Offer, Delivery]]
Bought = tuple[Offer, Delivery, int]
"""Packs of an offer with a delivery."""


@dataclass(slots=True)
class _RemainingLot:
    day: int
    left: float


def foreseen(
    item: DeliveryConstraints,
    pairs: Pairs,
    requirement: Requirement,
    par: float,
    ordered: Sequence[tuple[int, float]],
) -> tuple[list[Bought], float]:
    """Later packs of one ingredient over the horizon, and what of its need none of them can meet.

    Each day that nothing bought yet covers is met from the latest delivery of the cheapest offer that is in
    time, with enough to last until that vendor comes again.

    Parameters
    ----------
    pairs : offers and deliveries over the whole horizon, those due now included (and passed over)
    par : level to be back at after a delivery, item's unit; 0 where none is kept
    ordered : (day, quantity) of what this run orders
    """
    daily = np.diff(item.need, prepend=0.0)
    later = [pair for pair in pairs if not pair[1].is_now]
    useful = {day: max(item.useful(day), EPS) for day in {delivery.day for _, delivery in later}}
    later.sort(key=lambda pair: _rank(pair[0], pair[1], useful[pair[1].day]))
    lots = [_RemainingLot(day, quantity) for day, quantity in sorted(ordered)]
    bought = sum(quantity for _, quantity in ordered)
    lines: list[Bought] = []
    left_open = 0.0
    for day in np.flatnonzero(daily > 0).tolist():
        lots = [lot for lot in lots if lot.left > 0 and item.is_good(lot.day, day)]
        wanted = _drawn(lots, day, float(daily[day]))
        while wanted > EPS:
            chosen = _in_time(item, later, day)
            if chosen is None:
                left_open += wanted
                break
            offer, delivery = chosen
            quantity = wanted + _until_next(item, later, chosen, day, lots)
            used = float(requirement.expected[delivery.day - 1]) if delivery.day else 0.0
            short_of_par = par - float(requirement.stock_left[delivery.day]) - bought + used if par else 0.0
            packs = max(1, packs_needed(max(quantity, short_of_par), offer.pack_quantity))
            lines.append((offer, delivery, packs))
            bought += packs * offer.pack_quantity
            lots.append(_RemainingLot(delivery.day, packs * offer.pack_quantity))
            lots.sort(key=lambda lot: lot.day)
            wanted = _drawn(lots, day, wanted)
    return merged(lines), left_open


def merged(parts: Iterable[Bought]) -> list[Bought]:
    """Packs of one offer with one delivery as one."""
    found: dict[tuple[str, str, str, int], Bought] = {}
    for offer, delivery, packs in parts:
        key = offer.item, offer.vendor, offer.code, delivery.day
        found[key] = offer, delivery, packs + (found[key][2] if key in found else 0)
    return list(found.values())


def _drawn(lots: list[_RemainingLot], day: int, wanted: float) -> float:
    """What is still wanted after the oldest lots that are there gave what they had."""
    for lot in lots:
        if lot.day <= day:
            taken = min(lot.left, wanted)
            lot.left -= taken
            wanted -= taken
    return wanted


def _in_time(item: DeliveryConstraints, ranked: Pairs, day: int) -> tuple[Offer, Delivery] | None:
    """The first of what is there by that day and still good on it."""
    return next((pair for pair in ranked if pair[1].day <= day and item.is_good(pair[1].day, day)), None)


def _rank(offer: Offer, delivery: Delivery, useful: float) -> tuple[bool, float, int, bool, str, str]:
    """What comes first is bought first: cheapest for what can be used of it, then latest."""
    price = round(float(offer.price or 0) / min(offer.pack_quantity, useful), 9)
    return offer.price is None, price, -delivery.day, not offer.is_preferred, offer.vendor, offer.code


def _until_next(
    item: DeliveryConstraints,
    later: Pairs,
    chosen: tuple[Offer, Delivery],
    day: int,
    lots: Sequence[_RemainingLot],
) -> float:
    """Need after `day` until the vendor's next delivery, less what is in the house for it."""
    offer, delivery = chosen
    again = min((c.day for o, c in later if o is offer and c.day > delivery.day), default=len(item.need))
    last = again - 1
    if item.keeps_days is not None:
        last = min(last, delivery.day + item.keeps_days)
    held = sum(lot.left for lot in lots if lot.day <= last and item.is_good(lot.day, day + 1))
    return max(0.0, item.use_between(day + 1, last) - held)
