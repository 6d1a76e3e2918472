"""What can be bought: deliveries x offers x price steps, as columns of one decision."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from types import MappingProxyType

from ordering.buy.curve import NOTHING, Cover
from ordering.buy.money import packs_needed, price_tiers
from ordering.records.house import House, Offer, Vendor
from ordering.records.plan import Chance

Drop = tuple[str, date]
"""A delivery: vendor and day."""

NONE_PLACED: Mapping[Drop, Decimal] = MappingProxyType({})


@dataclass(frozen=True, slots=True)
class Choice:
    """Packs of one offer with one delivery at one price step; `cover` is the index of its Cover.

    low, high : fewest and most packs at this price; a later delivery may also bring part of one
    each : money for one pack; for a later delivery including what of it would spoil
    """

    cover: int
    offer: Offer
    chance: Chance
    low: int
    high: int
    each: float

    @property
    def drop(self) -> Drop:
        return self.chance.vendor, self.chance.deliver_on


@dataclass(frozen=True, slots=True)
class Problem:
    """One decision: covers to fill, choices to fill them with, and the drops (vendor, day) due now.

    sellers : vendor of each drop, with what earlier orders for that delivery leave of its minimum and fee
    worths : money per unit for what is of use after a cover's window
    """

    covers: tuple[Cover, ...]
    choices: tuple[Choice, ...]
    drops: tuple[Drop, ...]
    sellers: tuple[Vendor, ...]
    worths: tuple[float, ...]


WORTH_LATER = 0.9
"""Worth of goods wanted only after the days looked at, against their best price; common practice
(money tied up, things change), no source."""


FRESH = 2e-6
"""Part of its price by which a pack a day fresher is better: breaks ties, decides nothing else."""
PREFERRED = 4e-7


def tie(choice: Choice, cover: Cover) -> float:
    """Factor on a price that lets the latest delivery win a tie, then the preferred offer."""
    return 1.0 + FRESH * (cover.window - choice.chance.day) - PREFERRED * choice.offer.is_preferred


def problem(house: House, covers: Sequence[Cover], placed: Mapping[Drop, Decimal] = NONE_PLACED) -> Problem:
    """Every choice there is for the covers, in a stable sequence; `placed` is money of earlier orders.

    For deliveries due now each offer, delivery and price step is a choice in whole packs. Of the later
    ones, which are bought in any amount, only those cheaper than what comes before are kept.
    """
    choices: list[Choice] = []
    worths = []
    for index, cover in enumerate(covers):
        guess = _guess(cover)
        choices += _now(index, cover, guess)
        later = _later(index, cover, guess)
        choices += later
        worths.append(WORTH_LATER * min(_unit_prices(cover, guess), default=0.0))
    drops = tuple(sorted({c.drop for c in choices if c.chance.is_now}))
    sellers = tuple(_seller(house.vendors[drop[0]], placed.get(drop, Decimal(0))) for drop in drops)
    return Problem(tuple(covers), tuple(choices), drops, sellers, tuple(worths))


def _seller(vendor: Vendor, placed: Decimal) -> Vendor:
    """A vendor's terms for more goods with a delivery: it comes anyway, and its fee is charged already."""
    if placed <= 0:
        return vendor
    return replace(vendor, minimum=max(Decimal(0), vendor.minimum - placed), delivery_fee=Decimal(0))


def _guess(cover: Cover) -> float:
    """Price of a unit where an offer has none: twice the dearest of the others, so that it comes last."""
    known = [float(o.price) / o.pack_quantity for o, _ in cover.pairs if o.price is not None]
    return 2 * max(known, default=0.005)


def _unit_prices(cover: Cover, guess: float) -> list[float]:
    return [
        guess if offer.price is None else float(offer.price) / offer.pack_quantity for offer, _ in cover.pairs
    ]


def _now(index: int, cover: Cover, guess: float) -> list[Choice]:
    choices = []
    for offer, chance in cover.pairs:
        if not chance.is_now:
            continue
        most = max(1, packs_needed(cover.useful(chance.day), offer.pack_quantity))
        tiers = price_tiers(offer, guess * offer.pack_quantity)
        ends = [least - 1 for least, _ in tiers[1:]] + [10**9]
        for (low, each), end in zip(tiers, ends, strict=True):
            if low <= _worth_reaching(most, tiers):
                choices.append(Choice(index, offer, chance, low, min(end, max(most, low)), each))
    return choices


def _worth_reaching(most: int, tiers: Sequence[tuple[int, float]]) -> int:
    """Most packs worth a thought: a break beyond what is wanted pays only if it costs no more in all."""
    reachable = [least for least, each in tiers if least * each <= most * tiers[0][1] + NOTHING]
    return max([most, *reachable])


def _later(index: int, cover: Cover, guess: float) -> list[Choice]:
    """Later deliveries, cheapest of each day; of goods that keep, only those cheaper than before."""
    best: dict[int, Choice] = {}
    for offer, chance in cover.pairs:
        if chance.is_now:
            continue
        choice = Choice(index, offer, chance, 0, 10**6, _later_price(cover, offer, chance.day, guess))
        known = best.get(chance.day)
        if known is None or _unit(choice) < _unit(known) - NOTHING:
            best[chance.day] = choice
    kept: list[Choice] = []
    for choice in (best[day] for day in sorted(best)):
        is_spoilt = cover.keeps_days is not None and best and min(best) + cover.keeps_days < cover.window
        if is_spoilt or not kept or _unit(choice) < _unit(kept[-1]) - NOTHING:
            kept.append(choice)
    return kept


def _unit(choice: Choice) -> float:
    return choice.each / choice.offer.pack_quantity


def _later_price(cover: Cover, offer: Offer, day: int, guess: float) -> float:
    """Money for a pack later on, at the price step the need will reach; a pack that holds more spoils.

    Rounding up by part of a pack is not counted: a delivery due now would round as well, and what can wait is
    better decided when more is known.
    """
    wanted = cover.useful(day) / offer.pack_quantity
    tiers = price_tiers(offer, guess * offer.pack_quantity)
    each = next(price for least, price in reversed(tiers) if least <= max(1, math.ceil(wanted)))
    if not cover.is_spoilt_in_sight(day) or wanted <= NOTHING:
        return each
    return each / min(1.0, wanted)
