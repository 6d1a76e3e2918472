"""Invented pasts whose coming days are known: what a forecast should say of them, and how far off it is.

Every case makes a past by a seeded rule, forecasts from it and holds that against the rule itself, so that
few seeds tell a bias apart from chance. `tests/bench/forecast_known.py` runs many seeds, the suite few.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import timedelta

import numpy as np
import pandas as pd
from pasts import ON, books_of, days_before, home, plate
from scipy.special import ndtri

from ordering.days import span
from ordering.forecast.demand import forecast
from ordering.records.plan import QUANTILES, Forecast

Array = np.ndarray
WEEK = np.array([0.7, 0.8, 0.9, 1.0, 1.3, 1.5, 0.8])
NIGHT = 0.15  # standard deviation of the log of a night, beyond the guests' own chance
WIDTHS = (0.9, 1.1)
LOW, HIGH = QUANTILES.index(0.1), QUANTILES.index(0.9)


@dataclass(frozen=True, slots=True)
class Told:
    """A forecast's means beside the known ones, and whether its 80 % band held what came; any shape."""

    mean: Array
    truth: Array
    inside: Array

    @property
    def bias(self) -> float:
        return float(self.mean.sum() / self.truth.sum() - 1)


@dataclass(frozen=True, slots=True)
class Case:
    """`most`: the largest bias stated, a fraction; `held`: between which shares the 80 % band holds."""

    name: str
    make: Callable[[np.random.Generator], Told]
    most: float
    held: tuple[float, float] = (0.7, 0.92)


def week(n_days: int, level: float = 50.0) -> Array:
    """Expected covers of the days before `ON`, or after it where `n_days` is negative."""
    days = days_before(n_days) if n_days > 0 else span(ON, -n_days)
    return level * WEEK[[day.weekday() for day in days]]


def came(rng: np.random.Generator, mean: Array, night: float = NIGHT) -> Array:
    """Counts about a mean, with the scatter of nights."""
    return rng.poisson(mean * np.exp(night * rng.standard_normal(mean.shape) - night**2 / 2)).astype(float)


def _told(rng: np.random.Generator, found: Array, band: Array, truth: Array, night: float = NIGHT) -> Told:
    actual = came(rng, truth, night)
    return Told(found, truth, (actual >= band[:, 0]) & (actual <= band[:, 1]))


def _covers(rng: np.random.Generator, past: Array, truth: Array, **rest: object) -> Told:
    found = forecast(home(**rest), books_of(past), span(ON, len(truth)), 1, 50)
    return _told(rng, found.covers_mean, found.covers_quantiles[:, [LOW, HIGH]], truth)


def shifted(times: float, n_days: int, ahead: int = 14) -> Callable[[np.random.Generator], Told]:
    """Two years of the same week, then times as many guests for the last `n_days` and from now on."""

    def make(rng: np.random.Generator) -> Told:
        mean = week(730)
        mean[len(mean) - n_days :] *= times
        return _covers(rng, came(rng, mean), times * week(-ahead))

    return make


def growing(a_year: float, n_days: int, ahead: int = 28) -> Callable[[np.random.Generator], Told]:
    """Guests grow or fall by a steady factor a year."""

    def make(rng: np.random.Generator) -> Told:
        past = week(n_days) * a_year ** (np.arange(-n_days, 0) / 365)
        return _covers(rng, came(rng, past), week(-ahead) * a_year ** (np.arange(ahead) / 365))

    return make


def reopened(n_shut: int, n_since: int) -> Callable[[np.random.Generator], Told]:
    """Shut for so many days, then open again as before."""

    def make(rng: np.random.Generator) -> Told:
        past = came(rng, week(730))
        past[-n_shut - n_since : len(past) - n_since] = np.nan
        return _covers(rng, past, week(-14))

    return make


