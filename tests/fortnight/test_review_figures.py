"""The review of the fortnight, number by number against sums made by hand."""

from datetime import date

import pytest
from tiny_oven import COVERS, FRI, PORTION_COST, SAT, SOLD_OUT, TARTS, THU, WEEK, stock_in_theory


def issued(fortnight):
    """Forecasts as the runs' own files have them: (issued on, day, dish) to their row; last run of a day."""
    found = {}
    for run in ("2026-11-05", "2026-11-05-2", "2026-11-12"):
        for row in fortnight.table(run, "forecast"):
            found[date.fromisoformat(run[:10]), date.fromisoformat(row["date"]), row["dish"]] = row
    return found


def freshest(fortnight, dish, least, most):
    """By day, the forecast of the latest run that was made so many days before."""
    best = {}
    for (made_on, day, name), row in issued(fortnight).items():
        if name == dish and day in COVERS and least <= (day - made_on).days <= most:
            best[day] = max(best.get(day, (date.min, None)), (made_on, row), key=lambda pair: pair[0])
    return {day: row for day, (_, row) in best.items()}


def scored(rows, actual, naive):
    """Bias, WAPE, coverage and naive WAPE by the definitions, with nothing but sums."""
    n, total = len(rows), sum(actual[d] for d in rows)
    mean = {d: float(r["mean"]) for d, r in rows.items()}
    inside = sum(float(r["q10"]) <= actual[d] <= float(r["q90"]) for d, r in rows.items()) / n
    return {
        "services": n,
        "came": total,
        "forecast": pytest.approx(sum(mean.values()), abs=0.05),
        "leans": pytest.approx((sum(mean.values()) - total) / total, abs=1e-3),
        "off by": pytest.approx(sum(abs(mean[d] - actual[d]) for d in rows) / total, abs=1e-3),
        "in range": pytest.approx(inside),
        "last week off by": pytest.approx(sum(abs(naive[d] - actual[d]) for d in rows) / total),
    }


def test_covers_as_issued_against_covers_that_came(fortnight, sheets):
    """Naive of the run of Thu 5: the week before, 20, 30, 40. Of Thu 12: the week of the 5th.

    Further ahead than the runs go the forecasts are remade, as they would have been issued.
    """
    within_week = {THU: 20, FRI: 30, SAT: 40}
    within_week |= {d + WEEK: COVERS[d] for d in within_week}
    near, *further = sheets["Covers"]
    scores = scored(freshest(fortnight, "*", 0, 7), COVERS, within_week)
    assert {head: near[head] for head in scores} == scores
    assert [row["ahead"] for row in (near, *further)] == ["0 to 7 days", "8 to 14 days", "over 14 days"]
    assert {row["services"] for row in further} == {6}


def test_covers_day_by_day_with_their_interval(fortnight, sheets):
    rows = freshest(fortnight, "*", 0, 7)
    for (day, row), shown in zip(sorted(rows.items()), sheets["Covers dinner"], strict=True):
        assert shown["came"] == COVERS[day]
        assert shown["forecast"] == pytest.approx(float(row["mean"]), abs=0.06)
        assert shown["range from"] == float(row["q10"])
        assert shown["range from"] + shown["range width"] == float(row["q90"])


def test_tarts_by_the_forecast_that_was_in_time_for_friday_s_delivery(fortnight, sheets):
    """Cut-off to delivery is a day, so Thu 12 stands on the run of Thu 5; the 86'd evening is left out.

    Thu 5 itself was before the first run: its forecast is remade, as it would have been issued.
    """
    rows = freshest(fortnight, "cheese-tart", 1, 60)
    rows = {d: r for d, r in rows.items() if d != SOLD_OUT}
    assert set(rows) == {SAT, THU + WEEK, FRI + WEEK, SAT + WEEK}
    naive = {SAT: 20, THU + WEEK: 10, FRI + WEEK: TARTS[FRI], SAT + WEEK: TARTS[SAT]}
    every, row = sheets["Dishes"]
    issued = scored(rows, TARTS, naive)
    assert (row["dish"], row["ahead"], every["dish"]) == ("Cheese tart", "1 day or more", "all dishes")
    for shown in (row, every):
        remade = shown["forecast"] - sum(float(r["mean"]) for r in rows.values())
        assert (shown["services"], shown["came"]) == (issued["services"] + 1, issued["came"] + TARTS[THU])
        assert remade == pytest.approx(TARTS[THU], abs=3)


