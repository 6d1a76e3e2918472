"""Regressors of a day: weekday, yearly season, holidays, events. The same code in and out of sample."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np
from numpy.typing import NDArray

from ordering.forecast.calendar import Special
from ordering.records.house import NamedEvent

Array = NDArray[np.float64]

YEAR = 365.25
MOST_PAIRS = 6
DAMPING = 0.98

# How far each kind of effect is believed to go, as a standard deviation on the log scale.
PRIOR = {
    "level": np.inf,
    "weekday": 1.0,
    "season": 0.5,
    "holiday": 0.5,
    "named": 0.35,
    "around": 0.25,
    "event": 0.7,
    "trend": 0.5,
}


@dataclass(frozen=True, slots=True)
class Terms:
    """`x` : [day, term]; `kinds` : the kind of each term; `pair` : its Fourier pair, 0 when none."""

    x: Array
    names: tuple[str, ...]
    kinds: tuple[str, ...]
    pair: NDArray[np.int64]

    @property
    def prior(self) -> Array:
        """Standard deviation believed for each coefficient, shape (n_terms,)."""
        return np.array([PRIOR[kind] for kind in self.kinds])


def _one_hot(days: Sequence[date], hit: dict[date, str], name: str) -> Array:
    return np.array([1.0 if hit.get(day) == name else 0.0 for day in days])


def _season(days: Sequence[date]) -> list[tuple[str, str, Array, int]]:
    phase = 2 * np.pi * np.array([day.toordinal() for day in days]) / YEAR
    columns = []
    for k in range(1, MOST_PAIRS + 1):
        columns.append((f"sin{k}", "season", np.sin(k * phase), k))
        columns.append((f"cos{k}", "season", np.cos(k * phase), k))
    return columns


def _holidays(days: Sequence[date], special: Special, is_detailed: bool) -> list[tuple[str, str, Array, int]]:
    def among(marked: object) -> Array:
        return np.array([float(day in marked) for day in days])  # type: ignore[operator]

    off = among(special.holidays)
    weekend = np.array([float(day.weekday() >= 5) for day in days])
    columns = [
        ("holiday", "holiday", off, 0),
        ("holiday at a weekend", "named", off * weekend, 0),
        ("day before", "around", among(special.before), 0),
        ("day after", "around", among(special.after), 0),
        ("bridge", "around", among(special.bridge), 0),
    ]
    if is_detailed:
        for label, marks, kind in (
            ("", special.holidays, "named"),
            ("before ", special.before, "around"),
            ("after ", special.after, "around"),
        ):
            for name in sorted(set(marks.values())):
                columns.append((label + name, kind, _one_hot(days, dict(marks), name), 0))  # noqa: PERF401
    return [column for column in columns if column[2].any()]


def terms(
    days: Sequence[date], special: Special, events: Sequence[NamedEvent] = (), is_detailed: bool = True
) -> Terms:
    """Regressors of the days given.

    Parameters
    ----------
    days : consecutive days, past and to come
    special : holidays and the days around them
    events : named events that touch this service
    is_detailed : whether each holiday has an effect of its own, beside the common one

    Returns
    -------
    Terms, first term the level
    """
    columns: list[tuple[str, str, Array, int]] = [("level", "level", np.ones(len(days)), 0)]
    weekday = np.array([day.weekday() for day in days])
    columns += [(f"weekday {w}", "weekday", (weekday == w).astype(float), 0) for w in range(7)]
    columns += _season(days)
    columns += _holidays(days, special, is_detailed)
    for event in events:
        columns.append((event.name, "event", np.array([float(day in event.dates) for day in days]), 0))
    names, kinds, values, pairs = zip(*columns, strict=True)
    return Terms(np.stack(values, axis=1), names, kinds, np.array(pairs))


def fourier_pairs(n_days: int) -> int:
    """Yearly Fourier pairs that a history of `n_days` days can bear."""
    return int(np.searchsorted([330, 500, 700], n_days, side="right"))


def damped(steps: Array) -> Array:
    """Days of trend that `steps` days ahead are worth when each counts 0.98 of the one before.

    Notes
    -----
    Sum of 0.98^i for i = 1 .. steps; damped trend as in Gardner and McKenzie (1985), from memory.
    """
    return np.asarray(DAMPING * (1 - DAMPING**steps) / (1 - DAMPING))