def on_a_holiday(times: float) -> Callable[[np.random.Generator], Told]:
    """A public holiday that brought so many times the guests in the three years before."""

    def make(rng: np.random.Generator) -> Told:
        truth = week(-40, 150.0)
        truth[29] *= times  # 25 December
        past = week(1100, 150.0)
        for n, day in enumerate(days_before(1100)):
            if (day.month, day.day) == (12, 25):
                past[n] *= times
        found = _covers(rng, came(rng, past), truth, holiday_country="GB", holiday_subdivision="ENG")
        return Told(found.mean[29:30], truth[29:30], found.inside[29:30])

    return make


def _dishes(
    rng: np.random.Generator, n_days: int, shares: tuple[float, ...]
) -> tuple[Array, dict[str, Array]]:
    covers = came(rng, week(n_days))
    return covers, {f"dish{n}": rng.poisson(covers * share).astype(float) for n, share in enumerate(shares)}


def sold_out(times: float) -> Callable[[np.random.Generator], Told]:
    """A dish of which about `times` the expected portions are made: the till shows no more than was there."""

    def make(rng: np.random.Generator) -> Told:
        covers, sold = _dishes(rng, 500, (0.25, 0.2, 0.3))
        usual = times * 0.25 * week(500)
        made = np.round(usual * np.exp(0.2 * rng.standard_normal(500)))
        gone = sold["dish0"] >= made
        sold["dish0"] = np.minimum(sold["dish0"], made)
        books = books_of(covers, sold, sold_out={"dish0": gone})
        return _of_dish(rng, forecast(home(*map(plate, sold)), books, span(ON, 14), 1, 50), 0.25)

    return make


def growing_dish(
    a_year: float, share_a_year: float, ahead: int = 28
) -> Callable[[np.random.Generator], Told]:
    """Three years in which guests grow by a factor a year, and a dish's share of them by another."""

    def make(rng: np.random.Generator) -> Told:
        n_days = 1095
        years = np.arange(-n_days, ahead) / 365
        mean = np.concatenate([week(n_days), week(-ahead)]) * a_year**years
        share = 0.2 * share_a_year**years
        covers = came(rng, mean[:n_days])
        sold = {"dish0": covers * share[:n_days], "dish1": covers * 0.1, "dish2": covers * 0.3}
        books = books_of(covers, {dish: rng.poisson(one).astype(float) for dish, one in sold.items()})
        found = forecast(home(*map(plate, sold)), books, span(ON, ahead), 1, 50)
        truth = (mean * share)[n_days:]
        return _told(rng, found.mean[0], found.quantiles[0][:, [LOW, HIGH]], truth)

    return make


def _of_dish(rng: np.random.Generator, found: Forecast, share: float, row: int = 0) -> Told:
    truth = share * week(-len(found.slots))
    return _told(rng, found.mean[row], found.quantiles[row][:, [LOW, HIGH]], truth)


def new_dish(n_days: int, share: float) -> Callable[[np.random.Generator], Told]:
    """A dish so many days on a menu whose dishes sell 0.05 to 0.3 a cover; it sells `share`."""

    def make(rng: np.random.Generator) -> Told:
        covers, sold = _dishes(rng, 500, (share, 0.05, 0.08, 0.1, 0.12, 0.15, 0.18, 0.22, 0.3))
        sold["dish0"][: 500 - n_days] = 0.0
        new = plate("dish0", from_on=ON - timedelta(days=n_days))
        house = home(new, *(plate(name) for name in sold if name != "dish0"))
        return _of_dish(rng, forecast(house, books_of(covers, sold), span(ON, 14), 1, 50), share)

    return make


