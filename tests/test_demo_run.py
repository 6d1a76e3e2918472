"""The whole pipeline on the demo house, from the command line to the last sheet."""

import contextlib
import csv
import hashlib
import io
import json
import re
import shutil
from collections import defaultdict
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from email import message_from_bytes
from pathlib import Path

import icalendar
import openpyxl
import pytest
from plain_words import assert_british, assert_plain, texts_of

from ordering import cli
from ordering.explaining import chain
from ordering.read.house_folder import read_house
from ordering.read.run_folder import read_run

ROOT = Path(__file__).parent.parent
ON = date(2026, 11, 26)
NEXT_RUN = date(2026, 12, 3)

COLUMNS = {
    "forecast": "date,service,dish,mean,q05,q10,q25,q50,q75,q90,q95",
    "orders": "vendor,code,item,description,packs,pack,quantity,unit,price,amount,order_by,deliver_on,order",
    "outlook": "vendor,code,item,description,packs,pack,quantity,unit,price,amount,order_by,deliver_on,order",
    "starts": "start_on,recipe,batches,quantity,unit,ready_on",
    "shortages": "date,item,short,unit,dishes,cause,remedy",
    "projection": "item,date,gross,scheduled,planned,expired,projected,unit",
    "pegging": "vendor,code,deliver_on,dish,service_date,quantity,unit",
}


@pytest.fixture(scope="module")
def house():
    found, faults = read_house(ROOT / "config")
    assert not faults
    return found


@pytest.fixture(scope="module")
def place(tmp_path_factory):
    """Books of the demo house in a folder of their own and a run; then once more, elsewhere."""
    folder = tmp_path_factory.mktemp("inn")
    for name in ("", "-again"):
        books = folder / f"books{name}"
        books.mkdir()
        for book in [*(ROOT / "demo").glob("*.csv"), *(ROOT / "demo").glob("*.sqlite")]:
            shutil.copy(book, books)
        where = ["--books", str(books), "--runs", str(folder / f"runs{name}")]
        words = ["order", "--config", str(ROOT / "config"), *where]
        with contextlib.redirect_stdout(io.StringIO()) as said:
            assert cli.main([*words, "--on", ON.isoformat()]) == 1
    (folder / "said.txt").write_text(said.getvalue(), "utf-8")
    return folder


@pytest.fixture(scope="module")
def run(place):
    return place / "runs" / "2026-11-26"


