"""Covers and portions of the coming services, with sample paths."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

import numpy as np
from numpy.typing import NDArray

from ordering.amounts import plural
from ordering.days import format_day, service_title
from ordering.forecast.booked import FromBooks, drawn_of_booked, from_the_books, seen_mix
from ordering.forecast.bookings import age_of, last_booked
from ordering.forecast.menu_mix import DishForecasts
from ordering.forecast.paths import (
    Marginals,
    Scores,
    draw_keys,
    drawn,
    lasting_shares,
    moved_by,
    scatter_of,
    scores,
    stream,
    with_sure,
)
from ordering.forecast.service import ServiceForecast, bookings_of, service_forecast
from ordering.forecast.spread import BUCKETS
from ordering.records.books import Books
from ordering.records.house import House
from ordering.records.plan import QUANTILES, Forecast, Slot

Array = NDArray[np.float64]
Index = NDArray[np.int64]

HOUSE_SHARE = 0.4


def forecast(house: House, books: Books, days: Sequence[date], seed: int, n_paths: int) -> Forecast:
    """Covers and portions of every service on the days given.

    Parameters
    ----------
    days : consecutive days; the first is the day of the run, and only rows dated before it are history
    seed : paths are the same for the same seed, whatever else the house holds
    n_paths : sample paths, 1 or more

    Returns
    -------
    Forecast; portions and covers of the paths and quantiles are whole numbers, never negative
    """
    slots = slots_of(house, days)
    made = _empty(len(house.dishes), len(slots), n_paths)
    booked = np.full(len(slots), np.nan)
    notes: list[str] = list(_on_bookings(books, days[0]))
    quality: list[str] = []
    unknown: set[int] = set()
    ahead = max(BUCKETS[-1][1], len(days))
    every = {service: service_forecast(house, books, service, days[0], ahead) for service in house.services}
    known = {service: found for service, found in every.items() if found is not None}
    seen, keys = _of_sisters(books) | seen_mix(known.values()), draw_keys(house, books)
    nothing = (
        f"no covers and no sales in the books before {format_day(days[0])}; only private parties are planned"
    )
    for service in house.services:
        at = np.array([n for n, slot in enumerate(slots) if slot.service == service], dtype=np.int64)
        if service not in known:
            booked[at] = last_booked(bookings_of(books, service, days[0]), [slots[n].date for n in at])
            unknown |= {n for n in at.tolist() if house.is_open(slots[n].date, service)}
            mine = tuple(slots[n] for n in at)
            alone = from_the_books(house, mine, booked[at], seen)
            notes += alone.notes or (f"{service_title(service)}: {nothing}",)
            _fill_booked(house, alone, mine, (seed, at, keys), made)
            continue
        found = known[service]
        notes += found.notes
        quality.append(found.quality)
        if at.size:
            booked[at] = found.books.booked[[slots[n].day for n in at]]
        _fill(house, found, slots, (seed, keys), made)
    party = _parties(house, slots, made)
    return Forecast(
        days=tuple(days),
        slots=slots,
        dishes=tuple(house.dishes),
        covers_mean=made.covers_mean,
        covers_quantiles=made.covers_quantiles,
        covers=made.covers,
        mean=made.mean,
        quantiles=made.quantiles,
        portions=made.portions,
        party=party,
        booked=booked,
        notes=tuple(dict.fromkeys(notes)),
        quality=tuple(quality),
        unknown=frozenset(unknown),
    )


def _on_bookings(books: Books, on: date) -> Iterator[str]:
    age = age_of(books.bookings, on)
    if age is not None and age.is_old:
        taken = format_day(on - timedelta(days=age.days))
        yield (
            f"bookings: the newest were taken on {taken}, {plural(age.days, 'day')} ago, so they are left "
            "out of the forecast; bring the bookings book up to date and run again"
        )


def _of_sisters(books: Books) -> dict[str, float]:
    """Portions a cover of each dish at the other houses of the group, whatever the service."""
    return {dish: one.per_cover for (_, dish), one in sorted(books.sisters.items())}


def slots_of(house: House, days: Sequence[date]) -> tuple[Slot, ...]:
    """Services that are open to walk-ins or hold a private party, day by day."""
    hired = {(party.date, party.service) for party in house.parties}
    return tuple(
        Slot(day, service, n)
        for n, day in enumerate(days)
        for service in house.services
        if house.is_open(day, service) or (day, service) in hired
    )


@dataclass(frozen=True, slots=True)
class _Made:
    """Arrays of a forecast, filled in place service by service; axes as in `Forecast`."""

    covers_mean: Array
    covers_quantiles: Array
    covers: Array
    mean: Array
    quantiles: Array
    portions: Array


def _empty(n_dishes: int, n_slots: int, n_paths: int) -> _Made:
    n = len(QUANTILES)
    shapes: tuple[tuple[int, ...], ...] = (
        (n_slots,),
        (n_slots, n),
        (n_slots, n_paths),
        (n_dishes, n_slots),
        (n_dishes, n_slots, n),
        (n_dishes, n_slots, n_paths),
    )
    return _Made(*(np.zeros(shape) for shape in shapes))


def _fill(
    house: House,
    found: ServiceForecast,
    slots: Sequence[Slot],
    draw: tuple[int, Mapping[tuple[str, str], str]],
    made: _Made,
) -> None:
    """Covers and portions of the walk-ins of one service; draw : seed, and what each dish is drawn by."""
    seed, keys = draw
    service, past = found.past.service, found.past
    at = np.array([n for n, slot in enumerate(slots) if _takes_walk_ins(house, slot, found)], dtype=np.int64)
    if not at.size:
        return
    day = np.array([slots[n].day for n in at])
    covers, left = found.coming.series, found.books.left[day]
    n_paths = made.covers.shape[1]
    lasting = float(lasting_shares(covers.scores)[0])
    own = scores(stream(seed, f"covers {past.service}"), day, lasting, n_paths)
    common = moved_by(scores(stream(seed, "house"), day, lasting, n_paths), own, HOUSE_SHARE)
    mean = covers.mean[0, day]
    sure = np.minimum(found.books.sure[day], mean)
    rest, scatter = with_sure(mean, scatter_of(covers, 0, mean, day, np.ones(len(day))), sure, left)
    of_covers = drawn(rest, scatter, common, sure)
    made.covers_mean[at], made.covers_quantiles[at] = of_covers.mean, of_covers.quantiles
    made.covers[at] = of_covers.paths
    if found.portions is None:
        return
    row = {dish: n for n, dish in enumerate(house.dishes)}
    for n, dish in enumerate(found.portions.dishes):
        on = np.array([house.dishes[dish].is_on(slots[k].date, service) for k in at])
        if on.any():
            rng = stream(seed, keys[dish, service])
            one = _dish(found.portions, n, (day, left, on), rng, (common, lasting))
            i, to = row[dish], at[on]
            made.mean[i, to], made.quantiles[i, to], made.portions[i, to] = one.mean, one.quantiles, one.paths


def _fill_booked(
    house: House,
    alone: FromBooks,
    slots: Sequence[Slot],
    draw: tuple[int, Index, Mapping[tuple[str, str], str]],
    made: _Made,
) -> None:
    """Covers and portions of a service without a past.

    draw : seed, places of its slots, [slot], keys of dishes
    """
    (seed, at, keys), guests = draw, alone.guests
    made.covers_mean[at], made.covers_quantiles[at] = guests, guests[:, None]
    made.covers[at] = guests[:, None]
    for row, dish in enumerate(house.dishes):
        on = np.flatnonzero(alone.portions[row])
        if on.size:
            mine = [slots[n] for n in on.tolist()]
            rng = stream(seed, keys[dish, mine[0].service])
            one = drawn_of_booked(mine, alone.portions[row, on], guests[on], rng, made.covers.shape[1])
            made.mean[row, at[on]], made.quantiles[row, at[on]] = one.mean, one.quantiles
            made.portions[row, at[on]] = one.paths


def _takes_walk_ins(house: House, slot: Slot, found: ServiceForecast) -> bool:
    """A weekday on which the past shows no service is taken as closed, unless somebody has booked."""
    return (
        slot.service == found.past.service
        and house.is_open(slot.date, slot.service)
        and (slot.date.weekday() not in found.past.shut or found.books.booked[slot.day] > 0)
    )


def _dish(
    portions: DishForecasts,
    n: int,
    when: tuple[Index, Array, NDArray[np.bool_]],
    rng: np.random.Generator,
    common: tuple[Scores, float],
) -> Marginals:
    """One dish on the slots it is on, moving with the covers' scores as far as it has in the past.

    when : day and share of the spread left of every slot of the service, and whether the dish is on; [slot]
    common : the covers' scores, and what share of their variance lasts
    """
    (day, left, on), (of_covers, lasts) = when, common
    mean, unsure = portions.mean[n, day[on]], float(portions.level_variance[n])
    scatter = scatter_of(portions.series, int(portions.row[n]), mean, day[on], left[on])
    nights = max(float((scatter.dispersion + 1 / np.maximum(mean, 0.1)).mean()), 0.01)
    lasting, link = (portions.lasting[n] * nights + unsure) / (nights + unsure), float(portions.link[n])
    alone = float(np.clip((lasting - link**2 * lasts) / (1 - link**2), 0.0, 1.0))
    score = moved_by(of_covers, scores(rng, day, alone, of_covers.shape[1]), link)[on]
    return drawn(mean, replace(scatter, dispersion=scatter.dispersion + unsure), score)


def _parties(house: House, slots: Sequence[Slot], made: _Made) -> Array:
    """Adds private parties, which are certain; returns their portions [dish, slot]."""
    certain = np.zeros(made.mean.shape)
    place = {(slot.date, slot.service): n for n, slot in enumerate(slots)}
    row = {dish: n for n, dish in enumerate(house.dishes)}
    for party in house.parties:
        n = place.get((party.date, party.service))
        if n is None:
            continue
        for covers in (made.covers_mean, made.covers_quantiles, made.covers):
            covers[n] += party.covers
        for dish, portions in party.menu.items():
            certain[row[dish], n] += portions
    made.mean[:] += certain
    made.quantiles[:] += certain[:, :, None]
    made.portions[:] += certain[:, :, None]
    return certain
