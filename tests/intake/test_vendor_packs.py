"""Pack strings of vendors: every form of the trade, and what is asked.

`data/pack_strings.csv` has 242 strings in the forms that vendors use, made up for tests: common practice, no
source. One number alone is the size; in an ambiguous row the figures are the reading to propose.
"""

import csv
from fractions import Fraction
from pathlib import Path

import pytest

from ordering.intake.goods_names import is_liquid
from ordering.intake.pack_strings import read_pack
from ordering.packs import parse_pack
from ordering.units import UNITS, Quantity, kind_of

TEXT = (Path(__file__).parent / "data" / "pack_strings.csv").read_text("utf-8")
ROWS = list(csv.DictReader(TEXT.splitlines()))
OURS = {
    **{"gal": "gallon", "qt": "quart", "pt": "pint", "imp pt": "imp pint", "dry pt": "dry pint"},
    **{"ct": "each", "ea": "each", "dz": "dozen", "bu": "bushel"},
    **{"#10 can": "no. 10 can", "A10 can": "no. 10 can", "#5 can": "no. 5 can", "#300 can": "no. 300 can"},
    **{"#5 squat can": "no. 5 squat can", "No. 1 picnic can": "no. 1 picnic can"},
}


def a_number(text):
    whole, _, part = text.rpartition("-")
    return Fraction(part) + (Fraction(whole) if whole else 0)


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row["text"])
def test_every_string_is_read_as_stated_or_asked(row):
    found = read_pack(row["text"], row["um"])
    low, _, high = row["size"].partition("-") if row["unit"] != "bu" else (row["size"], "", "")
    size = None if not row["size"] else a_number(low)
    assert (found.count, found.size, found.high) == (
        int(row["count"]) if row["count"] else None,
        size,
        Fraction(high) if high else None,
    )
    assert found.unit == OURS.get(row["unit"], row["unit"])
    assert found.is_catch_weight == (row["catch_weight"] == "yes")
    assert bool(found.ask) == row["ambiguous"].startswith("yes")


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row["text"])
def test_its_content_is_the_one_stated(row):
    content = read_pack(row["text"], row["um"]).content
    if not row["content_lb_or_kg_or_l_or_each"]:
        assert content is None
        return
    amounts, unit = row["content_lb_or_kg_or_l_or_each"].split()
    ends = [Fraction(one) for one in amounts.split("-")]
    kind, factor = UNITS[content.unit]
    found = content.amount * factor if kind in ("mass", "volume", "each") else content.amount
    due = sum(ends) / len(ends) * (UNITS[unit][1] if unit != "each" else 1)
    assert float(found) == pytest.approx(float(due), rel=1e-3)


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row["text"])
def test_what_the_program_writes_reads_back_the_same(row):
    found = read_pack(row["text"], row["um"])
    if not found.written:
        return
    pack = parse_pack(found.written)
    assert (pack.expected or pack.content) == found.content


@pytest.mark.parametrize(("country", "unit"), [("US", "pint"), ("GB", "imp pint")])
def test_a_pint_is_that_of_the_house_s_country(country, unit):
    found = read_pack("6 pt", country=country, is_liquid=True)
    assert (found.unit, found.ask) == (unit, "")


def test_what_the_words_of_the_product_tell_is_not_asked():
    assert read_pack("6/64 OZ", is_liquid=True).unit == "fl oz"
    assert read_pack("6/64 OZ", is_liquid=False).unit == "oz"
    assert read_pack("6/24 OZ", is_liquid=is_liquid("HONEY HOT")).content == Quantity(Fraction(144), "oz")
    assert read_pack("12/2 OZ", is_liquid=is_liquid("ANCHOVY, OIL")).content == Quantity(Fraction(24), "oz")
    assert read_pack("12/2 OZ", is_liquid=is_liquid("OIL, TRUFFLE")).content.unit == "fl oz"
    assert not read_pack("12/32 OZ", is_liquid=False).ask
    assert kind_of(read_pack("6/#10").content.unit) == "no. 10 can"
