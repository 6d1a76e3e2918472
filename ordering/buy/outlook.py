"""Later deliveries foreseen, in whole packs by simple rounding: nothing here is placed yet."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ordering.buy.curve import NOTHING, Cover
from ordering.buy.money import packs_needed
from ordering.records.house import Offer
from ordering.records.plan import Chance, Requirement

Line = tuple[Offer, Chance, int]


@dataclass(slots=True)
class _Parcel:
    day: int
    left: float


def foreseen(
    cover: Cover,
    pairs: Sequence[tuple[Offer, Chance]],
    requirement: Requirement,
    par: float,
    ordered: Sequence[tuple[int, float]],
) -> tuple[list[Line], float]:
    """Later packs of one ingredient over the horizon, and what of its need none of them can meet.

    Each day that nothing bought yet covers is met from the latest delivery of the cheapest offer that is in
    time, with enough to last until that vendor comes again.

    Parameters
    ----------
    pairs : offers and deliveries over the whole horizon, those due now included (and passed over)
    par : level to be back at after a delivery, item's unit; 0 where none is kept
    ordered : (day, quantity) of what this run orders
    """
    daily = np.diff(cover.need, prepend=0.0)
    later = sorted((pair for pair in pairs if not pair[1].is_now), key=lambda pair: _rank(cover, pair))
    parcels = [_Parcel(day, quantity) for day, quantity in sorted(ordered)]
    bought = sum(quantity for _, quantity in ordered)
    lines: list[Line] = []
    left_open = 0.0
    for day in range(len(daily)):
        wanted = _drawn(parcels, day, float(daily[day]), cover.keeps_days)
        while wanted > NOTHING:
            chosen = _in_time(cover, later, day)
            if chosen is None:
                left_open += wanted
                break
            offer, chance = chosen
            quantity = wanted + _until_next(cover, later, chosen, day, parcels)
            used = float(requirement.expected[chance.day - 1]) if chance.day else 0.0
            short_of_par = par - float(requirement.stock_left[chance.day]) - bought + used if par else 0.0
            packs = max(1, packs_needed(max(quantity, short_of_par), offer.pack_quantity))
            lines.append((offer, chance, packs))
            bought += packs * offer.pack_quantity
            parcels.append(_Parcel(chance.day, packs * offer.pack_quantity))
            parcels.sort(key=lambda parcel: parcel.day)
            wanted = _drawn(parcels, day, wanted, cover.keeps_days)
    return _merged(lines), left_open


def _merged(lines: Sequence[Line]) -> list[Line]:
    """Packs of one offer with one delivery as one line."""
    found: dict[tuple[str, str, int], Line] = {}
    for offer, chance, packs in lines:
        key = offer.vendor, offer.code, chance.day
        found[key] = offer, chance, packs + (found[key][2] if key in found else 0)
    return list(found.values())


def _drawn(parcels: list[_Parcel], day: int, wanted: float, keeps_days: int | None) -> float:
    """What is still wanted after the oldest good parcels gave what they had."""
    for parcel in parcels:
        if parcel.day <= day and (keeps_days is None or day - parcel.day <= keeps_days):
            taken = min(parcel.left, wanted)
            parcel.left -= taken
            wanted -= taken
    return wanted


def _in_time(cover: Cover, ranked: Sequence[tuple[Offer, Chance]], day: int) -> tuple[Offer, Chance] | None:
    """The first of what is there by that day and still good on it."""
    earliest = 0 if cover.keeps_days is None else day - cover.keeps_days
    return next((pair for pair in ranked if earliest <= pair[1].day <= day), None)


def _rank(cover: Cover, pair: tuple[Offer, Chance]) -> tuple[bool, float, int, bool, str, str]:
    """What comes first is bought first: cheapest for what can be used of it, then latest."""
    offer, chance = pair
    useful = min(offer.pack_quantity, max(cover.useful(chance.day), NOTHING))
    price = round(float(offer.price) / useful, 9) if offer.price is not None else 0.0
    return offer.price is None, price, -chance.day, not offer.is_preferred, offer.vendor, offer.code


def _until_next(
    cover: Cover,
    later: Sequence[tuple[Offer, Chance]],
    chosen: tuple[Offer, Chance],
    day: int,
    parcels: Sequence[_Parcel],
) -> float:
    """Need after `day` until the vendor's next delivery, less what is in the house for it."""
    offer, chance = chosen
    again = min((c.day for o, c in later if o is offer and c.day > chance.day), default=len(cover.need))
    last = again - 1
    if cover.keeps_days is not None:
        last = min(last, chance.day + cover.keeps_days)
    held = sum(
        p.left
        for p in parcels
        if p.day <= last and (cover.keeps_days is None or day < p.day + cover.keeps_days)
    )
    return max(0.0, cover.use_between(day + 1, last) - held)
