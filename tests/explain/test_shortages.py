"""Shortages in words: one row per item and day, its cause, what it costs, in order of what it loses."""

from dataclasses import replace
from datetime import date

import houses
import numpy as np
import pytest
from explain.short_houses import (
    BOUGHT,
    MADE,
    flow,
    hake_flows,
    home_of,
    of_eggs,
    on,
    rib_short,
    rows,
)

from ordering.records.buying import Shortfall
from ordering.records.house import MissedCost, Policy


def test_a_shortfall_becomes_a_row_with_its_dish_portions_and_day():
    (row,) = rows(home_of(), [rib_short(3, 12)])
    assert (row.date, row.item, row.short, row.unit) == (on(3), "aged-rib", 3.0, "kg")
    assert row.dishes == "Rib roast: 12 portions (Thu 26 Nov)"


def test_no_time_to_age_says_when_it_had_to_be_started():
    (row,) = rows(home_of(), [rib_short(3, 12)])
    assert row.cause == "no time left to age it: it takes 12 days and was due to start on Sat 14 Nov"


def test_no_time_because_what_goes_in_comes_too_late():
    """Ready on day 13 needs a start on day 1, which is still ahead: the rib is what comes too late."""
    (row,) = rows(home_of(), [rib_short(13, 12)])
    assert "what goes into it cannot be here by Tue 24 Nov, 12 days before" in row.cause


def test_a_shortage_of_many_days_is_told_once():
    """Ten days short: ten rows, the first with length, amount and remedy, the others pointing to it."""
    found = rows(home_of(), [rib_short(day, 20) for day in range(3, 13)])
    assert [row.date for row in found] == [on(day) for day in range(3, 13)]
    assert "short on 10 days, Thu 26 Nov to Sat 5 Dec, 50 kg in all" in found[0].cause
    assert "take Rib roast off the menu on Thu 26 Nov to Sat 5 Dec" in found[0].remedy
    assert {row.remedy for row in found[1:]} == {"as for Thu 26 Nov"}


@pytest.mark.parametrize(("days", "n_told"), [((1, 4), 1), ((1, 5), 2), ((1, 4, 7), 1)])
def test_two_closed_days_between_short_ones_are_no_break_and_three_are(days, n_told):
    found = rows(home_of(), [rib_short(day, 20) for day in days])
    assert sum("take Rib roast off" in row.remedy for row in found) == n_told


def test_rows_of_one_item_and_day_are_merged_with_both_causes():
    (row,) = rows(home_of(), [rib_short(3, 12), rib_short(3, 4, "capacity")])
    assert row.short == pytest.approx(4.0)
    assert row.cause.startswith("no time left to age it")
    assert "no room" in row.cause
    assert row.dishes == "Rib roast: 16 portions (Thu 26 Nov)"


def test_the_earliest_comes_first_then_the_most_portions():
    hake = Shortfall("hake", on(3), 2.0, "no-delivery", {("hake-fillet", on(3), "dinner"): 10.0})
    later = Shortfall("hake", on(5), 2.0, "no-offer", {("hake-fillet", on(5), "dinner"): 10.0})
    found = rows(home_of(), [later, hake, rib_short(3, 12)])
    assert [(row.date, row.item) for row in found] == [(on(3), "aged-rib"), (on(3), "hake"), (on(5), "hake")]


def test_what_buying_cannot_get_is_traced_to_portions():
    """2 kg of hake wanted on day 1 and none can come: 10 portions of 0.2 kg."""
    (row,) = rows(home_of(), unmet=[Shortfall("hake", on(1), 2.0, "no-delivery")], flows=hake_flows())
    assert row.dishes == "Hake fillet: 10 portions (Tue 24 Nov)"
    assert "the next one you can order comes on Thu 26 Nov" in row.cause


def test_a_closed_vendor_is_named_with_its_day():
    home = home_of()
    shut = replace(home.vendors["quay"], closed=frozenset({on(1)}))
    home = replace(home, vendors={**home.vendors, "quay": shut})
    (row,) = rows(home, unmet=[Shortfall("hake", on(1), 2.0, "vendor-closed")], flows=hake_flows())
    assert row.cause == "vendor closed: Quay on Tue 24 Nov"
    assert row.remedy.startswith("Quay is closed on Tue 24 Nov: ask for 1 pack of 2 (quay-hake) before that")


def test_where_only_the_margin_is_short_it_is_said():
    flows = hake_flows(portions=0.0)
    (row,) = rows(home_of(), unmet=[Shortfall("hake", on(1), 0.4, "no-delivery")], flows=flows)
    assert row.dishes == "none expected, only the margin for a busy night"
    assert row.cause.endswith("enough for what is expected, not for a busy night")


@pytest.mark.parametrize(("portions", "is_margin"), [(1.0, True), (1.5, False)])
def test_less_than_a_twentieth_expected_is_margin_alone(portions, is_margin):
    """Of 5 kg out of reach one portion wants 0.2 kg, one and a half 0.3."""
    short = Shortfall("hake", on(1), 5.0, "no-delivery")
    (row,) = rows(home_of(), unmet=[short], flows=hake_flows(portions))
    assert row.cause.endswith("enough for what is expected, not for a busy night") == is_margin


@pytest.mark.parametrize(("portions", "is_said"), [(7.5, True), (8.5, False)])
def test_where_four_fifths_are_expected_nothing_is_said_of_a_busy_night(portions, is_said):
    short = Shortfall("hake", on(1), 2.0, "no-delivery")
    (row,) = rows(home_of(), unmet=[short], flows=hake_flows(portions))
    assert ("in case it is busy" in row.cause) == is_said


