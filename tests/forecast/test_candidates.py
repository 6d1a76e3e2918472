"""Candidates, their weights, and the calendar terms behind them."""

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest

from ordering.forecast import candidates
from ordering.forecast.candidates import (
    Design,
    History,
    _fits,
    coefficients,
    counts_on,
    days_about,
    origins_of,
)
from ordering.forecast.covers import DESIGNS
from ordering.forecast.regressors import damped, fourier_pairs, special_days, terms
from ordering.forecast.series_forecast import _learnt_enough, combined, series_forecast, weights
from ordering.forecast.spread import bucket_of, dispersion_ratio
from ordering.records.house import NamedEvent

FIRST = date(2026, 1, 1)
NOTHING = special_days({})


def days(n: int) -> list[date]:
    return [FIRST + timedelta(days=k) for k in range(n)]


@pytest.mark.parametrize(("n_days", "pairs"), [(1, 0), (329, 0), (330, 1), (500, 2), (700, 3), (2000, 3)])
def test_yearly_pairs_by_length_of_history(n_days, pairs):
    assert fourier_pairs(n_days) == pairs


def test_damped_trend_comes_to_rest():
    steps = damped(np.array([1.0, 2.0, 500.0]))
    assert steps == pytest.approx([0.98, 0.98 + 0.98**2, 49.0], abs=1e-2)


def test_terms_know_weekday_holiday_and_event():
    names = {date(2026, 1, 8): "Feast"}
    made = terms(days(30), special_days(names), [NamedEvent("Regatta", (date(2026, 1, 20),))])
    column = {name: made.x[:, n] for n, name in enumerate(made.names)}
    assert column["weekday 3"][[0, 7, 14]].tolist() == [1, 1, 1]
    assert np.flatnonzero(column["Feast"]).tolist() == [7]
    assert np.flatnonzero(column["day before"]).tolist() == [6]
    assert np.flatnonzero(column["bridge"]).tolist() == [8]
    assert np.flatnonzero(column["Regatta"]).tolist() == [19]


def test_the_season_comes_round_once_a_year_in_as_many_pairs_as_a_design_may_use():
    made = terms(days(3 * 365), NOTHING)
    cosine = made.x[:, made.names.index("cos1")]
    assert cosine[:365] == pytest.approx(-cosine[183:548], abs=0.02)
    assert cosine[:365] == pytest.approx(cosine[365:730], abs=0.02)
    assert made.pair.max() == fourier_pairs(2000) + max(design.extra_pairs for design in DESIGNS)


def test_weekends_have_a_season_that_other_days_do_not_follow():
    made = terms(days(730 + 60), NOTHING)
    wave = made.x[:730, made.names.index("cos1")]
    y = 400 * np.exp(0.5 * wave * np.array([day.weekday() >= 5 for day in days(730)]))[None]
    beta, _ = coefficients(replace(history(730, y), origins=np.array([730])), (Design(),))
    found = dict(zip(made.names, beta[0, 0, 0], strict=False))
    assert found["cos1"] == pytest.approx(0.0, abs=0.02)
    assert found["cos1 at weekends"] == pytest.approx(0.5, abs=0.03)


def test_the_last_origin_is_today_and_the_earlier_have_something_to_learn_from():
    for n_days in (1, 2, 8, 30, 100, 400, 1095):
        found = origins_of(n_days)
        assert found[-1] == n_days
        assert (np.diff(found) > 0).all()
        assert (found[:-1] >= 21).all()
    assert origins_of(40).tolist() == [32, 40]
    assert origins_of(60).tolist() == [24, 38, 52, 60]
    assert origins_of(1095).tolist() == [*range(737, 1095, 14), 1095]


def history(n_days: int, y: np.ndarray) -> History:
    made = terms(days(n_days + 60), NOTHING)
    return History(y, np.zeros(y.shape, bool), np.zeros(y.shape), made, origins_of(n_days))


def test_counts_about_an_origin_are_shown_only_where_they_are_known():
    past = history(100, np.arange(100, dtype=float)[None])
    days_seen = days_about(past, 28, 60)
    seen = counts_on(past.y, days_seen)
    assert np.isnan(seen[0, -1, 28:]).all()
    assert seen[0, -1, :28].tolist() == list(range(72, 100))
    assert days_seen[-1, 28] == 100


