"""Unit factors against their legal definitions and against an independent library.

`unit_factors.csv`: NIST Handbook 44, Appendix C (pound, US gallon, British units); the rest of the ladder by
exact division as NIST SP 811, Appendix B.8, prints it. The kitchen ladder is that of NIST SP 430. Digits were
read in reproductions of those tables and worked out again with pint's decimal registry; the definition of the
imperial gallon is from memory (Units of Measurement Regulations 1995).
"""

import csv
from decimal import Decimal
from fractions import Fraction
from pathlib import Path

import pint
import pytest

from ordering.units import UNITS, UnitError, convert, factor, unit_name

TABLE = list(csv.DictReader((Path(__file__).parent / "unit_factors.csv").read_text("utf-8").splitlines()))
PINT_NAMES = {
    "g": "gram",
    "kg": "kilogram",
    "mg": "milligram",
    "lb": "pound",
    "oz": "ounce",
    "ml": "milliliter",
    "cl": "centiliter",
    "dl": "deciliter",
    "l": "liter",
    "tsp": "teaspoon",
    "tbsp": "tablespoon",
    "fl oz": "fluid_ounce",
    "cup": "cup",
    "pint": "pint",
    "quart": "quart",
    "gallon": "gallon",
    "imp fl oz": "imperial_fluid_ounce",
    "imp pint": "imperial_pint",
    "imp quart": "imperial_quart",
    "imp gallon": "imperial_gallon",
}
REGISTRY = pint.UnitRegistry(non_int_type=Decimal)


@pytest.mark.parametrize("row", TABLE, ids=lambda row: row["unit"])
def test_factors_are_the_published_ones_exactly(row):
    assert factor(row["unit"], row["base"]) == Fraction(row["exact"])


def test_every_measured_unit_is_checked_against_pint():
    assert set(PINT_NAMES) == {unit for unit, (kind, _) in UNITS.items() if kind in ("mass", "volume")}


@pytest.mark.parametrize(("ours", "theirs"), PINT_NAMES.items())
def test_factors_agree_with_pint(ours, theirs):
    base = "gram" if UNITS[ours][0] == "mass" else "milliliter"
    published = REGISTRY.Quantity(Decimal(1), theirs).to(base).magnitude
    assert float(UNITS[ours][1]) == pytest.approx(float(published), rel=1e-15)


@pytest.mark.parametrize(
    ("n", "smaller", "larger"),
    [
        (3, "tsp", "tbsp"),
        (2, "tbsp", "fl oz"),
        (8, "fl oz", "cup"),
        (2, "cup", "pint"),
        (2, "pint", "quart"),
        (4, "quart", "gallon"),
        (16, "oz", "lb"),
        (20, "imp fl oz", "imp pint"),
        (8, "imp pint", "imp gallon"),
    ],
)
def test_the_kitchen_ladder_is_whole(n, smaller, larger):
    """NIST SP 430; the two British steps from memory."""
    assert factor(larger, smaller) == n


def test_a_cup_is_the_exact_one_and_not_the_rounded_ones():
    """236.588 ml exact; 237 is NIST SP 430's household figure, 240 that of 21 CFR 101.9(b)(5)(viii)."""
    assert factor("cup", "ml") == Fraction("236.5882365")


def test_larger_measures_are_exact_where_rounded_tables_do_not_add_up():
    """NIST's cooking page prints 950 ml, 1950 ml and 3.84 l: not multiples of one another."""
    assert [round(convert(n, "quart", "ml"), 2) for n in (1, 2, 4)] == [946.35, 1892.71, 3785.41]


def test_ounces_never_become_fluid_ounces_without_a_density():
    with pytest.raises(UnitError, match="density"):
        convert(1, "oz", "fl oz")
    with pytest.raises(UnitError, match="density"):
        convert(1, "fl oz", "oz", each_g=100)


def test_a_fluid_ounce_of_water_is_no_ounce():
    """US fl oz about 1.04 oz, imperial fl oz about 1.002 oz at 1 kg/l: a public note on both systems."""
    assert convert(1, "fl oz", "oz", density=Fraction("0.998")) == pytest.approx(1.04, abs=0.005)
    assert convert(1, "imp fl oz", "oz", density=1) == pytest.approx(1.002, abs=0.0005)


def test_a_pint_is_not_a_pound():
    """US pint of water at 20 C is 1.0413 lb; density 0.9982 kg/l from memory."""
    assert convert(1, "pint", "lb", density=Fraction("0.9982")) == pytest.approx(1.0413, abs=0.0001)


@pytest.mark.parametrize(
    ("food", "grams_a_cup", "ounces"),
    [("flour", 125, 4.41), ("honey", 339, 11.96), ("whole milk", 244, 8.61)],
)
def test_a_cup_is_not_eight_ounces(food, grams_a_cup, ounces):
    """Weights of a cup: USDA National Nutrient Database SR28, file WEIGHT."""
    density = Fraction(grams_a_cup) / UNITS["cup"][1]
    assert convert(1, "cup", "oz", density=density) == pytest.approx(ounces, abs=0.005), food
    assert convert(1, "cup", "g", density=density) == grams_a_cup


def test_a_number_ten_can_has_no_weight_of_its_own():
    """105, 108 and 110 oz for three bean products: USDA Food Buying Guide, section 1."""
    with pytest.raises(UnitError, match="each"):
        convert(1, "can", "oz")
    for ounces in (105, 108, 110):
        each_g = ounces * UNITS["oz"][1]
        assert convert(2, "can", "oz", each_g=each_g) == 2 * ounces


@pytest.mark.parametrize("symbol", ["c", "C", "T", "t", "ct", "gr", "#"])
def test_a_symbol_with_another_meaning_is_no_unit(symbol):
    """To pint these are the speed of light, coulomb, tesla, metric ton, carat, grain and nothing; to a cook a
    cup, a spoon, a count or a gram. Recomputed with pint; we guess none of them."""
    with pytest.raises(UnitError, match="not a known unit"):
        unit_name(symbol)


@pytest.mark.parametrize(
    ("written", "unit"), [("fl_oz", "fl oz"), ("dozen", "dozen"), ("each", "each"), ("bunch", "bunch")]
)
def test_units_of_a_kitchen_are_known_where_a_library_of_physics_knows_none(written, unit):
    """pint has none of the four; we have them all, as a cook writes them."""
    with pytest.raises(pint.UndefinedUnitError):
        REGISTRY.Unit(written)
    assert unit_name(unit) == unit


def test_pt_is_the_liquid_pint():
    assert unit_name("pt") == "pint"
    assert factor("pint", "ml") == Fraction(REGISTRY.Quantity(Decimal(1), "pt").to("milliliter").magnitude)
