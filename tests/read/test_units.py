"""Quantities, packs and densities as they are written; conversion through the item's own bridges."""

from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ordering.packs import parse_pack
from ordering.read.spans import days_down, days_up, parse_hours
from ordering.units import (
    TRADE_PIECES,
    UNITS,
    Quantity,
    UnitError,
    convert,
    exact,
    factor,
    format_number,
    kind_of,
    parse_density,
    parse_quantity,
    unit_name,
)


@pytest.mark.parametrize(
    ("text", "amount", "unit"),
    [
        ("250 g", 250, "g"),
        ("1.5 l", "3/2", "l"),
        ("3 each", 3, "each"),
        ("3each", 3, "each"),
        (" 2.50  KG ", "5/2", "kg"),
        ("1/2 cup", "1/2", "cup"),
        ("1 1/2 cups", "3/2", "cup"),
        (".5 oz", "1/2", "oz"),
        ("12 fl oz", 12, "fl oz"),
        ("2 Fluid Ounces", 2, "fl oz"),
        ("3 imp pints", 3, "imp pint"),
        ("2 bunches", 2, "bunch"),
        ("4 leaves", 4, "leaf"),
        ("2 doz", 2, "dozen"),
        ("0 kg", 0, "kg"),
    ],
)
def test_quantities_are_read_exactly(text, amount, unit):
    assert parse_quantity(text) == Quantity(Fraction(amount), unit)


@pytest.mark.parametrize(
    ("text", "wrong"),
    [
        ("", "not a quantity"),
        ("kg", "not a quantity"),
        ("12", "no unit"),
        ("1,5 kg", "comma"),
        ("1.5.2 kg", "not a quantity"),
        ("-2 kg", "negative"),
        ("5 gg", "not a known unit"),
        ("5 T", "not a known unit"),
        ("5 c", "not a known unit"),
        ("1/0 kg", "divides by zero"),
        ("1e3 kg", "not a known unit"),
        ("nan kg", "not a quantity"),
        ("inf kg", "not a quantity"),
        ("999999999999 kg", "too large"),
        ("5 " + "k" * 100, "not a quantity"),
        ("٣ kg", "not a quantity"),
    ],
)
def test_what_is_no_quantity_is_refused_in_words(text, wrong):
    with pytest.raises(UnitError, match=wrong) as caught:
        parse_quantity(text)
    assert caught.value.right


@pytest.mark.parametrize("unit", UNITS)
def test_every_unit_reads_itself_and_its_plural(unit):
    assert unit_name(unit) == unit
    assert unit_name(unit.upper()) == unit
    assert unit_name(f"{unit}s") == unit


@pytest.mark.parametrize(
    ("text", "content", "expected"),
    [
        ("25 kg", "25 kg", None),
        ("6 x 1 kg", "6 kg", None),
        ("6x750ml", "4500 ml", None),
        ("4 × 6 x 330 ml", "7920 ml", None),
        ("1 each ~ 4.2 kg", "1 each", "4.2 kg"),
        ("2 x 1 each ~ 8.5 lb", "2 each", "8.5 lb"),
        ("1 box", "1 box", None),
    ],
)
def test_packs(text, content, expected):
    pack = parse_pack(text)
    assert str(pack.content) == content
    assert (pack.expected and str(pack.expected)) == expected


@pytest.mark.parametrize(
    ("text", "wrong"),
    [
        ("", "not a quantity"),
        ("0 x 1 kg", "holds nothing"),
        ("6 x 0 kg", "holds nothing"),
        ("half x 1 kg", "not a whole number"),
        ("1.5 x 1 kg", "not a whole number"),
        ("1 each ~", "not a quantity"),
        ("1 each ~ 3 each", "not a weight"),
        ("1 each ~ 0 kg", "not a weight"),
        ("999999 x 999999 x 9 kg", "too much"),
    ],
)
def test_what_is_no_pack_is_refused_in_words(text, wrong):
    with pytest.raises(UnitError, match=wrong):
        parse_pack(text)


