"""Date marks against worked cases for section 3-501.17 of the model Food Code. Local code decides.

The rule: Virginia Administrative Code, Department of Health, 12VAC5-421-830, text to January 2017; Minnesota
Rules 4626.0400 (2019). The cases: Southern Nevada Health District, pages on food safety (1 April; burgers and
chili); North Carolina, "Food Code Adoption in North Carolina: Date Marking" (freezing). That day 1 is the day
of preparation and not the day it is ready is -830 A; the cases of several days are worked out from it.
"""

import csv
from datetime import date, timedelta
from pathlib import Path

import houses
import numpy as np
import pytest

from ordering.net.netting import net_all
from ordering.net.opening import opening
from ordering.net.shelf_life import last_offset, use_by
from ordering.records.books import Batch, CountedLot, Lot
from ordering.records.plan import Opening

CASES = Path(__file__).parent / "explosion" / "date_marks.csv"


MARKED = {"keeps_days": 7, "hazards": ("date-mark",)}


def published(case):
    with CASES.open(encoding="utf-8", newline="") as file:
        return next(date.fromisoformat(r["last_day"]) for r in csv.DictReader(file) if case in r["case"])


def burgers_and_chili():
    """Burgers; a chili made from them; both carry a date mark and keep seven days."""
    burger = houses.recipe("burger", 1, {"beef": 1}, **MARKED)
    chili = houses.recipe("chili", 1, {"burger": 1}, **MARKED)
    dishes = [houses.dish("bun", "burger", 1.0), houses.dish("bowl", "chili", 1.0)]
    return houses.house([houses.ingredient("beef")], [burger, chili], dishes)


def test_preparation_is_day_one():
    """Prepared on 1 April, held cold: 7 April is the last day."""
    last = use_by(burgers_and_chili(), "burger", date(2026, 4, 1))
    assert last == published("prepared 1 April") == date(2026, 4, 7)


def test_a_mixture_of_the_books_keeps_the_earliest_date():
    """Burgers cooked on 1 June and made into a chili on the 3rd, as booked: 7 June is the last day."""
    made = (
        Batch(date(2026, 6, 1), "burger", 10.0, 10.0),
        Batch(date(2026, 6, 3), "chili", 10.0, 10.0),
    )
    found = opening(burgers_and_chili(), houses.books(batches=made), date(2026, 6, 4))
    dates = [lot.use_by for lot in found.lots if lot.item == "chili"]
    assert dates == [published("chili")] == [date(2026, 6, 7)]


def test_thawed_food_keeps_the_date_the_kitchen_wrote_on_it():
    """Cooked 1 October, frozen on the 3rd, thawed on the 10th (day 3): 14 October is the last day.

    The program knows of no freezer: the kitchen stops the count, writes the date on the label and in the
    count, and the program holds to it instead of counting anew from the day of thawing.
    """
    last = published("chicken")
    assert last == date(2026, 10, 14)
    counted = (CountedLot(date(2026, 10, 10), "burger", 9.0, last),)
    home = burgers_and_chili()
    stock = opening(home, houses.books(counts=counted), date(2026, 10, 10))
    assert [lot.use_by for lot in stock.lots] == [last]
    sold = houses.forecast(home, {"bun": [1.0] * 7}, on=date(2026, 10, 10))
    found = net_all(home, stock, sold, {}, {"beef": 0}).flows["burger"]
    assert list(found.expired) == [0, 0, 0, 0, 0, 4, 0]  # the morning of the 15th
    assert list(found.planned) == [0, 0, 0, 0, 0, 1, 1]


@pytest.mark.parametrize("keeps_days", [0, 1, 2, 5, 6])
def test_a_mark_takes_no_day_off_what_keeps_up_to_six_days(keeps_days):
    """What keeps n days ends n days after the day it is ready, with a date mark and without one."""
    home = houses.house(
        [houses.ingredient("beef")],
        [
            houses.recipe("braise", 1, {"beef": 1}, keeps_days=keeps_days, hazards=("date-mark",)),
            houses.recipe("jam", 1, {"beef": 1}, keeps_days=keeps_days),
        ],
    )
    ready = date(2026, 4, 1)
    assert use_by(home, "braise", ready) == use_by(home, "jam", ready) == ready + timedelta(days=keeps_days)


