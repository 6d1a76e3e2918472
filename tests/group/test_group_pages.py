"""What is said of a group: whom to call, best and worst, the same days side by side."""

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal

import pytest
from group import kitchens

from ordering.group.one_house import Task, review_house, showing_of
from ordering.pages.group_sections import (
    GroupView,
    best_and_worst,
    group_leaves,
    review_pages,
    run_pages,
)
from ordering.pages.sections import sections_page
from ordering.read.group_file import read_group
from ordering.records.group import Group, HouseRun, Showing, Want
from ordering.records.review_results import FoodCost, Overview, Review

THU = kitchens.THU
GROUP = Group("Three", {})
CALM = HouseRun("a", 0, "Quay", "GBP", showing=Showing(900, Decimal(9000), 0.30, 0.01, 0.02, 0.10, 4.0))
SHORT = HouseRun(
    "b",
    1,
    "Mill",
    "GBP",
    shortages=(Want("b", "crab", "Crab meat", date(2026, 11, 27), 0.2, "kg"),),
    showing=Showing(300, Decimal(4500), 0.25, 0.03, 0.01, 0.20, 0.0),
)
REFUSED = HouseRun("c", 2, faults=("c/config/menu.yaml:4: pie: 'pye' is not a recipe", "another"))


def view(*runs):
    return GroupView(GROUP, runs)


def test_who_was_refused_is_called_first_and_a_calm_house_is_not():
    calls, *_ = run_pages(view(CALM, SHORT, REFUSED), THU).sections
    assert calls.rows == (
        ("c", "refused: c/config/menu.yaml:4: pie: 'pye' is not a recipe (and 1 fault more)"),
        ("Mill", "running short: Crab meat (Fri 27 Nov)"),
    )


def test_of_many_things_a_house_runs_short_of_two_are_named_and_the_rest_counted():
    wants = tuple(Want("b", f"i{n}", f"Item {n}", THU, 1.0, "kg") for n in range(9))
    calls, *_ = run_pages(view(replace(SHORT, shortages=wants)), THU).sections
    assert calls.rows == (("Mill", "running short: Item 0 (Thu 26 Nov), Item 1 (Thu 26 Nov) and 7 more"),)


def test_the_headline_counts_houses_and_money():
    assert run_pages(view(CALM, SHORT, REFUSED), THU).headline == (
        "3 houses: 1 to look at, 1 refused; 0.00 GBP ordered."
    )


def test_houses_are_compared_on_their_own_sales_and_covers():
    """The one that loses most of its sales stands first, however large it is."""
    told = review_pages(view(SHORT, CALM, REFUSED), (date(2026, 10, 29), date(2026, 11, 25)))
    (section,) = told.sections
    assert [(row[0], row[2], row[7]) for row in section.rows] == [
        ("Quay", Decimal("10.00"), 0.4),
        ("Mill", Decimal("15.00"), 0.0),
    ]
    assert section.intro == ("Nothing to show for c.",)
    alike = review_pages(view(CALM, CALM), (date(2026, 10, 29), date(2026, 11, 25)))
    assert alike.headline == "2 houses: 1,800 covers, 18,000 GBP of sales; 2.0 % of it was lost."
    assert alike.others == ("All houses did alike in these days.",)


def test_best_and_worst_are_said_where_they_differ():
    assert best_and_worst([CALM, SHORT])[0] == "Food cost: least at Mill (25.0 %), most at Quay (30.0 %)."
    assert best_and_worst([CALM, CALM]) == []


def test_houses_of_one_name_are_told_apart():
    twin = HouseRun("z", 1, "Mill", "GBP", n_doubts=1)
    calls, *_ = run_pages(view(SHORT, twin), THU).sections
    assert [row[0] for row in calls.rows] == ["Mill (b)", "Mill (z)"]


def test_nothing_from_input_is_markup_on_the_page():
    evil = HouseRun("a", 1, "<script>alert(1)</script>", "GBP", n_doubts=1)
    page = sections_page(run_pages(view(evil), THU))
    assert "<script" not in page
    assert "&lt;script&gt;" in page
    assert "http" not in page.replace("http-equiv", "")


def test_the_days_of_a_house_are_looked_at_in_its_own_books(tmp_path):
    group = read_group(kitchens.group(tmp_path, 1))
    run = review_house(Task(group.members["h0"], group.shared, THU), (date(2026, 11, 1), date(2026, 11, 25)))
    assert run.exit == 0
    assert run.showing.revenue == pytest.approx(Decimal(6) * int(run.showing.covers))


def test_a_house_that_is_refused_is_said_with_its_faults(tmp_path):
    group = read_group(kitchens.group(tmp_path, 1))
    (tmp_path / "h0" / "config" / "menu.yaml").write_text("flatbread: {portion: much}\n", "utf-8")
    run = review_house(Task(group.members["h0"], group.shared, THU), (date(2026, 11, 1), date(2026, 11, 25)))
    assert run.exit == 2
    assert "menu.yaml:1" in run.faults[0]


def test_a_house_short_of_one_thing_on_three_days_is_short_of_one_thing():
    want = SHORT.shortages[0]
    days = tuple(replace(want, needed_on=want.needed_on + timedelta(days=n)) for n in range(3))
    houses = run_pages(view(replace(SHORT, shortages=days)), THU).sections[1]
    assert houses.rows[0][-1] == 1


def test_a_sheet_with_nothing_on_it_is_left_out_of_the_group_book():
    content = run_pages(view(CALM), THU)
    assert [title for title, _ in group_leaves(content)] == ["To call", "Houses"]


@pytest.mark.parametrize(
    ("stock", "wasted", "food_cost", "waste"), [((40, 30), 5, 0.35, 0.05), ((None, 30), 0, None, None)]
)
def test_what_a_house_did_not_count_or_log_is_not_held_beside_its_sisters(stock, wasted, food_cost, waste):
    """Of 100.00 sold, 28.00 bought and 10.00 more taken from stock, 3.00 of it consumables."""
    start, end = (None if money is None else Decimal(money) for money in stock)
    cost = FoodCost(Decimal(100), Decimal(25), Decimal(28), Decimal(0), Decimal(wasted), start, end)
    day = date(2026, 11, 26)
    found = showing_of(Review(day, day, day, cost=cost, overview=Overview(consumables=Decimal(3))))
    assert (found.food_cost, found.waste) == (food_cost, waste)
