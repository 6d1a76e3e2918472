"""Cautions on a page: each hazard once, with source, names and who decides; nothing is called safe."""

import re
from dataclasses import replace
from datetime import date

import houses
import pytest

from ordering.cautions import DEFER, FOOD_LAWS, HAZARDS, caution
from ordering.pages.food_safety import caution_block, door_rows, hazards_at_work, minded, work_cautions
from ordering.records.plan import Start


@pytest.mark.parametrize("food_law", [*FOOD_LAWS, ""])
@pytest.mark.parametrize("hazard", HAZARDS)
def test_no_caution_states_that_food_is_safe(hazard, food_law):
    found = caution(hazard, food_law)
    assert found.hazard == hazard
    assert len(found.text) > 40
    assert not re.search(r"\bsafe(ly)?\b", found.text.lower())


def test_an_american_house_reads_its_own_words_and_rules():
    assert caution("long-ageing", "US").title == "Dry aging of whole cuts"
    assert caution("long-ageing", "GB").title == "Dry ageing of whole cuts"
    assert "°F" in caution("date-mark", "US").text
    assert "°F" not in " ".join(caution(hazard, "GB").text for hazard in HAZARDS)


def test_each_caution_stands_once_with_everything_it_is_about():
    found = minded(
        "GB",
        [
            ("slow-cooling", "Broth"),
            ("raw-egg", "Mousse"),
            ("slow-cooling", "Jus"),
            ("slow-cooling", "Broth"),
        ],
    )
    assert [(one.caution.hazard, one.names) for one in found] == [
        ("raw-egg", ("Mousse",)),
        ("slow-cooling", ("Broth", "Jus")),
        ("chilled", ()),
    ]


def test_what_is_printed_has_each_source_and_ends_with_who_decides():
    blocks = caution_block(minded("US", [("date-mark", "Terrine"), ("curing", "Terrine")]), 4)
    texts = [cell.value for block in blocks for row in block.rows for cell in row]
    assert texts[-1] == DEFER
    assert any("] Virginia 12VAC5-421-830" in str(text) for text in texts)


def test_of_what_a_caution_is_about_four_things_are_named():
    """`Soup 0, Soup 1, Soup 2 and 7 more` says as much as ten names."""
    ((heading, *_), *_) = caution_block(minded("GB", [("raw-egg", f"Soup {n}") for n in range(10)]), 4)[
        1
    ].rows
    assert str(heading.value).endswith(": Soup 0, Soup 1, Soup 2 and 7 more")


def test_without_hazards_nothing_is_said():
    assert caution_block(minded("GB", []), 4) == []


def test_work_on_a_recipe_meets_the_hazards_of_what_goes_straight_in():
    home = houses.house(
        [houses.ingredient("trout", hazards=("raw-fish",)), houses.ingredient("salt")],
        [
            houses.recipe("cured-trout", 1.0, {"trout": 1.2, "salt": 0.1}, hazards=("curing",)),
            houses.recipe("plate", 1.0, {"cured-trout": 0.1}),
        ],
    )
    assert hazards_at_work(home, "cured-trout") == ("raw-fish", "curing")
    assert hazards_at_work(home, "plate") == ()
    assert hazards_at_work(home, "trout") == ("raw-fish",)


def test_a_plate_that_nobody_starts_has_its_caution_too():
    """Raw oysters are opened to order, no list has a start of theirs. Of the jus only its batch is named."""
    home = houses.house(
        [
            houses.ingredient("oyster", hazards=("shellfish",)),
            houses.ingredient("cream", hazards=("chilled",)),
        ],
        [
            houses.recipe("jus", 1.0, {"cream": 0.1}, hazards=("slow-cooling",)),
            houses.recipe("plate", 1.0, {"oyster": 6.0, "cream": 0.1}, hazards=("raw-egg",)),
        ],
        [houses.dish("six-oysters", "plate"), houses.dish("sauce", "jus")],
    )
    jus = Start(date(2026, 11, 26), "jus", 1.0, 1.0, "l", date(2026, 11, 26))
    found = work_cautions(home, [jus], list(home.dishes.values()))
    named = {one.caution.hazard: one.names for one in found}
    plate, batch = (home.dishes["six-oysters"].name,), (home.name_of("jus"),)
    assert named == {"raw-egg": plate, "shellfish": plate, "slow-cooling": batch, "chilled": batch}


def test_a_hazard_without_a_source_says_so():
    texts = [c.value for b in caution_block(minded("GB", [("curing", "Ham")]), 4) for r in b.rows for c in r]
    assert any("Source: none was read for a figure" in str(text) for text in texts)


def test_the_sheet_at_the_door_says_what_to_look_at_when_it_comes():
    """Temperatures of what is chilled, tags of molluscs; nothing where neither is due."""
    home = houses.house(
        [
            houses.ingredient("mussels", hazards=("shellfish",)),
            houses.ingredient("mince", hazards=("raw-meat",)),
            houses.ingredient("salt"),
        ]
    )
    said = [row[0].value for row in door_rows(replace(home, food_law="US"), ["mince", "mussels", "salt"], 5)]
    assert [text.partition(".")[0] for text in said[:-1]] == [
        "Live mollusks: oysters, clams, mussels",
        "Chilled food",
    ]
    assert "No tag, not accepted" in said[0]
    assert "On receipt 41 °F (5 °C) or below" in said[1]
    assert said[-1].startswith(DEFER)
    assert door_rows(home, ["salt"], 5) == []
