"""What must not be left to a later delivery, because that one will not reach its vendor's minimum.

The decision takes later deliveries as they come, in any amount. Once it is made and the later ones are
foreseen, some of these may stay below the minimum with all that can sensibly come with them. What would
wait for such a delivery is better ordered now, if an order now brings it in time and it keeps.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from ordering.buy.curve import AHEAD_DAYS, NOTHING
from ordering.buy.joined import ENOUGH, Drop, Lines, Wish, goods, lacks
from ordering.buy.money import line_amount, packs_needed
from ordering.buy.outlook import Line
from ordering.records.house import House, Offer
from ordering.records.plan import Chance

LOST = 2.0
"""Money lost with goods that do not come, as a multiple of their price: what a dish earns above its goods
where these are about a third of its price (common practice, no source)."""

Pairs = list[tuple[Offer, Chance]]
Bought = tuple[Offer, Chance, int]


@dataclass(frozen=True, slots=True)
class Outcome:
    """What one decision orders, and what is foreseen after it, by ingredient."""

    bought: Sequence[Bought]
    later: Lines


def beyond_reach(house: House, wishes: Mapping[str, Wish], made: Outcome) -> dict[str, frozenset[Drop]]:
    """Later deliveries that an ingredient is better not left to, by ingredient; empty when there is none.

    Parameters
    ----------
    wishes : ingredients as they stand after a first decision
    made : that decision; only a delivery it orders, or one whose minimum the goods reach by
        themselves, can take what would be left
    """
    lines = made.later
    ordered = {(chance.vendor, chance.day) for _, chance, _ in made.bought}
    value = goods(lines)
    far = _beyond(house, wishes, lines)
    barred: dict[str, frozenset[Drop]] = {}
    for drop, amount in sorted(value.items()):
        if drop not in far or lacks(house.vendors[drop[0]], amount) <= 0:
            continue
        small = [v.id for v in house.vendors.values() if v.minimum <= amount]
        is_open = ordered | {(vendor, day) for vendor in small for day in range(drop[1] + 1)}
        for item in _waiting(lines, drop):
            out = frozenset(d for d in far if d[1] <= drop[1])
            if _comes_now(wishes[item], lines[item], drop, is_open, out):
                barred[item] = barred.get(item, frozenset()) | out
    return barred


def _beyond(house: House, wishes: Mapping[str, Wish], lines: Lines) -> frozenset[Drop]:
    """Later deliveries, foreseen or not, that stay below the minimum with all that can come with them."""
    later = {(c.vendor, c.day) for wish in wishes.values() for _, c in wish.pairs if not c.is_now}
    company: dict[Drop, float] = dict.fromkeys(later, 0.0)
    for item, own in lines.items():
        keeps = wishes[item].cover.keeps_days
        ahead = AHEAD_DAYS if keeps is None else min(AHEAD_DAYS, max(keeps - 1, 0))
        for offer, chance, packs in own:
            amount = float(line_amount(offer, packs))
            for day in range(chance.day - ahead, chance.day + 1):
                if (chance.vendor, day) in company:
                    company[chance.vendor, day] += amount
    return frozenset(
        drop for drop, value in company.items() if value < float(house.vendors[drop[0]].minimum) - NOTHING
    )


def _waiting(lines: Lines, drop: Drop) -> list[str]:
    return sorted(
        item for item, of_item in lines.items() if any((c.vendor, c.day) == drop for _, c, _ in of_item)
    )


def _comes_now(
    wish: Wish, lines: Sequence[Line], drop: Drop, is_open: set[Drop], out: frozenset[Drop]
) -> bool:
    """Whether an order now can bring what would be left to the delivery, nothing later can, and it pays."""
    keeps = wish.cover.keeps_days
    pairs = [
        (offer, chance)
        for offer, chance in wish.pairs
        if chance.is_now
        and (chance.vendor, chance.day) in is_open
        and chance.day <= drop[1]
        and (keeps is None or drop[1] <= chance.day + keeps)
    ]
    if not pairs or drop[1] > max(wish.cover.window, wish.cover.until):
        return False
    base, left = wish.without(frozenset())[1], wish.without(out)[1]
    if left <= base + ENOUGH:
        return False
    lost = sum(float(line_amount(o, n)) for o, c, n in lines if (c.vendor, c.day) == drop)
    was = sum(float(line_amount(o, n)) for o, _, n in lines)
    tried = [(o, c, packs_needed(left - base, o.pack_quantity)) for o, c in pairs]
    for offer, chance, packs in sorted(tried, key=lambda t: (line_amount(t[0], t[2]), -t[1].day, t[0].code)):
        more = replace(wish, ordered=[*wish.ordered, (chance.day, packs * offer.pack_quantity)])
        then, still = more.without(out)
        if still <= base + ENOUGH:
            now = float(line_amount(offer, packs)) + sum(float(line_amount(o, n)) for o, _, n in then)
            return now - was < LOST * lost
    return False


def without(pairs: Sequence[tuple[Offer, Chance]], barred: frozenset[Drop]) -> Pairs:
    """Offers and deliveries, some deliveries left out."""
    return [(offer, chance) for offer, chance in pairs if (chance.vendor, chance.day) not in barred]


def is_better(house: House, before: Outcome, after: Outcome, until: int) -> bool:
    """Whether a second decision is worth more than the first.

    It must ask for no further delivery below its minimum and leave none it orders shorter of it, and goods
    over the horizon, with what is lost where deliveries up to day `until` do not come, must be less.
    """
    was, now = _short(house, before.bought), _short(house, after.bought)
    if any(short > was.get(drop, 0.0) + NOTHING for drop, short in now.items()):
        return False
    return _money(house, after, until) < _money(house, before, until) - NOTHING


def _short(house: House, bought: Sequence[Bought]) -> dict[Drop, float]:
    return {drop: lacks(house.vendors[drop[0]], value) for drop, value in goods({"": bought}).items()}


def _money(house: House, outcome: Outcome, until: int) -> float:
    own = goods({**outcome.later, "": outcome.bought})
    later = goods(outcome.later)
    lost = sum(v for drop, v in later.items() if drop[1] <= until and lacks(house.vendors[drop[0]], v) > 0)
    return sum(own.values()) + LOST * lost
