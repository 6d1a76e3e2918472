"""The same fortnight's sales in every layout that tills print: it reads the same in each, or says why not.

The dishes and numbers are invented.
"""

import pytest
from ruamel.yaml import YAML

from ordering.faults import Refused
from ordering.intake import till_layouts
from ordering.intake.headings import Found
from ordering.intake.housefiles import STEMS, HouseFiles
from ordering.intake.outcome import Asker, Outcome
from ordering.intake.sales import bring_sales
from ordering.intake.sheets import SourceSheet

HOUSE = "services: {lunch: {days: &all [mon, tue, wed, thu, fri, sat, sun]}, dinner: {days: *all}}"
MENU = "soup: {name: Barley soup}\ntart: {name: Leek tart}\n"
SOLD = """date,service,dish,sold
2026-11-05,dinner,soup,5
2026-11-05,dinner,tart,7
2026-11-05,lunch,soup,12
2026-11-05,lunch,tart,3
2026-11-13,dinner,soup,9
2026-11-13,lunch,soup,6
2026-11-13,lunch,tart,8
"""
WEEKS = {
    "Lunch": "Week of 5 November||\nItem|2026-11-05|2026-11-06|Total\n"
    "Barley soup|12||12\nLeek tart|3||3\nTotal|15||15\n"
    "Week of 12 November||\nItem|2026-11-12|2026-11-13|Total\nBarley soup||6|6\nLeek tart||8|8\nTotal||14|14",
    "Dinner": "Item|2026-11-05|2026-11-06|Total\nBarley soup|5||5\nLeek tart|7||7\n"
    "Item|2026-11-12|2026-11-13|Total\nBarley soup||9|9",
}
LONG = "\n".join(
    "|".join(one)
    for one in [("Date", "Meal period", "Item", "Qty")]
    + [
        tuple(row.split(","))
        for row in SOLD.replace("soup", "Barley soup").replace("tart", "Leek tart").splitlines()[1:]
    ]
)
ACROSS = """Date|Article|Lunch|Dinner|Total|Turnover
2026-11-05|Barley soup|12|5|17|204.00
2026-11-05|Leek tart|3|7|10|150.00
2026-11-13|Barley soup|6|9|15|180.00
2026-11-13|Leek tart|8||8|120.00
Total||29|21|50|654.00"""
DAYS = """Business date: Thursday, November 5, 2026|
Lunch|
Item|Net qty|Gross qty
Barley soup|12|13
Leek tart|3|3
Dinner|
Barley soup|5|5
Leek tart|7|7
Business date: Friday, November 13, 2026|
Lunch|
Barley soup|6|6
Leek tart|8|9
Dinner|
Barley soup|9|9"""
NOTES = """Date|Meal period|Item|Modifiers|Qty|Net
2026-11-05|lunch|Barley soup|no cream|12|144.00
2026-11-05|lunch|Leek tart||3|45.00
2026-11-05|dinner|Barley soup|extra bread|5|60.00
2026-11-05|dinner|Leek tart|warm|7|105.00
2026-11-13|lunch|Barley soup|no cream|6|72.00
2026-11-13|lunch|Leek tart||8|120.00
2026-11-13|dinner|Barley soup||9|108.00"""

BLOCKS = """Date|Sitting|Guests|Item|Qty
2026-11-05|Lunch|14|Barley soup|12
|||Leek tart|3
|Subtotal|||15
2026-11-05|Dinner|9|Barley soup|5
|||Leek tart|7
2026-11-13|Lunch|10|Barley soup|6
|||Leek tart|8
2026-11-13|Dinner|8|Barley soup|9"""
SLIPS = """BISTRO
Z REPORT No 310
13.11.2026  22:41
--------------------------
Lunch
   6 x Barley soup   @ 12.00     72.00
   8 x Leek tart                120.00
Dinner
   9 x Barley soup              108.00
TOTAL                           300.00

Z REPORT No 304
05.11.2026  22:30
Lunch
  12 x Barley soup              144.00
   3 x Leek tart                 45.00
Dinner
   5 x Barley soup               60.00
   7 x Leek tart                105.00
CASH                            354.00"""
HOURS = {
    "2026-11-05": "Product mix by hour\nItem|11:00|12:00|13:00|18:00|19:00|Total\n"
    "Barley soup|2|6|4|1|4|17\nLeek tart|||3|5|2|10\nTotal|2|6|7|6|6|27",
    "2026-11-13": "Product mix by hour\nItem|11:00|12:00|13:00|18:00|19:00|Total\n"
    "Barley soup||6||9||15\nLeek tart|1|3|4|||8\nTotal|1|9|4|9||23",
}


