"""What can be bought: offers x deliveries x price steps, and the terms of each delivery."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from types import MappingProxyType

from ordering.buy.pack_prices import packs_needed, price_tiers
from ordering.buy.requirements import EPS, DeliveryConstraints
from ordering.records.buying import Delivery, DeliveryKey
from ordering.records.house import House
from ordering.records.vendors import Offer, Vendor

NONE_PLACED: Mapping[DeliveryKey, Decimal] = MappingProxyType({})

FAVOUR = 0.2
"""What an order below the vendor's minimum costs in asking, and in the risk of a refusal, as a part of the
minimum; common practice, no source. Never more than is lost when the goods do not come."""


@dataclass(frozen=True, slots=True)
class Choice:
    """Packs of one offer with one delivery at one price step; `item` is the index of its constraints.

    low, high : fewest and most packs at this price; of a later delivery any amount up to `high`
    each : money for one pack; of a later delivery including what of it would spoil
    """

    item: int
    offer: Offer
    delivery: Delivery
    low: int
    high: int
    each: float

    @property
    def key(self) -> DeliveryKey:
        """What tells its delivery from others."""
        return self.delivery.vendor, self.delivery.deliver_on


@dataclass(frozen=True, slots=True)
class DeliveryTerms:
    """One delivery as the decision sees it, in money.

    minimum : goods that it must still reach;  refusal : what less than that costs
    fee : charged once it takes place;  waived_over : goods from which it is not (None: never)
    """

    key: DeliveryKey
    is_now: bool
    minimum: float
    refusal: float
    fee: float
    waived_over: float | None


@dataclass(frozen=True, slots=True)
class BuyingProblem:
    """One decision: what each ingredient needs, all that can be chosen, the terms of every delivery.

    later_prices : by ingredient, money for a unit of what is wanted after the days looked at, today
    """

    items: tuple[DeliveryConstraints, ...]
    choices: tuple[Choice, ...]
    deliveries: tuple[DeliveryTerms, ...]
    later_prices: tuple[float, ...]


def problem(
    house: House,
    items: Sequence[DeliveryConstraints],
    placed: Mapping[DeliveryKey, Decimal] = NONE_PLACED,
    losses: Mapping[str, float] = MappingProxyType({}),
) -> BuyingProblem:
    """Every choice there is for the ingredients, in a stable sequence.

    Parameters
    ----------
    placed : money of earlier orders by delivery: it comes anyway, and its fee is charged already
    losses : by ingredient, money lost with a unit that does not come; no limit where not given
    """
    choices: list[Choice] = []
    prices = []
    for index, item in enumerate(items):
        guess = _guess(item)
        choices += [*_now(index, item, guess, house.vendors), *_later(index, item, guess)]
        prices.append(min(_unit_prices(item, guess), default=0.0))
    return BuyingProblem(
        tuple(items), tuple(choices), _deliveries(house, items, choices, placed, losses), tuple(prices)
    )


def _deliveries(
    house: House,
    items: Sequence[DeliveryConstraints],
    choices: Sequence[Choice],
    placed: Mapping[DeliveryKey, Decimal],
    losses: Mapping[str, float],
) -> tuple[DeliveryTerms, ...]:
    lost: dict[DeliveryKey, dict[int, float]] = {}
    company: dict[DeliveryKey, dict[int, float]] = {}
    is_now: dict[DeliveryKey, bool] = {}
    for c in choices:
        item, day = items[c.item], c.delivery.day
        is_now[c.key] = c.delivery.is_now
        unit = c.each / c.offer.pack_quantity
        loss = max(unit, losses.get(item.item, math.inf))
        wanted = item.use_between(day, item.window)
        lost.setdefault(c.key, {})[c.item] = loss * wanted if wanted > EPS else 0.0
        if not c.delivery.is_now:
            company.setdefault(c.key, {})[c.item] = unit * item.use_after_window(day)
    return tuple(
        _terms(
            house.vendors[key[0]],
            key,
            is_now[key],
            float(placed.get(key, 0)),
            sum(lost[key].values()),
            sum(company.get(key, {}).values()),
        )
        for key in sorted(is_now, key=lambda k: (k[1], k[0]))
    )


def _terms(
    vendor: Vendor, key: DeliveryKey, is_now: bool, placed: float, lost: float, company: float
) -> DeliveryTerms:
    """`company`: goods for days after those looked at that come with a later delivery anyway."""
    minimum = max(0.0, float(vendor.minimum) - placed - company)
    waived_over = None if vendor.fee_waived_over is None else float(vendor.fee_waived_over) - company
    is_free = placed > 0 or (waived_over is not None and waived_over <= 0)
    return DeliveryTerms(
        key=key,
        is_now=is_now,
        minimum=minimum,
        refusal=min(FAVOUR * float(vendor.minimum), lost) if minimum > 0 else 0.0,
        fee=0.0 if is_free else float(vendor.delivery_fee),
        waived_over=waived_over,
    )


def _guess(item: DeliveryConstraints) -> float:
    """Price of a unit where an offer has none: twice the dearest of the others, so that it comes last."""
    known = [float(o.price) / o.pack_quantity for o, _ in item.pairs if o.price is not None]
    return 2 * max(known, default=0.005)


def _unit_prices(item: DeliveryConstraints, guess: float) -> list[float]:
    return [
        guess if offer.price is None else float(offer.price) / offer.pack_quantity for offer, _ in item.pairs
    ]


def _now(index: int, item: DeliveryConstraints, guess: float, vendors: Mapping[str, Vendor]) -> list[Choice]:
    """Whole packs of every offer with every delivery due now, at each price step worth reaching.

    Beyond what is of use no more is ever bought than it saves: the fee, or asking below the minimum.
    """
    choices = []
    for offer, delivery in item.pairs:
        if not delivery.is_now:
            continue
        tiers = price_tiers(offer, guess * offer.pack_quantity)
        most = max(1, packs_needed(item.useful(delivery.day), offer.pack_quantity))
        spare = _worth_of_more(vendors[offer.vendor])
        if tiers[0][1] > 0:
            most += int(spare / tiers[0][1])
        ends = [least - 1 for least, _ in tiers[1:]] + [10**9]
        for (low, each), end in zip(tiers, ends, strict=True):
            if low <= _worth_reaching(most, tiers, spare):
                choices.append(Choice(index, offer, delivery, low, min(end, max(most, low)), each))
    return choices


def _worth_of_more(vendor: Vendor) -> float:
    """Most money that a larger order can save with one delivery."""
    fee = 0.0 if vendor.fee_waived_over is None else float(vendor.delivery_fee)
    return max(FAVOUR * float(vendor.minimum), fee)


def _worth_reaching(most: int, tiers: Sequence[tuple[int, float]], spare: float) -> int:
    """Upper bound on useful packs: a break beyond what is wanted pays only if it costs no more in all."""
    reachable = [least for least, each in tiers if least * each <= most * tiers[0][1] + spare + EPS]
    return max([most, *reachable])


def _later(index: int, item: DeliveryConstraints, guess: float) -> list[Choice]:
    """Later deliveries in any amount, of each vendor and day the cheapest offer."""
    best: dict[DeliveryKey, Choice] = {}
    for offer, delivery in item.pairs:
        if delivery.is_now:
            continue
        most = packs_needed(item.useful(delivery.day), offer.pack_quantity)
        choice = Choice(index, offer, delivery, 0, most, _later_price(item, offer, delivery.day, guess))
        known = best.get(choice.key)
        if known is None or _unit(choice) < _unit(known) - EPS:
            best[choice.key] = choice
    return [choice for choice in best.values() if choice.high > 0]


def _unit(choice: Choice) -> float:
    return choice.each / choice.offer.pack_quantity


def _later_price(item: DeliveryConstraints, offer: Offer, day: int, guess: float) -> float:
    """Money for a pack later on, at the price step the need will reach; a pack that holds more spoils.

    Rounding up by part of a pack is not counted: a delivery due now would round as well, and what can wait is
    better decided when more is known.
    """
    wanted = item.useful(day) / offer.pack_quantity
    tiers = price_tiers(offer, guess * offer.pack_quantity)
    each = next(price for least, price in reversed(tiers) if least <= max(1, math.ceil(wanted)))
    if not item.is_spoilt_in_sight(day) or wanted <= EPS:
        return each
    return each / min(1.0, wanted)
