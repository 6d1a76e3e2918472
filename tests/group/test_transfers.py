"""What is over in one house and short in another that a van reaches."""

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from pathlib import Path

import pytest

from ordering.group.transfers import transfers
from ordering.records.group import Group, HouseRun, Member, Surplus, Want

MON = date(2026, 11, 23)


def day(n):
    return MON + timedelta(days=n)


def a_group(*houses, vans=()):
    return Group("Some", {h: Member(h, Path(h), Path(h), Path(h)) for h in houses}, vans=vans)


def run(house, over=(), short=(), next_run=None):
    """`over`: (quantity, last day, worth); `short`: (quantity, day)."""
    return HouseRun(
        house,
        1,
        surplus=tuple(Surplus(house, "veal", "Veal", day(d), q, "kg", Decimal(w)) for q, d, w in over),
        shortages=tuple(Want(house, "veal", "Veal", day(d), q, "kg") for q, d in short),
        next_run=next_run,
    )


def moved(group, *runs):
    return [(m.from_house, m.to_house, m.quantity, m.needed_on, m.worth) for m in transfers(group, runs)]


def test_what_goes_off_here_meets_what_is_short_there():
    assert moved(a_group("a", "b"), run("a", over=[(4.0, 3, 40)]), run("b", short=[(3.0, 2)])) == [
        ("a", "b", 3.0, day(2), Decimal("30.00"))
    ]


def test_what_goes_off_first_goes_first_and_nothing_is_given_twice():
    found = moved(
        a_group("a", "b", "c"),
        run("a", over=[(2.0, 5, 20)]),
        run("b", over=[(2.0, 4, 20)]),
        run("c", short=[(3.0, 2), (3.0, 3)]),
    )
    gone = sorted((f, q, d) for f, _, q, d, _ in found)
    assert gone == [("a", 1.0, day(2)), ("a", 1.0, day(3)), ("b", 2.0, day(2))]


def test_nothing_goes_past_its_last_day():
    assert moved(a_group("a", "b"), run("a", over=[(4.0, 1, 40)]), run("b", short=[(3.0, 2)])) == []


def test_what_is_yet_to_come_is_no_help_before_it_is_there():
    """Veal that keeps three days and goes off on day 9 is in nobody's fridge on day 2."""
    coming = run("a", over=[(4.0, 9, 40)])
    (lot,) = coming.surplus
    coming = replace(coming, surplus=(replace(lot, there_on=day(6)),))
    assert moved(a_group("a", "b"), coming, run("b", short=[(3.0, 2)])) == []
    assert len(moved(a_group("a", "b"), coming, run("b", short=[(3.0, 6)]))) == 1


@pytest.mark.parametrize(("quantity", "n_moves"), [(0.11, 1), (0.09, 0)])
def test_less_than_a_stop_of_the_van_is_worth_stays(quantity, n_moves):
    """Ten a kilo: 0.11 kg are worth 1.10, and a stop 1.00."""
    found = moved(a_group("a", "b"), run("a", over=[(4.0, 3, 40)]), run("b", short=[(quantity, 2)]))
    assert len(found) == n_moves


def test_nothing_is_taken_from_a_house_that_is_short_itself():
    """It is short earlier than what it throws away is there: taking any would move the shortage."""
    over_later = run("a", over=[(4.0, 9, 40)], short=[(1.0, 1)])
    assert moved(a_group("a", "b"), over_later, run("b", short=[(3.0, 2)])) == []


def test_a_house_that_no_van_reaches_gets_nothing():
    group = a_group("a", "b", "c", vans=(frozenset({"a", "c"}),))
    assert moved(group, run("a", over=[(4.0, 3, 40)]), run("b", short=[(3.0, 2)])) == []


def test_a_shortage_after_the_next_run_is_left_to_its_order():
    late = run("b", short=[(3.0, 9)], next_run=day(7))
    assert moved(a_group("a", "b"), run("a", over=[(4.0, 9, 40)]), late) == []