def imported(tabs, tmp_path):
    """The sales book, the covers and what was said of sheets by title."""
    yaml = YAML()
    docs = {stem: yaml.load("{}") for stem in STEMS} | {"house": yaml.load(HOUSE), "menu": yaml.load(MENU)}
    out = Outcome(HouseFiles(tmp_path, docs), Asker({}, None, True), tmp_path, None, "sales")
    sheets = [
        SourceSheet("till.xlsx", title, [row.strip().split("|") for row in text.splitlines()])
        for title, text in tabs.items()
    ]
    bring_sales(sheets, out)
    return out


@pytest.mark.parametrize(
    "tabs",
    [{"": LONG}, {"": ACROSS}, WEEKS, {"": DAYS}, {"": NOTES}, {"": BLOCKS}, {"": SLIPS}, HOURS],
    ids=["lines", "services-across", "weeks-and-tabs", "day-blocks", "notes", "said-once", "slips", "hours"],
)
def test_the_same_sales_read_the_same_in_every_layout(tabs, tmp_path):
    out = imported(tabs, tmp_path)
    assert out.written["sales.csv"] == SOLD
    assert (out.left, out.asker.guessed) == ([], {})


@pytest.mark.parametrize(
    ("tabs", "said"),
    [
        ({"": ACROSS.replace("|5|17|", "|5|18|")}, "row 2: Total says 18, the services come to 17"),
        ({"": ACROSS.replace("Total||29|", "Total||30|")}, "the total says 51, its rows come to 50"),
        ({"Lunch": WEEKS["Lunch"].replace("|12||12", "|12||13")}, "Total says 13, its days come to 12"),
        ({"Lunch": WEEKS["Lunch"].replace("Total|15|", "Total|16|")}, "a total says 16"),
        ({"": DAYS + "\nTotal|15|16"}, "row 15: a total says 15, which its rows do not come to"),
        ({"": LONG + "\nGrand total|||51"}, "the total says 51, its rows come to 50"),
    ],
)
def test_a_total_that_the_rows_do_not_come_to_is_said(tabs, said, tmp_path):
    assert [one for one in imported(tabs, tmp_path).left if said in one]


def test_money_that_is_not_the_portions_at_a_price_is_said(tmp_path):
    rows = "".join(f"2026-11-{n:02}|lunch|Barley soup|{n}|{60 - n * n % 37}.00\n" for n in range(2, 20))
    out = imported({"": "Date|Meal period|Item|Qty|Net\n" + rows}, tmp_path)
    assert any("Net is not Qty times a price" in one for one in out.left)


@pytest.mark.parametrize(("by", "is_said"), [(0.08, False), (0.15, True)])
def test_a_discount_of_a_tenth_leaves_a_price_what_it_is(by, is_said, tmp_path):
    factors = (1, 1 + by, 1 - by, 1 + by, 1 - by)
    rows = "".join(
        f"2026-11-{n + 2:02}|lunch|Barley soup|{n + 1}|{10 * (n + 1) * factor:.2f}\n"
        for n, factor in enumerate(factors)
    )
    left = imported({"": "Date|Meal period|Item|Qty|Net\n" + rows}, tmp_path).left
    assert any("Net is not Qty times a price" in one for one in left) is is_said


