"""The review on its pages: complete without a ledger, safe with hostile names, the same figures twice."""

import math
import re
from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from itertools import pairwise
from xml.etree import ElementTree

import openpyxl
import pandas as pd
import pytest
from houses import books, dish, house, ingredient, recipe

from ordering import reviewing
from ordering.faults import Refused
from ordering.pages.parts import paper
from ordering.pages.review_sections import review_content, review_leaves
from ordering.pages.section_sheets import sections_workbook
from ordering.pages.sections import Figure, Head, Section, figure_svg, nice_step, sections_page, shown
from ordering.records.books import LeftOut
from ordering.records.house import Consumable
from ordering.records.ledger import ISSUED_COLUMNS
from ordering.records.review_results import Advice, Creep, Pair, RanOut, Review, Thrown, Week
from ordering.review.compose import Known, compose
from ordering.write.xlsx import workbook_bytes

THU = date(2026, 11, 5)
SPAN = (THU, THU + timedelta(6))
HOSTILE = "=1+1<script>alert('x')</script>&\"]]>"
HOME = house(
    ingredients=[ingredient("flour")],
    recipes=[recipe("pie", 10.0, {"flour": 2.0}, unit="each")],
    dishes=[dish("pie-dish", "pie", price="5.00")],
)
NONE_ISSUED = pd.DataFrame(columns=list(ISSUED_COLUMNS)).astype(
    {"issued_on": "datetime64[ns]", "date": "datetime64[ns]"}
)


def review_workbook(home, found):
    told = review_content(home, found)
    return sections_workbook(told, review_leaves(told), found.made_on, paper(home), home.name)


def review_page(home, found):
    return sections_page(review_content(home, found))


def hostile_house():
    return house(
        ingredients=[ingredient("flour")],
        recipes=[recipe("pie", 10.0, {"flour": 2.0}, unit="each")],
        dishes=[dish("pie-dish", "pie", price="5.00")],
        currency=HOSTILE,
    )


def full_review():
    """A review with something in every section that draws a figure."""
    return Review(
        *SPAN,
        made_on=THU + timedelta(7),
        pairs=tuple(
            Pair(THU + timedelta(n), "dinner", "*", THU, 20.0 + n, 21.5, 15.0, 17.0, 26.0, 28.0, 19.0)
            for n in range(5)
        ),
        ran_out=(RanOut(HOSTILE, 1, 2.0, Decimal("10.00")),),
        thrown=(Thrown("flour", 1.0, "kg", Decimal("1.25"), HOSTILE),),
        weeks=(Week(*SPAN, Decimal(50), Decimal(40), Decimal(30), Decimal(45)),),
        advice=(Advice(Decimal("10.00"), HOSTILE),),
        notes=(HOSTILE,),
    )


def test_a_house_without_a_ledger_is_told_what_cannot_be_known():
    found = compose(HOME, books(), Known(NONE_ISSUED), SPAN, THU)
    told = " ".join(found.notes)
    for words in (
        "No saved forecast",
        "No sales",
        "No delivery",
        "No order was placed",
        "Nothing was counted",
    ):
        assert words in told
    assert (found.covers, found.dishes, found.pairs, found.advice) == ((), (), (), ())
    page = review_page(HOME, found)
    assert "There is no forecast for these days" in page
    assert workbook_bytes(review_workbook(HOME, found))


def test_sales_under_unknown_names_are_listed_with_what_was_sold():
    sold = books(
        [("2026-11-05", "dinner", "pie-dish", 4)], left_out=(LeftOut("pies", 7.0, 2, "sales.csv", 5),)
    )
    notes = compose(HOME, sold, Known(NONE_ISSUED), SPAN, THU).notes
    assert "Sold under names that menu.yaml does not know, left out: pies (7)." in notes


def test_consumables_are_used_in_theory_by_the_services_held_and_cost_no_dish_anything():
    """Two dinners of 30 guests; of the days after, and of those the books skip, nothing is claimed."""
    home = replace(
        HOME,
        ingredients={**HOME.ingredients, "oak": ingredient("oak"), "paper": ingredient("paper", "each")},
        consumables=(Consumable("oak", 9.0, "day"), Consumable("paper", 1.5, "cover")),
    )
    came = books((), [((THU + timedelta(n)).isoformat(), "dinner", 30) for n in (0, 2)])
    found = compose(home, came, Known(NONE_ISSUED, costs={"oak": 0.5}), SPAN, THU)
    assert {u.item: u.used for u in found.items} == {"oak": 18.0, "paper": 90.0}
    assert found.cost.theoretical == 0
    assert found.overview.consumables == Decimal("9.00")


