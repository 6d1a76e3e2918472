"""What stands out about a day: weekday, season, holidays, events. The same code in and out of sample."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from ordering.public_holidays import holidays_of
from ordering.records.house import House, NamedEvent

Array = NDArray[np.float64]

YEAR = 365.25
MOST_PAIRS = 6
DAMPING = 0.98

# How far each kind of effect is believed to go, as a standard deviation on the log scale.
PRIOR = {
    "level": np.inf,
    "weekday": 1.0,
    "season": 0.5,
    "holiday": 0.35,
    "named": 1.0,
    "around": 0.35,
    "event": 0.7,
}
OBSERVED = ("observed", "in lieu", "substitute", "振替")


@dataclass(frozen=True, slots=True)
class Regressors:
    """`x` : [day, term]; `kinds` : the kind of each term; `pair` : its Fourier pair, 0 when none."""

    x: Array
    names: tuple[str, ...]
    kinds: tuple[str, ...]
    pair: NDArray[np.int64]

    @property
    def is_plain(self) -> NDArray[np.bool_]:
        """Days further than three from any public holiday, shape (n_days,): weeks about one are their own."""
        marked = [kind in {"holiday", "named", "around"} for kind in self.kinds]
        days = self.x[:, marked].any(axis=1)
        return np.asarray(np.convolve(days, np.ones(5), mode="same") < 0.5)

    @property
    def prior(self) -> Array:
        """Standard deviation believed for each coefficient, shape (n_terms,)."""
        return np.array([PRIOR[kind] for kind in self.kinds])


def _marked(days: Sequence[date], dates: Iterable[date]) -> Array:
    """1 on those of the consecutive days that are among `dates`, 0 on the others. Returns [day]."""
    found = np.zeros(len(days))
    places = ((day - days[0]).days for day in dates)
    found[[n for n in places if 0 <= n < len(days)]] = 1.0
    return found


def _season(days: Sequence[date], weekday: NDArray[np.int64]) -> list[tuple[str, str, Array, int]]:
    """Yearly Fourier pairs, the first at weekends anew: kind, name, values [day], pair. weekday : [day]."""
    phase = 2 * np.pi * (days[0].toordinal() + np.arange(len(days))) / YEAR
    columns = []
    for k in range(1, MOST_PAIRS + 1):
        columns.append((f"sin{k}", "season", np.sin(k * phase), k))
        columns.append((f"cos{k}", "season", np.cos(k * phase), k))
    weekends = [
        (f"{name} at weekends", kind, wave * (weekday >= 5), k) for name, kind, wave, k in columns[:2]
    ]
    return columns + weekends


def _holidays(
    days: Sequence[date], special: Special, weekday: NDArray[np.int64], is_detailed: bool
) -> list[tuple[str, str, Array, int]]:
    """Terms of holidays: kind, name, values [day], pair. weekday : [day]."""
    off = _marked(days, special.holidays)
    columns = [
        ("holiday", "holiday", off, 0),
        ("holiday at a weekend", "named", off * (weekday >= 5), 0),
        ("day before", "around", _marked(days, special.before), 0),
        ("day after", "around", _marked(days, special.after), 0),
        ("bridge", "around", _marked(days, special.bridge), 0),
    ]
    if is_detailed:
        for label, marks, kind in (
            ("", special.holidays, "named"),
            ("before ", special.before, "around"),
            ("after ", special.after, "around"),
        ):
            for name in sorted(set(marks.values())):
                dates = [day for day, given in marks.items() if given == name]
                columns.append((label + name, kind, _marked(days, dates), 0))
    return [column for column in columns if column[2].any()]


def terms(
    days: Sequence[date], special: Special, events: Sequence[NamedEvent] = (), is_detailed: bool = True
) -> Regressors:
    """Regressors of the days given.

    Parameters
    ----------
    days : consecutive days, past and to come
    special : holidays and the days around them
    events : named events that touch this service
    is_detailed : whether each holiday has an effect of its own, beside the common one

    Returns
    -------
    Regressors, first term the level
    """
    columns: list[tuple[str, str, Array, int]] = [("level", "level", np.ones(len(days)), 0)]
    weekday = (days[0].weekday() + np.arange(len(days))) % 7
    columns += [(f"weekday {w}", "weekday", (weekday == w).astype(float), 0) for w in range(7)]
    columns += _season(days, weekday)
    columns += _holidays(days, special, weekday, is_detailed)
    columns += [(event.name, "event", _marked(days, event.dates), 0) for event in events]
    names, kinds, values, pairs = zip(*columns, strict=True)
    return Regressors(np.stack(values, axis=1), names, kinds, np.array(pairs))


def fourier_pairs(n_days: int) -> int:
    """Yearly Fourier pairs that a history of `n_days` days can bear."""
    return int(np.searchsorted([330, 500, 700], n_days, side="right"))


def damped(steps: Array) -> Array:
    """Days of trend that `steps` days ahead are worth when each counts 0.98 of the one before. Any shape.

    Notes
    -----
    Sum of 0.98^i for i = 1 .. steps; damped trend as in Gardner and McKenzie (1985), from memory.
    """
    return np.asarray(DAMPING * (1 - DAMPING**steps) / (1 - DAMPING))


@lru_cache(maxsize=32)
def _named(country: str, subdivision: str, first_year: int, last_year: int) -> Mapping[date, str]:
    return holidays_of(country, subdivision, range(first_year, last_year + 1))


def holiday_names(house: House, first: date, last: date) -> tuple[Mapping[date, str], str]:
    """Public holidays from `first` to `last` by name, and a note when they cannot be had.

    A day that stands in for a holiday is `observed`; of several names of one day the first counts.
    """
    if not house.holiday_country:
        return {}, ""
    try:
        named = _named(house.holiday_country, house.holiday_subdivision, first.year - 1, last.year + 1)
    except LookupError:
        where = "-".join(filter(None, (house.holiday_country, house.holiday_subdivision)))
        return {}, f"public holidays of {where} are not known: the forecast takes none into account"
    return {day: _plain(name) for day, name in named.items() if first <= day <= last}, ""


def _plain(name: str) -> str:
    single = name.split(";")[0].strip()
    if any(word in single.lower() for word in OBSERVED):
        return "observed"
    return single


@dataclass(frozen=True, slots=True)
class Special:
    """Days with a meaning of their own, by kind; a day can be of several kinds.

    `holidays` by name; `before` and `after` carry the name of the holiday they adjoin.
    """

    holidays: Mapping[date, str]
    before: Mapping[date, str]
    after: Mapping[date, str]
    bridge: frozenset[date]


def special_days(names: Mapping[date, str]) -> Special:
    """Day before, day after and bridge days of the holidays given.

    A bridge is a Monday before a Tuesday holiday or a Friday after a Thursday one.
    """
    one = timedelta(days=1)
    before = {day - one: name for day, name in names.items() if day - one not in names}
    after = {day + one: name for day, name in names.items() if day + one not in names}
    bridge = {day - one for day in names if day.weekday() == 1 and day - one not in names}
    bridge |= {day + one for day in names if day.weekday() == 3 and day + one not in names}
    return Special(names, before, after, frozenset(bridge))
