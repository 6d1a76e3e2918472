"""Lists of waste and batches, and houses whose items were renamed."""

from __future__ import annotations

import shutil
from datetime import timedelta

import pytest
from kitchens import (
    BATCHES,
    COUNTS,
    SAT,
    THU,
    WASTE,
    book,
    placed,
    refused,
)

from ordering.ledger import store
from ordering.loading import load
from ordering.records.documents import Meant


def test_waste_is_told_by_its_columns_and_booked_once_at_its_cost(kitchen):
    """2 kg of duck at 9.00 and 5 kg of flour at 0.80 (20.00 for 25 kg, the cheaper offer)."""
    text = WASTE + "2026-11-27,duck,2,kg,late\n2026-11-27,flour,5000,g,wet\n"
    assert book(kitchen, text).lines == ("Waste: 2 rows booked in as W-1, 22.00 GBP at today's cost",)
    again = book(kitchen, text, "copy.csv")
    assert again.lines == ("copy.csv was booked in on 2026-11-28 as W-1; nothing changed",)
    assert [(w.item, w.quantity) for w in kitchen.seen().waste] == [("duck", 2.0), ("flour", 5.0)]


def test_corrected_waste_replaces_and_another_list_of_the_day_adds(kitchen):
    book(kitchen, WASTE + "2026-11-27,duck,2,kg,late\n", "lunch.csv")
    book(kitchen, WASTE + "2026-11-27,duck,1,kg,late\n", "lunch.csv", meant=Meant(corrects="W-1"))
    book(kitchen, WASTE + "2026-11-27,duck,3,kg,late\n", "dinner.csv", meant=Meant(is_further=True))
    assert sorted(w.quantity for w in kitchen.seen().waste) == [1.0, 3.0]


def test_a_list_that_holds_what_another_held_already_is_asked_about(kitchen):
    monday, week = "2026-11-24,duck,1,kg,soft\n", "2026-11-25,duck,2,kg,soft\n"
    book(kitchen, WASTE + monday, "mon.csv")
    caught = refused(lambda: book(kitchen, WASTE + monday + week, "week.csv"))
    assert [f.kind for f in caught.faults] == ["looks-alike"]
    book(kitchen, WASTE + monday + week, "week.csv", meant=Meant(corrects="W-1"))
    assert sum(w.quantity for w in kitchen.seen().waste) == 3.0


def test_batches_are_booked_and_their_yield_offered_in_words_and_not_applied(kitchen):
    """Three batches of 4 kg duck gave 1.6 of 2 kg: (3 x 0.4 + 5 x 0.5) / 8 = 0.4625 a kg, 1.85 a batch."""
    before = {p.name: p.read_bytes() for p in kitchen.config.iterdir()}
    rows = "".join(f"2026-11-2{n},confit,4,1.6,kg\n" for n in (5, 6, 7))
    assert book(kitchen, BATCHES + rows).lines == (
        "Batches: 3 rows booked in as B-1",
        "Duck confit: 3 batches gave 20.0 % less than the recipe says; in recipes.yaml, confit, 'makes: 1.85 "
        "kg' would fit better than 2 kg",
    )
    assert [b.made for b in kitchen.seen().batches] == [1.6, 1.6, 1.6]
    assert {p.name: p.read_bytes() for p in kitchen.config.iterdir()} == before


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        (WASTE + "2026-12-27,duck,2,kg,late\n", "future"),
        (WASTE + "2026-11-27,swan,2,kg,late\n", "unknown-item"),
        (BATCHES + "2026-12-27,confit,4,2,kg\n", "future"),
        (BATCHES, "empty-file"),
        ("what,is,this\n1,2,3\n", "missing-column"),
    ],
)
def test_entries_that_cannot_be_are_refused(kitchen, text, kind):
    caught = refused(lambda: book(kitchen, text))
    assert kind in [f.kind for f in caught.faults]
    assert not store.ledger_path(kitchen.books).exists()


def test_a_house_whose_items_were_renamed_says_so_instead_of_failing(kitchen):
    placed(kitchen)
    kitchen.receive("2026-11-28,miller,M-9,2,1000,g,4.00\n")
    for name in ("ingredients.yaml", "recipes.yaml"):
        path = kitchen.config / name
        path.write_text(path.read_text().replace("yeast", "fresh-yeast"))
    (kitchen.books / "counts.csv").write_text(COUNTS.replace("yeast", "fresh-yeast"))
    loaded = load(kitchen.config, kitchen.books, SAT)
    assert {d.subject for d in loaded.doubts if "in the ledger" in d.wrong} == {"yeast"}
    assert "flour" in {o.item for o in kitchen.seen(SAT).open_orders}


def test_a_copied_ledger_is_the_whole_ledger(kitchen, tmp_path_factory):
    """One file: what a backup by plain copying holds is everything."""
    placed(kitchen)
    elsewhere = tmp_path_factory.mktemp("copy")
    shutil.copy(store.ledger_path(kitchen.books), elsewhere)
    assert store.bookings(elsewhere) == kitchen.ledger()
    assert {p.name for p in kitchen.books.iterdir()} == {"counts.csv", "ledger.sqlite"}


def test_a_first_count_far_beyond_the_use_is_asked_about_and_doubted_where_it_stands_in_the_books(kitchen):
    """Twenty pies in four weeks take 6 kg of duck: nobody has a thousand tonnes of it."""
    days = [THU - timedelta(days=n) for n in range(1, 29)]
    rows = "".join(f"{day},dinner,duck-pie,{5 if day.weekday() == 3 else 0}\n" for day in days)
    (kitchen.books / "sales.csv").write_text("date,service,dish,sold\n" + rows)
    (kitchen.books / "counts.csv").unlink()
    fault = refused(lambda: kitchen.count("2026-11-26,duck,999999,kg,\n")).faults[0]
    assert fault.kind == "over-use"
    assert fault.wrong == "999999 kg counted, about 6 kg are used in four weeks"
    assert kitchen.count("2026-11-26,duck,40,kg,\n").status == 0
    store.ledger_path(kitchen.books).unlink()
    (kitchen.books / "counts.csv").write_text("counted_on,item,quantity,unit\n2026-11-26,duck,999999,kg\n")
    doubts = load(kitchen.config, kitchen.books, THU).doubts
    assert [(d.subject, d.kind) for d in doubts if d.kind == "over-use"] == [("duck", "over-use")]