def test_nothing_outside_the_days_is_counted():
    sold = books([(f"2026-11-{d:02}", "dinner", "pie-dish", 10) for d in (4, 5, 11, 12)])
    found = compose(HOME, sold, Known(NONE_ISSUED, portions={"pie-dish": 1.5}), SPAN, THU)
    assert (found.cost.revenue, found.cost.theoretical) == (Decimal("100.00"), Decimal("30.00"))


def test_the_fifteen_that_cost_most_are_listed_and_the_rest_counted():
    binned = tuple(Thrown("flour", 1.0, "kg", Decimal(n), "") for n in range(40, 0, -1))
    told = review_content(HOME, replace(full_review(), thrown=binned))
    sections = {section.title: section for section in (*told.sections, *told.detail)}
    assert [row[2] for row in sections["Thrown away"].rows] == [Decimal(n) for n in range(40, 25, -1)]
    assert "The 15 that cost most, of 40." in sections["Thrown away"].intro


def test_every_vendor_whose_prices_moved_is_listed():
    moved = (0.1, 0.006, 0.004, 0.0, -0.2)
    creep = tuple(Creep(f"v{n}", "2026-01", "2026-10", 1, by, Decimal(1)) for n, by in enumerate(moved))
    found = full_review()
    told = review_content(HOME, replace(found, overview=replace(found.overview, creep=creep)))
    prices = next(one for one in (*told.sections, *told.detail) if one.title == "Prices over months")
    assert [row[4] for row in prices.rows] == [0.1, 0.006, -0.2], "less would be printed as 0 %"


def test_the_page_escapes_everything_and_is_well_formed():
    page = review_page(hostile_house(), full_review())
    assert "<script" not in page
    assert page.count("&lt;script&gt;") >= 5
    body = re.sub(r"<!doctype html>|<meta[^>]*>", "", page)
    ElementTree.fromstring(body)


def test_the_page_says_what_a_screen_reader_needs():
    page = review_page(HOME, full_review())
    assert '<html lang="en">' in page
    figures = re.findall(r'<svg [^>]*aria-labelledby="([^"]+) ([^"]+)"', page)
    assert len(figures) == 2
    assert all(f'<title id="{t}">' in page and f'<desc id="{d}">' in page for t, d in figures)
    ids = re.findall(r' id="([^"]+)"', page)
    assert len(ids) == len(set(ids))
    for table in re.findall(r"<table>.*?</table>", page):
        assert "<caption>" in table
        assert 'scope="col"' in table


def test_the_workbook_keeps_hostile_text_as_text(tmp_path):
    file = tmp_path / "review.xlsx"
    file.write_bytes(workbook_bytes(review_workbook(hostile_house(), full_review())))
    book = openpyxl.load_workbook(file)
    cells = [c for page in book for row in page.iter_rows() for c in row if c.value is not None]
    assert any(c.value == HOSTILE for c in cells)
    assert all(c.data_type != "f" for c in cells)
    assert sum(len(page._charts) for page in book) == 2


def test_a_chart_in_the_workbook_is_no_flat_line():
    """Three to six tenths as high as wide (common practice, no source)."""
    charts = [chart for sheet in review_workbook(HOME, full_review()).sheets for chart in sheet.charts]
    assert charts
    assert all(0.3 <= chart.height / chart.width <= 0.6 for chart in charts)


def test_the_same_review_gives_the_same_bytes():
    first, second = (workbook_bytes(review_workbook(HOME, full_review())) for _ in range(2))
    assert first == second
    assert review_page(HOME, full_review()) == review_page(HOME, full_review())