@pytest.mark.parametrize(("time", "day", "service"), [("3:30", "02", "dinner"), ("6:30", "03", "lunch")])
def test_what_is_rung_up_before_four_in_the_morning_is_of_the_evening_before(time, day, service, tmp_path):
    text = f"Date|Time|Item|Qty\n2026-11-02|12:00|Leek tart|1\n2026-11-03|{time}|Barley soup|2"
    assert f"2026-11-{day},{service},soup,2" in imported({"": text}, tmp_path).written["sales.csv"]


def days_beside_a_month(n):
    days = "|".join(str(day) for day in range(3, 3 + n))
    return f"Lunch, November 2026\nItem|{days}\nBarley soup|{days}\nLeek tart|{days}"


def test_five_numbers_that_rise_beside_a_month_are_its_days_and_four_are_refused(tmp_path):
    told = imported({"Lunch": days_beside_a_month(5)}, tmp_path).told
    assert any("5 days across. They are of 2026-11" in one for one in told)
    with pytest.raises(Refused):
        imported({"Lunch": days_beside_a_month(4)}, tmp_path)


@pytest.mark.parametrize(
    ("title", "is_read"),
    [
        ("2026-11-05", True),
        ("Thu 5 Nov 2026", True),
        ("2026-11-05 to 2026-11-11", False),
        ("1 to 5 Nov 2026", False),
        ("week ending 2026-11-05", False),
        ("till 2 2026-11-05", False),
    ],
)
def test_a_tab_named_after_one_day_is_of_that_day_and_one_of_a_week_is_of_none(title, is_read, tmp_path):
    tabs = {title: "Meal period|Item|Qty\nLunch|Barley soup|12\nLunch|Leek tart|3"}
    if is_read:
        assert "2026-11-05,lunch,soup,12" in imported(tabs, tmp_path).written["sales.csv"]
    else:
        with pytest.raises(Refused):
            imported(tabs, tmp_path)


def test_columns_of_numbers_that_are_not_read_are_named(tmp_path):
    told = imported({"": ACROSS}, tmp_path).told
    assert "not read: Turnover" in told


def test_guests_of_a_void_check_are_no_covers(tmp_path):
    rows = "2026-11-05|lunch|1|2|Barley soup|2|Paid\n2026-11-05|lunch|2|6|Leek tart|6|Cancelled\n"
    out = imported({"": "Date|Meal period|Check|Party|Item|Qty|Status\n" + rows}, tmp_path)
    assert out.written["covers.csv"].splitlines()[1:] == ["2026-11-05,lunch,2"]
    assert out.written["sales.csv"].splitlines()[1:] == ["2026-11-05,lunch,soup,2"]


def test_guests_said_once_a_block_are_its_covers(tmp_path):
    out = imported({"": BLOCKS}, tmp_path)
    assert [row.rsplit(",", 1)[1] for row in out.written["covers.csv"].splitlines()[1:]] == [
        "9",
        "14",
        "8",
        "10",
    ]


def test_what_is_taken_back_within_a_day_s_block_is_not_sold(tmp_path):
    out = imported({"": DAYS.replace("Leek tart|3|3\n", "Leek tart|5|5\nLeek tart|-2|-2\n")}, tmp_path)
    assert out.written["sales.csv"] == SOLD


def test_the_usual_price_of_a_dish_is_found_once_a_dish_and_not_once_a_line(monkeypatch):
    calls = []
    monkeypatch.setattr(till_layouts, "median", lambda own: calls.append(len(own)) or own[0])
    rows = [[f"dish {n % 5}", "2", "9.00"] for n in range(500)]
    columns = {"dish": 0, "sold": 1, "amount": 2}
    table = Found(SourceSheet("till", "", [["Item", "Qty", "Net"], *rows]), 0, columns, ())
    assert till_layouts.not_its_own(table, lambda _: False, lambda _: False) == []
    assert len(calls) == 2 * 5
