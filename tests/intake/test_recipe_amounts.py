"""What a recipe's yield line and its amounts come to where a word alone does not say it: invented lines."""

from fractions import Fraction

import pytest
from ruamel.yaml.comments import CommentedMap

from ordering.intake.card_words import makes_of
from ordering.intake.housefiles import STEMS, HouseFiles
from ordering.intake.outcome import Asker, Outcome
from ordering.intake.recipe_lines import line_in, with_yield
from ordering.intake.recipes import bring_recipes
from ordering.intake.sheets import SourceSheet


def outcome(tmp_path, is_yes=True):
    house = HouseFiles(tmp_path, {stem: CommentedMap() for stem in STEMS})
    house.entries("house")["currency"] = "GBP"
    return Outcome(house, Asker({}, None, is_yes), tmp_path, None, "recipes")


def brought(text, out):
    """What is left out, and the recipes as they would be written."""
    rows = [(n, row.split("|")) for n, row in enumerate(text.splitlines(), 1) if row]
    sheet = SourceSheet("book", "", [row for _, row in rows], "", [n for n, _ in rows])
    bring_recipes([sheet], out)
    return out.left, out.house.text("recipes")


@pytest.mark.parametrize(
    ("written", "makes"),
    [
        ("1 tray of 24", "24 portion"),
        ("2 trays of 24", "48 portion"),
        ("1 tray (24 portions)", "24 portion"),
        ("1 cake, cut into 12", "12 portion"),
        ("2 trays (48 pieces)", "48 portion"),
        ("serves 8", "8 portion"),
        ("1 pan (9 kg)", "9 kg"),
        ("6 x 500 g tubs", "3000 g"),
        ("4 loaves of 800 g", "4 loaf"),
    ],
)
def test_a_tray_makes_what_it_is_cut_into(written, makes, tmp_path):
    assert str(makes_of("Brownie", written, outcome(tmp_path)).quantity) == makes


@pytest.mark.parametrize(
    ("written", "grams"),
    [
        ("30 portions (180 g)", 180),
        ("24 portions (2.4 kg)", 100),
        ("10 portions @ 15 g", 15),
        ("50 portions (800 g)", 16),
        ("30 portions (300 g)", 300),
    ],
)
def test_a_weight_behind_portions_is_of_all_unless_that_makes_a_crumb_of_each(written, grams, tmp_path):
    """A portion of 15 g is the least that is served: common practice, no source."""
    made = makes_of("Chilli", written, outcome(tmp_path))
    assert made.quantity.unit == "portion"
    one = made.of_one
    assert one.amount * {"g": 1, "kg": Fraction(1000)}[one.unit] == grams


BOOK = """Mash
Makes 40 portions
8 kg|potatoes
1 kg|butter
Salmon
Makes 1 portion
180 g|salmon
150 g|mash"""


def test_a_recipe_in_portions_that_is_drawn_by_weight_is_asked_for_the_weight_of_its_batch(tmp_path):
    out = outcome(tmp_path, is_yes=False)
    brought(BOOK, out)
    (asked,) = [one for one in out.asker.open if one.key == "weighs mash"]
    assert asked.text == "Salmon: 150 g mash, which makes 40 portions: what do 40 portions weigh?"
    assert asked.best == "9 kg"


def test_with_yes_what_goes_into_it_is_its_weight_and_a_guess(tmp_path):
    left, text = brought(BOOK, outcome(tmp_path))
    assert left == []
    assert "each: 0.225 kg # guess: 40 portions taken to weigh what goes in, 9 kg: weigh them" in text
    assert "{item: mash, quantity: 150 g}" in text


def test_goods_by_the_piece_that_are_drawn_by_measure_are_asked_for_what_one_holds(tmp_path):
    out = outcome(tmp_path)
    out.house.add("ingredients", "red-wine", CommentedMap(name="Red wine", unit="bottle"))
    left, _ = brought("Jus\nMakes 2 l\n1 l|red wine\n3 l|veal stock", out)
    assert left == ["row 3: Jus: 1 l red wine: nothing says how much is in one bottle"]


