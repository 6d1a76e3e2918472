"""Allergens by dish, through every recipe, with the warning that it is only as good as they are."""

from dataclasses import replace

import houses
from hypothesis import given, settings
from hypothesis import strategies as st

from ordering.cautions import ALLERGEN_WARNING, ALLERGENS, ALLERGENS_EU, ALLERGENS_US, DEFER
from ordering.pages.food_safety import (
    allergen_columns,
    allergen_rows,
    allergen_sheet,
    allergens_of,
)
from ordering.records.house import RecipeLine

ON = houses.day(0)


def kitchen():
    return houses.house(
        [
            houses.ingredient("flour", allergens=("gluten", "wheat")),
            houses.ingredient("butter", allergens=("milk",)),
            houses.ingredient("wine", allergens=("sulphites",)),
            houses.ingredient("trout", allergens=("fish",)),
            houses.ingredient("potato"),
        ],
        [
            houses.recipe("fillet", 1.0, {"trout": 1.4}, also_makes=(("frames", 0.3),)),
            houses.recipe("frames", 1.0, {"trout": 1.0}),
            houses.recipe("roux", 1.0, {"flour": 0.5, "butter": 0.5}),
            houses.recipe("broth", 1.0, [RecipeLine("frames", 0.2), RecipeLine("broth", 0.5, returns=0.4)]),
            houses.recipe("sauce", 1.0, {"roux": 0.1, "wine": 0.2, "broth": 0.5}, allergens=("celery",)),
            houses.recipe("chips", 1.0, {"potato": 1.1}),
        ],
        [houses.dish("fish-pie", "sauce"), houses.dish("plain-chips", "chips")],
    )


def test_allergens_come_through_every_level_in_the_order_of_the_list():
    pie, chips = allergens_of(kitchen(), ON)
    assert tuple(pie.sources) == ("gluten", "fish", "milk", "celery", "sulphites", "wheat")
    assert pie.sources["celery"] == ("Sauce",)
    assert pie.sources["fish"] == ("Trout",)
    assert chips.sources == {}


def test_a_by_product_carries_what_it_fell_out_of():
    home = houses.house(
        [
            houses.ingredient("duck"),
            houses.ingredient("bone", allergens=()),
            houses.ingredient("milk", allergens=("milk",)),
        ],
        [
            houses.recipe("poached", 1.0, {"duck": 1.0, "milk": 0.5}, also_makes=(("bone", 0.2),)),
            houses.recipe("stock", 1.0, {"bone": 0.5}),
        ],
        [houses.dish("soup", "stock")],
    )
    assert allergens_of(home, ON)[0].sources == {"milk": ("Milk",)}


def test_the_table_has_a_row_a_dish_and_a_column_an_allergen():
    head, pie, chips = allergen_rows(allergens_of(kitchen(), ON))
    assert [cell.value for cell in head] == ["dish", *ALLERGENS]
    assert [a for a, cell in zip(ALLERGENS, pie[1:], strict=True) if cell.value == "yes"] == [
        "gluten",
        "fish",
        "milk",
        "celery",
        "sulphites",
        "wheat",
    ]
    assert {cell.value for cell in chips[1:]} == {""}


def test_the_sheet_carries_the_warning_and_who_decides():
    sheet = allergen_sheet(kitchen(), ON)
    said = " ".join(str(cell.value) for row in sheet.rows[:6] for cell in row)
    assert ALLERGEN_WARNING in said
    assert DEFER in said
    assert [cell.value for cell in sheet.rows[sheet.repeat[0]]] == ["dish", *ALLERGENS_EU, "wheat"]


def test_the_list_is_that_of_the_country_and_what_is_written_besides():
    """A house in the US has the nine, and gluten too where its flour says gluten; others the fourteen."""
    home = kitchen()
    abroad = replace(home, food_law="US")
    found = allergens_of(home, ON)
    assert allergen_columns(abroad, found) == (*ALLERGENS_US, "gluten", "celery", "sulphites")
    assert allergen_columns(home, found[1:]) == ALLERGENS_EU


@settings(max_examples=60)
@given(st.data())
def test_what_an_ingredient_holds_reaches_every_dish_made_from_it(data):
    """Against plain recursion over random recipes without loops."""
    names = [f"r{n}" for n in range(6)]
    goods = [houses.ingredient(f"i{n}", allergens=(ALLERGENS[n],)) for n in range(4)]
    parts = {
        name: data.draw(
            st.lists(st.sampled_from([*names[n + 1 :], *(g.id for g in goods)]), min_size=1, max_size=3)
        )
        for n, name in enumerate(names)
    }
    home = houses.house(
        goods,
        [houses.recipe(n, 1.0, dict.fromkeys(p, 0.1)) for n, p in parts.items()],
        [houses.dish("d", "r0")],
    )

    def held(item):
        if item in home.ingredients:
            return set(home.ingredients[item].allergens)
        return set().union(*(held(part) for part in parts[item]))

    assert set(allergens_of(home, ON)[0].sources) == held("r0")


def test_a_house_that_has_written_no_allergen_gets_no_table_of_empty_cells():
    bare = houses.house([houses.ingredient("potato")], [houses.recipe("chips", 1.0, {"potato": 1.1})])
    bare = replace(bare, dishes={"chips": houses.dish("chips", "chips")})
    sheet = allergen_sheet(bare, ON)
    said = [str(cell.value) for row in sheet.rows for cell in row]
    assert any("nothing can be said of any dish" in text for text in said)
    assert "Chips" not in said
    assert not sheet.tables


def test_wheat_is_a_cereal_with_gluten_and_gluten_need_not_be_wheat():
    home = houses.house(
        [houses.ingredient("flour", allergens=("wheat",)), houses.ingredient("rye", allergens=("gluten",))],
        [houses.recipe("white", 1.0, {"flour": 1.0}), houses.recipe("black", 1.0, {"rye": 1.0})],
        [houses.dish("white", "white"), houses.dish("black", "black")],
    )
    white, black = allergens_of(home, ON)
    assert tuple(white.sources) == ("gluten", "wheat")
    assert tuple(black.sources) == ("gluten",)


def test_an_american_house_reads_american_names():
    home = replace(kitchen(), food_law="US")
    heads = [cell.value for cell in allergen_sheet(home, ON).rows[allergen_sheet(home, ON).repeat[0]]]
    assert heads[:6] == ["dish", "milk", "egg", "fish", "shellfish (crustacean)", "tree nuts"]
    assert "soy" in heads


def test_a_dish_that_has_left_the_menu_is_not_on_the_sheet():
    home = kitchen()
    pie, chips = home.dishes.values()
    gone = replace(home, dishes={pie.id: replace(pie, until_on=ON), chips.id: chips})
    assert [dish.dish for dish in allergens_of(gone, ON)] == [pie.id, chips.id]
    assert [dish.dish for dish in allergens_of(gone, houses.day(1))] == [chips.id]