def booked_twice(times: float) -> Callable[[np.random.Generator], Told]:
    """Half the guests book; on the coming Saturday `times` the usual number has booked, and comes."""

    def make(rng: np.random.Generator) -> Told:
        n_days, lead = 500, 2
        days = [*days_before(n_days), *span(ON, 7)]
        mean = np.concatenate([week(n_days), week(-7)])
        night = np.exp(NIGHT * rng.standard_normal(len(days)) - NIGHT**2 / 2)
        night[n_days + lead] = times
        booked = rng.poisson(0.5 * mean * night)
        walk_in = rng.poisson(0.5 * mean)
        past = (booked + walk_in)[:n_days].astype(float)
        rows = [
            (day - timedelta(days=before), day, "dinner", float(round(of * n)))
            for day, n in zip(days, booked, strict=True)
            for before, of in ((7, 0.5), (4, 0.7), (lead, 0.85), (1, 0.95))
            if day - timedelta(days=before) <= ON
        ]
        table = pd.DataFrame(rows, columns=["taken_on", "date", "service", "booked"])
        table = table.astype({"taken_on": "datetime64[ns]", "date": "datetime64[ns]"})
        found = forecast(home(), books_of(past, bookings=table), span(ON, 7), 1, 50)
        truth = 0.5 * mean[n_days + lead] * (1 + night[n_days + lead])
        actual = booked[n_days + lead] + walk_in[n_days + lead]
        low, high = found.covers_quantiles[lead, [LOW, HIGH]]
        return Told(found.covers_mean[[lead]], np.array([truth]), np.array([low <= actual <= high]))

    return make


@dataclass(frozen=True, slots=True)
class Scored:
    """Normal scores of what came in the forecast's own paths, ties broken at random: width 1 is calibrated.

    Each [anything] : single nights of a dish, of dishes that sell once a night or less, sums over three and
    seven days of a dish, and of all dishes together.
    """

    night: Array
    rare: Array
    three_days: Array
    seven_days: Array
    all_night: Array
    all_three_days: Array
    all_seven_days: Array


def scored(rng: np.random.Generator) -> Scored:
    """A menu whose nights are busy or quiet for all, in spells, and whose dishes have spells of their own."""
    shares = np.array([0.012, 0.02, 0.05, 0.08, 0.1, 0.12, 0.15, 0.18, 0.22, 0.3])
    n_days, ahead = 400, 28
    covers_mean = np.concatenate([week(n_days), week(-ahead)])
    length = len(covers_mean)
    covers = rng.poisson(
        covers_mean * np.exp(NIGHT * rng.standard_normal(length) + _spell(rng, length, 0.06))
    )
    own = [np.exp(0.1 * rng.standard_normal(length) + _spell(rng, length, 0.1)) for _ in shares]
    sold = np.array([rng.poisson(covers * share * one) for share, one in zip(shares, own, strict=True)])
    known = {f"dish{n}": one[:n_days].astype(float) for n, one in enumerate(sold)}
    books = books_of(covers[:n_days].astype(float), known)
    found = forecast(home(*map(plate, known)), books, span(ON, ahead), 1, 400).portions
    came = sold[:, n_days:]

    def sums(values: Array, n: int) -> Array:
        whole = values[:, : ahead - ahead % n]
        return whole.reshape(len(values), -1, n, *values.shape[2:]).sum(axis=2)

    def of(n: int, is_all: bool) -> Array:
        actual, paths = sums(came, n), sums(found, n)
        return _scores(rng, actual.sum(axis=0), paths.sum(axis=0)) if is_all else _scores(rng, actual, paths)

    rare = _scores(rng, came[:2], found[:2])
    return Scored(of(1, False), rare, of(3, False), of(7, False), of(1, True), of(3, True), of(7, True))


def _spell(rng: np.random.Generator, n_days: int, size: float) -> Array:
    """Good and bad spells of some weeks, on the log scale."""
    level = np.zeros(n_days)
    for n, step in enumerate(rng.standard_normal(n_days)):
        level[n] = (0.95 * level[n - 1] if n else 0.0) + size * np.sqrt(1 - 0.95**2) * step
    return level


def _scores(rng: np.random.Generator, actual: Array, paths: Array) -> Array:
    below = (paths < actual[..., None]).sum(axis=-1)
    equal = (paths == actual[..., None]).sum(axis=-1)
    rank = (below + rng.random(actual.shape) * (equal + 1)) / (paths.shape[-1] + 1)
    return np.asarray(ndtri(np.clip(rank, 1e-4, 1 - 1e-4)))


