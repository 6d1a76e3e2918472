"""What moves covers: weekday, holidays, events, trend, each with how sure one can be of it.

Fitted with statsmodels for people to read, once in a backtest. The forecast itself blends several such
regressions, fitted in one batch (`regression.py`); a test holds the two fits to the same numbers.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import statsmodels.api as sm

from ordering.days import WEEKDAY_NAMES
from ordering.forecast.covers import special_of
from ordering.forecast.history import ServicePast
from ordering.forecast.regressors import Regressors, fourier_pairs, terms
from ordering.records.backtest_results import Effect
from ordering.records.house import House, NamedEvent
from ordering.records.plan import Array

FEWEST_SERVICES = 60
FEWEST_HITS = 3
Z_90 = 1.6448536269514722
DAYS_OF_A_YEAR = 365.25


def effects(house: House, past: ServicePast) -> tuple[Effect, ...]:
    """Effect of each thing that moves a service's covers, as a ratio with its 90 % interval.

    A log-link Poisson regression with the spread the residuals show (quasi-likelihood, scale =
    Pearson chi-square over degrees of freedom: McCullagh & Nelder, Generalized Linear Models, 2nd
    ed. 1989, section 9.2). A weekday is set against the mean of the service's weekdays, everything
    else against a day without it; the trend is per year. Fewer than 60 services, or an effect seen
    fewer than three times: nothing is said.
    """
    known = np.isfinite(past.covers)
    if known.sum() < FEWEST_SERVICES or np.nansum(past.covers) <= 0:
        return ()
    special, _ = special_of(house, past, 0)
    events = [event for event in house.events if not event.services or past.service in event.services]
    made = terms(past.days(), special, events, is_detailed=False)
    names, x, weekdays = _design(made, known, events)
    fit = sm.GLM(past.covers[known], x, family=sm.families.Poisson()).fit(scale="X2")
    estimate, covariance = np.asarray(fit.params), np.asarray(fit.cov_params())
    found = []
    for weekday, contrast in _against_mean(weekdays, x.shape[1]):
        found.append(_effect(past.service, WEEKDAY_NAMES[weekday], contrast, estimate, covariance))
    for column, name in enumerate(names):
        if name:
            contrast = np.zeros(x.shape[1])
            contrast[column] = 1.0
            found.append(_effect(past.service, name, contrast, estimate, covariance))
    return tuple(found)


def _design(
    made: Regressors, known: np.ndarray, events: Sequence[NamedEvent]
) -> tuple[list[str], Array, list[int]]:
    """Names of what is told (empty for the rest), regressors of the days known, weekdays in front.

    x : [day known, column].
    """
    weekdays = [w for w in range(7) if made.x[known, made.names.index(f"weekday {w}")].any()]
    columns = [made.x[known, made.names.index(f"weekday {w}")] for w in weekdays]
    names = [""] * len(weekdays)
    pairs = fourier_pairs(len(known))
    for k, kind in enumerate(made.kinds):
        column = made.x[known, k]
        if kind == "season" and 0 < made.pair[k] <= pairs:
            columns.append(column)
            names.append("")
        elif kind in {"holiday", "around", "event"} and FEWEST_HITS <= column.sum() < len(column):
            columns.append(column)
            names.append(made.names[k])
    if len(known) > DAYS_OF_A_YEAR:
        columns.append((np.arange(len(known))[known] - len(known)) / DAYS_OF_A_YEAR)
        names.append("each year")
    return names, _independent(np.stack(columns, axis=1), names), weekdays


def _independent(x: Array, names: list[str]) -> Array:
    """The columns that say something of their own; names of others go with them. x : [day, column]."""
    kept: list[int] = []
    for k in range(x.shape[1]):
        if np.linalg.matrix_rank(x[:, [*kept, k]]) == len(kept) + 1:
            kept.append(k)
    names[:] = [names[k] for k in kept]
    return np.asarray(x[:, kept])


def _against_mean(weekdays: Sequence[int], n_columns: int) -> list[tuple[int, Array]]:
    """Each weekday against the mean of all, as a contrast of the columns: [column]."""
    contrasts = []
    for k, weekday in enumerate(weekdays):
        contrast = np.zeros(n_columns)
        contrast[: len(weekdays)] = -1.0 / len(weekdays)
        contrast[k] += 1.0
        contrasts.append((weekday, contrast))
    return contrasts if len(weekdays) > 1 else []


def _effect(service: str, name: str, contrast: Array, estimate: Array, covariance: Array) -> Effect:
    """contrast, estimate : [column]; covariance : [column, column]."""
    middle = float(contrast @ estimate)
    error = math.sqrt(max(0.0, float(contrast @ covariance @ contrast)))
    bounds = np.array([middle, middle - Z_90 * error, middle + Z_90 * error])
    ratio, low, high = (float(value) for value in np.exp(np.clip(bounds, -20.0, 20.0)))
    return Effect(service, name, ratio, low, high)