def test_a_pseudo_forecast_sees_nothing_after_its_origin():
    """Multiply what came after an origin by three: its own forecasts stay."""
    rng = np.random.default_rng(0)
    y = rng.poisson(40, (1, 300)).astype(float)
    past = history(300, y)
    changed = y.copy()
    changed[:, 215:] *= 1.02
    one, two = series_forecast(past, DESIGNS, 60), series_forecast(history(300, changed), DESIGNS, 60)
    early = np.flatnonzero(past.origins[:-1] <= 215)
    assert early.size > 2
    assert one.past_mean[0, early] == pytest.approx(two.past_mean[0, early], rel=0.03)


def test_the_better_candidate_weighs_more_and_none_weighs_itself():
    bucket = bucket_of(60)
    errors = np.stack([np.full((1, 5, 60), 2.0), np.full((1, 5, 60), 4.0)], axis=2)
    errors[0, 2, 0] = 100.0
    found = weights(errors, bucket)
    assert found.sum(axis=2) == pytest.approx(1)
    assert found[0, 2, 0, 2] > 0.8
    assert found[0, 0, 0, 2] < found[0, 2, 0, 2]


def test_a_combination_lies_between_its_candidates():
    bucket = bucket_of(60)
    candidates = np.stack([np.full((1, 1, 60), 40.0), np.full((1, 1, 60), 60.0)], axis=2)
    equal = weights(np.full((1, 3, 2, 60), 5.0), bucket)[:, -1:]
    assert combined(candidates, equal, bucket) == pytest.approx(50)


def test_buckets():
    found = bucket_of(70)
    assert [int(found[n]) for n in (0, 6, 7, 13, 14, 59, 69)] == [0, 0, 1, 1, 2, 2, 2]


def test_an_error_of_a_eleventh_more_halves_the_weight():
    """The eighth root of 2 is 1.09."""
    errors = np.stack([np.ones((1, 4, 60)), np.full((1, 4, 60), 2 ** (1 / 8))], axis=2)
    assert weights(errors, bucket_of(60))[0, -1, :, 0] == pytest.approx([2 / 3, 1 / 3])


def test_errors_at_all_horizons_count_as_ten_days_at_each():
    errors = np.ones((1, 1, 2, 60))
    errors[0, 0, 1, :7] = 1.5
    whole = (7 * 1.5 + 53) / 60
    found = weights(errors, bucket_of(60))[0, -1, :, 0]
    assert found[0] / found[1] == pytest.approx(((7 * 1.5 + 10 * whole) / 17) ** 8)


def test_of_a_house_of_days_a_night_is_believed_to_stray_by_a_quarter_and_more():
    """Standard deviation of the log 0.28, its square 0.08, beside the guests' own chance."""
    assert dispersion_ratio(np.full((1, 9), 50.0))[0] == pytest.approx(1 + 0.08 * 50)


def one_holiday(design: Design, times: float = 2.0) -> tuple[float, float]:
    """Today's coefficients of a holiday of so many times the guests, by the usual and by the given design."""
    names = {days(100)[60]: "Feast"}
    y = np.full((1, 100), 50.0)
    y[0, 60] *= times
    made = terms(days(160), special_days(names))
    past = History(y, np.zeros(y.shape, bool), np.zeros(y.shape), made, np.array([100]))
    beta, _ = coefficients(past, (Design(), design))
    return beta[0, 0, 0, made.names.index("Feast")], beta[1, 0, 0, made.names.index("Feast")]


def test_what_has_forgotten_last_years_holidays_is_lent_half_of_them():
    common, lent = one_holiday(Design(half_life=30.0))
    assert lent == pytest.approx(common / 2)
    assert common > 0.1


def test_a_day_of_two_years_ago_counts_half():
    """A level that doubled half way through four years is a mean weighted two to one, nearly."""
    y = np.where(np.arange(1460) < 730, 20.0, 40.0)[None]
    past = replace(history(1460, y), origins=np.array([1460]))
    flat = Design(extra_pairs=-9, believed=1e-3)
    beta, _ = coefficients(past, (flat,))
    age = 0.5 ** (np.arange(1460, 0, -1) / 730)
    assert np.exp(beta[0, 0, 0, 0]) == pytest.approx(np.average(y[0], weights=age), rel=0.01)


def test_three_origins_share_the_fit_of_the_earliest_of_them_and_today_has_its_own():
    fitted, of = _fits(8)
    assert fitted[of].tolist() == [0, 1, 1, 1, 4, 4, 4, 7]


