"""What the deliveries of each ingredient must cover between them.

Goods delivered on day d can be used on days d to d + keeps_days. Between two sets of deliveries this
makes one simple kind of condition, a `CoverSpan`: what deliveries of certain days must bring at the least.
Need of a day can be met by the deliveries of the `keeps_days` before it and of the day itself; these are
intervals that move forward with the day, so that the conditions over all intervals of deliveries are not
only necessary but enough (Hall's theorem for convex bipartite graphs, Glover 1967; from memory).
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np

from ordering.buy.deliveries import cut_off
from ordering.records.buying import Delivery, Shortfall
from ordering.records.house import House, Ingredient
from ordering.records.plan import Array, Requirement
from ordering.records.vendors import Offer

AHEAD_DAYS = 10
"""Days looked ahead for the sake of cost; measured, not published."""

EPS = 1e-9
"""Part of a unit that floating point may leave over."""


@dataclass(frozen=True, slots=True)
class CoverSpan:
    """Deliveries of days `first` to `last` bring `quantity` or more; `is_par`: for the par."""

    first: int
    last: int
    quantity: float
    is_par: bool = False


@dataclass(frozen=True, slots=True)
class WantedLater:
    """Wanted after the days looked at, while it keeps: `quantity`, on average on day `day`."""

    quantity: float
    day: float


NEVER = WantedLater(0.0, 0.0)


@dataclass(frozen=True, slots=True)
class DeliveryConstraints:
    """What is asked of the deliveries of one ingredient, in its unit.

    pairs : offers with the deliveries they can come with, up to day `window`
    need : [day], cumulative, what deliveries can still meet; the rest is in `unreached`, [day], by day
    spans : conditions on the deliveries up to `window`
    rest : (first day, quantity): what deliveries from that day on bring beyond `quantity` is left after
        `window`; the least of these counts
    wanted_later : what is left is of use for
    """

    item: str
    keeps_days: int | None
    pairs: tuple[tuple[Offer, Delivery], ...]
    need: Array
    unreached: Array
    spans: tuple[CoverSpan, ...]
    rest: tuple[tuple[int, float], ...]
    wanted_later: WantedLater
    window: int

    def use_between(self, first: int, last: int) -> float:
        """Need of days `first` to `last`, ends inclusive, cut to the horizon."""
        last = min(last, len(self.need) - 1)
        before = self.need[first - 1] if first > 0 else 0.0
        return float(self.need[last] - before) if last >= first else 0.0

    def use_after_window(self, day: int) -> float:
        """Need of as many days again after those looked at that a delivery on that day can meet."""
        last = self.window + AHEAD_DAYS
        return self.use_between(
            self.window + 1, last if self.keeps_days is None else min(last, day + self.keeps_days)
        )

    def is_good(self, delivered: int, day: int) -> bool:
        """Whether what comes on the first of these days can still be used on the other."""
        return self.keeps_days is None or day - delivered <= self.keeps_days

    def is_spoilt_in_sight(self, day: int) -> bool:
        """Whether what is delivered on that day spoils within the horizon, so that its waste can be told."""
        return self.keeps_days is not None and day + self.keeps_days < len(self.need)

    def useful(self, day: int) -> float:
        """Most that a delivery on that day can bring and still be wanted in time."""
        last = len(self.need) - 1 if self.keeps_days is None else day + self.keeps_days
        par = max((s.quantity for s in self.spans if s.is_par and s.first <= day <= s.last), default=0.0)
        return max(self.use_between(day, last), par)


def delivery_constraints(
    ingredient: Ingredient, pairs: Sequence[tuple[Offer, Delivery]], requirement: Requirement
) -> DeliveryConstraints | None:
    """Conditions on the deliveries of one ingredient; None when nothing is needed or no par is kept.

    `pairs` are its offers and deliveries over the whole horizon, in delivery order.
    """
    n_days = len(requirement.required)
    arrivals = sorted({delivery.day for _, delivery in pairs})
    need, unreached = _reachable(requirement.required, arrivals, ingredient.keeps_days)
    if need[-1] <= EPS and not ingredient.par:
        return None if unreached.sum() <= EPS else _empty(ingredient, need, unreached)
    window = _window(pairs, n_days)
    days = [day for day in arrivals if day <= window]
    spans = _use_spans(need, days, ingredient.keeps_days, window)
    if ingredient.par:
        spans += _par_spans(ingredient.par, requirement, days, ingredient.keeps_days)
    return DeliveryConstraints(
        item=ingredient.id,
        keeps_days=ingredient.keeps_days,
        pairs=tuple(pair for pair in pairs if pair[1].day <= window),
        need=need,
        unreached=unreached,
        spans=tuple(spans),
        rest=tuple(_rest(need, days, ingredient.keeps_days, window)),
        wanted_later=_wanted_later(need, days, ingredient.keeps_days, window),
        window=window,
    )


def _empty(ingredient: Ingredient, need: Array, unreached: Array) -> DeliveryConstraints:
    """Constraints of what no offer can bring; need, unreached : [day]."""
    return DeliveryConstraints(
        ingredient.id, ingredient.keeps_days, (), need, unreached, (), (), NEVER, len(need) - 1
    )


def _reachable(required: Array, arrivals: Sequence[int], keeps_days: int | None) -> tuple[Array, Array]:
    """Cumulative need that some delivery can meet, and by day what none can. All [day].

    A day is out of reach before the first delivery, and when all that came before has spoilt.
    """
    daily = np.diff(np.maximum.accumulate(np.maximum(required, 0.0)), prepend=0.0)
    at = np.arange(len(required))
    if not arrivals:
        return np.zeros(len(required)), daily
    latest = np.searchsorted(np.asarray(arrivals), at, side="right") - 1
    is_met = latest >= 0
    if keeps_days is not None:
        is_met &= at - np.asarray(arrivals)[np.maximum(latest, 0)] <= keeps_days
    return np.cumsum(np.where(is_met, daily, 0.0)), np.where(is_met, 0.0, daily)


def _window(pairs: Sequence[tuple[Offer, Delivery]], n_days: int) -> int:
    """Last day looked at: ten days ahead, and as long as any delivery due now must last."""
    last = AHEAD_DAYS - 1
    for vendor in {offer.vendor for offer, _ in pairs}:
        now = [c.day for o, c in pairs if o.vendor == vendor and c.is_now]
        if now:
            later = [c.day for o, c in pairs if o.vendor == vendor and not c.is_now and c.day > max(now)]
            last = max(last, min(later, default=n_days) - 1)
    return min(last, n_days - 1)


def _spoilt(need: Array, day: int, keeps_days: int | None) -> float:
    """Cumulative need up to the last day on which goods delivered on `day` can be used. need : [day]."""
    last = len(need) - 1
    return float(need[last if keeps_days is None else min(day + keeps_days, last)])


def _use_spans(need: Array, days: Sequence[int], keeps_days: int | None, window: int) -> list[CoverSpan]:
    """What is used from each delivery to the next; need : cumulative, [day]."""
    spans: list[CoverSpan] = []
    for a, first in enumerate(days):
        met = _spoilt(need, days[a - 1], keeps_days) if a else 0.0
        known = EPS
        for b in range(a, len(days)):
            last_use = days[b + 1] - 1 if b + 1 < len(days) else window
            quantity = float(need[last_use]) - met
            if quantity > known:
                spans.append(CoverSpan(first, days[b], quantity))
                known = quantity + EPS
    return spans


def _par_spans(
    par: float, requirement: Requirement, days: Sequence[int], keeps_days: int | None
) -> list[CoverSpan]:
    """Par after each delivery: stock left and deliveries still good, less their expected use."""
    spans = []
    used = np.concatenate([[0.0], requirement.expected])
    for day in days:
        good = [d for d in days if d <= day and (keeps_days is None or day - d <= keeps_days)]
        gone = [d for d in days if d < good[0]]
        met = used[min(gone[-1] + (keeps_days or 0) + 1, day)] if gone else 0.0
        quantity = par - float(requirement.stock_left[day]) + float(used[day] - met)
        if quantity > EPS:
            spans.append(CoverSpan(good[0], day, quantity, is_par=True))
    return spans


def _rest(need: Array, days: Sequence[int], keeps_days: int | None, window: int) -> list[tuple[int, float]]:
    """What goods of each delivery serve after the days looked at; need : cumulative, [day]."""
    if not days:
        return []
    rows = [(days[0], float(need[window]))]
    if keeps_days is not None:
        gone = [(day, _spoilt(need, before, keeps_days)) for before, day in itertools.pairwise(days)]
        rows += [(day, float(need[window]) - met) for day, met in gone]
    return rows


def _wanted_later(need: Array, days: Sequence[int], keeps_days: int | None, window: int) -> WantedLater:
    """Need after `window` while goods of the last delivery keep. need : cumulative, [day]."""
    if not days:
        return NEVER
    last = len(need) - 1
    end = last if keeps_days is None else min(days[-1] + keeps_days, last)
    return WantedLater(max(0.0, float(need[end] - need[window])), (window + 1 + end) / 2)


def unmet_of(
    house: House, item: DeliveryConstraints, pairs: Sequence[tuple[Offer, Delivery]], days: Sequence[date]
) -> list[Shortfall]:
    """Need of one ingredient out of reach, by day."""
    return [
        Shortfall(item.item, days[day], float(short), _cause(house, item, pairs, days, day))
        for day, short in enumerate(item.unreached)
        if short > EPS
    ]


def given_up_of(
    item: str, requirement: Requirement, pairs: Sequence[tuple[Offer, Delivery]], days: Sequence[date]
) -> list[Shortfall]:
    """What netting gives up, by day, because a pack would cost more than it saves.

    Told are the days that this order decides: from its first delivery to the first of the next run.
    """
    now = [delivery.day for _, delivery in pairs if delivery.is_now]
    if not now or requirement.given_up is None:
        return []
    end = min((d.day for _, d in pairs if not d.is_now and d.day > min(now)), default=len(days))
    return [
        Shortfall(item, days[day], float(requirement.given_up[day]), "not-worth")
        for day in range(min(now), end)
        if requirement.given_up[day] > EPS
    ]


def _cause(
    house: House,
    item: DeliveryConstraints,
    pairs: Sequence[tuple[Offer, Delivery]],
    days: Sequence[date],
    day: int,
) -> str:
    offers = house.ingredients[item.item].offers
    first = 0 if item.keeps_days is None else max(0, day - item.keeps_days)
    in_time = days[first : day + 1]
    asked = [(o, when) for o in offers for when in in_time if _could_be_asked(house, o, when, days[0])]
    holding = [(o, when) for o, when in asked if o.holds_on(when)]
    if (asked and not holding) or not any(o.holds_on(when) for o in offers for when in in_time):
        return "no-offer"
    if any(when in house.vendors[o.vendor].closed for o, when in holding):
        return "vendor-closed"
    return "expires" if any(delivery.day < day for _, delivery in pairs) else "no-delivery"


def _could_be_asked(house: House, offer: Offer, when: date, on: date) -> bool:
    """Whether the vendor comes on such a day, closed or not, and its cut-off is not yet behind."""
    deliveries = house.vendors[offer.vendor].deliveries
    return any(d.weekday == when.weekday() and cut_off(d, when).date() >= on for d in deliveries)
