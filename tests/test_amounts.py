"""Quantities in words: one unit, steps that can be weighed or filled, whole pieces."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ordering import amounts
from ordering.units import UNITS, convert


def test_one_of_a_thing_is_said_otherwise_than_several() -> None:
    assert [amounts.plural(n, "day") for n in (0, 1, 2, 1.5)] == ["0 days", "1 day", "2 days", "1.5 days"]
    assert amounts.plural(2, "dish", "dishes") == "2 dishes"


@pytest.mark.parametrize(
    ("quantity", "unit", "text"),
    [
        (4.2, "kg", "4.2 kg"),
        (0.035, "kg", "35 g"),
        (0.1808, "kg", "180 g"),
        (0.9999, "kg", "1 kg"),
        (1.54, "kg", "1.55 kg"),
        (5.455, "kg", "5.5 kg"),
        (12.345, "kg", "12.3 kg"),
        (0.0005, "kg", "0.5 g"),
        (0.0, "kg", "0 kg"),
        (-0.0000001, "kg", "0 kg"),
        (-2.0, "kg", "-2 kg"),
        (0.125, "l", "125 ml"),
        (1200.0, "l", "1,200 l"),
    ],
)
def test_metric_is_read_off_scales_and_jugs(quantity: float, unit: str, text: str) -> None:
    assert amounts.shown(quantity, unit) == text


@pytest.mark.parametrize(
    ("quantity", "unit", "text"),
    [
        (4.35, "lb", "4 1/4 lb"),
        (43.63, "lb", "43 1/2 lb"),
        (0.3, "lb", "4 3/4 oz"),
        (0.0167, "oz", "less than 1/4 oz"),
        (1.2, "quart", "1 1/4 qt"),  # within a twentieth
        (1.4, "quart", "1 1/4 qt 1 cup"),  # not within one of a quarter
        (3.3, "quart", "3 1/4 qt"),
        (4.3, "quart", "4 1/2 qt"),
        (15.4, "quart", "15 1/2 qt"),
        (16.4, "quart", "16 qt"),
        (2.906, "quart", "3 qt"),  # two quarts, a pint, a cup and ten tablespoons
        (19.98, "gallon", "20 gal"),
        (0.0625, "gallon", "1 cup"),
        (1.125, "cup", "1 cup 2 tbsp"),
        (6.0, "cup", "6 cups"),
        (0.35, "cup", "1/3 cup"),
        (3.0, "tsp", "1 tbsp"),
        (64.0, "fl oz", "64 fl oz"),
        (0.1, "tsp", "less than 1/4 tsp"),
        (2.0, "imp pint", "2 pints"),
        (0.1, "imp pint", "2 fl oz"),
    ],
)
def test_us_and_imperial_amounts_are_what_a_measure_holds(quantity: float, unit: str, text: str) -> None:
    assert amounts.shown(quantity, unit) == text


@pytest.mark.parametrize(
    ("quantity", "unit", "text"),
    [
        (10.0, "each", "10"),
        (4.038, "each", "4"),
        (3.6, "each", "3 1/2"),
        (4.6, "each", "5"),
        (1.1, "each", "1"),  # more than nine tenths
        (1.14, "each", "1 1/2"),
        (0.36, "each", "1/2"),
        (0.25, "each", "1/4"),
        (1.2, "each", "1 1/2"),
        (22.4, "each", "22"),
        (1200.0, "each", "1,200"),
        (3.0, "bunch", "3 bunches"),
        (0.5, "bunch", "1/2 bunch"),
        (4.0, "leaf", "4 leaves"),
        (2.0, "dozen", "2 dozen"),
        (3.0, "", "3"),
    ],
)
def test_pieces_are_whole_or_cut_as_a_cook_cuts_them(quantity: float, unit: str, text: str) -> None:
    assert amounts.shown(quantity, unit) == text


def exactly(text: str) -> float:
    """A quantity in words back in g, ml or pieces; half of what it is less than."""
    short = {one: unit for unit, words in amounts._WORDS.items() for one in words if "imp" not in unit}
    share = 0.5 if text.startswith("less than ") else 1.0
    total, amount = 0.0, Fraction(0)
    for word in text.removeprefix("less than ").replace(",", "").replace("fl oz", "fl-oz").split():
        if word[0].isdigit():
            amount += Fraction(word)
            continue
        unit = short.get(word, word).replace("-", " ")
        total += share * convert(amount, unit, {"mass": "g", "volume": "ml"}[UNITS[unit][0]])
        amount = Fraction(0)
    return total + float(amount)


WEIGHED = [unit for unit, (kind, _) in UNITS.items() if kind in ("mass", "volume") and "imp" not in unit]


@given(quantity=st.floats(0.001, 5000), unit=st.sampled_from(WEIGHED))
def test_what_is_said_is_within_a_tenth_of_what_is_meant(quantity: float, unit: str) -> None:
    """A measure is filled, not dosed; the least that scales and spoons show is a quarter of one."""
    text = amounts.shown(quantity, unit)
    meant = quantity * float(UNITS[unit][1])
    least = float(UNITS["oz"][1]) / 8 if unit in ("oz", "lb") else float(UNITS["tsp"][1]) / 4
    if "less than" not in text:
        assert abs(exactly(text) - meant) <= max(meant / 10, 0.05 if "g" in text else least) + 1e-9


@given(quantity=st.floats(0.01, 5000), unit=st.sampled_from(["each", "bunch", "box"]))
def test_what_is_drawn_in_pieces_is_nearly_enough(quantity: float, unit: str) -> None:
    number = amounts.shown(quantity, unit).replace(",", "").rsplit(maxsplit=0 if unit == "each" else 1)[0]
    got = float(sum(Fraction(part) for part in number.split()))
    assert 0.9 * quantity - 1e-9 <= got <= max(quantity + 0.5, 0.25)


@pytest.mark.parametrize(
    ("missing", "unit", "number"),
    [
        (9.467, "each", 10.0),
        (0.17, "box", 1.0),
        (7.0000000001, "each", 7.0),
        (1.5, "dozen", 1.5),
        (2.145, "kg", 2.145),
        (0.3, "gallon", 0.3),
    ],
)
def test_no_part_of_a_piece_can_be_got(missing: float, unit: str, number: float) -> None:
    assert amounts.to_get(missing, unit) == number


@given(quantity=st.floats(0.001, 1e6), unit=st.sampled_from(sorted(UNITS)))
def test_what_is_got_is_enough_and_less_than_one_piece_too_many(quantity: float, unit: str) -> None:
    assert quantity - 1e-6 <= amounts.to_get(quantity, unit) < quantity + 1


@pytest.mark.parametrize(
    ("written", "one", "two"),
    [
        ("12 x 3 each", "1 case of 12 x 3", "2 cases of 12 x 3"),
        ("2 each ~ 40 lb", "1 case of 2, about 40 lb", "2 cases of 2, about 40 lb each"),
        ("1 each ~ 4.2 kg", "1, about 4.2 kg", "2, about 4.2 kg each"),
        ("5 kg ~ 5 kg", "1 pack of about 5 kg", "2 packs of about 5 kg"),
        ("6 x 1 kg", "1 pack of 6 x 1 kg", "2 packs of 6 x 1 kg"),
        ("1 bunch", "1 bunch", "2 bunches"),
        ("6 x 1 bottle", "1 pack of 6 bottles", "2 packs of 6 bottles"),
        ("12 each", "1 case of 12", "2 cases of 12"),
        ("25 kg", "1 pack of 25 kg", "2 packs of 25 kg"),
    ],
)
def test_packs_as_they_are_asked_for(written: str, one: str, two: str) -> None:
    assert (amounts.packs_said(1, written), amounts.packs_said(2, written)) == (one, two)


@pytest.mark.parametrize(
    ("share", "places", "sign", "said"),
    [(-0.004, 0, "", "0 %"), (-0.004, 1, "", "-0.4 %"), (0.004, 0, "+", "0 %"), (0.031, 0, "+", "+3 %")],
)
def test_a_share_that_rounds_to_nothing_has_no_sign(share: float, places: int, sign: str, said: str) -> None:
    assert amounts.percent(share, places, sign) == said


def test_an_amount_to_the_last_digit_has_words_for_its_unit() -> None:
    said = [amounts.exactly(*one) for one in ((2.375, "kg"), (6.0, "bunch"), (12.0, "each"))]
    assert said == ["2.375 kg", "6 bunches", "12"]
