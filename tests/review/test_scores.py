"""Forecast as issued against what came: which forecast counts, and every score by hand."""

from datetime import date, timedelta

import pandas as pd
import pytest
from houses import books, dish, house, ingredient, offer, recipe, vendor

from ordering.records.house import Party, RecipeLine
from ordering.records.ledger import ISSUED_COLUMNS
from ordering.review.leads import dish_leads
from ordering.review.scores import (
    actuals,
    cover_scores,
    dish_scores,
    hosted,
    naive,
    pairs,
    score,
    weekly_changes,
)

THU = date(2026, 11, 5)


def issued(*rows):
    """Rows (issued_on, date, dish, mean, q05, q10, q90, q95) of dinner as the ledger gives them."""
    full = [
        (i.isoformat(), i, d, "dinner", dish_id, mean, q05, q10, mean, mean, mean, q90, q95)
        for i, d, dish_id, mean, q05, q10, q90, q95 in rows
    ]
    table = pd.DataFrame(full, columns=list(ISSUED_COLUMNS))
    for column in ("issued_on", "date"):
        table[column] = pd.to_datetime(table[column])
    return table


def about(issued_on, day, mean, dish_id="*", low=2.0, high=4.0):
    """A forecast with 80 % within `low` and 90 % within `high` of its mean."""
    return (issued_on, day, dish_id, mean, mean - high, mean - low, mean + low, mean + high)


def came(*rows):
    return {(day, "dinner", dish_id): float(n) for day, dish_id, n in rows}


FRI, SAT = THU + timedelta(1), THU + timedelta(2)


def test_the_freshest_forecast_within_the_lead_counts():
    table = issued(
        about(THU - timedelta(14), SAT, 10.0), about(THU - timedelta(7), SAT, 20.0), about(THU, SAT, 30.0)
    )
    actual = came((SAT, "*", 25))
    assert [p.mean for p in pairs(table, actual, (0, 7))] == [30.0]
    assert [p.mean for p in pairs(table, actual, (8, 14))] == [20.0]
    assert [p.mean for p in pairs(table, actual, (9, 9))] == [20.0]
    assert [p.lead_days for p in pairs(table, actual, (0, 10_000))] == [2]
    assert pairs(table, actual, (3, 8)) == []


def test_a_service_that_nothing_was_recorded_of_is_left_out():
    table = issued(about(THU, FRI, 10.0), about(THU, SAT, 20.0))
    assert [p.served_on for p in pairs(table, came((SAT, "*", 25)), (0, 7))] == [SAT]


def test_naive_is_the_last_week_that_was_known_when_the_forecast_was_issued():
    actual = came(*((SAT - timedelta(weeks=n), "*", 10 * n) for n in range(1, 10)))
    assert naive(actual, (SAT, "dinner", "*"), THU) == 10.0
    assert naive(actual, (SAT, "dinner", "*"), SAT - timedelta(7)) == 20.0, "that evening was still to come"
    assert naive(actual, (SAT, "dinner", "*"), SAT - timedelta(weeks=9)) is None, "eight weeks back at most"


def test_every_score_by_hand():
    """Forecast 20, 30, 10 against 25, 28, 10; the weeks before had 20, 20 and nothing known.

    Misses 5 + 2 + 0 = 7 of 63; forecast 60 of 63. Within 80 % (2 either side): 28 and 10, not 25;
    within 90 % (4 either side): the same. Naive misses 5 + 8 = 13 of 53; ours on those two 7.
    """
    table = issued(about(THU, THU, 20.0), about(THU, FRI, 30.0), about(THU, SAT, 10.0))
    week = timedelta(7)
    actual = came(
        (THU, "*", 25), (FRI, "*", 28), (SAT, "*", 10), (THU - week, "*", 20), (FRI - week, "*", 20)
    )
    s = score("dinner", "0 to 7 days", pairs(table, actual, (0, 7)))
    assert (s.n, s.actual, s.forecast) == (3, 63.0, 60.0)
    assert s.bias == pytest.approx(-3 / 63)
    assert s.wape == pytest.approx(7 / 63)
    assert s.inside_80 == pytest.approx(2 / 3)
    assert s.inside_90 == pytest.approx(2 / 3)
    assert s.naive_wape == pytest.approx(13 / 53)
    assert s.gain == pytest.approx(1 - 7 / 13)


