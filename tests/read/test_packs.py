"""Packs as vendors print them and houses write them: a stroke parts a count from a size."""

import pytest

from ordering.packs import parse_pack
from ordering.units import UnitError


@pytest.mark.parametrize(
    ("text", "content"),
    [
        ("1/50 LB", "50 lb"),
        ("2/5 LB", "10 lb"),
        ("12/1 LB", "12 lb"),
        ("4/1 GAL", "4 gallon"),
        ("1/2.5 GAL", "2.5 gallon"),
        ("9/.5 GAL", "4.5 gallon"),
        ("4/6/12 FL OZ", "288 fl oz"),
        ("10 X 1 KG", "10 kg"),
    ],
)
def test_a_stroke_parts_count_and_size_and_is_never_a_fraction(text, content):
    assert str(parse_pack(text).content) == content


@pytest.mark.parametrize(
    "text", ["1/2 LB", "3/4 LB", "1/2 GAL", "1/4 kg", "1 1/2 kg", "9/1/2 GAL", "6 x 1/2 l"]
)
def test_where_the_trade_also_means_a_part_nothing_is_taken(text):
    with pytest.raises(UnitError, match=r"may be|two ways") as caught:
        parse_pack(text)
    assert "write" in caught.value.right


@pytest.mark.parametrize("text", ["1/2 BU", "1 BU", "5/9 bushels", "24 bu"])
def test_a_bushel_is_asked_for(text):
    with pytest.raises(UnitError) as caught:
        parse_pack(text)
    assert "bulb" not in str(caught.value)
