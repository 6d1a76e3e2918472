"""What a backtest hands on: accuracy by series, horizon and method, and covers day by day."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

OURS, NAIVE, FOUR_WEEKS = "this forecast", "seasonal naive", "four-week mean"
METHODS = (OURS, NAIVE, FOUR_WEEKS)
HORIZONS = ("1-7", "8-14", "15-60")
ALL_DISHES = "*dishes"


@dataclass(frozen=True, slots=True)
class Accuracy:
    """One method on one series at one horizon.

    `series` is `*` for covers, a dish, or `*dishes` for all dishes of the service together, whose
    mase is the mean of theirs. `n` counts services; `wape`, `bias` and `coverage` (of the 80 %
    interval) are fractions, `pinball` is in guests or portions. NaN: nothing to say.
    """

    service: str
    series: str
    horizon: str
    method: str
    n: int
    wape: float
    mase: float
    bias: float
    pinball: float
    coverage: float


@dataclass(frozen=True, slots=True)
class BacktestDay:
    """Covers of one service as forecast on `issued_on`, at most a week before, beside what came."""

    service: str
    served_on: date
    issued_on: date
    actual: float
    mean: float
    q10: float
    q90: float


@dataclass(frozen=True, slots=True)
class Backtest:
    """`origins` are the days forecasts were made on, as if nothing after them were known."""

    on: date
    origins: tuple[date, ...]
    rows: tuple[Accuracy, ...]
    days: tuple[BacktestDay, ...]
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Effect:
    """What multiplies the covers of a service, with its 90 % interval: 1.2 is a fifth more."""

    service: str
    name: str
    ratio: float
    low: float
    high: float
