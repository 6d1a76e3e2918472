"""Covers and portions of the coming services, with sample paths."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

import numpy as np
from numpy.typing import NDArray

from ordering.forecast.covers import coming_covers, special_of
from ordering.forecast.history import Past, past_of, sound
from ordering.forecast.menu_mix import Portions, coming_portions
from ordering.forecast.outlook import Outlook
from ordering.forecast.paths import even_ranks, moved_by, scores, stream
from ordering.forecast.spread import count_quantile, recalibrated
from ordering.records.books import Books
from ordering.records.house import House
from ordering.records.plan import QUANTILES, Forecast, Slot

Array = NDArray[np.float64]
Index = NDArray[np.int64]

LEAST_AHEAD = 60
LASTING = 0.2


def slots_of(house: House, days: Sequence[date]) -> tuple[Slot, ...]:
    """Services that are open to walk-ins or hold a private party, day by day."""
    hired = {(party.date, party.service) for party in house.parties}
    return tuple(
        Slot(day, service, n)
        for n, day in enumerate(days)
        for service in house.services
        if house.is_open(day, service) or (day, service) in hired
    )


def forecast(house: House, books: Books, days: Sequence[date], seed: int, n_paths: int) -> Forecast:
    """Covers and portions of every service on the days given.

    Parameters
    ----------
    days : consecutive days; the first is the day of the run, and only rows dated before it are history
    seed : paths are the same for the same seed, whatever else the house holds
    n_paths : sample paths, 1 or more

    Returns
    -------
    Forecast; portions and covers are whole numbers of guests and plates, never negative
    """
    slots = slots_of(house, days)
    dishes = tuple(house.dishes)
    shape = (len(dishes), len(slots))
    made = _Made(
        np.zeros(len(slots)),
        np.zeros((len(slots), len(QUANTILES))),
        np.zeros((len(slots), n_paths)),
        np.zeros(shape),
        np.zeros((*shape, len(QUANTILES))),
        np.zeros((*shape, n_paths)),
    )
    notes: list[str] = []
    for service in house.services:
        notes += _of_service(house, books, service, slots, (days[0], len(days), seed), made)
    party = _parties(house, slots, dishes, made)
    return Forecast(
        days=tuple(days),
        slots=slots,
        dishes=dishes,
        covers_mean=made.covers_mean,
        covers_quantiles=made.covers_quantiles,
        covers=made.covers,
        mean=made.mean,
        quantiles=made.quantiles,
        portions=made.portions,
        party=party,
        booked=np.full(len(slots), np.nan),
        notes=tuple(dict.fromkeys(notes)),
    )


class _Made:
    """Arrays of a forecast while they are filled, service by service."""

    __slots__ = ("covers", "covers_mean", "covers_quantiles", "mean", "portions", "quantiles")

    def __init__(self, *arrays: Array) -> None:
        (self.covers_mean, self.covers_quantiles, self.covers, self.mean, self.quantiles, self.portions) = (
            arrays
        )


def _of_service(
    house: House, books: Books, service: str, slots: Sequence[Slot], run: tuple[date, int, int], made: _Made
) -> list[str]:
    on, n_days, seed = run
    dishes = _needed(house, service)
    past = past_of(house, books, service, on, dishes)
    if past is None or not np.isfinite(past.covers).any():
        return [f"{service}: nothing in the books before {on}: only private parties are planned"]
    ahead = max(LEAST_AHEAD, n_days)
    special, note = special_of(house, past, ahead)
    past = sound(past, house.services[service].weekdays, special.holidays)
    notes = [note, *past.notes] if note else list(past.notes)
    if past.is_portions:
        notes.append(f"{service}: no covers in the books; portions sold stand in for them")
    coming = coming_covers(house, past, special, ahead)
    at = np.array([n for n, slot in enumerate(slots) if _takes_walk_ins(house, slot, past)])
    if not at.size:
        return notes
    day = np.array([slots[n].day for n in at])
    common = scores(stream(seed, f"covers {service}"), day, LASTING, made.covers.shape[1])
    made.covers_mean[at] = coming.outlook.mean[0, day]
    made.covers_quantiles[at], made.covers[at] = _drawn(
        coming.outlook, 0, coming.outlook.mean[0], day, common
    )
    if dishes:
        portions = coming_portions(house, coming, dishes, ahead)
        notes += portions.notes
        _fill_dishes(house, portions, (at, day), (slots, seed), common, made)
    return notes


def _takes_walk_ins(house: House, slot: Slot, past: Past) -> bool:
    return (
        slot.service == past.service
        and house.is_open(slot.date, slot.service)
        and slot.date.weekday() not in past.shut
    )


def _needed(house: House, service: str) -> tuple[str, ...]:
    """Dishes of a service and those they are like, in the order of the menu."""
    served = {dish.id for dish in house.dishes.values() if service in dish.services}
    lenders = {house.dishes[dish].like for dish in served}
    return tuple(dish for dish in house.dishes if dish in served or dish in lenders)


def _fill_dishes(
    house: House,
    portions: Portions,
    place: tuple[Index, Index],
    run: tuple[Sequence[Slot], int],
    common: Array,
    made: _Made,
) -> None:
    at, day = place
    slots, seed = run
    row = {dish: n for n, dish in enumerate(house.dishes)}
    service = slots[at[0]].service
    for n, dish in enumerate(portions.dishes):
        on = np.array([house.dishes[dish].is_on(slots[k].date, service) for k in at])
        if not on.any():
            continue
        own = scores(stream(seed, f"dish {dish} {service}"), day, LASTING, common.shape[1])
        score = moved_by(common, own, float(portions.link[n]))[on]
        slot = at[on]
        quantiles, paths = _drawn(portions.outlook, int(portions.row[n]), portions.mean[n], day[on], score)
        made.mean[row[dish], slot] = portions.mean[n, day[on]]
        made.quantiles[row[dish], slot], made.portions[row[dish], slot] = quantiles, paths


def _drawn(found: Outlook | None, row: int, mean: Array, day: Index, score: Array) -> tuple[Array, Array]:
    """Quantiles [slot, quantile] and paths [slot, path] of one series."""
    rank = even_ranks(score)
    level = np.broadcast_to(np.array(QUANTILES), (len(day), len(QUANTILES)))
    both = np.concatenate([level, rank], axis=1)
    dispersion = np.full(len(day), 0.2)
    if found is not None and row >= 0:
        bucket = found.bucket[day]
        dispersion = found.spread.dispersion[row, bucket]
        for b in np.unique(bucket):
            both[bucket == b] = recalibrated(both[bucket == b], found.spread.calibration[row, b])
    drawn = count_quantile(mean[day], dispersion, both)
    return drawn[:, : len(QUANTILES)], drawn[:, len(QUANTILES) :]


def _parties(house: House, slots: Sequence[Slot], dishes: Sequence[str], made: _Made) -> Array:
    """Adds private parties, which are certain; returns their portions [dish, slot]."""
    certain = np.zeros((len(dishes), len(slots)))
    place = {(slot.date, slot.service): n for n, slot in enumerate(slots)}
    row = {dish: n for n, dish in enumerate(dishes)}
    for party in house.parties:
        n = place.get((party.date, party.service))
        if n is None:
            continue
        made.covers_mean[n] += party.covers
        made.covers_quantiles[n] += party.covers
        made.covers[n] += party.covers
        for dish, portions in party.menu.items():
            certain[row[dish], n] += portions
    made.mean += certain
    made.quantiles += certain[:, :, None]
    made.portions += certain[:, :, None]
    return certain