def rows(run, name):
    with (run / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


@pytest.mark.parametrize("name", COLUMNS)
def test_every_table_has_the_columns_promised(run, name):
    assert (run / f"{name}.csv").read_text("utf-8").splitlines()[0] == COLUMNS[name]
    assert rows(run, name)


def test_the_same_books_give_the_same_bytes(place, run):
    second = place / "runs-again" / "2026-11-26"
    files = sorted(p.relative_to(run) for p in run.rglob("*") if p.is_file())
    assert files == sorted(p.relative_to(second) for p in second.rglob("*") if p.is_file())
    assert [f for f in files if (run / f).read_bytes() != (second / f).read_bytes()] == []


def test_quantiles_are_in_rank_and_nothing_is_forecast_for_a_closed_service(run, house):
    for row in rows(run, "forecast"):
        marks = [float(row[q]) for q in ("q05", "q10", "q25", "q50", "q75", "q90", "q95")]
        assert marks == sorted(marks)
        assert marks[0] >= 0
        day = date.fromisoformat(row["date"])
        party = any(p.date == day and p.service == row["service"] for p in house.parties)
        assert house.is_open(day, row["service"]) or party


def test_orders_can_still_be_placed_and_fall_due_before_the_next_run(run, house):
    for row in rows(run, "orders"):
        order_by = datetime.fromisoformat(row["order_by"])
        assert datetime.combine(ON, time(0)) <= order_by < datetime.combine(NEXT_RUN, time(0))
    for row in [*rows(run, "orders"), *rows(run, "outlook")]:
        vendor, deliver_on = house.vendors[row["vendor"]], date.fromisoformat(row["deliver_on"])
        assert deliver_on not in vendor.closed
        assert deliver_on.weekday() in {d.weekday for d in vendor.deliveries}
        assert datetime.fromisoformat(row["order_by"]) <= datetime.combine(deliver_on, time(23, 59))


def test_packs_are_whole_and_money_is_packs_times_price(run, house):
    for row in rows(run, "orders"):
        offers = {
            o.code: o for i in house.ingredients.values() for o in i.offers if o.vendor == row["vendor"]
        }
        offer, packs = offers[row["code"]], int(row["packs"])
        assert packs > 0
        assert float(row["quantity"]) == pytest.approx(packs * offer.pack_quantity, rel=1e-6)
        assert abs(Decimal(row["amount"]) - packs * Decimal(row["price"])) <= Decimal("0.01") * packs


def test_minimums_are_met_or_the_purchaser_is_told(run, house):
    """An order under a vendor's minimum stands only with a note that says so."""
    notes = " ".join(json.loads((run / "run.json").read_text("utf-8"))["notes"])
    total = defaultdict(Decimal)
    for row in rows(run, "orders"):
        total[row["vendor"], row["deliver_on"]] += Decimal(row["amount"])
    for (vendor, _), amount in total.items():
        assert amount >= house.vendors[vendor].minimum or house.vendors[vendor].name in notes


def test_the_projection_shows_what_the_run_orders_and_foresees(run, house):
    """Every row closes, and each bought item has its deliveries on their day."""
    coming, before = defaultdict(float), {}
    for row in [*rows(run, "orders"), *rows(run, "outlook")]:
        coming[row["item"], row["deliver_on"]] += float(row["quantity"])
    for row in rows(run, "projection"):
        scheduled, planned, gross, expired, projected = (
            float(row[column]) for column in ("scheduled", "planned", "gross", "expired", "projected")
        )
        if row["item"] in before:
            on_hand = before[row["item"]] + scheduled + planned - gross - expired
            assert on_hand == pytest.approx(projected, abs=1e-4, rel=1e-4)
        before[row["item"]] = projected
        if row["item"] in house.ingredients:
            assert planned >= coming.pop((row["item"], row["date"]), 0.0) - 1e-3
    assert not coming


def test_pegging_adds_up_to_every_line(run):
    pegged = defaultdict(float)
    for row in rows(run, "pegging"):
        pegged[row["vendor"], row["code"], row["deliver_on"]] += float(row["quantity"])
    for row in rows(run, "orders"):
        key = row["vendor"], row["code"], row["deliver_on"]
        assert pegged[key] == pytest.approx(float(row["quantity"]), abs=1e-3)


def test_stock_never_falls_below_nothing_on_the_expected_path(run):
    assert all(float(row["projected"]) >= -1e-3 for row in rows(run, "projection"))


def test_starts_are_ready_when_the_recipe_says_and_whole_where_it_must_be(run, house):
    for row in rows(run, "starts"):
        recipe = house.recipes[row["recipe"]]
        start_on, ready_on = date.fromisoformat(row["start_on"]), date.fromisoformat(row["ready_on"])
        assert start_on >= ON
        assert ready_on - start_on == timedelta(days=recipe.takes_days)
        batches = float(row["batches"])
        assert float(row["quantity"]) == pytest.approx(batches * recipe.makes, rel=1e-3)
        if recipe.is_whole:
            assert batches == int(batches)


def test_every_vendor_with_an_order_has_a_sheet_and_a_draft_that_holds_it(run):
    ordered = defaultdict(list)
    for row in rows(run, "orders"):
        ordered[row["vendor"]].append(row)
    assert {p.stem for p in (run / "orders").glob("*.xlsx")} == set(ordered)
    for vendor, lines in ordered.items():
        letter = message_from_bytes((run / "orders" / f"{vendor}.eml").read_bytes())
        texts = [p.get_payload(decode=True) for p in letter.walk() if p.get_content_type() == "text/plain"]
        body = texts[0].decode("utf-8")
        assert all(line["code"] in body for line in lines)
        attached = [p for p in letter.walk() if p.get_filename()]
        sheet = (run / "orders" / f"{vendor}.xlsx").read_bytes()
        assert [p.get_payload(decode=True) for p in attached] == [sheet]
        book = openpyxl.load_workbook(io.BytesIO(sheet))
        values = {cell.value for row in book.active.iter_rows() for cell in row}
        assert {line["code"] for line in lines} <= {str(value) for value in values}


def test_the_order_book_opens_with_today_first(run):
    book = openpyxl.load_workbook(run / "order-book.xlsx")
    assert book.sheetnames[0] == "Today"
    assert not book["Today"].row_breaks.brk, "on one page"


def test_the_start_list_is_six_pages_for_the_wall(run):
    """At full size, as wide as the page: its breaks are set by the program, so they can be counted."""
    sheet = openpyxl.load_workbook(run / "start-list.xlsx").worksheets[0]
    ends = [one.id for one in sheet.row_breaks.brk]
    assert len(ends) + 1 <= 6
    alone = [sheet.cell(row, 1).value for row in ends if sheet.cell(row, 2).value is None]
    assert not [text for text in alone if re.match(r"\w{3} \d+ \w{3}: ", text or "")], "a heading at the foot"


def test_the_calendar_holds_cut_offs_and_deliveries(run):
    calendar = icalendar.Calendar.from_ical((run / "calendar.ics").read_bytes())
    events = list(calendar.walk("VEVENT"))
    assert len(events) > len({row["vendor"] for row in rows(run, "orders")})
    assert len({str(event["UID"]) for event in events}) == len(events)


def test_the_run_can_be_traced_to_its_inputs(run):
    facts = json.loads((run / "run.json").read_text("utf-8"))
    assert facts["when"] == "2026-11-26T00:00"
    assert facts["seed"] == 1
    recipes = hashlib.sha256((ROOT / "config" / "recipes.yaml").read_bytes()).hexdigest()
    assert facts["inputs"]["config/recipes.yaml"] == recipes
    assert "books/sales.csv" in facts["inputs"]


def test_terminal_and_papers_read_as_a_british_kitchen_speaks(place, run):
    texts = [text for path in sorted(run.rglob("*.*")) for text in texts_of(path)]
    texts.append((place / "said.txt").read_text("utf-8"))
    assert_plain(texts)
    assert_british("\n".join(texts))


def test_every_ordered_item_and_dish_can_be_explained_at_80_columns(place, run, house, capsys):
    items = {row["item"] for row in rows(run, "orders")} | {row["recipe"] for row in rows(run, "starts")}
    made = read_run(place / "runs", "2026-11-26")
    for item in (*sorted(items), *sorted(house.dishes)):
        said = chain(made.tables, made.facts, item)
        assert len(said) >= 3
        assert max(map(len, said)) <= 80
        assert_plain(said)
    assert cli.main(["explain", "2026-11-26", item, "--runs", str(place / "runs")]) == 0
    assert capsys.readouterr().out.splitlines() == said


def test_the_last_line_says_how_to_ask_why(place, run):
    *_, last = (place / "said.txt").read_text("utf-8").splitlines()
    words = last.removeprefix("Why a line is there: ordering ").split()
    assert words[-1] == max(rows(run, "orders"), key=lambda row: float(row["amount"]))["code"]
    assert cli.main([*words, "--runs", str(place / "runs-again")]) == 0


def test_the_shortage_of_aged_rib_is_said_weeks_before_it_hurts(run):
    """The demo's ageing room has a hole in the middle of December."""
    assert [r for r in rows(run, "shortages") if r["item"] == "aged-rib" and r["date"] > "2026-12-10"]