def test_the_food_cost(fortnight, sheets):
    """83 tarts at 9.00 and at 1.20; bought 2 x 10.00 + 21.00 and the second order."""
    second = fortnight.ordered("2026-11-12")
    bought = 41.00 + 10.00 * second.get("M-1", 0) + 20.00 * second.get("M-2", 0)
    flour, cheese = stock_in_theory(second)
    last = round(flour - 0.5, 3) * 1.00 + round(cheese, 3) * 10.00
    money = {r["what"]: r["GBP"] for r in sheets["Food cost"]}
    assert sum(TARTS.values()) == 83
    assert money["sales of dishes with a price"] == 747.00
    assert money["theoretical cost of what was sold"] == pytest.approx(83 * PORTION_COST) == 99.60
    assert money["bought, as invoiced"] == pytest.approx(bought)
    assert money["stock at the start"] == 12 * 1.00 + 4 * 10.00 == 52.00
    assert money["stock at the end"] == pytest.approx(last)
    assert money["used: start plus bought, less end"] == pytest.approx(52.00 + bought - last)
    # Above theory: 1.00 paid more for cheese, 5.00 mouldy, 1.40 and 0.50 lacking at the counts.
    assert money["used above theory"] == pytest.approx(52.00 + bought - last - 99.60)
    assert money["used above theory"] == pytest.approx(1.00 + 5.00 + 1.40 + 0.50)
    assert money["of that, thrown away and logged"] == 5.00
    shares = {r["what"]: r["of sales"] for r in sheets["Food cost"]}
    assert shares["theoretical cost of what was sold"] == pytest.approx(99.60 / 747.00)


def test_spend_by_week_against_the_budget(fortnight, sheets):
    """60.00 a week: four days of the first week, all of the second, three days of the third."""
    second = fortnight.ordered("2026-11-12")
    again = 10.00 * second.get("M-1", 0) + 20.00 * second.get("M-2", 0)
    rows = [
        (r["ordered"], r["bought for"], r["should be"], r["budget"], r["over (+) or under"])
        for r in sheets["Spend"]
    ]
    assert rows == [
        pytest.approx((60.00, 41.00, 1.20 / 9.00, 34.29, 41.00 - 34.29)),
        pytest.approx((again + 1.00 * second["M-2"], again, 1.20 / 9.00, 60.00, again - 60.00)),
        (0.00, 0.00, None, 25.71, -25.71),
    ]


def test_what_was_86d(fortnight, sheets):
    """Missed on Fri 6: the forecast of the day before less the 12 sold, at 9.00 less 1.20."""
    mean = float(freshest(fortnight, "cheese-tart", 0, 60)[SOLD_OUT]["mean"])
    assert mean > 12, "or the story would show nothing"
    (row,) = sheets["86'd"]
    assert row["times"] == 1
    assert row["portions missed"] == pytest.approx(mean - 12, abs=0.06)
    assert row["margin"] == pytest.approx((mean - 12) * 7.80, abs=0.05)


def test_what_was_thrown_away(sheets):
    assert sheets["Thrown away"] == [
        {"item": "Hard cheese", "how much": "500 g", "cost": 5.00, "why": "mould"}
    ]


def test_orders_against_use(fortnight, sheets):
    second = fortnight.ordered("2026-11-12")
    more_flour, more_cheese = 10 * second.get("M-1", 0), 2 * second.get("M-2", 0)
    by_item = {r.pop("item"): r for r in (dict(row) for row in sheets["Orders and use"])}
    assert by_item["Bread flour"] == pytest.approx(
        {
            "unit": "kg",
            "ordered": 20.0 + more_flour,
            "came": 20.0 + more_flour,
            "use in theory": 83 * 0.2,
            "thrown away": 0.0,
            "over (+) or short": -0.9,  # 0.4 on the 12th, 0.5 on the morning after the last day
            "of that in money": -0.90,
            "bought for": 20.00 + more_flour * 1.00,
        }
    )
    assert by_item["Hard cheese"] == pytest.approx(
        {
            "unit": "kg",
            "ordered": 4.0 + more_cheese,
            "came": 2.0 + more_cheese,
            "use in theory": 83 * 0.1,
            "thrown away": 0.5,
            "over (+) or short": -0.1,
            "of that in money": -1.00,
            "bought for": 21.00 + more_cheese * 10.00,
        }
    )


def test_the_price_that_went_up(sheets):
    (row,) = sheets["Prices"]
    assert (row["vendor"], row["code"]) == ("Old Mill", "M-2")
    assert (row["agreed"], row["last charged"]) == (20.00, 21.00)
    assert row["change"] == pytest.approx(0.05)
    assert row["paid more"] == 1.00


def test_what_is_worth_doing_is_ranked_by_money(fortnight, sheets):
    """The tarts missed, the mould, then what the counts lack; goods that did not come were not paid for."""
    mean = float(freshest(fortnight, "cheese-tart", 0, 60)[SOLD_OUT]["mean"])
    expected = {
        "Cheese tart: 86'd once": (mean - 12) * 7.80,
        "500 g of Hard cheese thrown away (mould)": 5.00,
        "counts found 100 g of Hard cheese less": 1.00,
        "Old Mill charged 21.00 for M-2 Hard cheese": 1.00,
        "counts found 900 g of Bread flour less": 0.90,
    }
    ranked = sorted(expected.values(), reverse=True)[:5]
    rows = sheets["Worth doing"]
    assert [r["GBP"] for r in rows] == pytest.approx(ranked, abs=0.05)
    for row in rows:
        (words,) = [w for w in expected if w in row["what"]]
        assert row["GBP"] == pytest.approx(expected[words], abs=0.05)
