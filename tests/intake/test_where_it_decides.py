"""Where each number of the import decides: papers on both sides of it, and why it lies between them.

Common practice of the trade, no source.
"""

from datetime import date
from fractions import Fraction

import pytest
from ruamel.yaml.comments import CommentedMap

from ordering.faults import Refused
from ordering.intake.column_roles import columns_of
from ordering.intake.headings import find_table, roles_of
from ordering.intake.housefiles import STEMS, HouseFiles, offers_of
from ordering.intake.offer_terms import same_content
from ordering.intake.outcome import Asker, Outcome
from ordering.intake.pack_strings import read_pack
from ordering.intake.price_columns import in_one_column
from ordering.intake.price_lists import bring_prices
from ordering.intake.sheets import SourceSheet, read_sheets
from ordering.units import Quantity

NEEDED = ("name", ("price", "unit_price"))


@pytest.mark.parametrize(
    ("first", "second", "taken", "below"),
    [
        ("Price old", "Our best price", 1, []),  # what a heading ends in is the thing itself
        ("Your net price", "Price", 1, []),
        ("Your net price", "Net / p1", 1, []),
        ("Net / p1", "Price", 1, []),
        ("Price old", "Our best price", 0, [["3.20", "3 for 12"], ["4.50", "5 for 20"]]),
        ("Price", "Your net price", 1, [["3 to 4.20", "12.40"], ["11 or 12", "4.10"]]),
    ],
)
def test_the_heading_that_tells_a_role_more_has_it_unless_its_cells_do_not(first, second, taken, below):
    columns, _ = columns_of([first, second], {"price": "price, net"}, {}, (), below)
    assert columns == {"price": taken}


def test_what_the_house_answered_goes_before_all_that_headings_tell_and_what_is_needed_before_the_rest():
    roles = {"name": "name, item", "code": "item, code"}
    assert columns_of(["Item"], roles, {}, ("name",))[0] == {"name": 0}
    assert columns_of(["Item", "Name", "Old name"], roles, {"old name": "name"}, ("name",))[0]["name"] == 2
    assert columns_of(["Item", "Name"], roles, {"name": "another role"}, ("name",))[0] == {"name": 0}


@pytest.mark.parametrize(("n_rows", "is_name"), [(300, True), (500, False)])
def test_a_column_is_told_by_the_first_four_hundred_rows_below_its_heading(n_rows, is_name):
    """More than a list of a vendor has; of a till's year the beginning tells as much."""
    rows = [["", f"{n}.50"] for n in range(n_rows)] + [["Plain flour", "12.40"]]
    sheet = SourceSheet("list", "", [["Item", "Price"], *rows])
    assert (find_table(sheet, roles_of("prices"), NEEDED, Asker({})) is not None) is is_name


@pytest.mark.parametrize(("n_above", "is_found"), [(45, True), (75, False)])
def test_a_heading_stands_within_the_first_sixty_rows(n_above, is_found):
    """A page and its letter are above it; what names columns further down is a table of something else."""
    rows = [["Dear chef"]] * n_above + [["Item", "Price"], ["Plain flour", "12.40"]]
    found = find_table(SourceSheet("list", "", rows), roles_of("prices"), NEEDED, Asker({}))
    assert (found is not None) is is_found


@pytest.mark.parametrize(("n_lines", "is_list"), [(8, True), (4, False)])
def test_a_list_of_one_cell_a_row_has_more_goods_than_titles(n_lines, is_list):
    rows = [[f"Plain flour {n} kg 12.40" if n < n_lines else "Call us for it"] for n in range(10)]
    rows = [rows[-1], *rows[1:-1], rows[0]]
    assert (in_one_column(SourceSheet("list", "", rows)) is not None) is is_list


def test_a_price_ten_times_another_is_a_slip_of_the_point_and_one_nine_times_may_be_true(tmp_path):
    house = HouseFiles(tmp_path, {stem: CommentedMap() for stem in STEMS})
    out = Outcome(house, Asker({}, None, True), tmp_path, date(2026, 11, 26), "prices", "north")
    for by in (1, 9, 0.9):  # 10, 90, and 9: a tenth
        rows = [["Code", "Item", "Pack", "Price"], ["1", "Saffron", "10 g", f"{10 * by:.2f}"]]
        bring_prices([SourceSheet("list", "", rows)], out)
    (offer,) = [offer for _, _, offer in offers_of(house.entries("ingredients"))]
    assert float(offer["price"]) == 90
    assert any("ten times off 90" in one for one in out.left)


@pytest.mark.parametrize(("n_rows", "is_read"), [(1_200_000, True), (2_000_001, False)])
def test_two_million_rows_are_read_and_no_more(n_rows, is_read, tmp_path):
    path = tmp_path / "till.csv"
    path.write_bytes(b"item,price\n" + b"\n" * (n_rows - 1))
    if is_read:
        assert len(read_sheets(path)[0].rows) == 1
    else:
        with pytest.raises(Refused, match="more rows than are read"):
            read_sheets(path)


@pytest.mark.parametrize(("grams", "is_same"), [(1005, True), (1030, False)])
def test_a_pack_is_the_same_within_a_hundredth(grams, is_same):
    """As pounds printed in grams are rounded; a pack made smaller loses more."""
    assert same_content(Quantity(Fraction(1), "kg"), Quantity(Fraction(grams), "g")) is is_same


@pytest.mark.parametrize(("written", "is_asked"), [("4 x 15 dz", False), ("6 x 15 dz", True)])
def test_more_than_sixty_dozen_in_a_case_are_asked(written, is_asked):
    """The largest cases of eggs hold thirty dozen; of small rolls twice that."""
    assert bool(read_pack(written).ask) is is_asked
