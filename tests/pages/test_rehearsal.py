"""What a rehearsal says first: money against foresight, then waste, then pars."""

from datetime import date

import pytest

from ordering.pages.rehearsal import rehearsal_table, rehearsal_text, tuning_text
from ordering.records.house import MissedCost
from ordering.records.rehearsal_results import Tried, WayResult

STRETCH = (date(2026, 10, 29), date(2026, 11, 25))
PARS = WayResult("pars alone", 5161, 5000, 60_000.0, 900.0, 20_000.0, 3275.4, 0.0)
PROGRAM = WayResult("this program", 5161, 5122, 62_000.0, 300.0, 20_000.0, 3002.0, 0.0)
FORESIGHT = WayResult("perfect foresight", 5161, 5155, 62_500.0, 40.0, 19_500.0, 1183.0, 0.0)


def test_money_against_foresight_comes_first_and_pars_after_it():
    lines = rehearsal_text((PARS, PROGRAM, FORESIGHT), 2 / 3, STRETCH, "GBP")
    text = " ".join(lines)
    assert (
        "In these 28 days the program would have kept 42,000 after paying for goods: 1,000 less (2 %)" in text
    )
    assert "than with every guest known beforehand, 2,000 more than with the best pars" in text
    assert "Thrown away: 3,002 at cost, 1,183 with every guest known, 3,275 with pars" in text
    assert "Portions not served: 39, 6 and 161." in text
    assert text.index("every guest known") < text.index("best pars") < text.index("67 %")
    assert max(map(len, lines)) <= 80


def test_pars_that_did_as_well_are_said_to():
    text = " ".join(rehearsal_text((FORESIGHT, PROGRAM, FORESIGHT), float("nan"), STRETCH, ""))
    assert "Pars did as well" in text
    assert "%" not in text.replace("(2 %)", "")


def test_the_table_has_a_row_for_each_way():
    rows = rehearsal_table((PARS, PROGRAM, FORESIGHT)).rows
    assert [row[0] for row in rows] == ["pars alone", "this program", "perfect foresight"]


def at(times: float, more: float) -> Tried:
    return Tried(
        MissedCost(times=times), WayResult("x", 5161, 5140, 62_000.0 + more, 0, 20_000.0, 3100.0, 0.0)
    )


def test_a_cost_that_would_have_kept_more_is_offered_and_never_taken_over():
    lines = tuning_text(PROGRAM, [at(0.0, 0.0), at(2.0, 378.0), at(4.0, 100.0)], 28)
    text = " ".join(lines)
    assert "At 2 x margin you would have kept 410 more a month." in text
    assert "missed_cost: 2 x margin under policy in house.yaml; nothing has been changed" in text
    assert max(map(len, lines)) <= 80


def test_where_none_would_have_kept_more_it_is_left_as_it_is():
    text = " ".join(tuning_text(PROGRAM, [at(0.0, -50.0), at(2.0, 20.0)], 28))
    assert "leave it as it is" in text
    assert "house.yaml" not in text


@pytest.mark.parametrize(("more", "is_offered"), [(80.0, False), (90.0, True)])
def test_less_than_two_in_a_thousand_of_what_was_kept_is_no_reason_to_change(more, is_offered):
    """Of 42,000: weeks differ by more than 84."""
    assert ("house.yaml" in " ".join(tuning_text(PROGRAM, [at(2.0, more)], 28))) == is_offered
