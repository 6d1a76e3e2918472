"""What cannot be served, with its cause and what can be done, in words."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from ordering.amounts import packs_said, shown
from ordering.days import format_day, span_said
from ordering.explain.remedies import comes_off, remedies
from ordering.explain.short_days import ShortDay, ShortSpell, next_delivery, short_days, short_spells
from ordering.explain.trace import Trace
from ordering.explain.ways_to_buy import closed_days
from ordering.explain.wording import amount, as_for, counted, short_amount
from ordering.records.buying import Buying, Delivery
from ordering.records.costs import portion_losses, unit_costs
from ordering.records.house import House
from ordering.records.plan import Forecast, Netting, Opening, Shortage
from ordering.texts import listed

_MOST_DISHES = 6
_MOSTLY = 0.8
"""Where less than this share of what is short is expected to be wanted, the cause says how much is."""
_MARGIN_DAYS = 14  # a margin alone further ahead is left to later runs, which know more


def shortages(
    house: House,
    netting: Netting,
    buying: Buying,
    forecast: Forecast,
    deliveries: Mapping[str, Sequence[Delivery]],
    stock: Opening,
    traced: Trace,
) -> tuple[Shortage, ...]:
    """Rows of shortages.csv: one per item and day, the earliest first, then the most portions lost.

    Each says what money and how many portions it loses: pages rank them by that.

    Of a spell of one item and one cause the first row says how long it lasts and what can be done; the
    others point to it. A shortage of the margin alone is listed when it is less than two weeks away; until
    then later runs will look again. `stock`: where it knows an item's stock to be a guess, to count it is the
    first thing to do. `traced`: the trace of the netting.
    """
    today = forecast.days[0]
    every = short_days(house, netting, buying, forecast, traced)
    found = [day for day in every if not day.is_margin or (day.on - today).days < _MARGIN_DAYS]
    worth = _worth(house, today)
    rows: dict[tuple[str, date], Shortage] = {}
    for spell in short_spells(house, found, forecast, deliveries, stock):
        rows |= {(row.item, row.date): row for row in _rows(spell, worth)}
    return tuple(rows[(day.item, day.on)] for day in found)


@dataclass(frozen=True, slots=True)
class _Worth:
    """Money lost: `portions` by dish that goes without, `batches` by recipe that cannot be made."""

    portions: Mapping[str, float]
    batches: Mapping[str, float]

    def of(self, day: ShortDay) -> float:
        served = sum(self.portions.get(dish, 0.0) * n for (dish, _, _), n in day.portions.items())
        return served + sum(self.batches.get(recipe, 0.0) for recipe in day.under_way)


def _worth(house: House, today: date) -> _Worth:
    """A dish without a price is worth what the others are on the mean; where none has one, all are alike."""
    costs = unit_costs(house, today)
    known = portion_losses(house, costs)
    usual = sum(known.values()) / len(known) if known else 1.0
    return _Worth(
        {dish: known.get(dish, usual) for dish in house.dishes},
        {recipe.id: costs[recipe.id] * recipe.makes for recipe in house.recipes.values()},
    )


def _rows(spell: ShortSpell, worth: _Worth) -> list[Shortage]:
    house, unit = spell.house, spell.unit
    out = []
    for n, day in enumerate(spell.days):
        cause = listed([_cause(spell, day, word) for word in day.causes])
        if n == 0 and len(spell.days) > 1:
            days = span_said(day.on, spell.days[-1].on)
            cause += f"; short on {len(spell.days)} days, {days}, {short_amount(spell.short, unit)} in all"
        remedy = "; ".join(remedies(spell)) if n == 0 else as_for(spell.first)
        what = (day.on, day.item, day.short, unit, _dishes(house, day), cause, remedy)
        out.append(Shortage(*what, day.n_portions(), worth.of(day), day.is_optional))
    return out


def _dishes(house: House, day: ShortDay) -> str:
    """`Braised cheek: 12 portions (Fri 27 Nov)`, the most of them first."""
    if not day.portions and day.under_way:
        return listed([f"{house.name_of(recipe)}, under way" for recipe in day.under_way])
    if day.is_optional and not day.is_margin:
        return listed([f"{house.name_of(recipe)} can go without" for recipe in day.users], 3)
    if not day.portions:
        return "none expected, only the margin for a busy night" if day.is_margin else ""
    by_dish: dict[str, dict[date, float]] = {}
    for (dish, on, _), number in day.portions.items():
        days = by_dish.setdefault(dish, {})
        days[on] = days.get(on, 0.0) + number
    ranked = sorted(by_dish, key=lambda dish: (-sum(by_dish[dish].values()), dish))
    named = [_dish(house, dish, by_dish[dish]) for dish in ranked[:_MOST_DISHES]]
    if len(ranked) > _MOST_DISHES:
        rest = sum(sum(by_dish[dish].values()) for dish in ranked[_MOST_DISHES:])
        others = counted(len(ranked) - _MOST_DISHES, "more dish", "more dishes")
        named.append(f"{others}: {counted(rest, 'portion')}")
    return "; ".join(named)


def _dish(house: House, dish: str, days: Mapping[date, float]) -> str:
    name = house.dishes[dish].name if dish in house.dishes else dish
    return f"{name}: {counted(sum(days.values()), 'portion')} ({span_said(min(days), max(days))})"


def _cause(spell: ShortSpell, day: ShortDay, word: str) -> str:
    """The cause in plain words."""
    said = _CAUSES.get(word)
    text = said(spell, day) if said else word
    if day.is_margin:
        return f"{text}; enough for what is expected, not for a busy night"
    if day.expected < _MOSTLY * day.short:
        wanted = amount(day.expected, spell.unit)
        return f"{text}; {wanted} of it is expected to be needed, the rest is in case it is busy"
    return text


def _no_delivery(spell: ShortSpell, day: ShortDay) -> str:
    coming = next_delivery(spell, spell.item)
    if coming is None:
        return "no delivery in time: none can be ordered in the days this run looks at"
    return f"no delivery in time: the next one you can order comes on {format_day(coming.deliver_on)}"


def _no_time(spell: ShortSpell, day: ShortDay) -> str:
    recipe = spell.house.recipes.get(spell.item)
    if recipe is None:
        return "no time left: what it goes into has to be started before it can come"
    start = day.on - timedelta(days=recipe.takes_days)
    does = "age" if "long-ageing" in recipe.hazards else "make"
    days = counted(recipe.takes_days, "day")
    if start >= spell.today:
        return (
            f"no time left to {does} it: what goes into it cannot be here by "
            f"{format_day(start)}, {days} before"
        )
    return f"no time left to {does} it: it takes {days} and was due to start on {format_day(start)}"


def _capacity(spell: ShortSpell, day: ShortDay) -> str:
    recipe = spell.house.recipes.get(spell.item)
    limits = (
        [(recipe.room, "under way at one time"), (recipe.largest, "started in one day")] if recipe else []
    )
    said = [f"{shown(limit, spell.unit)} can be {when}" for limit, when in limits if limit is not None]
    return f"no room: only {listed(said)}" if said else "no room: more is needed than can be made"


def _expires(spell: ShortSpell, day: ShortDay) -> str:
    long = "" if spell.keeps is None else f"; it keeps {counted(spell.keeps, 'day')}"
    return f"past its use-by on {format_day(day.on)}{long}"


def _closed(spell: ShortSpell, day: ShortDay) -> str:
    first = spell.freshest(day.on)
    vendors = [spell.house.vendors[v] for v in sorted({offer.vendor for offer in spell.offers})]
    shut = [
        f"{vendor.name} on {listed([format_day(on) for on in shut_on])}"
        for vendor in vendors
        if (shut_on := closed_days(vendor, first, day.on))
    ]
    if not shut:
        return "the vendor is closed on its delivery day"
    if spell.keeps is None or first == spell.today:
        return f"vendor closed: {listed(shut)}"
    return f"vendor closed: {listed(shut)}; what comes before keeps only {counted(spell.keeps, 'day')}"


def _no_offer(spell: ShortSpell, day: ShortDay) -> str:
    text = "not on offer on those days" if spell.offers else "no vendor sells it"
    sources = [spell.house.recipes[recipe].name for recipe in comes_off(spell)]
    return f"{text}; it comes off {listed(sources, 3)}, and there is too little of it" if sources else text


def _not_worth(spell: ShortSpell, day: ShortDay) -> str:
    priced = [(offer.price, offer.pack) for offer in spell.offers if offer.price is not None]
    price, pack = min(priced, default=(None, ""))
    least = f"{packs_said(1, pack)}, {price:,.2f}," if price is not None else "a pack"
    return f"not ordered: {least} costs more than it would save"


_CAUSES = {
    "no-delivery": _no_delivery,
    "no-time": _no_time,
    "capacity": _capacity,
    "expires": _expires,
    "vendor-closed": _closed,
    "no-offer": _no_offer,
    "no-batch": lambda *_: "no earlier batch to carry over from",
    "not-worth": _not_worth,
}
