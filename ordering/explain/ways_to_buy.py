"""How to get what is short from a vendor: a delivery in time, a call past a cut-off, by hand."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from datetime import date, timedelta

from ordering.amounts import EPS, packs_said
from ordering.days import day_and_time, format_day
from ordering.explain.short_days import ShortSpell, next_delivery
from ordering.explain.wording import short_amount
from ordering.records.buying import Delivery
from ordering.records.house import Recipe
from ordering.records.vendors import Offer, Vendor

FIND_A_VENDOR = "find a vendor for it and write its offer into ingredients.yaml"


def ways_to_buy(spell: ShortSpell) -> list[str]:
    """Ways to buy it: another vendor that comes in time, a delivery whose cut-off has passed, by hand."""
    ordered = [_order(spell, offer, delivery) for offer, delivery in _in_time(spell)][:1]
    called = [text for offer in _fitting(spell) if (text := _call(spell, offer))][:2]
    other = [] if ordered else _ask_another(spell, {offer.vendor for offer in spell.offers})
    return [*ordered, *called, *other] or _fetch(spell)


def _fitting(spell: ShortSpell) -> list[Offer]:
    """One offer of each vendor: the pack that least exceeds what is short."""
    best: dict[str, Offer] = {}
    for offer in _by_fit(spell.offers, spell.short):
        best.setdefault(offer.vendor, offer)
    return list(best.values())


def _by_fit(offers: Sequence[Offer], quantity: float) -> list[Offer]:
    def fit(offer: Offer) -> tuple[float, int, str]:
        n_packs = _n_packs(quantity, offer)
        return n_packs * offer.pack_quantity, n_packs, offer.code

    return sorted(offers, key=fit)


def _n_packs(quantity: float, offer: Offer) -> int:
    return max(1, math.ceil(quantity / offer.pack_quantity - EPS))


def _in_time(spell: ShortSpell) -> list[tuple[Offer, Delivery]]:
    fresh = spell.freshest(spell.first)
    pairs = [
        (offer, delivery)
        for offer in spell.offers
        for delivery in spell.deliveries.get(offer.vendor, ())
        if offer.holds_on(delivery.deliver_on) and fresh <= delivery.deliver_on <= spell.first
    ]
    return sorted(pairs, key=lambda pair: (not pair[0].is_preferred, -pair[1].day, pair[0].code))


def _order(spell: ShortSpell, offer: Offer, delivery: Delivery) -> str:
    vendor = spell.house.vendors[offer.vendor].name
    return (
        f"order {_packs(spell, offer)} from {vendor} by {day_and_time(delivery.order_by)}, "
        f"for {format_day(delivery.deliver_on)}"
    )


def _packs(spell: ShortSpell, offer: Offer) -> str:
    return f"{packs_said(_n_packs(spell.short, offer), offer.pack)} ({offer.code})"


def _call(spell: ShortSpell, offer: Offer) -> str:
    """A round of the vendor before it is wanted whose cut-off has passed: worth a telephone call."""
    vendor = spell.house.vendors[offer.vendor]
    first = spell.freshest(spell.first)
    shut = closed_days(vendor, first, spell.first)
    packs = _packs(spell, offer)
    # On a day between it could drop what it cannot bring on a closed one.
    if shut and any(day not in vendor.closed for day in _days(first, shut[-1])[:-1]):
        return f"{vendor.name} is closed on {format_day(shut[-1])}: ask for {packs} before that"
    still_open = {delivery.deliver_on for delivery in spell.deliveries.get(vendor.id, ())}
    rounds = [day for day in _days(first, spell.first) if vendor.delivers(day) and day not in still_open]
    if rounds:
        return f"call {vendor.name}: past the cut-off for {format_day(rounds[-1])}, but ask for {packs}"
    return ""


def closed_days(vendor: Vendor, first: date, last: date) -> list[date]:
    """Days on which the vendor would come were it not closed."""
    return [day for day in sorted(vendor.closed) if first <= day <= last and vendor.is_due(day)]


def _days(first: date, last: date) -> list[date]:
    return [first + timedelta(days=n) for n in range((last - first).days + 1)]


def _ask_another(spell: ShortSpell, known: set[str]) -> list[str]:
    """The vendor that sells most of what is kept in the same store and can still come in time.

    Less than half of it, and the store says nothing of the kind of goods: a butcher is not asked for parsley
    because both lie in the cooler. Common practice, no source.
    """
    store = spell.house.ingredients[spell.item].store
    kept = [i for i in spell.house.ingredients.values() if store and i.store == store and i.offers]
    n_sold = Counter(vendor for item in kept for vendor in {offer.vendor for offer in item.offers} - known)
    for vendor in sorted(n_sold, key=lambda v: (-n_sold[v], v)):
        if 2 * n_sold[vendor] < len(kept):
            break
        coming = spell.deliveries.get(vendor, ())
        fresh = spell.freshest(spell.first)
        days = [c.deliver_on for c in coming if fresh <= c.deliver_on <= spell.first]
        if days:
            name = spell.house.vendors[vendor].name
            return [f"ask {name} if they have any: they still deliver on {format_day(max(days))}"]
    return []


def _fetch(spell: ShortSpell) -> list[str]:
    """By hand: what the first day is short of, and all of it where later days are short too."""
    if _is_for_ageing(spell):
        orderable = next_delivery(spell, spell.item)
        coming = [day for day in (spell.on_its_way, orderable and orderable.deliver_on) if day]
        wait = "wait for the next delivery" + (f", on {format_day(min(coming))}" if coming else "")
        return [FIND_A_VENDOR if spell.cause == "no-offer" else wait]
    first, every = _to_fetch(spell, spell.days[0].short), _to_fetch(spell, spell.short)
    more = f", {every} in all by {format_day(spell.days[-1].on)}" if every != first else ""
    bought = f"buy {first} locally by {format_day(spell.first)}{more}"
    if spell.cause != "no-offer":
        return [bought]
    if not spell.is_counted:  # told once for all days: no quantity to carry home today
        return [FIND_A_VENDOR]
    return [FIND_A_VENDOR, f"until then {bought}"]


def _to_fetch(spell: ShortSpell, short: float) -> str:
    """A quantity as one asks for it over a counter: in packs the house buys, no part of an egg."""
    offers = _by_fit(spell.offers, short)
    if not offers:
        return short_amount(short, spell.unit)
    return packs_said(_n_packs(short, offers[0]), offers[0].pack)


def _is_for_ageing(spell: ShortSpell) -> bool:
    """Whether it goes only into what ages or takes days: no shop has what such a recipe asks for."""
    users = [r for r in spell.house.recipes.values() if any(line.item == spell.item for line in r.lines)]
    return bool(users) and all(takes_days(recipe) for recipe in users)


def takes_days(recipe: Recipe) -> bool:
    """Whether nobody else has it ready: it ages, or takes more than a day."""
    return recipe.takes_days > 1 or "long-ageing" in recipe.hazards