def test_a_line_means_goods_and_no_dish_that_has_more_in_it(tmp_path):
    """Cheddar is no chicken and cheddar, half a tomato no chopped tomatoes, yams by the can those in cans."""
    out = outcome(tmp_path)
    for key, unit in (("cheddar-mature", "kg"), ("tomatoes-chopped", "kg"), ("tomatoes-vine", "kg")):
        out.house.add("ingredients", key, CommentedMap(name=key.replace("-", " ").capitalize(), unit=unit))
    out.house.add("ingredients", "yams", CommentedMap(name="Yams", unit="kg"))
    cans = CommentedMap(name="Yams cut in syrup", unit="no. 10 can")
    out.house.add("ingredients", "yams-cut", cans)
    _, text = brought(
        "Chicken & Cheddar\nMakes 4 portions\n1 kg|chicken\n300 g|mature cheddar\n"
        "Ploughman\nMakes 1 portion\n60 g|cheddar\n1/2|tomato\n3 #10 cans|yams\n1|pinch|salt",
        out,
    )
    assert "{item: cheddar-mature, quantity: 60 g}\n" in text
    assert "{item: tomatoes-vine, quantity: 1/2 each}" in text
    assert "{item: yams-cut, quantity: 3 no. 10 can}" in text
    assert "By feel: salt" in text


def test_a_second_recipe_of_one_name_is_said_and_changes_nothing(tmp_path):
    left, text = brought("Mash\nMakes 4 kg\n4 kg|potatoes\n\nMash\nMakes 2 kg\n2 kg|swede", outcome(tmp_path))
    assert left == ["row 5: Mash is there twice, and not the same; the first is taken"]
    assert "swede" not in text


@pytest.mark.parametrize(
    ("written", "heading", "share"),
    [
        ("85", "Qty", Fraction(85, 100)),
        ("85 %", "EP qty", Fraction(85, 100)),
        ("0.85", "Qty", Fraction(85, 100)),
        ("85", "AP qty", None),
        ("100", "Qty", None),
        ("n/a", "Qty", None),
    ],
)
def test_a_usable_share_is_of_what_is_eaten_and_not_of_what_is_purchased(written, heading, share):
    assert with_yield(line_in("2", "kg", "leeks"), written, heading).usable == share


def test_pieces_of_goods_that_are_counted_or_named_so(tmp_path):
    """Three lemons, juiced, are lemons; a bunch of a radish bunch is one; 5 oz of a dressing is no gallon."""
    out = outcome(tmp_path)
    for key, unit in (("lemons", "each"), ("lemon-juice", "l"), ("radish-bunch", "each")):
        out.house.add("ingredients", key, CommentedMap(name=key.replace("-", " ").capitalize(), unit=unit))
    text = "Dressing\nMakes 2 l\n3|lemons|juice\n1 bunch|radishes\n\nBowl\nMakes 1 portion\n60 g|dressing"
    _, text = brought(text, out)
    assert "{item: lemons, quantity: 3 each}" in text
    assert "{item: radish-bunch, quantity: 1 each}" in text
    assert "{item: dressing, quantity: 60 ml} # guess: 60 g as water" in text


def test_portions_among_lines_are_what_a_plate_takes_and_no_heads_of_recipes(tmp_path):
    text = "Roast potatoes|24 portions\n6 kg|potatoes\n\nPlate|1 portion\n90 g|beef\nRoast potatoes|1 portion"
    left, text = brought(text, outcome(tmp_path))
    assert left == []
    assert "{item: roast-potatoes, quantity: 1 portion}" in text


def test_a_bare_number_of_goods_in_bunches_is_of_bunches_and_a_guess(tmp_path):
    out = outcome(tmp_path)
    out.house.add("ingredients", "dill", CommentedMap(name="Dill", unit="bunch"))
    left, text = brought("Soup\nMakes 4 l\n2|dill\n4 l|chicken stock", out)
    assert left == []
    assert "{item: dill, quantity: 2 bunch} # guess: 2 taken as so many bunch" in text
