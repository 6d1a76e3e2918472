"""Exports of several tills, imported one after another: what they sold adds up, and none of it twice."""

import shutil
from datetime import date
from pathlib import Path

import pytest

from ordering.intake.bring import ImportTerms, bring
from ordering.read.books_folder import read_books
from ordering.read.house_folder import read_house

HERE = Path(__file__).parent
ON = date(2026, 11, 26)
HEAD = "Date,Meal Period,Item,Qty,Guests\n"
BAR = "2026-10-23,dinner,House burger,2,3\n2026-10-24,dinner,House burger,4,5\n"
ROOM = "2026-10-23,dinner,House burger,9,20\n2026-10-24,dinner,Ribeye 14 oz,7,30\n"
BOTH = {"burger": [11, 4], "ribeye": [7]}


@pytest.fixture
def house(tmp_path):
    shutil.copytree(HERE / "house", tmp_path / "config")
    for name in ("recipes.yaml", "menu.yaml"):
        shutil.copy(HERE / "cases" / "sales-tills" / name, tmp_path / "config")
    return tmp_path


def bring_in(house, name, rows, answer=None):
    """What an import of one export said; `answer` is given to whatever is asked, None where nobody is."""
    path = house / name
    path.write_text(HEAD + rows, "utf-8")
    asked = []

    def ask(question):
        asked.append(question)
        return answer

    terms = ImportTerms(ON, is_yes=answer is None, ask=ask if answer else None)
    return bring(house / "config", house / "books", "sales", [path], terms), asked


def sold(house):
    books, faults = read_books(house / "books", read_house(house / "config")[0])
    assert faults == []
    assert not books.sales.duplicated(["date", "service", "dish"]).any()
    return books.sales.groupby("dish")["sold"].agg(list).to_dict(), books.covers["covers"].tolist()


def test_two_tills_add_up_and_either_again_changes_nothing(house):
    bring_in(house, "bar.csv", BAR)
    report, _ = bring_in(house, "room.csv", ROOM)
    assert sold(house) == (BOTH, [23, 35])
    assert any("another till" in line for line in report.lines)
    for name, rows in (("bar.csv", BAR), ("room.csv", ROOM), ("bar.csv", BAR)):
        assert bring_in(house, name, rows)[0].lines[-1] == "Nothing has changed."
        assert sold(house) == (BOTH, [23, 35])


def test_a_corrected_export_takes_the_place_of_its_own_till_alone(house):
    bring_in(house, "bar.csv", BAR)
    bring_in(house, "room.csv", ROOM)
    bring_in(house, "bar 2026-10-25.csv", BAR.replace("burger,4", "burger,5"))
    assert sold(house)[0] == {"burger": [11, 5], "ribeye": [7]}


def test_other_sales_under_no_name_of_a_till_are_asked_about_once(house):
    bring_in(house, "export.csv", BAR)
    report, asked = bring_in(house, "export 2.csv", ROOM, "another till")
    assert [question.choices for question in asked] == [("the same till", "another till")]
    assert sold(house)[0] == BOTH
    for name, rows in (("export.csv", BAR), ("export 2.csv", ROOM)):
        report, asked = bring_in(house, name, rows, "the same till")
        assert (asked, report.lines[-1]) == ([], "Nothing has changed.")
    assert sold(house)[0] == BOTH


def test_the_answer_that_it_is_the_same_till_replaces_its_days(house):
    bring_in(house, "bar.csv", BAR)
    _, asked = bring_in(house, "room.csv", ROOM, "bar")
    assert [question.best for question in asked] == ["another till"]
    assert sold(house)[0] == {"burger": [9], "ribeye": [7]}
    _, asked = bring_in(house, "room.csv", ROOM.replace("9,20", "8,20"), "another till")
    assert asked == []
    assert sold(house)[0] == {"burger": [8], "ribeye": [7]}


@pytest.mark.parametrize(("n_same", "likely"), [(1, "another till"), (2, "bar")])
def test_half_of_the_dishes_sold_as_often_make_it_likely_the_same_till(house, n_same, likely):
    days = [f"2026-10-{n},dinner,House burger," for n in (21, 22, 23)]
    bring_in(house, "bar.csv", "".join(f"{day}{n + 2},30\n" for n, day in enumerate(days)))
    other = "".join(f"{day}{n + 2 + 9 * (n >= n_same)},30\n" for n, day in enumerate(days))
    _, asked = bring_in(house, "room.csv", other, "another till")
    assert [question.best for question in asked] == [likely]


def test_what_goes_with_a_dish_is_not_the_dish(house):
    report, _ = bring_in(house, "bar.csv", BAR + "2026-10-24,dinner,Caesar dressing,6,5\n")
    assert sold(house)[0] == {"burger": [2, 4]}
    assert any("no dish: Caesar dressing" in line for line in report.lines)


def test_without_anybody_to_ask_nothing_is_written(house):
    bring_in(house, "bar.csv", BAR)
    before = sold(house)
    (house / "room.csv").write_text(HEAD + ROOM, "utf-8")
    report = bring(house / "config", house / "books", "sales", [house / "room.csv"], ImportTerms(ON))
    assert report.status == 1
    assert sum(line.startswith("question:") for line in report.lines) == 1
    assert sold(house) == before


def test_a_last_day_cut_short_is_made_whole_by_the_next_export(house):
    """Weekly exports that overlap by the day on which they were made."""
    bring_in(house, "week 43.csv", BAR)
    bring_in(house, "week 44.csv", BAR.splitlines(keepends=True)[1].replace("4,5", "9,9"))
    assert sold(house) == ({"burger": [2, 9]}, [3, 9])


def test_guests_of_checks_that_cannot_be_told_apart_make_no_covers(house):
    """Parties of two and six on one evening, without check numbers: six is not the covers of it."""
    rows = "2026-10-23,dinner,House burger,2,2\n2026-10-23,dinner,Ribeye 14 oz,6,6\n"
    report, _ = bring_in(house, "bar.csv", rows)
    assert sold(house) == ({"burger": [2], "ribeye": [6]}, [])
    assert any("no check numbers: the guests of 1 service cannot be counted" in line for line in report.lines)
