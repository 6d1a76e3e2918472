"""The count sheet and the sheet at the door as they leave the printer, on A4 and on Letter."""

from dataclasses import replace
from datetime import date
from decimal import Decimal
from itertools import pairwise

import houses
import pytest
from paper import printed

from ordering.pages.count_sheet import HOW as HOW_TO_COUNT
from ordering.pages.count_sheet import PACKS, count_sheet
from ordering.pages.delivery_sheet import HOW as HOW_TO_RECEIVE
from ordering.pages.delivery_sheet import delivery_sheet
from ordering.records.books import CountedLot, Lot
from ordering.records.ledger import Expected, OrderKey
from ordering.records.plan import Opening
from ordering.write.paging import INCHES, points_wide
from ordering.write.xlsx import workbook_bytes

ON = date(2026, 12, 30)  # "Wed 30 Dec 2026" is as wide as a day gets
STORES = {"walk-in cooler": 47, "dry store": 70, "freezer": 12, "cellar": 5, "shed": 2}
LEAST = 9.0 - 0.05  # points; the box around a word is measured to some hundredths


def home(country):
    """Long names and codes, three vendors, shellfish among the goods."""
    goods = [
        houses.ingredient(
            f"{store.replace(' ', '-')}-{n}",
            store=store,
            keeps_days=9,
            hazards=("shellfish",) if n % 5 == 0 else (),
            offers=(houses.offer(f"vendor-{n % 3}", "x", 12.5, "1234.50", code=f"LONG-CODE-{n}"),),
        )
        for store, n_items in STORES.items()
        for n in range(n_items)
    ]
    named = [
        replace(g, name=f"{g.name}, peeled, in brine, frozen") if n % 4 == 0 else g
        for n, g in enumerate(goods)
    ]
    vendors = [
        replace(houses.vendor(f"vendor-{n}"), name=f"Vendor {n} of Upper Long Quay", phone="+44 1632 960 001")
        for n in range(3)
    ]
    return houses.house(named, vendors=vendors, holiday_country=country, food_law=country)


def due(house):
    return [
        Expected(OrderKey(o.vendor, o.code, ON, "PO-0142"), g.id, 3, 37.5, "kg", Decimal("1234.50"))
        for g in list(house.ingredients.values())[:60]
        for o in g.offers
    ]


def workbooks(country):
    house = home(country)
    lots = tuple(Lot(i, 1234.5, ON) for i in house.ingredients)
    books = houses.books(counts=tuple(CountedLot(ON, i, 1234.5) for i in house.ingredients))
    return {
        f"count {country}": count_sheet(house, books, Opening(lots), ON, "C-1"),
        f"expected {country}": count_sheet(house, books, Opening(lots), ON, "C-2", with_expected=True),
        f"door {country}": delivery_sheet(house, due(house), ON, "D-1"),
    }


@pytest.fixture(scope="module")
def papers(tmp_path_factory):
    files = {name: workbook_bytes(book) for c in ("GB", "US") for name, book in workbooks(c).items()}
    return printed(files, tmp_path_factory.mktemp("papers"))


def test_no_letters_are_smaller_than_nine_points(papers):
    least = {name: round(min(page.least_points for page in pages), 2) for name, pages in papers.items()}
    assert {name: size for name, size in least.items() if size < LEAST} == {}


def test_each_house_prints_on_the_paper_of_its_country(papers):
    sizes = {name: sorted((round(pages[0].width), round(pages[0].height))) for name, pages in papers.items()}
    assert {tuple(size) for name, size in sizes.items() if name.endswith("GB")} == {(595, 842)}
    assert {tuple(size) for name, size in sizes.items() if name.endswith("US")} == {(612, 792)}


def test_nothing_that_is_said_at_the_head_is_cut_off(papers):
    """Read word by word: the first lines are whole, and so is everything else inside the paper's edges."""
    for name, pages in papers.items():
        unit = "lb" if name.endswith("US") else "kg"
        said = HOW_TO_RECEIVE if name.startswith("door") else f"{HOW_TO_COUNT} {PACKS.format(unit=unit)}"
        assert said in pages[0].text, name
        for page in pages:
            assert all(w.left > 10 and w.right < page.width - 10 for w in page.words), name


def test_each_page_of_a_count_says_where_it_is_and_a_short_storage_area_is_not_torn(papers):
    for name in (f"{kind} {country}" for kind in ("count", "expected") for country in ("GB", "US")):
        pages = [page.text for page in papers[name]]
        for page in pages:
            rows = page.partition("ready on item ")[2]
            assert rows.startswith(tuple(STORES)), "a page begins with the name of a storage area"
        assert any("dry store, continued" in page for page in pages)
        (page,) = [p for p in pages if "shed-0" in p]
        assert "shed-1" in page


def test_a_count_takes_as_few_pages_as_its_rows(papers):
    """136 lines, ten empty ones and five names of areas: a good 30 a page upright, 20 lying, on A4."""
    n_pages = {name: len(pages) for name, pages in papers.items() if not name.startswith("door")}
    assert n_pages == {"count GB": 5, "count US": 6, "expected GB": 8, "expected US": 7}


def test_lines_are_as_far_apart_as_those_of_paper_to_write_on(papers):
    """6 to 7.1 mm, as ruled paper is sold in North America and in Britain (from memory): 17 to 20 points."""
    for name, pages in papers.items():
        code = "LONG-CODE-" if name.startswith("door") else "dry-store-"
        apart = [
            b - a
            for page in pages
            for a, b in pairwise(sorted(w.top + w.bottom for w in page.words if w.text.startswith(code)))
        ]
        assert 17 < min(apart) / 2 < 20, name


def test_the_sheet_at_the_door_says_order_telephone_and_what_is_asked_of_shellfish(papers):
    for country, degrees in (("GB", "°C"), ("US", "°F")):
        text = " ".join(page.text for page in papers[f"door {country}"])
        assert "order PO-0142; tel. +44 1632 960 001" in text
        assert f"temp {degrees} condition, tag" in text


def test_there_are_empty_lines_for_what_nobody_knows_of():
    """In each storage area for a parcel and another; of a vendor nobody waits for, for three goods."""
    house = home("GB")
    counted = count_sheet(house, houses.books(), Opening(()), ON, "C-1").sheets[0].rows
    received = delivery_sheet(house, due(house), ON, "D-1").sheets[0].rows
    shelves = [row[0].value for row in counted if row]
    assert shelves[shelves.index("Cellar 4") + 1 : shelves.index("shed")] == ["anything else"] * 2
    assert [row[1].value for row in received[-4:]] == [None, *["anything else"] * 3]


@pytest.mark.parametrize("name", ["count GB", "expected GB", "door GB"])
def test_the_day_is_written_beside_its_label_and_columns_fill_the_page(name):
    (sheet,) = workbooks("GB")[name].sheets
    label, day, *_ = sheet.rows[sheet.entries[0].first_row]
    assert label.value in ("counted on", "delivered on")
    assert (day.value, day.is_open, sheet.entries[0].kind) == (ON, True, "date")
    wide, tall = INCHES["a4"]
    assert 0.85 <= points_wide(sheet) / 72 / (tall if sheet.is_landscape else wide) <= 1.05
