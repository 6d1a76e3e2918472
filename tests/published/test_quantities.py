"""Worked examples of scaling, trimming and buying, as published.

TM 10-412: US Armed Forces Recipe Service (2003), cards A-1 and A-6. FBG: USDA Food Buying Guide for Child
Nutrition Programs, sections 1 to 3; `purchase_units.csv` has 27 of its rows. Each was read in a public
reproduction. Yields are those of the sources; a house measures its own.
"""

import csv
from fractions import Fraction
from pathlib import Path

import houses
import pytest

from ordering.amounts import shown
from ordering.buy.pack_prices import packs_needed
from ordering.net.netting import net_all
from ordering.packs import parse_pack
from ordering.records.house import RecipeLine
from ordering.records.plan import Opening
from ordering.units import convert, exact, parse_quantity

PURCHASES = list(
    csv.DictReader((Path(__file__).parent / "purchase_units.csv").read_text("utf-8").splitlines())
)


def for_portions(card, sold, portion=1.0):
    """What of a card's one ingredient so many portions draw, in the unit of `card`; cards are for 100."""
    written = parse_quantity(card)
    home = houses.house(
        [houses.ingredient("goods", written.unit)],
        [houses.recipe("card", 100, {"goods": float(written.amount)}, unit="portion")],
        [houses.dish("plate", "card", portion)],
    )
    demand = houses.forecast(home, {"plate": [float(sold)]})
    return float(net_all(home, Opening(), demand, {}, {"goods": 0}).flows["goods"].gross.sum())


def test_a_card_for_100_made_for_348():
    """TM 10-412 A-1(2): factor 3.48; 1 lb 4 oz on the card becomes 4.35 lb."""
    on_the_card = exact(convert(1, "lb", "lb")) + exact(convert(4, "oz", "lb"))
    assert for_portions(f"{float(on_the_card)} lb", 348) == pytest.approx(4.35, abs=1e-12)


def test_a_card_of_30_lb_gives_340_from_102_lb():
    """TM 10-412 A-1(3): 102 lb to use, the card needs 30 lb: factor 3.40."""
    assert for_portions("30 lb", 340) == pytest.approx(102, abs=1e-9)


@pytest.mark.parametrize(
    ("low", "high", "said"),
    [
        ("0", "0.12", "5 oz"),
        ("0.13", "0.37", "5 1/4 oz"),
        ("0.38", "0.62", "5 1/2 oz"),
        ("0.63", "0.87", "5 3/4 oz"),
        ("0.88", "0.99", "6 oz"),
    ],
)
def test_ounces_are_rounded_in_five_bands(low, high, said):
    """TM 10-412 A-1(2)."""
    for part in (low, high):
        assert shown(5 + float(part), "oz") == said


def test_six_gallons_for_100_made_for_333():
    """TM 10-412 A-1(3): 19.98 gal, which nobody fills to the teaspoon that the card prints: 20."""
    made = for_portions("6 gallon", 333)
    assert made == pytest.approx(19.98, abs=1e-12)
    assert shown(made, "gallon") == "20 gal"


def test_smaller_portions_from_the_same_card():
    """TM 10-412 A-1(3): 348 portions of 3 oz from a card with 4 oz: 0.75, 261 and 2.61."""
    portion = convert(3, "oz", "lb") / convert(4, "oz", "lb")
    assert portion == 0.75
    assert for_portions("100 lb", 348, portion) == pytest.approx(261, abs=1e-9)
    assert for_portions("1 lb", 348, portion) == pytest.approx(2.61, abs=1e-12)


@pytest.mark.parametrize(
    ("edible", "yield_fraction", "purchased"),
    [
        # TM 10-412 A-6: factor 1.19 for pared cucumber; 3 lb 9 oz as printed
        ("3 lb", 1 / 1.19, 3.57),
        # Professional Cooking, 8th edition: Brussels sprouts at 0.80
        ("10 lb", 0.80, 12.5),
        # School food-service supplement quoting FBG: broccoli at 0.81
        ("5 lb", 0.81, 6.17),
    ],
)
def test_edible_portion_to_as_purchased(edible, yield_fraction, purchased):
    quantity = parse_quantity(edible)
    line = RecipeLine("vegetable", float(quantity.amount), yield_fraction)
    assert line.drawn == pytest.approx(purchased, abs=0.005)


def test_cucumbers_are_weighed_out_as_the_card_prints():
    """TM 10-412 A-6: 3.57 lb, printed as 3 lb 9 oz; here in quarters of a pound."""
    assert shown(3 * 1.19, "lb") == "3 1/2 lb"


def test_carrots_less_their_trim():
    """80 oz less 8.8 oz leaves 71.2 oz, a yield of 0.89: a culinary institute's recipe calculation guide."""
    yield_fraction = (80 - Fraction("8.8")) / 80
    assert yield_fraction == Fraction("0.89")
    assert RecipeLine("carrot", 71.2, float(yield_fraction)).drawn == pytest.approx(80)


def test_servings_of_ground_beef():
    """FBG: 8.5 lb for 100 servings of 1 oz; 230 servings of 2 oz take 8.5 x 2.3 x 2 = 39.1 lb."""
    assert for_portions("8.5 lb", 230, portion=2.0) == pytest.approx(39.1, abs=1e-9)


def test_cans_of_corn_are_rounded_up():
    """FBG: 3.0 cans for 100 quarter cups; 460 half cups take 27.6, so 28 cans."""
    cans = for_portions("3 can", 460, portion=2.0)
    assert cans == pytest.approx(27.6, abs=1e-9)
    assert packs_needed(cans, float(parse_pack("1 can").content.amount)) == 28


def test_turkey_servings_are_rounded_down():
    """36 lb at 0.47 is 16.92 lb = 270.72 oz: 90 servings of 3 oz. School supplement quoting FBG."""
    cooked = 36 * Fraction("0.47")
    assert cooked == Fraction("16.92")
    ounces = convert(cooked, "lb", "oz")
    assert ounces == pytest.approx(270.72)
    assert ounces // 3 == 90


@pytest.mark.parametrize("row", PURCHASES, ids=lambda row: f"{row['item']}, {row['serving']}")
def test_purchase_units_for_100_servings_are_rounded_up(row):
    """FBG, column 5: 100 servings over servings per unit, up to the next tenth of a unit."""
    tenths = packs_needed(100 / float(row["servings_per_unit"]), 0.1)
    assert tenths / 10 == pytest.approx(float(row["units_per_100_servings"]))


def test_rounding_to_the_nearest_would_fail():
    nearest = [round(1000 / float(r["servings_per_unit"])) / 10 for r in PURCHASES]
    printed = [float(r["units_per_100_servings"]) for r in PURCHASES]
    assert len(PURCHASES) == 27
    assert sum(abs(a - b) > 0.05 for a, b in zip(nearest, printed, strict=True)) == 12
