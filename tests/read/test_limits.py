"""How much of one thing is read: the most that a kitchen may write; more is a slip or an attack."""

import pytest
from pydantic_core import PydanticCustomError

from ordering.faults import Fault, nearest
from ordering.read import fields
from ordering.read.book_table import COLUMNS
from ordering.read.csv_table import parse_csv
from ordering.read.field_types import Covers
from ordering.read.files import bounded
from ordering.read.nodes import parse_yaml
from ordering.read.spans import parse_hours
from ordering.units import UnitError

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
    ],
)
def test_a_value_of_the_house(read, most, too_much):
    assert read(most)
    with pytest.raises((PydanticCustomError, UnitError)):
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
