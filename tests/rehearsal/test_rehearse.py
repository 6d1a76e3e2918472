"""The past replayed three ways on a tiny house: the same guests, the same stock to begin with."""

from datetime import date, timedelta

import pytest
from houses import books, dish, house, ingredient, offer, recipe, vendor
from kitchens import CONFIG, THU

from ordering.faults import Refused
from ordering.records.house import Policy
from ordering.records.rehearsal_results import WayResult
from ordering.rehearse import TRIED_TIMES, distance_closed, rehearse, rehearse_past, tuned

LAST = date(2026, 11, 22)


@pytest.fixture(scope="module")
def stew_house():
    """A stew of two days, ten portions every night; the butcher comes on Wednesday and Saturday."""
    home = house(
        ingredients=[
            ingredient("beef", keeps_days=4, offers=(offer("butcher", "beef", 1.0, "10.00"),)),
            ingredient("salt", offers=(offer("butcher", "salt", 1.0, "1.00"),)),
        ],
        recipes=[
            recipe("stew", 2.0, {"beef": 2.0, "salt": 0.02}, takes_days=2, keeps_days=4),
            recipe("plate", 1.0, {"stew": 0.2}, unit="each"),
        ],
        dishes=[dish("stew-plate", "plate", price=20)],
        vendors=[vendor("butcher")],
        policy=Policy(0.95, 40, 1),
    )
    days = [LAST - timedelta(days=n) for n in range(130)]
    record = books(
        sales=[(day.isoformat(), "dinner", "stew-plate", 10.0) for day in days],
        covers=[(day.isoformat(), "dinner", 10.0) for day in days],
    )
    return home, record


@pytest.fixture(scope="module")
def outcomes(stew_house):
    return rehearse(*stew_house, LAST - timedelta(days=13), LAST)


def test_all_three_meet_the_same_guests(outcomes):
    assert [outcome.wanted for outcome in outcomes] == [140.0] * 3


def test_with_steady_guests_the_program_serves_as_well_as_foresight(outcomes):
    _, program, foresight = outcomes
    assert foresight.missed == 0
    assert program.missed == 0
    assert program.revenue == foresight.revenue == 140 * 20


def test_nothing_is_worth_more_than_knowing(outcomes):
    pars, program, foresight = outcomes
    assert max(pars.profit, program.profit) <= foresight.profit + 10.0 * 2


@pytest.mark.parametrize(("program", "share"), [(100.0, 0.0), (150.0, 0.5), (200.0, 1.0)])
def test_distance_closed_is_the_share_of_the_way_to_foresight(program, share):
    def outcome(profit):
        return WayResult("any", 1, 1, profit, 0, 0, 0, 0)

    assert distance_closed(outcome(100.0), outcome(program), outcome(200.0)) == share


def test_other_costs_of_a_missed_portion_are_tried_on_the_same_days_and_told_as_they_run(stew_house):
    """With ten guests every night nothing is missed at any cost, and the house itself stays as it was."""
    told = []
    tried = tuned(*stew_house, LAST - timedelta(days=6), LAST, told.append)
    assert [one.missed_cost.times for one in tried] == list(TRIED_TIMES)
    assert [one.outcome.wanted for one in tried] == [70.0] * len(TRIED_TIMES)
    assert {one.outcome.missed for one in tried} == {0.0}
    assert stew_house[0].policy.missed_cost is None
    assert told[0].startswith(f"1 of {len(TRIED_TIMES)}, a missed portion at 0 x its margin: ")


def rehearsed(folder, n_days_before):
    """A day's rehearsal of a house whose sales begin so many days before it."""
    sales = "".join(
        f"{THU - timedelta(days=n)},dinner,duck-pie,{n % 3}\n" for n in range(1, n_days_before + 2)
    )
    files = {
        **{f"config/{name}": text for name, text in CONFIG.items()},
        "books/sales.csv": "date,service,dish,sold\n" + sales,
    }
    for name, text in files.items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, "utf-8")
    return rehearse_past(folder / "config", folder / "books", THU, 1, folder / "out")


def test_two_weeks_that_do_not_count_and_the_four_that_pars_look_back_on_are_enough(tmp_path):
    """Six weeks of sales before the first day replayed; of a day less the chef is told what there must be."""
    report = rehearsed(tmp_path / "enough", 42)
    assert report.written == (tmp_path / "enough" / "out" / "rehearsal.csv",)
    with pytest.raises(Refused) as refused:
        rehearsed(tmp_path / "short", 41)
    assert refused.value.faults[0].right == "a rehearsal of 1 day needs them from 2026-10-14"
    assert not (tmp_path / "short" / "out").exists()