@pytest.mark.parametrize(
    ("value", "kind", "text"),
    [
        (None, "money", ""),
        (Decimal("1234.5"), "money", "1,234.50"),
        (0.125, "percent", "12 %"),
        (-0.031, "change", "-3 %"),
        (1234.5678, "number", "1,234.568"),
        (3.0, "number", "3"),
        (41.6, "whole", "42"),
        (THU, "day", "Thu 5 Nov"),
    ],
)
def test_values_are_printed_as_their_kind(value, kind, text):
    assert shown(value, kind) == text


@pytest.mark.parametrize(("most", "step"), [(1, 0.2), (9, 2), (10, 2), (55, 20), (0, 1), (4321, 1000)])
def test_the_axis_goes_by_ones_twos_and_fives(most, step):
    assert nice_step(most) == pytest.approx(step)


def test_bars_of_a_column_chart_stand_as_high_as_their_values():
    """Axis to 40 in 222 pixels: 20 stands half as high as 40."""
    section = Section("t", "c", (Head("a"), Head("b", "money")), (("x", 20.0), ("y", 40.0), ("z", None)))
    figure = Figure("column", "t", "d", 0, ((1, "strong"),))
    drawn = figure_svg(section, figure, "k")
    heights = [float(h) for h in re.findall(r'height="([\d.]+)" class="s o"', drawn)]
    assert heights[:3] == pytest.approx([111.0, 222.0, 0.0], abs=0.1)


def test_a_figure_without_rows_is_not_drawn():
    assert (
        figure_svg(Section("t", "c", (Head("a"),), ()), Figure("column", "t", "d", 0, ((0, "strong"),)), "k")
        == ""
    )


@pytest.mark.parametrize(
    ("first", "last", "kind"),
    [(THU, THU - timedelta(1), "wrong-days"), (THU, THU + timedelta(90), "future")],
)
def test_days_in_the_wrong_sequence_or_to_come_are_refused(tmp_path, first, last, kind):
    with pytest.raises(Refused) as caught:
        reviewing.review(tmp_path, tmp_path, THU + timedelta(7), first, last, tmp_path / "out")
    assert [f.kind for f in caught.value.faults] == [kind]
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize(
    ("value", "kind", "text"),
    [(-0.004, "change", "0 %"), (-0.006, "change", "-1 %"), (0.25, "change", "+25 %")],
)
def test_a_change_of_nothing_has_no_sign(value: float, kind: str, text: str) -> None:
    assert shown(value, kind) == text


def test_no_caption_is_cut_and_sections_share_sheets():
    """A section a sheet left most pages half empty."""
    book = review_workbook(HOME, compose(HOME, books(), Known(NONE_ISSUED), SPAN, THU))
    assert [sheet.title for sheet in book.sheets] == ["Review", "Forecast", "Money", "Detail"]
    captions = [
        cell for sheet in book.sheets for row in sheet.rows for cell in row if "heading" in cell.style
    ]
    assert len(captions) == 14
    assert all("wrap" in cell.style for cell in captions)


def test_letters_of_a_chart_are_readable_on_a_phone():
    """390 pixels, a margin of 16 on each side: letters of 13 units come to 11.6 pixels at the least."""
    page = review_page(HOME, full_review())
    wide = {int(w) for w in re.findall(r'viewBox="0 0 (\d+) ', page)}
    letters = min(float(n) for n in re.findall(r"svg [^{]*\{[^}]*font(?:-size)?: ?(\d+)px", page))
    assert wide
    assert letters * (390 - 32) / max(wide) >= 11


@pytest.mark.parametrize("n_bars", [7, 8, 13, 14, 31, 53])
def test_words_under_bars_have_air_between_them_and_each_day_of_a_week_its_own(n_bars):
    """They are turned by 35 degrees; a line of them is 13 pixels high, and half as much is left free."""
    section = Section("t", "c", (Head("a"), Head("b")), tuple((f"day {n}", 1.0) for n in range(n_bars)))
    drawn = figure_svg(section, Figure("column", "t", "d", 0, ((1, "strong"),)), "k")
    places = [float(x) for x in re.findall(r'<text x="([\d.]+)"[^>]* class="e"', drawn)]
    apart = [(b - a) * math.sin(math.radians(35)) for a, b in pairwise(places)]
    assert min(apart) > 1.5 * 13
    assert n_bars > 7 or len(places) == n_bars
    assert len(places) >= 4