def widths(seeds: range) -> dict[str, float]:
    """Width of the normal scores of each kind of sum: below 1 paths scatter too much, above too little."""
    made = [scored(np.random.default_rng([seed, 5])) for seed in seeds]
    kinds = Scored.__dataclass_fields__
    every = {kind: np.concatenate([getattr(one, kind).ravel() for one in made]) for kind in kinds}
    return {kind: float(np.sqrt(np.mean(values**2))) for kind, values in every.items()}


CASES = (
    Case("guests x 0.6 since 7 days", shifted(0.6, 7), 0.08),
    Case("guests x 0.6 since 14 days", shifted(0.6, 14), 0.06),
    Case("guests x 0.6 since 28 days", shifted(0.6, 28), 0.04),
    Case("guests x 0.6 since 42 days", shifted(0.6, 42), 0.04),
    Case("guests x 0.6 since 84 days", shifted(0.6, 84), 0.04),
    Case("guests x 0.6 since 200 days", shifted(0.6, 200), 0.04),
    Case("guests x 1.5 since 7 days", shifted(1.5, 7), 0.1),
    Case("guests x 1.5 since 14 days", shifted(1.5, 14), 0.04),
    Case("guests x 1.5 since 28 days", shifted(1.5, 28), 0.03),
    Case("a third more each year, three years", growing(1.33, 1095), 0.03),
    Case("twice as many each year, 200 days", growing(2.0, 200), 0.05),
    Case("half as many each year, 400 days", growing(0.5, 400), 0.05),
    Case("a dish of a house that grows by a third a year", growing_dish(1.33, 1.0), 0.05, (0.7, 0.95)),
    Case("a dish whose share grows by half a year", growing_dish(1.0, 1.5), 0.06, (0.7, 0.95)),
    Case("open again for 14 days after 60 shut", reopened(60, 14), 0.03),
    Case("a holiday of twice the guests", on_a_holiday(2.0), 0.08, (0.6, 1.0)),
    Case("a holiday of half the guests", on_a_holiday(0.5), 0.1, (0.6, 1.0)),
    Case("sold out on a third of nights", sold_out(1.15), 0.03, (0.7, 0.95)),
    Case("sold out on three nights of five", sold_out(0.82), 0.04, (0.7, 0.95)),
    Case("a new dish of 7 days, twice the usual", new_dish(7, 0.3), 0.15, (0.7, 0.95)),
    Case("a new dish of 14 days, twice the usual", new_dish(14, 0.3), 0.06, (0.7, 0.95)),
    Case("a new dish of 7 days, a third of the usual", new_dish(7, 0.05), 0.2, (0.7, 0.95)),
    Case("a new dish of 14 days, a third of the usual", new_dish(14, 0.05), 0.12, (0.7, 0.95)),
    Case("a Saturday booked twice over", booked_twice(2.0), 0.05, (0.7, 0.92)),
    Case("a Saturday booked by half", booked_twice(0.5), 0.08, (0.7, 0.92)),
)


def lived(case: Case, seeds: range) -> Told:
    """The case over several seeds, side by side."""
    told = [case.make(np.random.default_rng([seed, len(case.name)])) for seed in seeds]
    return Told(*(np.stack([getattr(one, part) for one in told]) for part in ("mean", "truth", "inside")))


def outside(case: Case, found: Told, slack: float = 0.0) -> Iterator[str]:
    """What of a case is not as stated, in words; slack : more bias allowed, the band then not looked at."""
    if abs(found.bias) > case.most + slack:
        yield f"{case.name}: bias {found.bias:+.1%}, at most {case.most + slack:.0%} is stated"
    held = float(found.inside.mean())
    if not slack and not case.held[0] <= held <= case.held[1]:
        low, high = case.held
        yield f"{case.name}: the 80 % band held {held:.0%}, {low:.0%} to {high:.0%} is stated"