def test_a_miss_is_scaled_by_the_change_from_week_to_week_known_when_it_was_forecast():
    """Hyndman and Koehler, International Journal of Forecasting 22 (2006), 679-688, their q and MASE; the
    season is a week, as in Forecasting: Principles and Practice, 3rd ed., 5.8. Worked by hand.

    Saturdays 20, 26, 23, 31: changes 6, 3, 8, mean 17/3. Forecast on Thursday: misses of 3 and 5, so
    (3 + 5) / 2 / (17/3) = 12/17. What came after that Thursday is not a part of the scale.
    """
    week = timedelta(7)
    past = [(SAT - n * week, "*", value) for n, value in ((4, 20), (3, 26), (2, 23), (1, 31))]
    actual = came(*past, (SAT, "*", 30), (SAT + week, "*", 24))
    table = issued(about(THU, SAT, 27.0), about(THU, SAT + week, 29.0))
    compared = pairs(table, actual, (0, 14), weekly_changes(actual))
    assert [p.scale for p in compared] == [pytest.approx(17 / 3)] * 2
    assert score("dinner", "", compared).mase == pytest.approx(12 / 17)
    (covers,) = cover_scores(table[table["date"] == pd.Timestamp(SAT)], actual, ["dinner"])
    assert covers.mase == pytest.approx(9 / 17), "a miss of 3"


def test_where_no_two_weeks_are_known_nothing_is_scaled():
    """Closed the week before, the first week of all, and weeks that never differed."""
    week = timedelta(7)
    for past in ([], [(SAT - week, "*", 20)], [(SAT - 2 * week, "*", 20), (SAT - week, "*", 20)]):
        actual = came(*past, (SAT, "*", 30))
        compared = pairs(issued(about(THU, SAT, 27.0)), actual, (0, 7), weekly_changes(actual))
        assert score("dinner", "", compared).mase is None


def test_the_scale_of_a_dish_is_its_own():
    week = timedelta(7)
    weeks = [(SAT - n * week, dish_id, n * by) for n in (2, 1) for dish_id, by in (("pie", 4), ("soup", 10))]
    actual = came(*weeks, (SAT, "pie", 6), (SAT, "soup", 15))
    table = issued(about(THU, SAT, 4.0, "pie"), about(THU, SAT, 20.0, "soup"))
    found = {s.name: s.mase for s in dish_scores(table, actual, set(), {})}
    assert found == {"pie": pytest.approx(2 / 4), "soup": pytest.approx(5 / 10), "all dishes": 0.5}


def test_a_stretch_without_a_guest_has_no_share_to_be_off_by():
    s = score("dinner", "", pairs(issued(about(THU, SAT, 3.0)), came((SAT, "*", 0)), (0, 7)))
    assert (s.bias, s.wape, s.naive_wape, s.gain) == (None, None, None, None)
    assert s.forecast == 3.0


def test_covers_are_scored_by_service_and_by_days_ahead():
    table = issued(
        about(THU, SAT, 20.0),
        about(THU - timedelta(7), SAT, 22.0),
        about(THU - timedelta(21), SAT, 30.0),
        about(THU, SAT, 5.0, "pie"),
    )
    found = cover_scores(table, came((SAT, "*", 25), (SAT, "pie", 5)), ["lunch", "dinner"])
    assert [(s.name, s.lead, s.forecast) for s in found] == [
        ("dinner", "0 to 7 days", 20.0),
        ("dinner", "8 to 14 days", 22.0),
        ("dinner", "over 14 days", 30.0),
    ]


def test_a_dish_is_scored_by_the_forecast_still_in_time_for_it():
    """Issued 2 and 9 days ahead; a dish that takes 5 days was decided on the older one."""
    table = issued(about(THU, SAT, 6.0, "pie"), about(THU - timedelta(7), SAT, 9.0, "pie"))
    actual = came((SAT, "pie", 7))
    assert dish_scores(table, actual, set(), {"pie": 1})[1].forecast == 6.0
    older = dish_scores(table, actual, set(), {"pie": 5})[1]
    assert (older.forecast, older.lead) == (9.0, "5 days or more")
    assert dish_scores(table, actual, set(), {"pie": 10}) == ()


def test_a_service_where_the_dish_ran_out_is_no_measure_of_the_forecast():
    table = issued(about(THU, FRI, 6.0, "pie"), about(THU, SAT, 6.0, "pie"))
    sold = books([("2026-11-06", "dinner", "pie", 4), ("2026-11-07", "dinner", "pie", 7)])
    sold.sales["sold_out"] = [True, False]
    actual, out = actuals(house(), sold.sales, sold.covers)
    assert out == {(FRI, "dinner", "pie")}
    assert [(s.n, s.actual) for s in dish_scores(table, actual, out, {})[1:]] == [(1, 7.0)]