@pytest.mark.parametrize(("most", "bound"), [(50.0, 300.0), (1.0, 12.0)])
def test_no_more_is_expected_than_six_times_what_was_ever_seen(most, bound):
    y = np.full((1, 60), 1.0)
    y[0, 10] = most
    found = series_forecast(history(60, y), (Design(),), 60)
    assert found.most.tolist() == [bound]
    assert found.mean.max() <= bound


def test_what_a_holiday_of_one_name_brings_is_told_apart_by_how_far_each_is_believed_to_go():
    """A single day, its own effect believed to go by 1 and that of any holiday by 0.35: as their squares."""
    names = {days(100)[60]: "Feast"}
    y = np.full((1, 100), 50.0)
    y[0, 60] = 100.0
    past = replace(history(100, y), terms=terms(days(160), special_days(names)), origins=np.array([100]))
    beta, _ = coefficients(past, (Design(),))
    any_holiday, this_one = (beta[0, 0, 0, past.terms.names.index(name)] for name in ("holiday", "Feast"))
    assert any_holiday / this_one == pytest.approx(0.35**2, rel=1e-3)
    assert this_one > 0.3


@pytest.mark.parametrize(("n_known", "is_enough"), [(6, False), (7, True)])
def test_an_earlier_date_teaches_of_a_dish_that_had_a_week_before_it(n_known, is_enough):
    y = np.where(np.arange(300) < 200 - n_known, np.nan, 5.0)[None]
    past = replace(history(300, y), origins=np.array([200, 300]))
    assert _learnt_enough(past).tolist() == [[is_enough, True]]


@pytest.mark.parametrize(
    ("day", "beside", "ratio"),
    [(60, "Feast", 0.7**2), (59, "before Feast", 2.0**2), (59, "day before", 2.0**2)],
)
def test_an_event_is_believed_to_go_by_seven_tenths_and_a_day_about_a_holiday_by_half_as_much(
    day, beside, ratio
):
    """Two names of a single day share what it brought as the squares of how far each is believed to go."""
    y = np.full((1, 100), 50.0)
    y[0, day] = 100.0
    made = terms(
        days(160), special_days({days(100)[60]: "Feast"}), [NamedEvent("Regatta", (days(100)[day],))]
    )
    past = replace(history(100, y), terms=made, origins=np.array([100]))
    beta, _ = coefficients(past, (Design(),))
    event, other = (beta[0, 0, 0, made.names.index(name)] for name in ("Regatta", beside))
    assert event / other == pytest.approx(ratio, rel=1e-3)


def restless(n_days: int = 500) -> History:
    """Weeks, a season and forty days shut: from an origin every 40 days, and from today."""
    day = np.arange(n_days)
    mean = 50 * np.array([0.4, 0.5, 0.6, 1.0, 1.5, 2.0, 0.5])[day % 7] * (1 + 0.5 * np.sin(day / 58))
    mean[200:240] = 0.0
    y = np.random.default_rng(0).poisson(mean)[None].astype(float)
    return replace(history(n_days, y), origins=np.arange(100, n_days + 1, 40))


def test_a_season_is_believed_to_go_half_as_far_as_a_weekday(monkeypatch):
    """At the optimum what an effect leaves unexplained is the effect over its variance: 1, and 0.25."""
    monkeypatch.setattr(candidates, "TOLERANCE", 1e-14)
    past = restless()
    beta, _ = coefficients(past, (Design(),))
    found, x = beta[0, 0, -1, :-1], past.terms.x[: past.n_days]
    age = 0.5 ** (np.arange(past.n_days, 0, -1) / 730)
    pull = (age * (past.y[0] - np.exp(x @ found))) @ x / dispersion_ratio(past.y)
    for kind, how_far in (("weekday", 1.0), ("season", 0.5)):
        of = [k == kind and bool(b) for k, b in zip(past.terms.kinds, found, strict=True)]
        spread = np.sqrt((found[of] * found[of]).sum() / (found[of] * pull[of]).sum())
        assert spread == pytest.approx(how_far, rel=0.05), kind


def test_no_coefficient_is_further_than_a_hundredth_from_the_optimum(monkeypatch):
    found, _ = coefficients(restless(), DESIGNS)
    monkeypatch.setattr(candidates, "TOLERANCE", 1e-14)
    best, _ = coefficients(restless(), DESIGNS)
    assert found == pytest.approx(best, abs=0.01)