@pytest.mark.parametrize(
    ("text", "up", "down"),
    [
        ("2 d", 2, 2),
        ("36 h", 2, 1),
        ("0 d", 0, 0),
        ("24 hours", 1, 1),
        ("1.5 days", 2, 1),
        ("3 weeks", 21, 21),
    ],
)
def test_spans_round_up_for_making_and_down_for_keeping(text, up, down):
    hours = parse_hours(text)
    assert (days_up(hours), days_down(hours)) == (up, down)


@pytest.mark.parametrize("text", ["", "2", "2 months", "a day", "-2 d", "4000 d", "d"])
def test_what_is_no_span_is_refused(text):
    with pytest.raises(UnitError, match="2 d, 36 h"):
        parse_hours(text)


def test_density_is_any_mass_over_any_volume():
    assert (
        parse_density("0.92 kg/l")
        == parse_density("0.92 g/ml")
        == parse_density("920 g / l")
        == Fraction("0.92")
    )
    for text in ("0.92", "kg/l", "0 kg/l", "1 l/kg", "1 kg/each", "1 kg/"):
        with pytest.raises(UnitError, match=r"0\.92 kg/l|unit"):
            parse_density(text)


def test_pieces_become_weight_only_through_what_one_weighs():
    assert convert(3, "each", "kg", each_g=180) == 0.54
    assert convert(1, "dozen", "each") == 12
    assert convert(500, "g", "bunch", each_g=100) == 5
    assert convert(2, "each", "l", each_g=500, density=0.8) == 1.25
    with pytest.raises(UnitError, match="what one weighs"):
        convert(3, "each", "kg", density=1)


def test_one_trade_piece_never_becomes_another():
    """`each: 40 g` weighs one kind of piece: a bunch is no sprig because both weigh 40 g."""
    with pytest.raises(UnitError, match="'bunch' and 'sprig'"):
        convert(1, "bunch", "sprig", each_g=40)
    with pytest.raises(UnitError, match="'each' and 'tin'"):
        convert(1, "each", "tin", each_g=40)
    with pytest.raises(UnitError, match="write how many each are in it, as in 12 each"):
        convert(1, "box", "each")
    assert {kind_of(name) for name in TRADE_PIECES} == set(TRADE_PIECES)


amounts = st.decimals(min_value=0, max_value=10**6, places=3).map(Fraction)
units = st.sampled_from(sorted(UNITS))


@settings(max_examples=150)
@given(a=units, b=units, each=st.integers(1, 5000), density=st.integers(1, 3000))
def test_there_and_back_is_exactly_one(a, b, each, density):
    """Where a bridge exists it holds both ways, and through any third unit."""
    bridge = {"each_g": each, "density": Fraction(density, 1000)}
    try:
        there = factor(a, b, **bridge)
    except UnitError:
        assert kind_of(a) != kind_of(b)
        return
    assert there * factor(b, a, **bridge) == 1
    assert there == factor(a, "kg", **bridge) * factor("kg", b, **bridge)


@settings(max_examples=150)
@given(amount=amounts, unit=units)
def test_what_is_printed_reads_back(amount, unit):
    assert parse_quantity(f"{format_number(amount)} {unit}") == Quantity(amount, unit)


@settings(max_examples=200)
@given(text=st.text(max_size=60))
def test_any_text_is_read_or_refused_in_words(text):
    for read in (parse_quantity, parse_pack, parse_density, parse_hours, unit_name):
        refusal = None
        try:
            read(text)
        except UnitError as error:
            refusal = error
        assert refusal is None or (refusal.wrong and refusal.right)


def test_a_float_stands_for_the_decimal_it_is_written_as():
    assert exact(0.1) == Fraction(1, 10)
    assert convert(0.1, "kg", "g") == 100


def test_a_density_may_be_written_in_the_house_s_own_measures():
    """125 g a cup of flour: USDA SR28, NDB 20081; a US cup has 236.588 ml."""
    assert float(parse_density("1 cup = 125 g")) == pytest.approx(125 / 236.588, rel=1e-5)
    assert parse_density("2 cups = 8.5 oz") == parse_density("1 cup = 4.25 oz")
    for wrong in ("1 cup = 4 cups", "0 cup = 4 oz", "1 oz = 1 cup", "cup = 4 oz"):
        with pytest.raises(UnitError):
            parse_density(wrong)