def test_all_dishes_together_come_first_then_the_most_sold():
    """Pie off by 1 of 7 and soup by 2 of 9: together 3 of 16."""
    table = issued(about(THU, SAT, 6.0, "pie"), about(THU, SAT, 11.0, "soup"))
    found = dish_scores(table, came((SAT, "pie", 7), (SAT, "soup", 9)), set(), {})
    assert [s.name for s in found] == ["all dishes", "soup", "pie"]
    assert found[0].wape == pytest.approx(3 / 16)


def test_the_lead_of_a_dish_is_its_longest_chain_from_the_cut_off():
    """Rib: 35 days of ageing and 2 from cut-off to delivery; the sauce 1 + 1, needed a day into the steak."""
    home = house(
        ingredients=[
            ingredient("rib", offers=(offer("butcher", "rib"),)),
            ingredient("wine", "l", offers=(offer("cellar", "wine"),)),
        ],
        recipes=[
            recipe("aged-rib", 1.0, {"rib": 1.4}, takes_days=35),
            recipe("sauce", 1.0, {"wine": 2.0}, unit="l", takes_days=1),
            recipe("steak", 1.0, [RecipeLine("aged-rib", 1.0), RecipeLine("sauce", 0.1)], takes_days=1),
            recipe("jelly", 1.0, [RecipeLine("wine", 1.0, at_days=2)], takes_days=2),
        ],
        dishes=[dish("rib-steak", "steak"), dish("wine-jelly", "jelly"), dish("glass-of-sauce", "sauce")],
        vendors=[vendor("butcher", days=(2,), lead_days=2), vendor("cellar", days=(2,), lead_days=1)],
    )
    assert dish_leads(home) == {"rib-steak": 38, "wine-jelly": 2, "glass-of-sauce": 2}


def test_a_recipe_that_feeds_itself_is_followed_once():
    home = house(
        ingredients=[ingredient("flour", offers=(offer("mill", "flour"),))],
        recipes=[
            recipe(
                "levain",
                1.0,
                [RecipeLine("levain", 0.5, returns=0.5), RecipeLine("flour", 0.5)],
                takes_days=2,
            )
        ],
        dishes=[dish("bread", "levain")],
        vendors=[vendor("mill")],
    )
    assert dish_leads(home) == {"bread": 3}


def hosting(is_alone=False):
    """A house with a party of 40 on Friday, half of whom eat the pie."""
    return house(parties=(Party("Wedding", FRI, "dinner", 40, {"pie": 20.0}, is_instead=is_alone),))


@pytest.mark.parametrize(("in_book", "everybody"), [(90, 90), (30, 70), (40, 40)])
def test_a_party_that_the_books_leave_out_is_added_to_what_came(in_book, everybody):
    """A forecast as issued holds the party: so does what it is held against. 30 guests cannot hold 40."""
    sold = books(
        sales=[(FRI.isoformat(), "dinner", "pie", 12)], covers=[(FRI.isoformat(), "dinner", in_book)]
    )
    actual, _ = actuals(hosting(), sold.sales, sold.covers)
    assert actual[FRI, "dinner", "*"] == everybody
    assert actual[FRI, "dinner", "pie"] == 32


def test_last_week_is_compared_without_its_party_and_with_that_of_the_day():
    """Naive for a Friday with 40 guests of a party: 50 walk-ins of the week before and these 40; for the
    Friday after it: its 50 walk-ins alone, not its 90 covers."""
    before, after = FRI - timedelta(7), FRI + timedelta(7)
    actual = came((before, "*", 50), (FRI, "*", 90), (after, "*", 50))
    table = issued(about(THU, FRI, 90.0), about(THU + timedelta(7), after, 50.0))
    found = pairs(
        table, actual, (0, 7), weekly_changes(hosted(hosting()).walk_ins(actual)), hosted(hosting())
    )
    assert [p.naive for p in found] == [90.0, 50.0]
    assert [p.scale for p in found] == [None, None]  # walk-ins have not moved from week to week


def test_of_a_service_a_party_had_to_itself_nothing_is_learnt_about_walk_ins():
    after = FRI + timedelta(7)
    actual = came((FRI - timedelta(7), "*", 50), (FRI, "*", 40), (after, "*", 60))
    alone = hosted(hosting(is_alone=True))
    found = pairs(issued(about(THU + timedelta(7), after, 55.0)), actual, (0, 7), None, alone)
    assert found[0].naive == 50.0


@pytest.mark.parametrize(("weeks", "known"), [(8, 30.0), (9, None)])
def test_naive_looks_eight_weeks_back(weeks, known):
    came = {(SAT - timedelta(weeks=weeks), "dinner", "*"): 30.0}
    assert naive(came, (SAT, "dinner", "*"), THU) == known
