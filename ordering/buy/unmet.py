"""What no delivery can bring in time, with its cause."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from ordering.buy.calendar import cut_off
from ordering.buy.curve import NOTHING, Cover
from ordering.records.house import House, Offer
from ordering.records.plan import Chance, Unmet


def unmet_of(
    house: House, cover: Cover, pairs: Sequence[tuple[Offer, Chance]], days: Sequence[date]
) -> list[Unmet]:
    """Need of one ingredient out of reach, by day."""
    return [
        Unmet(cover.item, days[day], float(short), _cause(house, cover, pairs, days, day))
        for day, short in enumerate(cover.unreached)
        if short > NOTHING
    ]


def _cause(
    house: House, cover: Cover, pairs: Sequence[tuple[Offer, Chance]], days: Sequence[date], day: int
) -> str:
    offers = house.ingredients[cover.item].offers
    first = 0 if cover.keeps_days is None else max(0, day - cover.keeps_days)
    in_time = days[first : day + 1]
    asked = [(o, when) for o in offers for when in in_time if _could_be_asked(house, o, when, days[0])]
    holding = [(o, when) for o, when in asked if o.holds_on(when)]
    if (asked and not holding) or not any(o.holds_on(when) for o in offers for when in in_time):
        return "no-offer"
    if any(when in house.vendors[o.vendor].closed for o, when in holding):
        return "vendor-closed"
    return "expires" if any(chance.day < day for _, chance in pairs) else "no-delivery"


def _could_be_asked(house: House, offer: Offer, when: date, on: date) -> bool:
    """Whether the vendor comes on such a day, closed or not, and its cut-off is not yet behind."""
    deliveries = house.vendors[offer.vendor].deliveries
    return any(d.weekday == when.weekday() and cut_off(d, when).date() >= on for d in deliveries)
