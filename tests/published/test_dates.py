"""Date marks against health departments' worked cases for FDA Food Code 3-501.17. Local code decides.

Southern Nevada Health District (1 April; burgers and chili); North Carolina handout (freezing).
"""

import csv
from datetime import date
from pathlib import Path

import houses
import numpy as np
import pytest

from ordering.net.dates import date_mark, last_offset, use_by
from ordering.net.netting import net_all
from ordering.records.books import Lot
from ordering.records.plan import Opening

CASES = Path(__file__).parent / "explosion" / "date_marks.csv"


def published():
    with CASES.open(encoding="utf-8", newline="") as file:
        return {r["case"][:8]: date.fromisoformat(r["last_day"]) for r in csv.DictReader(file)}


def test_preparation_is_day_one():
    """Prepared on 1 April: 7 April is the last day."""
    assert date_mark(date(2026, 4, 1)) == published()["prepared"] == date(2026, 4, 7)


def test_a_mixture_keeps_the_earliest_date():
    """Burgers of 1 June in a chili of 3 June: 7 June is the last day."""
    burgers = date_mark(date(2026, 6, 1))
    assert date_mark(date(2026, 6, 3), parts=[burgers]) == published()["chili ma"] == date(2026, 6, 7)


def test_freezing_stops_the_count_and_thawing_does_not_start_anew():
    """Cooked 1 October, frozen on the 3rd, thawed on the 10th (day 3): 14 October is the last day."""
    marked = date_mark(date(2026, 10, 1), frozen=[(date(2026, 10, 3), date(2026, 10, 10))])
    assert marked == published()["chicken "] == date(2026, 10, 14)


def test_frozen_after_its_last_day_gains_nothing():
    assert date_mark(date(2026, 10, 1), frozen=[(date(2026, 10, 9), date(2026, 10, 20))]) == date(2026, 10, 7)


@pytest.mark.parametrize(
    ("arguments", "wrong"),
    [
        ({"marked_days": 0}, "at least the day of preparation"),
        ({"frozen": [(date(2026, 10, 5), date(2026, 10, 3))]}, "thawed before it was frozen"),
    ],
)
def test_impossible_dates_are_refused(arguments, wrong):
    with pytest.raises(ValueError, match=wrong):
        date_mark(date(2026, 10, 1), **arguments)


def test_what_keeps_seven_days_with_a_mark_ends_on_the_sixth_day_after():
    """`keeps: 7 d` is seven days counted from the day of preparation where a date mark is carried, and
    seven days after it where none is."""
    marked = houses.recipe("braise", 1, {"beef": 1}, keeps_days=7, hazards=("date-mark",))
    plain = houses.recipe("jam", 1, {"beef": 1}, keeps_days=7)
    home = houses.house([houses.ingredient("beef", keeps_days=7)], [marked, plain])
    ready = date(2026, 4, 1)
    assert use_by(home, "braise", ready) == date(2026, 4, 7)
    assert use_by(home, "jam", ready) == date(2026, 4, 8)
    assert use_by(home, "beef", ready) == date(2026, 4, 8)
    assert last_offset(houses.house([houses.ingredient("salt")]), "salt") is None


def test_chili_planned_with_the_burgers_in_the_house_is_thrown_away_with_them():
    """The chili of 3 June as the program plans it: made from burgers of 1 June, it ends on the 7th."""
    burger = houses.recipe("burger", 1, {"beef": 1}, keeps_days=7, takes_days=1, hazards=("date-mark",))
    chili = houses.recipe("chili", 10, {"burger": 10}, keeps_days=7, is_whole=True, hazards=("date-mark",))
    home = houses.house([houses.ingredient("beef")], [burger, chili], [houses.dish("bowl", "chili", 1.0)])
    on = date(2026, 6, 3)
    sold = np.array([2.0, 0, 0, 0, 1.0, 0, 0, 0])
    lots = (Lot("burger", 10.0, date_mark(date(2026, 6, 1))),)
    found = net_all(home, Opening(lots), houses.forecast(home, {"bowl": sold}, on=on), {}, {"beef": 0})
    expired = found.flows["chili"].expired
    assert expired[5] == pytest.approx(7.0)  # 8 June: the day after the last
    assert expired.sum() == pytest.approx(7.0)
    assert next(s.use_by for s in found.starts if s.recipe == "chili") == date(2026, 6, 7)


def test_yesterdays_burgers_go_into_todays_chili_with_their_date():
    """Burgers made ten at a time on the 1st, half of them left: a chili of the 2nd ends on the 7th."""
    marked = {"keeps_days": 7, "hazards": ("date-mark",)}
    burger = houses.recipe("burger", 10, {"beef": 10}, is_whole=True, **marked)
    chili = houses.recipe("chili", 1, {"burger": 1}, **marked)
    home = houses.house(
        [houses.ingredient("beef")],
        [burger, chili],
        [houses.dish("bun", "burger", 1.0), houses.dish("bowl", "chili", 1.0)],
    )
    sold = {"bun": [5.0, 0.0], "bowl": [0.0, 2.0]}
    demand = houses.forecast(home, sold, on=date(2026, 6, 1))
    found = net_all(home, Opening(), demand, {}, {"beef": 0})
    assert [s.use_by for s in found.starts if s.recipe == "burger"] == [date(2026, 6, 7)]
    assert [s.use_by for s in found.starts if s.recipe == "chili"] == [date(2026, 6, 7)]
