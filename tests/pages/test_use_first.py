"""Lots to use up: which, where, and the first thing that can be done with each."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest
import sample_plan

from ordering.pages.phone_page import today_html
from ordering.pages.short_and_over import (
    hit_in_short,
    left_said,
    shortages_by_item,
    shortages_sheet,
    use_first,
    use_first_sheet,
    what_to_do,
    worth_using,
)
from ordering.pages.summary import summary
from ordering.pages.today import today_sheet
from ordering.records.house import RecipeLine
from ordering.records.plan import Expiring, Plan, Shortage, Start

HOUSE = sample_plan.house()
PLAN = sample_plan.plan(HOUSE)
ON = sample_plan.ON


def day(n: int) -> date:
    return ON + timedelta(days=n)


def planned(recipe: str, on: date, takes: int = 2) -> Plan:
    """The plan with one start in place of its own."""
    start = Start(on, recipe, 1, 4.0, "kg", on + timedelta(days=takes))
    return replace(PLAN, netting=replace(PLAN.netting, starts=(start,)))


def test_lots_are_on_the_sheet_the_dearest_waste_first_and_those_of_unknown_cost_last() -> None:
    rows = use_first_sheet(HOUSE, PLAN).rows[-2:]
    assert [[cell.value for cell in row] for row in rows] == [
        [day(6), "Rib of beef, 35 days", "3.1 kg", "7.5 kg", "in the house", 57.3, "push Aged rib for two"],
        [
            day(18),
            "Rib of beef",
            "17 kg",
            "17 kg",
            "ordered, comes Fri 4 Dec",
            None,
            "ask the vendor for less",
        ],
    ]


def test_what_is_worth_little_beside_the_rest_is_left_out_and_said() -> None:
    """Of 100 in all, 60 and 32 make up nine tenths; the 8 of the third lot are small change."""
    lots = tuple(Expiring("trout", day(3), 2.0, 1.0, cost=cost) for cost in (8.0, 60.0, 32.0))
    plan = replace(PLAN, netting=replace(PLAN.netting, expiring=lots))
    assert [lot.cost for lot in worth_using(plan)] == [60.0, 32.0]
    texts = [cell.value for row in use_first_sheet(HOUSE, plan).rows for cell in row]
    assert "1 more lot of little worth is left out." in texts


def test_with_nothing_to_use_up_the_sheet_says_so() -> None:
    plan = replace(PLAN, netting=replace(PLAN.netting, expiring=()))
    texts = [cell.value for row in use_first_sheet(HOUSE, plan).rows for cell in row]
    assert "Nothing should be left over." in texts
    assert use_first(plan) == ()


def test_today_names_what_goes_before_the_next_run() -> None:
    assert [lot.use_by for lot in use_first(PLAN)] == [day(6)]
    assert left_said(HOUSE, use_first(PLAN)[0]) == "3.1 of 7.5 kg Rib of beef, 35 days, in the house"


def test_a_start_planned_too_late_for_a_lot_is_to_be_begun_sooner() -> None:
    trout = Expiring("trout", day(3), 2.0, 2.0)
    told = what_to_do(HOUSE, planned("brined-trout", day(5)), trout)
    assert told == "start Trout in brine by Sun 29 Nov (planned for Tue 1 Dec)"


def test_so_is_a_start_that_takes_it_in_a_part_made_the_same_day() -> None:
    brine = HOUSE.recipes["brined-trout"]
    made = HOUSE.recipes | {
        "fillets": replace(brine, id="fillets", name="Fillets", takes_days=0),
        brine.id: replace(brine, lines=(RecipeLine("fillets", 4.0),)),
    }
    trout = Expiring("trout", day(3), 2.0, 2.0)
    told = what_to_do(replace(HOUSE, recipes=made), planned(brine.id, day(5)), trout)
    assert told == "start Trout in brine by Sun 29 Nov (planned for Tue 1 Dec)"


@pytest.mark.parametrize(
    ("use_by", "start_on", "why"),
    [
        (3, 3, "it is in time already"),
        (1, 8, "what it makes would not keep that long"),
    ],
)
def test_a_start_is_left_where_moving_it_would_not_help(use_by: int, start_on: int, why: str) -> None:
    trout = Expiring("trout", day(use_by), 2.0, 2.0)
    assert "start " not in what_to_do(HOUSE, planned("brined-trout", day(start_on)), trout), why


def test_a_line_drawn_later_cannot_be_moved_to_before_today() -> None:
    """Salt goes in on the third day of the brine: good until tomorrow, no start is early enough."""
    brine = HOUSE.recipes["brined-trout"]
    home = replace(
        HOUSE, recipes=HOUSE.recipes | {brine.id: replace(brine, lines=(RecipeLine("salt", 1, at_days=2),))}
    )
    salt = Expiring("salt", day(1), 2.0, 2.0)
    assert "start " not in what_to_do(home, planned(brine.id, day(1)), salt)
    assert "start " in what_to_do(home, planned(brine.id, day(1)), replace(salt, use_by=day(2)))


def test_a_lot_that_came_today_is_no_longer_to_be_ordered_less_of() -> None:
    came = Expiring("aged-rib", day(6), 7.5, 3.0, ON, is_ordered=True)
    assert what_to_do(HOUSE, PLAN, came) == "push Aged rib for two"
    assert what_to_do(HOUSE, PLAN, replace(came, there_on=day(1))) == "ask the vendor for less"


def test_what_no_dish_takes_while_it_is_good_is_said() -> None:
    gone = Expiring("levain", day(2), 2.0, 2.0)
    plan = replace(PLAN, netting=replace(PLAN.netting, starts=()))
    assert what_to_do(HOUSE, plan, gone).startswith("nothing on the menu uses it by then")


def test_a_part_of_what_is_made_for_the_service_is_offered_with_its_dish() -> None:
    """Seeds go into a loaf: made for the service, more bread uses them up; made the day before, none does."""
    seeds = Expiring("seeds", day(6), 5.0, 2.0)
    plan = replace(PLAN, netting=replace(PLAN.netting, starts=()))
    fresh = replace(HOUSE.recipes["loaf"], takes_days=0)
    home = replace(HOUSE, recipes=HOUSE.recipes | {"loaf": fresh})
    assert what_to_do(home, plan, seeds) == "push Bread and butter"
    assert what_to_do(HOUSE, plan, seeds).startswith("nothing on the menu")


def test_of_the_dishes_to_push_three_are_named_the_most_sold_first() -> None:
    seeds = Expiring("seeds", day(6), 5.0, 2.0)
    fresh = replace(HOUSE.recipes["loaf"], takes_days=0)
    names = [f"bread-{n}" for n in range(5)]
    dishes = {name: replace(HOUSE.dishes["bread"], id=name, name=name) for name in names}
    home = replace(HOUSE, recipes=HOUSE.recipes | {"loaf": fresh}, dishes=dishes)
    slots = PLAN.forecast.slots
    mean = np.array([[1.0 + n] * len(slots) for n in range(5)])
    plan = replace(PLAN, forecast=replace(PLAN.forecast, dishes=tuple(names), mean=mean))
    plan = replace(plan, netting=replace(plan.netting, starts=()))
    assert what_to_do(home, plan, seeds) == "push bread-4, bread-3, bread-2 and 2 more"


def test_no_vendor_is_asked_for_less_than_a_piece() -> None:
    part = Expiring("rib", day(18), 17.0, 0.65, day(8), is_ordered=True)
    rib = replace(HOUSE.ingredients["rib"], unit="each")
    pieces = replace(HOUSE, ingredients=HOUSE.ingredients | {"rib": rib})
    assert what_to_do(HOUSE, PLAN, part) == "ask the vendor for less"
    assert what_to_do(pieces, PLAN, part) != "ask the vendor for less"
    assert what_to_do(pieces, PLAN, replace(part, unused=1.2)) == "ask the vendor for less"


def test_what_is_short_on_several_days_has_the_portions_of_all_of_them() -> None:
    first = Shortage(day(1), "trout", 2.0, "kg", "Smoked trout: 9 portions (Fri 27 Nov)", "no-time", "", 8.2)
    later = replace(first, date=day(2), dishes="Smoked trout: 4 portions (Sat 28 Nov)", portions=3.5)
    (both,) = shortages_by_item(replace(PLAN, shortages=(later, first)))
    assert (both.date, both.short) == (day(1), 4.0)
    assert hit_in_short(both) == "Smoked trout: 12 portions"
    assert both.dishes.split("; ")[1:] == ["12 portions in all"]
    (alone,) = shortages_by_item(replace(PLAN, shortages=(first,)))
    assert hit_in_short(alone) == "Smoked trout: 9 portions"


def test_dishes_that_only_later_days_hit_are_counted_and_a_long_name_is_cut_before_the_portions() -> None:
    first = Shortage(day(1), "trout", 2.0, "kg", "Smoked trout: 9 portions (Fri 27 Nov)", "no-time", "", 9)
    later = replace(first, date=day(2), dishes="Trout pie: 3 portions (Sat 28 Nov); 2 more dishes: 1 portion")
    (both,) = shortages_by_item(replace(PLAN, shortages=(first, replace(later, portions=4.0))))
    assert both.dishes.split("; ")[1:] == ["1 more dish later", "13 portions in all"]
    assert hit_in_short(both) == "Smoked trout and 1 dish more: 13 portions"
    assert hit_in_short(both, 39) == "Smoked ... and 1 dish more: 13 portions"
    several = replace(later, portions=4.0)
    assert hit_in_short(several) == "Trout pie and 2 dishes more: 4 portions"
    assert hit_in_short(replace(first, dishes="Brine, under way")) == "Brine, under way"


def test_a_gap_in_a_row_of_ages_is_told_once_on_a_page() -> None:
    aged = Shortage(day(9), "aged-rib", 2.35, "kg", "Rib: 3 portions (Sat 5 Dec)", "no-time", "", 3.0, 90.0)
    gap = "Rib of beef, 35 days: 2.35 kg short (3 portions), Sat 5 Dec"
    plan = replace(PLAN, shortages=(aged,), netting=replace(PLAN.netting, ageing_gaps={"aged-rib": gap}))
    texts = [str(cell.value) for row in today_sheet(HOUSE, plan).rows for cell in row]
    for told in ("\n".join(texts), "\n".join(summary(HOUSE, plan)), today_html(HOUSE, plan)):
        assert told.count("2.35 kg") == 1
        assert "Nothing else should run short." in told
    assert "Rib of beef, 35 days" in [cell.value for row in shortages_sheet(HOUSE, plan).rows for cell in row]


def test_three_remedies_are_told_of_each_shortage() -> None:
    short = Shortage(day(1), "trout", 2.0, "kg", "", "no-time", "; ".join("abcdefg"))
    *_, row = shortages_sheet(HOUSE, replace(PLAN, shortages=(short,))).rows
    assert row[5].value == "- a\n- b\n- c"


@pytest.mark.parametrize(
    ("last", "remedy", "said"),
    [
        (0, "take Trout off the menu on Thu 26 Nov", "take Trout off the menu"),
        (
            0,
            "buy 1 pack locally by Thu 26 Nov, 2 packs by Fri 27 Nov",
            "buy 1 pack locally, 2 packs by Fri 27 Nov",
        ),
        (1, "take Trout off the menu on Thu 26 Nov and Fri 27 Nov", "take Trout off the menu"),
        (1, "take Trout off the menu on Thu 26 Nov", "take Trout off the menu on Thu 26 Nov"),
    ],
)
def test_a_remedy_leaves_out_the_days_that_stand_in_front_of_it(last: int, remedy: str, said: str) -> None:
    shorts = tuple(Shortage(day(n), "trout", 1.0, "kg", "", "no-time", remedy) for n in range(last + 1))
    *_, row = shortages_sheet(HOUSE, replace(PLAN, shortages=shorts)).rows
    assert row[5].value == f"- {said}"
