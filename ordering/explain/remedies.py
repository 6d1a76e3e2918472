"""What can still be done about a hole, in the order in which a chef would try it."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from ordering.days import said
from ordering.explain.hit import Hole, Portions
from ordering.explain.telling import amount, counted, days_said, listed, packs
from ordering.records.house import Dish, House, Offer, Vendor
from ordering.records.plan import Chance

_SMALLEST_SHARE = 0.75
"""A portion cut below three quarters is another dish. Common practice, no source."""
_MOST_DISHES = 3
_WHOLE = ("each", "bunch")


@dataclass(frozen=True, slots=True)
class Run:
    """Holes of one item with one cause on days that follow one another.

    `expected` : mean portions by (dish, date, service); `hit` : every dish that lacks anything;
    `content` : quantity of the item in one portion, by dish; `today` : the day of the run;
    `is_unknown` : the item was never counted, so that the sum takes it that there is none
    """

    house: House
    holes: tuple[Hole, ...]
    expected: Portions
    hit: frozenset[str]
    chances: Mapping[str, Sequence[Chance]]
    content: Mapping[str, float]
    today: date
    is_unknown: bool = False

    @property
    def item(self) -> str:
        return self.holes[0].item

    @property
    def cause(self) -> str:
        return self.holes[0].causes[0]

    @property
    def first(self) -> date:
        return self.holes[0].on

    @property
    def short(self) -> float:
        return sum(hole.short for hole in self.holes)

    @property
    def portions(self) -> dict[tuple[str, date, str], float]:
        total: dict[tuple[str, date, str], float] = {}
        for hole in self.holes:
            for key, number in hole.portions.items():
                total[key] = total.get(key, 0.0) + number
        return total


def remedies(run: Run) -> list[str]:
    """Remedies for a whole run of days: get it, make it, serve fewer or less, hold back, put on another."""
    bought = run.item in run.house.ingredients
    counted_first = (
        ["count it: it never was, so the sum takes it that there is none"] if run.is_unknown else []
    )
    return [*counted_first, *(_get(run) if bought else _make(run)), *_serve(run)]


def next_arrival(run: Run) -> Chance | None:
    """The first delivery of the item that can still be ordered."""
    offers = run.house.ingredients[run.item].offers if run.item in run.house.ingredients else ()
    coming = [
        chance
        for offer in offers
        for chance in run.chances.get(offer.vendor, ())
        if offer.holds_on(chance.deliver_on)
    ]
    return min(coming, key=lambda chance: (chance.deliver_on, chance.vendor), default=None)


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
    return max(1, math.ceil(run.short / offer.pack_quantity - 1e-9))


def _in_time(run: Run, offers: Sequence[Offer]) -> list[tuple[Offer, Chance]]:
    pairs = [
        (offer, chance)
        for offer in offers
        for chance in run.chances.get(offer.vendor, ())
        if offer.holds_on(chance.deliver_on) and _freshest(run) <= chance.deliver_on <= run.first
    ]
    return sorted(pairs, key=lambda pair: (not pair[0].is_preferred, -pair[1].day, pair[0].code))


def _order(run: Run, offer: Offer, chance: Chance) -> str:
    vendor = run.house.vendors[offer.vendor].name
    return (
        f"order {_packs(run, offer)} from {vendor} by {said(chance.order_by.date())} "
        f"{chance.order_by:%H:%M}, for {said(chance.deliver_on)}"
    )


def _packs(run: Run, offer: Offer) -> str:
    return f"{packs(str(_n_packs(run, offer)), offer.pack)} ({offer.code})"


def _call(run: Run, offer: Offer) -> str:
    """A round of the vendor before the hole whose cut-off has passed: worth a telephone call."""
    vendor = run.house.vendors[offer.vendor]
    first = _freshest(run)
    shut = closed_days(vendor, first, run.first)
    if shut and _may_come_before(vendor, first, shut[-1]):
        return f"{vendor.name} is closed on {said(shut[-1])}: ask for an earlier drop of {_packs(run, offer)}"
    rounds = [day for day in _rounds(vendor, first, run.first) if day not in _still_open(run, vendor.id)]
    if rounds:
        return (
            f"ring {vendor.name}, which comes on {said(rounds[-1])} though its cut-off has passed, "
            f"and ask for {_packs(run, offer)}"
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
            return [f"ask {name}, which can still bring on {said(max(days))}, whether it has any"]
    return []


def _fetch(run: Run) -> list[str]:
    """By hand: what the first day lacks, and all of it where the days after it lack more."""
    first, every = _to_fetch(run, run.holes[0].short), _to_fetch(run, run.short)
    more = f", {every} in all by {said(run.holes[-1].on)}" if every != first else ""
    bought = f"fetch {first} from a shop or market by {said(run.first)}{more}"
    if run.cause != "no-offer":
        return [bought]
    if run.is_unknown:  # told once for all days: no quantity to carry home today
        return ["find a vendor for it and write its offer into ingredients.yaml"]
    return ["find a vendor for it and write its offer into ingredients.yaml", f"until then {bought}"]


def _to_fetch(run: Run, short: float) -> str:
    """A quantity as one asks for it over a counter: no part of an egg."""
    unit = run.house.unit_of(run.item)
    return amount(math.ceil(short - 1e-9) if unit in _WHOLE else short, unit)


def _make(run: Run) -> list[str]:
    """Ways to make it: more makings than planned, an earlier start, or wait until it is ready."""
    recipe = run.house.recipes[run.item]
    ready = run.today + timedelta(days=recipe.takes_days)
    if run.cause == "capacity" and recipe.largest is not None:
        more, room = amount(run.short, recipe.unit), amount(recipe.largest, recipe.unit)
        return [f"find room for {more} more than the {room} a day, or a day before"]
    if run.cause == "no-batch":
        return [f"begin {recipe.name} afresh, without what a batch before it would have left"]
    if run.cause == "expires" and ready > run.first:
        last = said(run.first - timedelta(days=1))
        return [f"sell more of it by {last}, while there is; started today it is ready on {said(ready)}"]
    if run.cause == "expires":
        return [f"make {recipe.name} nearer the day, in smaller batches"]
    if run.cause == "no-time" and ready > run.first:
        return [f"borrow or buy {recipe.name.lower()} ready made; started today it is ready on {said(ready)}"]
    return []


def _serve(run: Run) -> list[str]:
    """What to do at the pass: how many can be served, how small, what to hold back, what instead."""
    portions = run.portions
    by_dish: dict[str, float] = {}
    for (dish, _, _), number in portions.items():
        by_dish[dish] = by_dish.get(dish, 0.0) + number
    ranked = sorted((d for d in by_dish if d in run.house.dishes), key=lambda d: (-by_dish[d], d))
    out: list[str] = []
    for dish in ranked[:_MOST_DISHES]:
        out += _at_the_pass(run, run.house.dishes[dish], portions)
    if len(ranked) > _MOST_DISHES:
        rest = [run.house.dishes[d].name for d in ranked[_MOST_DISHES:]]
        out.append(f"the same for {listed(rest, 4)}")
    return out


def _at_the_pass(run: Run, dish: Dish, portions: Portions) -> list[str]:
    days = sorted({on for d, on, _ in portions if d == dish.id})
    hit = sum(number for (d, _, _), number in portions.items() if d == dish.id)
    wanted = sum(n for (d, on, _), n in run.expected.items() if d == dish.id and on in days)
    left = max(0.0, wanted - hit)
    when = f"on {days_said(days)}"
    if left < 1:
        return [f"hold {dish.name} back {when}{_instead(run, dish, days)}"]
    enough = f"{counted(math.floor(left), 'portion')} of {round(wanted)}"
    served = f"{dish.name} {when}: there is enough for {enough}"
    full = run.content.get(dish.id, 0.0)
    unit = run.house.unit_of(run.item)
    share = left / wanted
    if share >= _SMALLEST_SHARE and _is_on_the_plate(run, dish) and unit not in _WHOLE:
        name = run.house.name_of(run.item)
        less = amount(full * share, unit)
        return [f"{served}, or for all with {less} of {name} in place of {amount(full, unit)}"]
    if share >= _SMALLEST_SHARE:
        return [f"{served}, or for all at {100 * share:.0f} % of a portion"]
    return [f"{served}; then hold it back{_instead(run, dish, days)}"]


def _is_on_the_plate(run: Run, dish: Dish) -> bool:
    """Whether the item is what is portioned: the dish's own recipe, or a line of it."""
    recipe = run.house.recipes.get(dish.recipe)
    return run.item == dish.recipe or (recipe is not None and run.item in {x.item for x in recipe.lines})


def _instead(run: Run, dish: Dish, days: Sequence[date]) -> str:
    """Another dish of the same services, not short itself, nearest in price."""
    if dish.price is None:
        return ""
    services = {(on, s) for d, on, s in run.expected if d == dish.id and on in days}
    offered = [
        other
        for other in run.house.dishes.values()
        if other.id not in run.hit
        and other.price is not None
        and all((other.id, on, service) in run.expected for on, service in services)
    ]
    if not services or not offered:
        return ""
    price = dish.price
    nearest = min(offered, key=lambda other: (abs((other.price or price) - price), other.id))
    return f", and put {nearest.name} forward"
