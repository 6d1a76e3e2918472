"""How much of one thing is read: the most that a kitchen may write; more is a slip or an attack."""

import io
import zipfile

import pytest
import xlsxwriter
from pydantic_core import PydanticCustomError

from ordering.faults import Fault, nearest
from ordering.read import fields
from ordering.read.book_shapes import COVERS, PORTIONS
from ordering.read.book_table import COLUMNS
from ordering.read.columns import Misread
from ordering.read.csv_table import MAX_ROWS, parse_csv
from ordering.read.field_types import Covers
from ordering.read.files import MAX_TABLE_BYTES, bounded
from ordering.read.grid import read_grids
from ordering.read.nodes import parse_yaml, read_yaml
from ordering.read.spans import parse_hours
from ordering.read.workbook import MAX_CELLS, read_sheets, refused_package
from ordering.units import UnitError, parse_quantity

covers = Covers.__metadata__[0].func


@pytest.mark.parametrize(
    ("read", "most", "too_much"),
    [
        (fields.a_text, "x" * 200, "x" * 201),
        (fields.a_note, "x" * 4000, "x" * 4001),
        (fields.money, "10000000", "10000001"),
        (fields.missed_cost, "100 x margin", "101 x margin"),
        (fields.a_date, "1900-01-01", "1899-12-31"),
        (fields.a_date, "2100-12-31", "2101-01-01"),
        (covers, "100000", "100001"),
        (parse_hours, "3660 d", "3661 d"),
        (PORTIONS, "10000000", "10000001"),
        (COVERS, "10000000", "10000001"),
        (parse_quantity, "1000000000 g", "1000000001 g"),
    ],
)
def test_a_value_of_the_house(read, most, too_much):
    assert read(most)
    with pytest.raises((PydanticCustomError, UnitError, Misread)):
        read(too_much)


@pytest.mark.parametrize(("depth", "is_read"), [(12, True), (13, False)])
def test_yaml_is_nested_a_dozen_deep(depth, is_read):
    assert (parse_yaml("[" * (depth - 1) + "x" + "]" * (depth - 1), "x.yaml")[1] == []) == is_read


@pytest.mark.parametrize(("n_entries", "is_read"), [(199_999, True), (200_000, False)])
def test_a_file_has_two_hundred_thousand_entries(n_entries, is_read):
    """The list itself is one more."""
    assert (parse_yaml("[" + "x," * n_entries + "]", "x.yaml")[1] == []) == is_read


@pytest.mark.parametrize(("n_others", "is_read"), [(197, True), (198, False)])
def test_a_book_has_two_hundred_columns(n_others, is_read):
    heading = ["date", "service", "covers", *(f"x{n}" for n in range(n_others))]
    text = ",".join(heading) + "\n" + ",".join(["1"] * len(heading)) + "\n"
    assert (parse_csv(text, "covers.csv", "covers", {})[1] == []) == is_read


@pytest.mark.parametrize(("n_above", "is_found"), [(19, True), (20, False)])
def test_the_heading_of_a_book_stands_in_its_first_twenty_rows(n_above, is_found):
    text = '"a title"\n' * n_above + ",".join(COLUMNS["covers"]) + "\n"
    assert (parse_csv(text, "covers.csv", "covers", {})[1] == []) == is_found


@pytest.mark.parametrize(("n_faults", "n_more"), [(200, 0), (230, 30)])
def test_of_one_file_two_hundred_faults_are_said(n_faults, n_more):
    said = bounded([Fault("a.csv", n, "", "wrong", "right") for n in range(n_faults)])
    assert len(said) == 200 + bool(n_more)
    assert not n_more or said[-1].wrong == f"and at least {n_more} more faults in this file"


@pytest.mark.parametrize(("n_names", "is_found"), [(1000, True), (1001, False)])
def test_of_more_than_a_thousand_names_only_those_that_begin_alike_are_looked_at(n_names, is_found):
    names = ["beef-cheek", *(f"parsley-{n}" for n in range(n_names - 1))]
    assert nearest("veef-cheek", names) == ("did you mean 'beef-cheek'?" if is_found else "")
    assert nearest("beef-chek", names) == "did you mean 'beef-cheek'?"


@pytest.mark.parametrize(("n_between", "is_found"), [(498, True), (499, False)])
def test_five_hundred_names_either_way_begin_alike(n_between, is_found):
    """No name between is as near as the one that is meant."""
    names = [*(f"b{n:09d}" for n in range(n_between + 1)), "bzzf-cheek", *(f"z{n}" for n in range(600))]
    assert bool(nearest("aaaf-cheek", names)) == is_found


@pytest.mark.parametrize(("n_bytes", "is_read"), [(4 * 2**20, True), (4 * 2**20 + 1, False)])
def test_a_house_file_has_four_megabytes(tmp_path, n_bytes, is_read):
    """Thirty times what the demo house has in all."""
    path = tmp_path / "house.yaml"
    path.write_bytes(b"name: Inn #".ljust(n_bytes, b"x"))
    assert (read_yaml(path)[1] == []) == is_read


def test_years_of_a_large_house_are_read():
    """As csv ten years of three services and 150 dishes; as a workbook, read slowly, five of two and 80."""
    rows, cells = 10 * 365.25 * 3 * 150, 5 * 365.25 * 2 * 80 * len(COLUMNS["sales"])
    assert rows <= MAX_ROWS < 2 * rows
    assert cells <= MAX_CELLS < 2 * cells


def workbook(*sheets):
    """A workbook with a sheet for each mapping of (row, column) to text."""
    made = io.BytesIO()
    with xlsxwriter.Workbook(made, {"in_memory": True}) as book:
        for cells in sheets:
            sheet = book.add_worksheet()
            for place, text in cells.items():
                sheet.write(*place, text)
    return made.getvalue()


@pytest.mark.parametrize(("n_wide", "is_read"), [(400, True), (401, False)])
def test_a_sheet_has_two_million_cells_as_wide_as_its_widest_row(n_wide, is_read):
    cells = {(row, 0): "x" for row in range(5000)} | {(0, n_wide - 1): "x"}
    assert (read_sheets(workbook(cells), "a.xlsx")[1] == []) == is_read


@pytest.mark.parametrize(("n_parts", "is_read"), [(2000, True), (2001, False)])
def test_a_workbook_has_two_thousand_parts(n_parts, is_read):
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w") as package:
        for n in range(n_parts):
            package.writestr(f"{n}.bin", b"")
    assert (refused_package(made.getvalue(), "a.xlsx") is None) == is_read


@pytest.mark.parametrize(("more", "is_read"), [(0, True), (1, False)])
def test_a_workbook_unpacks_to_twice_what_a_table_has(more, is_read):
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w") as package:
        package.writestr("a.bin", b"x")
        package.filelist[0].file_size = 2 * MAX_TABLE_BYTES + more
    assert (refused_package(made.getvalue(), "a.xlsx") is None) == is_read


def test_no_row_and_no_sheet_of_a_count_is_lost(tmp_path):
    path = tmp_path / "count.xlsx"
    path.write_bytes(workbook({(6000, 0): "salt"}, *({(0, 0): f"room {n}"} for n in range(45))))
    grids, faults = read_grids(path)
    assert (faults, len(grids), len(grids[0].rows), grids[0].rows[6000]) == ([], 46, 6001, ("salt",))
