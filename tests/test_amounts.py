"""Quantities in words: in steps that can be weighed out, and no part of a piece."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ordering import amounts
from ordering.units import LADDERS, UNITS, exact


def test_one_of_a_thing_is_said_otherwise_than_several() -> None:
    assert [amounts.plural(n, "day") for n in (0, 1, 2, 1.5)] == ["0 days", "1 day", "2 days", "1.5 days"]
    assert amounts.plural(2, "dish", "dishes") == "2 dishes"


@pytest.mark.parametrize(
    ("quantity", "unit", "text"),
    [
        (4.2, "kg", "4.2 kg"),
        (1200.0, "each", "1,200 each"),
        (0.0004, "kg", "0 kg"),
        (-0.0001, "kg", "0 kg"),
        (0.125, "l", "0.125 l"),
        (12.345, "kg", "12.3 kg"),
        (4.35, "lb", "4 lb 5 1/2 oz"),
        (43.63, "lb", "43 lb 12 oz"),  # to a quarter pound, within half a percent
        (5.2, "gallon", "5 gallon 1 pint 1 cup"),
        (14.33, "lb", "14 lb 5 oz"),
        (13.1, "gallon", "13 gallon 1 pint"),
        (0.0625, "gallon", "1 cup"),
        (0.0167, "oz", "0.017 oz"),
        (0.001, "lb", "0.001 lb"),
        (0.0, "lb", "0 lb"),
        (3.0, "", "3"),
    ],
)
def test_quantities_as_said_in_a_kitchen(quantity: float, unit: str, text: str) -> None:
    assert amounts.shown(quantity, unit) == text


@given(amount=st.floats(0.001, 1000), unit=st.sampled_from(sorted(LADDERS)))
def test_what_is_rounded_to_be_weighed_out_stays_within_half_a_percent(amount: float, unit: str) -> None:
    assert abs(amounts.workable(amount, unit) - exact(amount)) <= exact(amount) / 200


@pytest.mark.parametrize(
    ("quantity", "unit", "text"),
    [
        (0.035, "kg", "35 g"),
        (0.2, "l", "200 ml"),
        (0.1808, "kg", "181 g"),
        (1.2, "kg", "1.2 kg"),
        (0.25, "each", "0.25 each"),
    ],
)
def test_little_is_read_off_the_scales_in_the_smaller_unit(quantity: float, unit: str, text: str) -> None:
    assert amounts.weighed(quantity, unit) == text


@pytest.mark.parametrize(
    ("lacking", "unit", "number"),
    [
        (9.467, "each", 10.0),
        (0.17, "box", 1.0),
        (7.0000000001, "each", 7.0),
        (1.5, "dozen", 1.5),
        (2.145, "kg", 2.145),
        (0.3, "gallon", 0.3),
    ],
)
def test_no_part_of_a_piece_can_be_got(lacking: float, unit: str, number: float) -> None:
    assert amounts.to_get(lacking, unit) == number


@given(quantity=st.floats(0.001, 1e6), unit=st.sampled_from(sorted(UNITS)))
def test_what_is_got_is_enough_and_less_than_one_piece_too_many(quantity: float, unit: str) -> None:
    assert quantity - 1e-6 <= amounts.to_get(quantity, unit) < quantity + 1
