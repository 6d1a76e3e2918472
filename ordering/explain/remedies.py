"""What can still be done about a hole, in the order in which a chef would try it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import date, timedelta

from ordering.days import format_day
from ordering.explain.lack import Run, next_arrival
from ordering.explain.making import let_fall, takes_days, ways_to_make
from ordering.explain.serving import ways_to_serve
from ordering.explain.telling import lacking, packs
from ordering.records.buying import Delivery
from ordering.records.vendors import Offer, Vendor

_FIND = "find a vendor for it and write its offer into ingredients.yaml"


def remedies(run: Run) -> list[str]:
    """Remedies for a whole run of days: get it, make it, serve fewer or less, or another dish."""
    is_bought = run.item in run.house.ingredients
    get, falls = _get(run) if is_bought else ways_to_make(run), let_fall(run)
    if falls and is_bought and not run.house.ingredients[run.item].offers:
        # Nobody sells it, but the kitchen has it.
        get, falls = falls, [*(text for text in get if text != _FIND), _FIND]
    return [*_count(run, is_bought), *get, *falls, *ways_to_serve(run)]


def _count(run: Run, is_bought: bool) -> list[str]:
    """Where the stock is a guess, to look is the first thing to do: it may all be there."""
    if not run.known.is_counted:
        return ["count it: it has never been counted, so it is taken as none"]
    if run.known.is_explained:
        return []
    book = "book in what was delivered" if is_bought else "log the batches made"
    return [f"count it, or {book}: sales used more than you had"]


def _get(run: Run) -> list[str]:
    """Ways to buy it: another vendor that comes in time, a delivery whose cut-off has passed, by hand."""
    offers = run.house.ingredients[run.item].offers
    said_first = [_order(run, offer, chance) for offer, chance in _in_time(run, offers)][:1]
    called = [text for offer in _fitting(run, offers) if (text := _call(run, offer))][:2]
    other = [] if said_first else _ask_another(run, {offer.vendor for offer in offers})
    return [*said_first, *called, *other] or _fetch(run)


def _fitting(run: Run, offers: Sequence[Offer]) -> list[Offer]:
    """One offer of each vendor: the pack that overshoots the hole least."""
    best: dict[str, Offer] = {}
    for offer in sorted(offers, key=lambda o: (_n_packs(run, o) * o.pack_quantity, _n_packs(run, o), o.code)):
        best.setdefault(offer.vendor, offer)
    return list(best.values())


def _n_packs(run: Run, offer: Offer) -> int:
    return _n_of(run.short, offer)


def _n_of(quantity: float, offer: Offer) -> int:
    return max(1, math.ceil(quantity / offer.pack_quantity - 1e-9))


def _in_time(run: Run, offers: Sequence[Offer]) -> list[tuple[Offer, Delivery]]:
    pairs = [
        (offer, chance)
        for offer in offers
        for chance in run.chances.get(offer.vendor, ())
        if offer.holds_on(chance.deliver_on) and _freshest(run) <= chance.deliver_on <= run.first
    ]
    return sorted(pairs, key=lambda pair: (not pair[0].is_preferred, -pair[1].day, pair[0].code))


def _order(run: Run, offer: Offer, chance: Delivery) -> str:
    vendor = run.house.vendors[offer.vendor].name
    return (
        f"order {_packs(run, offer)} from {vendor} by {format_day(chance.order_by.date())} "
        f"{chance.order_by:%H:%M}, for {format_day(chance.deliver_on)}"
    )


def _packs(run: Run, offer: Offer) -> str:
    return f"{packs(str(_n_packs(run, offer)), offer.pack)} ({offer.code})"


def _call(run: Run, offer: Offer) -> str:
    """A round of the vendor before the hole whose cut-off has passed: worth a telephone call."""
    vendor = run.house.vendors[offer.vendor]
    first = _freshest(run)
    shut = closed_days(vendor, first, run.first)
    if shut and _may_come_before(vendor, first, shut[-1]):
        return f"{vendor.name} is closed on {format_day(shut[-1])}: ask for {_packs(run, offer)} before that"
    rounds = [day for day in _rounds(vendor, first, run.first) if day not in _still_open(run, vendor.id)]
    if rounds:
        return (
            f"call {vendor.name}: past the cut-off for {format_day(rounds[-1])}, "
            f"but ask for {_packs(run, offer)}"
        )
    return ""


def _freshest(run: Run) -> date:
    """The first day on which what comes is still good on the first day of the hole."""
    keeps = run.house.keeps_days(run.item)
    return run.today if keeps is None else max(run.today, run.first - timedelta(days=keeps))


def closed_days(vendor: Vendor, first: date, last: date) -> list[date]:
    """Days on which the vendor would come were it not closed."""
    return [day for day in sorted(vendor.closed) if first <= day <= last and _comes(vendor, day)]


def _rounds(vendor: Vendor, first: date, last: date) -> list[date]:
    days = [first + timedelta(days=n) for n in range((last - first).days + 1)]
    return [day for day in days if _comes(vendor, day) and day not in vendor.closed]


def _may_come_before(vendor: Vendor, first: date, shut: date) -> bool:
    """Whether a day is left on which the vendor could drop what it cannot bring on a closed day."""
    days = [first + timedelta(days=n) for n in range((shut - first).days)]
    return any(day not in vendor.closed for day in days)


def _comes(vendor: Vendor, day: date) -> bool:
    return any(delivery.weekday == day.weekday() for delivery in vendor.deliveries)


def _still_open(run: Run, vendor: str) -> set[date]:
    return {chance.deliver_on for chance in run.chances.get(vendor, ())}


def _ask_another(run: Run, known: set[str]) -> list[str]:
    """The vendor that sells most from the same store and can still come in time."""
    store = run.house.ingredients[run.item].store
    weight: dict[str, int] = {}
    for other in run.house.ingredients.values():
        if store and other.store == store:
            for vendor in {offer.vendor for offer in other.offers} - known:
                weight[vendor] = weight.get(vendor, 0) + 1
    for vendor in sorted(weight, key=lambda v: (-weight[v], v)):
        coming = run.chances.get(vendor, ())
        days = [c.deliver_on for c in coming if _freshest(run) <= c.deliver_on <= run.first]
        if days:
            name = run.house.vendors[vendor].name
            return [f"ask {name} if they have any: they still deliver on {format_day(max(days))}"]
    return []


def _fetch(run: Run) -> list[str]:
    """By hand: what the first day lacks, and all of it where the days after it lack more."""
    if _is_for_ageing(run):
        coming = next_arrival(run, run.item)
        wait = "wait for the next delivery" + (f", on {format_day(coming.deliver_on)}" if coming else "")
        return [_FIND if run.cause == "no-offer" else wait]
    first, every = _to_fetch(run, run.holes[0].short), _to_fetch(run, run.short)
    more = f", {every} in all by {format_day(run.holes[-1].on)}" if every != first else ""
    bought = f"buy {first} locally by {format_day(run.first)}{more}"
    if run.cause != "no-offer":
        return [bought]
    if not run.known.is_counted:  # told once for all days: no quantity to carry home today
        return [_FIND]
    return [_FIND, f"until then {bought}"]


def _to_fetch(run: Run, short: float) -> str:
    """A quantity as one asks for it over a counter: in packs the house buys, no part of an egg."""
    found = [
        (n * o.pack_quantity, n, o) for o in run.house.ingredients[run.item].offers if (n := _n_of(short, o))
    ]
    if not found:
        return lacking(short, run.house.unit_of(run.item))
    _, number, offer = min(found, key=lambda one: (one[0], one[1], one[2].code))
    return packs(str(number), offer.pack)


def _is_for_ageing(run: Run) -> bool:
    """Whether it goes only into what ages or takes days: no shop has what such a recipe asks for."""
    users = [r for r in run.house.recipes.values() if any(line.item == run.item for line in r.lines)]
    return bool(users) and all(takes_days(recipe) for recipe in users)
