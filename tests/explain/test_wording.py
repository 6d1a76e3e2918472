"""Quantities and sums as a kitchen reads them: sums add up as printed."""

import pytest

from ordering.explain.wording import adding_up, amount, column, short_amount


def test_printed_numbers_add_up_as_printed():
    """Three thirds of 1 print as 0.33 twice and 0.34 once, not as 0.99."""
    assert adding_up([1 / 3, 1 / 3, 1 / 3], 1.0, 2) == [0.34, 0.33, 0.33]
    lines = column("Sum", "kg", [("a", 1 / 3), ("b", 1 / 3), ("c", 1 / 3), ("none", 0.0)], ("all", 1.0), 40)
    numbers = [float(line.split()[-1]) for line in lines[1:-2]]
    assert sum(numbers) == pytest.approx(float(lines[-1].split()[-1]))
    assert not any("none" in line for line in lines)


@pytest.mark.parametrize(
    ("quantity", "unit", "text"),
    [
        (0.0263157, "kg", "26.3 g"),
        (0.4333, "kg", "433 g"),
        (0.025, "l", "25 ml"),
        (4.256, "kg", "4.26 kg"),
        (0.3125, "lb", "0.312 lb"),
        (0.125, "each", "0.125"),
        (0.0, "kg", "0 kg"),
    ],
)
def test_an_amount_is_said_as_it_is_weighed_out(quantity, unit, text):
    assert amount(quantity, unit) == text


@pytest.mark.parametrize(
    ("quantity", "unit", "text"), [(9.467, "each", "10"), (0.17, "box", "1 box"), (2.146, "kg", "2.1 kg")]
)
def test_what_is_short_in_pieces_is_said_in_whole_ones(quantity, unit, text):
    assert short_amount(quantity, unit) == text


@pytest.mark.parametrize(
    ("label", "lines"),
    [
        ("needed by dishes, salads", [f"{'  needed by dishes, salads':28}   1,234,568"]),
        ("needed by dishes, recipes", ["  needed by dishes,", f"{'    recipes':28}   1,234,568"]),
    ],
    ids=["24 letters are the label's", "more goes on below"],
)
def test_a_sum_leaves_twelve_columns_of_forty_to_its_numbers(label, lines):
    """A million of anything, three spaces behind the longest label."""
    _, *said, _, _ = column("Need", "each", [(label, 1234568.0)], ("all", 1234568.0), 40)
    assert said == lines
