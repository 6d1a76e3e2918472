"""Cautions on a page: each hazard once, with source, names and who decides; nothing is called safe."""

import re

import houses
import pytest

from ordering.cautions import CAUTIONS, DEFER, HAZARDS
from ordering.pages.caution_block import caution_block
from ordering.pages.cautions import hazards_at_work, minded


@pytest.mark.parametrize("hazard", HAZARDS)
def test_every_hazard_a_house_may_write_has_a_caution_with_a_source(hazard):
    caution = CAUTIONS[hazard]
    assert caution.hazard == hazard
    assert len(caution.text) > 40
    assert re.search(r"\d-\d{3}\.\d{2}|Reg\. \(E[CU]\) \d+/\d{4}", caution.source)


@pytest.mark.parametrize("hazard", HAZARDS)
def test_no_caution_states_that_food_is_safe(hazard):
    said = CAUTIONS[hazard].text.lower().replace("time/temperature control for safety", "")
    assert not re.search(r"\bsafe(ly)?\b", said)


def test_each_caution_stands_once_with_everything_it_is_about():
    found = minded(
        [("slow-cooling", "Broth"), ("raw-egg", "Mousse"), ("slow-cooling", "Jus"), ("slow-cooling", "Broth")]
    )
    assert [(one.caution.hazard, one.names) for one in found] == [
        ("raw-egg", ("Mousse",)),
        ("slow-cooling", ("Broth", "Jus")),
    ]


def test_what_is_printed_has_each_source_and_ends_with_who_decides():
    blocks = caution_block(minded([("date-mark", "Terrine"), ("curing", "Terrine")]), 4)
    texts = [cell.value for block in blocks for row in block.rows for cell in row]
    assert texts[-1] == DEFER
    assert "Source: FDA Food Code 2022, 3-501.17" in texts


def test_without_hazards_nothing_is_said():
    assert caution_block(minded([]), 4) == []


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
