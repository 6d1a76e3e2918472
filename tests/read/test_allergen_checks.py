"""Names that point to an allergen nobody declared, and tags of molluscs on what has none."""

from dataclasses import replace
from datetime import date

import houses
import pytest

from ordering.cautions import ALLERGEN_ALIASES, ALLERGENS, allergens_meant
from ordering.read.allergen_checks import check_allergens, check_tags, pointed_to

ON = date(2026, 11, 26)


def undeclared(house):
    return [
        (f.subject, f.right.partition("[")[2].partition("]")[0]) for f in check_allergens(house, None, ON)
    ]


@pytest.mark.parametrize(
    ("name", "allergen"),
    [
        ("Celery", "celery"),
        ("Celeriac, peeled", "celery"),
        ("Mustard seed, yellow", "mustard"),
        ("Whole milk", "milk"),
        ("Crème fraîche", "milk"),
        ("Free-range eggs", "eggs"),
        ("Cold-water prawns", "crustaceans"),
        ("Oysters, rock", "molluscs"),
        ("Smoked mackerel", "fish"),
        ("Anchovies in oil", "fish"),
        ("Tahini", "sesame"),
        ("Strong white flour", "gluten"),
        ("Strong white flour", "wheat"),
        ("Pale ale", "gluten"),
        ("Red wine vinegar", "sulphites"),
        ("Toasted hazelnuts", "nuts"),
        ("Light soy sauce", "soya"),
        ("Peanut butter", "peanuts"),
        ("Vegetable bouillon", "celery"),
        ("Penne rigate", "gluten"),
        ("Lemon sole", "fish"),
        ("Dark chocolate", "milk"),
    ],
)
def test_a_name_points_to_the_allergen_it_speaks_of(name, allergen):
    assert pointed_to(name, allergen)


@pytest.mark.parametrize(
    ("name", "allergen"),
    [
        ("Peanut butter", "milk"),
        ("Coconut milk", "milk"),
        ("Butternut squash", "milk"),
        ("Butter beans", "milk"),
        ("Eggplant", "eggs"),
        ("Oyster mushroom", "molluscs"),
        ("Nutmeg", "nuts"),
        ("Chestnut mushroom", "nuts"),
        ("Peanut oil", "nuts"),
        ("Rice flour", "gluten"),
        ("Crab apple jelly", "crustaceans"),
        ("Lobster", "molluscs"),
        ("Mussels", "crustaceans"),
    ],
)
def test_a_name_never_leads_from_one_thing_to_another_allergen(name, allergen):
    assert not pointed_to(name, allergen)


def test_what_is_declared_on_it_or_in_it_is_not_asked_for():
    home = houses.house(
        [
            houses.ingredient("celery", allergens=("celery",)),
            houses.ingredient("celery-salt"),
            houses.ingredient("chicken-stock-cube"),
        ],
        [
            houses.recipe("celery-soup", 1.0, {"celery": 1.0}),
            houses.recipe("prawn-toast", 1.0, {"celery": 1.0}),
        ],
        [houses.dish("prawns-on-toast", "prawn-toast"), houses.dish("celery-bowl", "celery-soup")],
    )
    assert undeclared(home) == [
        ("celery-salt", "celery"),
        ("chicken-stock-cube", "celery"),
        ("prawn-toast", "crustaceans"),
    ], "what is asked of a part is not asked again of the dish"


def test_a_label_that_was_read_answers_the_doubt():
    milk = houses.ingredient("oat-drink", free_of=("gluten",))
    assert undeclared(houses.house([milk])) == []


def test_only_what_must_be_told_there_is_asked_for():
    """Celery is among the fourteen; a house under US rules is asked for wheat, not for gluten."""
    goods = [houses.ingredient("celery"), houses.ingredient("flour")]
    assert undeclared(houses.house(goods)) == [("celery", "celery"), ("flour", "gluten")]
    assert undeclared(replace(houses.house(goods), food_law="US")) == [("flour", "wheat")]


def test_picked_crab_has_no_tag_of_origin():
    home = houses.house(
        [
            houses.ingredient("crab-meat", allergens=("crustaceans",), hazards=("shellfish",)),
            houses.ingredient("oyster", allergens=("molluscs",), hazards=("shellfish",)),
        ]
    )
    assert [(f.subject, f.kind) for f in check_tags(home, None, ON)] == [("crab-meat", "not-a-mollusc")]


def test_every_other_spelling_stands_for_allergens_of_the_list():
    assert set(allergens_meant(ALLERGEN_ALIASES)) <= set(ALLERGENS)
    assert not set(ALLERGEN_ALIASES) & set(ALLERGENS)
    assert allergens_meant(["egg", "soy", "tree-nuts", "eggs"]) == ("eggs", "soya", "nuts")


def test_shellfish_is_taken_for_both_kinds():
    """On oysters it means molluscs, on prawns crustaceans: none of them may be left out."""
    assert allergens_meant(["shellfish"]) == ("crustaceans", "molluscs")