def test_a_margin_alone_that_is_short_is_not_told_weeks_ahead():
    flows = hake_flows(portions=0.0, n_days=20)
    portions = {"hake-fillet": [10.0] * 20}
    far, near = Shortfall("hake", on(14), 0.4, "no-offer"), Shortfall("hake", on(13), 0.4, "no-offer")
    found = rows(home_of(), unmet=[far, near], flows=flows, portions=portions)
    assert [row.date for row in found] == [on(13)]


def test_what_netting_says_is_not_said_again_by_buying():
    short = Shortfall("hake", on(1), 2.0, "no-delivery", {("hake-fillet", on(1), "dinner"): 10.0})
    unmet = Shortfall("hake", on(1), 2.6, "no-delivery")
    (row,) = rows(home_of(), [short], [unmet], flows=hake_flows())
    assert row.short == 2.0


@pytest.mark.parametrize(
    ("item", "cause"), [*(("rib", cause) for cause in BOUGHT), *(("aged-rib", cause) for cause in MADE)]
)
def test_every_cause_has_words_and_something_to_do(item, cause):
    short = Shortfall(item, on(3), 50.0, cause, {("rib-roast", on(3), "dinner"): 4.0})
    (row,) = rows(home_of(), [short])
    assert cause not in row.cause.split()
    assert len(row.remedy.split("; ")) >= 2


def test_nothing_short_gives_no_row():
    assert rows(home_of()) == ()


def test_the_dates_are_real_dates():
    (row,) = rows(home_of(), [rib_short(3, 12)])
    assert isinstance(row.date, date)


def test_a_shortage_that_is_mostly_margin_says_how_much_is_expected():
    """5 kg out of reach, of which 2 kg are expected to be wanted that day."""
    (row,) = rows(home_of(), unmet=[Shortfall("hake", on(1), 5.0, "no-delivery")], flows=hake_flows())
    assert row.cause.endswith("2 kg of it is expected to be needed, the rest is in case it is busy")
    assert row.dishes == "Hake fillet: 10 portions (Tue 24 Nov)"


@pytest.mark.parametrize(
    ("n_dishes", "rest", "same"),
    [
        (6, "Plate 5: 1 portion (Wed 25 Nov)", "the same for Plate 3, Plate 4 and Plate 5"),
        (7, "1 more dish: 1 portion", "the same for Plate 3, Plate 4, Plate 5 and Plate 6"),
        (8, "2 more dishes: 2 portions", "the same for Plate 3, Plate 4, Plate 5 and 2 more"),
    ],
)
def test_of_many_dishes_the_first_are_told_and_the_rest_counted(n_dishes, rest, same):
    names = [f"plate-{n}" for n in range(n_dishes)]
    home = houses.house(
        [houses.ingredient("cream")],
        [houses.recipe(name, 1.0, {"cream": 0.1}, unit="each") for name in names],
        [houses.dish(name, name) for name in names],
    )
    short = Shortfall("cream", on(2), 1.0, "no-delivery", {(name, on(2), "dinner"): 1.0 for name in names})
    (row,) = rows(home, [short], portions={name: [20.0] * 5 for name in names}, deliveries={})
    assert row.dishes.endswith(rest)
    assert row.remedy.endswith(same)


def test_no_part_of_a_piece_is_said_to_be_short():
    """4.24 eggs and 5.24: 10 in all are to be got; the table keeps what the sum came to."""
    found = of_eggs(4.24, 5.24)
    assert found[0].cause.endswith("short on 2 days, Mon 23 Nov and Tue 24 Nov, 10 in all")
    assert [row.short for row in found] == [4.24, 5.24]


def test_each_row_says_what_it_loses_in_money_and_in_guests():
    """Hake at 22.00 with 3.00 of fish: a margin of 19.00, and what the house says a missed guest costs."""
    home = home_of(policy=Policy(paths=1, missed_cost=MissedCost(times=0.0)))
    hake = Shortfall("hake", on(3), 2.0, "no-delivery", {("hake-fillet", on(3), "dinner"): 10.0})
    (row,) = rows(home, [hake])
    assert (row.portions, row.money) == (10.0, pytest.approx(190.0))


def test_a_dish_without_a_price_is_worth_what_the_others_are():
    home = home_of(policy=Policy(paths=1, missed_cost=MissedCost(times=0.0)))
    free = replace(home.dishes["rib-roast"], price=None)
    (row,) = rows(replace(home, dishes={**home.dishes, "rib-roast": free}), [rib_short(3, 10)])
    assert row.money == pytest.approx(190.0)


def test_what_a_dish_can_go_without_says_so_and_hits_no_portion():
    home = home_of()
    lines = (*home.recipes["hake-plate"].lines, houses.line("rib", 0.1, is_optional=True))
    plate = replace(home.recipes["hake-plate"], lines=lines)
    home = replace(home, recipes={**home.recipes, "hake-plate": plate})
    flows = {"rib": flow("rib", [0, 0, 0, 1.0] + [0] * 10, {"hake-plate": np.eye(14)[3]})}
    flows |= {"hake-plate": flow("hake-plate", [10.0] * 14, {"hake-fillet": np.full(14, 10.0)})}
    (row,) = rows(home, unmet=[Shortfall("rib", on(3), 1.0, "no-delivery")], flows=flows)
    assert row.is_optional
    assert (row.portions, row.money) == (0.0, 0.0)
    assert row.dishes == "Hake plate can go without"
