"""What a dish of few sales is expected to sell: its own sales weighed against the menu it is new on.

What is believed before a dish has sold anything is another dish's sales (`like`) or the menu's mean share of
covers, as uncertain as the shares on this menu differ. Every portion sold is information; days are not.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ordering.forecast.covers import CoverForecast
from ordering.forecast.series_forecast import SeriesForecast
from ordering.records.books import SisterShare
from ordering.records.house import House

Array = NDArray[np.float64]
Index = NDArray[np.int64]

# Of log shares, where the menu is too short to show it: as on a menu of ten whose n-th dish sells 1 / n of
# the first (Zipf, Human Behavior and the Principle of Least Effort, 1949, from memory).
USUAL_VARIANCE = 0.7**2
LEAST_VARIANCE = 0.2**2
LIKE_PART = 0.25  # a dish it is like leaves half the standard deviation of the menu
FEWEST_DISHES = 3
HALF_LIFE_DAYS = 90.0
KNOWN_BY_ITSELF = 600.0  # portions, over their variance ratio, from which a dish leans on nothing
STEPS = 10  # of Newton; the furthest level has settled to 1e-12 by then


@dataclass(frozen=True, slots=True)
class Believed:
    """mean : [dish, ahead]; level_variance : [dish], of the log level, beyond the scatter of nights."""

    mean: Array
    level_variance: Array
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _Lent:
    """What each dish would sell at the level lent to it.

    past : [dish, day]; ahead : [dish, ahead]; variance : [dish], of the log level; is_like : [dish]
    """

    past: Array
    ahead: Array
    variance: Array
    is_like: NDArray[np.bool_]


def believed(
    house: House,
    coming: CoverForecast,
    dishes: Sequence[str],
    row: Index,
    found: SeriesForecast,
    sisters: Mapping[tuple[str, str], SisterShare],
) -> Believed:
    """Coming means of every dish, and how uncertain their level still is.

    Parameters
    ----------
    row : [dish], its row in `found`, -1 where it has never sold; found : of the dishes with a past, one at
        the least
    sisters : by service and dish, what the other houses of the group sell; of a dish that is `like` another,
        that of which more is known is leant on

    Notes
    -----
    The level, as a log ratio to what is lent, is normal beforehand and the sales are Poisson in units of
    their variance ratio; what is believed afterwards is taken at its mode, with the curvature there:
    variance = 1 / (1 / prior variance + expected sales / variance ratio) (Gelman and others, Bayesian Data
    Analysis, section 4.1, from memory). The weight of the dish's own regression grows with the same
    information.
    """
    has_past = row >= 0
    sold = np.full(coming.past.sold.shape, np.nan)
    ratio, own = np.ones(len(dishes)), np.zeros((len(dishes), found.mean.shape[1]))
    sold[has_past], ratio[has_past], own[has_past] = found.wanted, found.ratio, found.mean
    lent = _lent(house, coming, dishes, (sold, ratio), (row, found))
    _lend_of_sisters(lent, coming, dishes, sisters)
    age = 0.5 ** (np.arange(coming.past.n_days)[::-1] / HALF_LIFE_DAYS)
    weight = np.isfinite(sold) * age
    came, expected = np.nansum(weight * sold, axis=1), (weight * lent.past).sum(axis=1)
    level = most_probable_level(came / ratio, expected / ratio, lent.variance)
    information = expected / ratio * np.exp(level)
    variance = 1 / (1 / lent.variance + information)
    share = np.where(has_past, np.minimum(information / KNOWN_BY_ITSELF, 1.0), 0.0)
    # The mean of a log-normal is above its mode by half its variance: of what no sale has yet shown.
    from_menu = lent.ahead * np.exp(level + variance**2 / lent.variance / 2)[:, None]
    mean = share[:, None] * own + (1 - share)[:, None] * from_menu
    unknown = np.flatnonzero(~has_past & ~lent.is_like).tolist()
    notes = tuple(
        f"{house.dishes[dishes[n]].name}: never sold at {coming.past.service}, and 'like' no dish that was; "
        "taken as an average dish of the menu"
        for n in unknown
    )
    return Believed(mean, variance * (1 - share), notes)


def _lent(
    house: House,
    coming: CoverForecast,
    dishes: Sequence[str],
    seen: tuple[Array, Array],
    own: tuple[Index, SeriesForecast],
) -> _Lent:
    """What is lent to dishes of few sales.

    seen : sold [dish, day], NaN where not known, and its ratio of variance to mean [dish].
    """
    (sold, ratio), (row, found) = seen, own
    covers = np.where(np.isfinite(coming.past.covers), coming.past.covers, np.nanmean(coming.past.covers))
    known = np.isfinite(sold)
    portions = np.nansum(sold, axis=1)
    share = (portions + 0.5) / np.maximum((known * covers).sum(axis=1), 1.0)
    information = portions / ratio
    # A share known less closely than dishes are ever believed alike says little of how they differ.
    well = information >= 1 / LEAST_VARIANCE
    if well.sum() >= FEWEST_DISHES:
        logs = np.log(share[well])
        centre = float(logs.mean())
        variance = max(float(logs.var(ddof=1) - (1 / information[well]).mean()), LEAST_VARIANCE)
    else:
        some = portions > 0
        centre = float(np.log(share[some]).mean()) if some.any() else -np.inf
        variance = USUAL_VARIANCE
    lent = _Lent(
        past=np.tile(np.exp(centre) * covers, (len(dishes), 1)),
        ahead=np.tile(np.exp(centre) * coming.series.mean[0], (len(dishes), 1)),
        variance=np.full(len(dishes), variance),
        is_like=np.zeros(len(dishes), dtype=bool),
    )
    place = {dish: n for n, dish in enumerate(dishes)}
    for n, dish in enumerate(dishes):
        other = place.get(house.dishes[dish].like or "", -1)
        if other >= 0 and row[other] >= 0 and information[other] > information[n]:
            lent.past[n], lent.ahead[n] = found.fitted[row[other]], found.mean[row[other]]
            lent.variance[n] *= LIKE_PART
            lent.is_like[n] = True
    return lent


def of_sisters(
    service: str, dishes: Sequence[str], sisters: Mapping[tuple[str, str], SisterShare]
) -> tuple[Array, Array]:
    """Portions a cover that the sisters sell, and the variance of its log: [dish], 0 where none sells it."""
    known = [sisters.get((service, dish)) for dish in dishes]
    share = np.array([one.per_cover if one else 0.0 for one in known])
    return share, np.array([one.spread**2 if one else 0.0 for one in known])


def _lend_of_sisters(
    lent: _Lent, coming: CoverForecast, dishes: Sequence[str], sisters: Mapping[tuple[str, str], SisterShare]
) -> None:
    """Lean on the sisters where they say more than the menu or another dish of it."""
    share, variance = of_sisters(coming.past.service, dishes, sisters)
    is_nearer = (variance > 0) & (variance < lent.variance)
    covers = np.where(np.isfinite(coming.past.covers), coming.past.covers, np.nanmean(coming.past.covers))
    lent.past[is_nearer] = share[is_nearer, None] * covers
    lent.ahead[is_nearer] = share[is_nearer, None] * coming.series.mean[0]
    lent.variance[is_nearer] = variance[is_nearer]
    lent.is_like[is_nearer] = True


def most_probable_level(came: Array, expected: Array, variance: Array) -> Array:
    """Most probable log ratio to what was expected, shape (dish,): normal beforehand, counts Poisson."""
    level = np.log((came + 0.5) / (expected + 0.5))
    for _ in range(STEPS):
        fitted = expected * np.exp(level)
        step = (came - fitted - level / variance) / (fitted + 1 / variance)
        level = level + np.clip(step, -2.0, 2.0)
    return np.asarray(level)
