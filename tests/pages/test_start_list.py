"""The start list: by day and station, in the order of work, with what goes in and what has to be minded."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date, timedelta

import pytest
import sample_plan

from ordering.amounts import shown
from ordering.pages.start_list import by_station, coming_starts, start_list
from ordering.records.house import House, RecipeLine
from ordering.records.page import Cell, Sheet
from ordering.records.plan import Plan, TakenForStart

HOUSE = sample_plan.house()
PLAN = sample_plan.plan(HOUSE)
RIBS, LATER = RecipeLine("rib", 8.5), date(2026, 12, 8)


def starts_sheet(house: House, plan: Plan) -> Sheet:
    return start_list(house, plan).sheets[0]


def test_the_start_list_runs_by_day_with_the_longest_first_and_room_to_tick() -> None:
    starts = coming_starts(PLAN)
    assert [s.recipe for s in starts] == ["aged-rib", "levain", "loaf", "brined-trout", "loaf", "levain"]
    rows = [row for row in starts_sheet(HOUSE, PLAN).rows if len(row) == 5 and row[0].value is None]
    assert [row[0] for row in rows] == [Cell(None, "tick")] * len(starts)
    assert [row[1].value for row in rows] == [HOUSE.name_of(s.recipe) for s in starts]


def test_the_start_list_has_a_heading_for_each_day_and_station() -> None:
    recipes = dict(HOUSE.recipes)
    for name, station in (("levain", "Bakery"), ("loaf", "Bakery"), ("aged-rib", "Butchery")):
        recipes[name] = replace(recipes[name], station=station)
    home = replace(HOUSE, recipes=recipes)
    heads = [row[0].value for row in starts_sheet(home, PLAN).rows if row and "shade" in row[0].style]
    assert heads[:2] == ["Thu 26 Nov: Butchery", "Thu 26 Nov: Bakery"] or heads[:2] == [
        "Thu 26 Nov: Bakery",
        "Thu 26 Nov: Butchery",
    ]
    assert "Sat 28 Nov: Kitchen" in heads, "what has no station stands under the kitchen"


def test_what_goes_into_another_of_the_same_day_comes_before_it() -> None:
    ready = {"start_on": sample_plan.ON, "ready_on": sample_plan.ON}
    starts = [replace(s, **ready) for s in PLAN.netting.starts if s.recipe in ("loaf", "levain")][:2]
    (work,) = by_station(HOUSE, starts).values()
    assert [s.recipe for s in work] == ["levain", "loaf"]


def test_what_is_made_and_served_the_same_day_stands_two_to_a_line() -> None:
    loaf = replace(
        PLAN.netting.starts[0], recipe="loaf", start_on=sample_plan.ON, ready_on=sample_plan.ON, note=""
    )
    plan = replace(PLAN, netting=replace(PLAN.netting, starts=(loaf, loaf, loaf)))
    rows = [row for row in starts_sheet(HOUSE, plan).rows if len(row) == 5 and row[0].value is None]
    assert [[cell.style.startswith("tick") for cell in row] for row in rows] == [
        [True, False, False, True, False],
        [True, False, False, False, False],
    ]
    assert [row[4].value for row in rows] == [
        f"also make Seeded loaf, {shown(loaf.quantity, loaf.unit)}",
        None,
    ]


def test_how_it_is_made_stands_on_the_back_where_the_house_wrote_it() -> None:
    recipes = HOUSE.recipes | {"loaf": replace(HOUSE.recipes["loaf"], notes="Fold twice.")}
    _, back = start_list(replace(HOUSE, recipes=recipes), PLAN).sheets
    assert "Fold twice." in [cell.value for row in back.rows for cell in row]


def test_the_start_list_says_what_goes_in_by_parcel_or_by_recipe() -> None:
    takes = takes_of(HOUSE, PLAN)
    loaf = HOUSE.recipes["loaf"]
    n_batches = [s.batches for s in coming_starts(PLAN) if s.recipe == "loaf"][-1]
    assert takes[loaf.name] == "; ".join(
        f"{shown(line.drawn * n_batches, HOUSE.unit_of(line.item))} {HOUSE.name_of(line.item)}"
        for line in loaf.lines
    )
    trout = next(text for name, text in takes.items() if "rout" in name)
    assert trout == "6.6 kg Trout, gutted; 300 g Sea salt", "less than a kilo is weighed in grams"
    assert takes["Rib of beef, 35 days"] == "17 kg Rib of beef, oldest first"


def takes_of(house: House, plan: Plan) -> dict[str, str]:
    """What the start list says goes in, by the name of what is made."""
    rows = [row for row in starts_sheet(house, plan).rows if len(row) == 5 and row[0].value is None]
    return {str(row[1].value): str(row[4].value) for row in rows}


@pytest.mark.parametrize(
    ("parcels", "said"),
    [
        ((TakenForStart(RIBS, 8.0, LATER),), ""),  # there is but one
        ((TakenForStart(RIBS, 8.0, LATER, is_only=False),), ", use by Tue 8 Dec"),
        (
            (TakenForStart(RIBS, 6.0, LATER, is_only=False), TakenForStart(RIBS, 2.0, is_only=False)),
            ", oldest first",
        ),
        ((TakenForStart(RIBS, 8.0, comes_on=sample_plan.ON),), ", coming Thu 26 Nov"),
        (
            (TakenForStart(RIBS, 6.0, LATER), TakenForStart(RIBS, 2.0, comes_on=sample_plan.ON)),
            ", some coming Thu 26 Nov",
        ),
        ((TakenForStart(RIBS, 8.0, comes_on=sample_plan.ON - timedelta(days=1)),), ""),  # it is there by then
    ],
)
def test_parcels_are_told_apart_where_a_cook_has_a_choice(
    parcels: tuple[TakenForStart, ...], said: str
) -> None:
    aged = next(start for start in PLAN.netting.starts if start.recipe == "aged-rib")
    starts = (replace(aged, start_on=sample_plan.ON, from_lots=parcels),)
    plan = replace(PLAN, netting=replace(PLAN.netting, starts=starts))
    assert takes_of(HOUSE, plan)["Rib of beef, 35 days"] == f"8 kg Rib of beef{said}"


def test_what_goes_in_is_said_in_the_unit_of_the_recipe() -> None:
    """The kitchen holds salt by the kilo and weighs three ounces of it out (1 oz is 28.349523125 g)."""
    brined = HOUSE.recipes["brined-trout"]
    trout, salt = brined.lines
    in_ounces = replace(salt, quantity=3 * 0.028349523125, unit="oz", unit_size=0.028349523125)
    house = replace(HOUSE, recipes=HOUSE.recipes | {brined.id: replace(brined, lines=(trout, in_ounces))})
    assert takes_of(house, PLAN)[brined.name].endswith("; 4 1/2 oz Sea salt"), "a batch and a half"


def test_starts_after_the_coming_week_wait() -> None:
    late = replace(PLAN.netting.starts[0], start_on=sample_plan.ON + timedelta(days=7))
    early = replace(PLAN.netting.starts[0], start_on=sample_plan.ON - timedelta(days=1))
    assert coming_starts(replace(PLAN, netting=replace(PLAN.netting, starts=(late, early)))) == ()


def test_cautions_stand_under_the_work_with_source_and_who_decides() -> None:
    texts = [str(cell.value) for row in starts_sheet(HOUSE, PLAN).rows for cell in row]
    assert any("Dry ageing" in text and "Rib of beef, 35 days" in text for text in texts)
    (sources,) = [text for text in texts if text.startswith("Sources: [1] ")]
    named = {n for text in texts if text != sources for n in re.findall(r"(?:\[|, )([0-9]+)(?=[],])", text)}
    assert named == set(re.findall(r"\[([0-9]+)\] ", sources)), "each source is named once, and used"
    assert sum("Source: none was read" in text for text in texts) == 1
    assert texts[-1] == "Local code and licensed practice decide. No sheet can say that food is safe."


def test_no_caution_is_torn_between_two_pages() -> None:
    """Each is a part of the sheet: its title and its text; the heading goes with the first."""
    sheet = starts_sheet(HOUSE, PLAN)
    is_station = [
        ": " in str(row[0].value) and "shade" in row[0].style if row else False for row in sheet.rows
    ]
    heading, *others = [part for part in sheet.parts if not is_station[part]]
    assert (sheet.rows[heading], sheet.rows[heading + 1][0].value) == ((), "Cautions")
    assert all("strong" in sheet.rows[row][0].style for row in others)
    assert len(others) == 4