@pytest.mark.parametrize("keeps_days", [6, 7, 30, None])
def test_a_mark_ends_on_day_seven_whatever_is_written(keeps_days):
    """-830 A: seven days at the most, the day of preparation being day 1."""
    braise = houses.recipe("braise", 1, {"beef": 1}, keeps_days=keeps_days, hazards=("date-mark",))
    home = houses.house([houses.ingredient("beef")], [braise])
    assert use_by(home, "braise", date(2026, 4, 1)) == published("prepared 1 April") == date(2026, 4, 7)


@pytest.mark.parametrize("takes_days", range(7))
@pytest.mark.parametrize("keeps_days", [0, 3, 7, 30, None])
def test_the_mark_counts_from_the_day_a_batch_is_begun_not_the_day_it_is_ready(takes_days, keeps_days):
    """Cheek braised on Tuesday 3 March, pressed on the 4th, ready on the 5th: the 9th, not the 11th."""
    cheek = houses.recipe(
        "cheek", 1, {"beef": 1}, takes_days=takes_days, keeps_days=keeps_days, hazards=("date-mark",)
    )
    home = houses.house([houses.ingredient("beef")], [cheek])
    begun = date(2026, 3, 3)
    ready = begun + timedelta(days=takes_days)
    written = timedelta(days=99 if keeps_days is None else keeps_days)
    assert use_by(home, "cheek", ready) == min(ready + written, date(2026, 3, 9))


@pytest.mark.parametrize("takes_days", [0, 1, 2, 3, 7, 18, 35])
@pytest.mark.parametrize("since_prepared", [0, 1, 2, 6])
def test_what_ages_or_cures_first_counts_from_the_day_it_is_cooked(takes_days, since_prepared):
    """Corned beef in brine for weeks and then cooked: day 1 is the day of the cooking, `prepared_at`."""
    prepared = max(0, takes_days - since_prepared)
    beef = houses.recipe(
        "corned", 1, {"beef": 1}, takes_days=takes_days, prepared_days=prepared, hazards=("date-mark",)
    )
    home = houses.house([houses.ingredient("beef")], [beef])
    begun = date(2026, 3, 3)
    last = use_by(home, "corned", begun + timedelta(days=takes_days))
    assert last == begun + timedelta(days=prepared + 6)


def test_a_planned_batch_carries_the_date_of_its_own_start():
    """A cheek begun on the day of the run and ready on the third day after keeps to day 7."""
    cheek = houses.recipe(
        "cheek", 10, {"beef": 10}, is_whole=True, takes_days=3, keeps_days=7, hazards=("date-mark",)
    )
    home = houses.house([houses.ingredient("beef")], [cheek], [houses.dish("plate", "cheek", 1.0)])
    on = date(2026, 6, 3)
    sold = houses.forecast(home, {"plate": [0, 0, 0, 4.0, 0, 0, 0, 0]}, on=on)
    found = net_all(home, Opening(), sold, {}, {"beef": 0})
    start = next(s for s in found.starts if s.recipe == "cheek")
    assert (start.start_on, start.ready_on, start.use_by) == (on, date(2026, 6, 6), date(2026, 6, 9))


def test_seven_days_without_a_mark_end_on_the_seventh_day_after():
    """A date mark caps what is made and carries it; nothing else."""
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
    burger = houses.recipe("burger", 1, {"beef": 1}, takes_days=1, prepared_days=1, **MARKED)
    chili = houses.recipe("chili", 10, {"burger": 10}, keeps_days=7, is_whole=True, hazards=("date-mark",))
    home = houses.house([houses.ingredient("beef")], [burger, chili], [houses.dish("bowl", "chili", 1.0)])
    on = date(2026, 6, 3)
    sold = np.array([2.0, 0, 0, 0, 1.0, 0, 0, 0])
    lots = (Lot("burger", 10.0, use_by(home, "burger", date(2026, 6, 1))),)
    found = net_all(home, Opening(lots), houses.forecast(home, {"bowl": sold}, on=on), {}, {"beef": 0})
    expired = found.flows["chili"].expired
    assert expired[5] == pytest.approx(7.0)  # 8 June: the day after the last
    assert expired.sum() == pytest.approx(7.0)
    assert next(s.use_by for s in found.starts if s.recipe == "chili") == date(2026, 6, 7)


def test_yesterdays_burgers_go_into_todays_chili_with_their_date():
    """Burgers made ten at a time on the 1st, half of them left: a chili of the 2nd ends on the 7th."""
    burger = houses.recipe("burger", 10, {"beef": 10}, is_whole=True, **MARKED)
    chili = houses.recipe("chili", 1, {"burger": 1}, **MARKED)
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
