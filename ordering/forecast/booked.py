"""A service without a past: the guests on its books are the least that will come, and what they may eat."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import betaincinv

from ordering.amounts import plural
from ordering.days import service_title
from ordering.forecast.bookings import without_parties
from ordering.forecast.menu_mix import ALIKE
from ordering.forecast.paths import UNKNOWN_DISPERSION, USUAL_SHARE, Marginals, dealt, even_ranks, scores
from ordering.forecast.service import ServiceForecast
from ordering.records.house import House
from ordering.records.plan import QUANTILES, Slot

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class FromBooks:
    """What a service without a past is planned for, from its books alone.

    guests : [slot], walk-ins that have booked, 0 where none have
    portions : [dish, slot], expected, rows as the house's dishes
    """

    guests: Array
    portions: Array
    notes: tuple[str, ...]


def seen_mix(known: Iterable[ServiceForecast]) -> dict[str, float]:
    """Portions a cover of every dish sold at the services with a past, all of these together."""
    portions: dict[str, float] = {}
    covers: dict[str, float] = {}
    for one in known:
        if one.portions is None:
            continue
        guests = float(one.coming.series.mean[0].sum())
        for n, dish in enumerate(one.portions.dishes):
            if one.portions.row[n] >= 0:
                portions[dish] = portions.get(dish, 0.0) + float(one.portions.mean[n].sum())
                covers[dish] = covers.get(dish, 0.0) + guests
    return {dish: portions[dish] / covers[dish] for dish in portions if covers[dish] > 0}


def from_the_books(
    house: House, slots: Sequence[Slot], booked: Array, seen: Mapping[str, float]
) -> FromBooks:
    """What one service without a past is planned for.

    Parameters
    ----------
    slots : of that service alone
    booked : [slot], covers on the books, NaN where nothing is known
    seen : portions a cover by dish, as from `seen_mix`

    Notes
    -----
    A dish is eaten as at the house's other services, or as the one it is `like`; of what was never sold
    every dish on offer gets an equal share of one portion a guest. One is little where guests eat three
    courses, but no course and no sale says so, and what is planned is the least.
    """
    if not slots:
        return FromBooks(np.zeros(0), np.zeros((len(house.dishes), 0)), ())
    service, days = slots[0].service, [slot.date for slot in slots]
    guests = np.floor(np.nan_to_num(without_parties(house, service, days, booked)))
    portions = np.zeros((len(house.dishes), len(slots)))
    is_seen = False
    for n, slot in enumerate(slots):
        if not house.is_open(slot.date, service):
            guests[n] = 0.0
        offered = [d.is_on(slot.date, service) for d in house.dishes.values()]
        for row, dish in enumerate(house.dishes.values()):
            if offered[row] and guests[n]:
                each = seen.get(dish.id, seen.get(dish.like or ""))
                is_seen = is_seen or each is not None
                portions[row, n] = guests[n] * (1.0 / sum(offered) if each is None else each)
    return FromBooks(guests, portions, tuple(_notes(service, guests, is_seen)))


def drawn_of_booked(
    slots: Sequence[Slot], mean: Array, guests: Array, rng: np.random.Generator, n_paths: int
) -> Marginals:
    """Portions of one dish on slots of one service; mean, guests : [slot]."""
    day = np.array([slot.day for slot in slots], dtype=np.int64)
    score = scores(rng, day, USUAL_SHARE, n_paths)
    ranks = np.concatenate([QUANTILES, even_ranks(n_paths)])
    pairs, which = np.unique(np.column_stack([mean, guests]), axis=0, return_inverse=True)
    found = np.stack([share_quantiles(one, of, ranks) for one, of in pairs.tolist()])[which.ravel()]
    paths = dealt(found[:, len(QUANTILES) :], score)
    return Marginals(paths.mean(axis=1), found[:, : len(QUANTILES)], paths)


def share_quantiles(mean: float, guests: float, rank: Array) -> Array:
    """Quantiles [rank] of how many of so many guests take a dish: whole numbers, never more than guests.

    Parameters
    ----------
    mean : portions expected; from as many as there are guests on, nothing scatters
    rank : [rank], 0 to 1

    Notes
    -----
    Each guest takes it with one chance, which is itself beta about mean / guests, as uncertain as the
    mean of any dish without a past: a beta-binomial, its share read off the beta of the same mean and
    variance (Johnson, Kemp and Kotz, Univariate Discrete Distributions, section 6.2.2, from memory).
    """
    if mean >= guests:
        return np.full(len(rank), np.floor(mean + 0.5))
    share = mean / guests
    chance = min(UNKNOWN_DISPERSION * share / (1 - share), 1.0)  # variance over share (1 - share)
    variance = min(chance + (1 - chance) / guests, 0.9)
    size = 1 / variance - 1
    return np.asarray(np.floor(guests * betaincinv(size * share, size * (1 - share), rank) + 0.5))


def _notes(service: str, guests: Array, is_seen: bool) -> list[str]:
    """What is said of covers booked alone; guests : [day]."""
    n = int((guests > 0).sum())
    if not n:
        return []
    head = (
        f"{service_title(service)}: planned for {guests.sum():.0f} covers booked ({plural(n, 'service')}), "
        "the least that will come; without a past in the books nothing is planned for walk-ins"
    )
    seen = "what guests eat is taken from the other services, a new dish gets an equal share"
    tail = f"{seen}; look over every amount before ordering" if is_seen else ALIKE
    return [head, f"{service_title(service)}: {tail}"]
