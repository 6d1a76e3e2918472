"""Booking in a delivery: held against its order, against what was booked before, against what can be."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import openpyxl
import pytest
from kitchens import (
    LINES,
    SAT,
    THU,
    placed,
    refused,
)

from ordering import bookkeeping, cli
from ordering.ledger import store
from ordering.records.documents import Meant


def test_a_delivery_as_ordered_says_so_and_closes_the_order(kitchen):
    placed(kitchen)
    report = kitchen.receive("2026-11-28,miller,M-1,3,75,kg,20.00\n2026-11-28,miller,M-9,2,1,kg,4.00\n")
    assert report.lines[1:] == ("Old Mill, delivered Sat 28 Nov: 2 lines, 68.00 GBP", "  as ordered")
    assert report.status == 0
    assert [o.code for o in kitchen.seen().open_orders] == ["077"]
    assert {(r.item, r.quantity) for r in kitchen.seen().receipts} == {("flour", 75.0), ("yeast", 1000.0)}


def test_a_short_and_a_line_that_is_missing_are_said_for_the_phone_call(kitchen):
    placed(kitchen)
    report = kitchen.receive("2026-11-28,miller,M-1,2,50,kg,20.00\n")
    assert report.status == 1
    assert report.lines == (
        "Booked in as D-1",
        "Old Mill, delivered Sat 28 Nov: 1 line, 40.00 GBP",
        "  short: M-1 Bread flour: 2 of 3 packs came, 1 missing (25 kg, worth 20.00); treated as cancelled; "
        "it goes on the next order",
        "  not on the delivery: M-9 Yeast: 2 packs ordered for Sat 28 Nov; still expected until Sun 29 Nov",
    )
    assert [o.code for o in kitchen.seen().open_orders] == ["M-9", "077"]


def test_the_rest_of_a_part_delivery_closes_what_was_short(kitchen):
    placed(kitchen)
    kitchen.receive("2026-11-28,miller,M-1,2,50,kg,20.00\n2026-11-28,miller,M-9,2,1000,g,4.00\n")
    sunday = SAT + timedelta(1)
    report = kitchen.receive("2026-11-29,miller,M-1,1,25,kg,20.00\n", "rest.csv", sunday)
    assert report.lines[1:] == (
        "Old Mill, delivered Sun 29 Nov: 1 line, 20.00 GBP",
        "  M-1 Bread flour: 1 pack of the order for Sat 28 Nov",
    )


def test_what_is_late_is_one_line_for_each_day_it_was_due(kitchen):
    placed(kitchen)
    report = kitchen.receive(
        "2026-11-29,miller,M-1,3,75,kg,20.00\n2026-11-29,miller,M-9,2,1000,g,4.00\n",
        on=SAT + timedelta(1),
    )
    assert report.lines[2:] == ("  2 lines of the order for Sat 28 Nov",)


def test_a_substitute_is_named_with_what_it_stands_for(kitchen):
    placed(kitchen)
    report = kitchen.receive("2026-11-28,miller,M-2,7,70,kg,9.00\n2026-11-28,miller,M-9,2,1000,g,4.00\n")
    assert report.lines[2:] == ("  came instead: M-2 for M-1 Bread flour: 7 packs, 70 kg for 75 kg ordered",)
    assert [o.code for o in kitchen.seen().open_orders] == ["077"]


def test_catch_weight_is_paid_by_weight_and_told_when_far_from_expected(kitchen):
    placed(kitchen)
    report = kitchen.receive("2026-11-28,poulterer,077,5,10.6,kg,9.00\n")
    assert report.lines[1:] == ("Marsh Fowl, delivered Sat 28 Nov: 1 line, 95.40 GBP", "  as ordered")
    usual = kitchen.receive("2026-11-28,poulterer,077,5,12.4,kg,9.00\n", corrects="D-1")
    assert not any("weight:" in line for line in usual.lines), "a quarter more than expected is said"
    heavy = kitchen.receive("2026-11-28,poulterer,077,5,14,kg,9.00\n", corrects="D-1")
    assert "  weight: 077 Duck: 5 packs should hold 10 kg, 14 kg came" in heavy.lines


def test_a_price_that_is_not_the_agreed_one_is_said_with_its_change(kitchen):
    placed(kitchen)
    report = kitchen.receive("2026-11-28,poulterer,077,5,10,kg,9.90\n2026-11-28,miller,M-1,3,75,kg,19.00\n")
    assert "  price: 077 Duck: 9.00 agreed, 9.90 charged per kg (+10.0 %)" in report.lines
    assert "  price: M-1 Bread flour: 20.00 agreed, 19.00 charged a pack (-5.0 %)" in report.lines
    assert store.last_prices(kitchen.books)["poulterer", "077"] == Decimal("9.90")


def test_what_nobody_ordered_and_what_is_too_much_is_said_and_booked(kitchen):
    placed(kitchen)
    report = kitchen.receive(
        "2026-11-28,miller,M-1,4,100,kg,20.00\n2026-11-28,miller,M-2,1,10,kg,9.00\n2026-11-28,miller,M-9,2,1,kg,4\n"
    )
    assert "  more than ordered: M-1 Bread flour: 4 packs came, 3 ordered" in report.lines
    assert (
        "  nobody ordered M-2 Bread flour: 1 pack, 10 kg came; booked in, so send it back or keep it"
        in report.lines
    )
    assert sum(r.quantity for r in kitchen.seen().receipts if r.item == "flour") == 110.0


def test_a_fixed_pack_that_holds_less_than_it_says_is_told(kitchen):
    placed(kitchen)
    report = kitchen.receive("2026-11-28,miller,M-1,3,74,kg,20.00\n")
    assert "  weight: M-1 Bread flour: 3 packs should hold 75 kg, 74 kg came" in report.lines


def test_the_same_delivery_counts_once_whatever_its_name_and_line_ends(kitchen):
    placed(kitchen)
    text = "2026-11-28,miller,M-1,3,75,kg,20.00\n2026-11-28,miller,M-9,2,1000,g,4.00\n"
    kitchen.receive(text)
    before = kitchen.ledger()
    again = kitchen.receive(text, on=SAT + timedelta(1))
    assert again.lines == ("delivery.csv was booked in on 2026-11-28 as D-1; nothing changed",)
    other = kitchen.receive(text.replace("\n", "\r\n"), "copy.csv")
    assert other.lines == ("copy.csv was booked in on 2026-11-28 as D-1; nothing changed",)
    assert kitchen.ledger() == before


THREE, TWO = "2026-11-28,miller,M-1,3,75,kg,20.00\n", "2026-11-28,miller,M-1,2,50,kg,20.00\n"


def test_what_looks_like_a_delivery_booked_before_is_asked_about(kitchen):
    placed(kitchen)
    kitchen.receive(THREE)
    before = kitchen.ledger()
    fault = refused(lambda: kitchen.receive(TWO)).faults[0]
    assert fault.kind == "looks-alike"
    assert fault.wrong == "this file looks like D-1 (delivery.csv, Sat 28 Nov: 1 line for the same goods)"
    assert fault.right == (
        "--corrects D-1 if it takes the place of that one; --also if both are meant and add up"
    )
    assert kitchen.ledger() == before, "nothing written"


def test_of_many_that_look_alike_three_are_named(kitchen):
    for packs in range(1, 6):
        kitchen.receive(f"{SAT},miller,M-1,{packs}", also=True, yes=True)
    (fault,) = refused(lambda: kitchen.receive(f"{SAT},miller,M-1,9", yes=True)).faults
    assert fault.wrong.count("1 line for the same goods") == 3
    assert fault.wrong.endswith("; 2 more")


def test_a_corrected_delivery_takes_the_place_of_every_line_and_says_what_changes(kitchen):
    placed(kitchen)
    kitchen.receive(THREE + "2026-11-28,miller,M-9,2,1000,g,4.00\n")
    report = kitchen.receive(TWO + "2026-11-28,miller,M-2,1,10,kg,9.00\n", corrects="D-1")
    assert report.lines[:4] == (
        "Booked in as D-1",
        "corrected: miller M-1 on Sat 28 Nov: was 3 packs, 75 kg at 20.00, now 2 packs, 50 kg at 20.00",
        "corrected: miller M-2 on Sat 28 Nov: was not booked, now 1 pack, 10 kg at 9.00",
        "corrected: miller M-9 on Sat 28 Nov: was 2 packs, 1000 g at 4.00, now taken out",
    )
    assert {(r.code, r.packs) for r in kitchen.seen().receipts} == {("M-1", 2.0), ("M-2", 1.0)}


def test_a_day_mended_in_a_delivery_leaves_nothing_on_the_day_before(kitchen):
    placed(kitchen)
    kitchen.receive(THREE)
    kitchen.receive("2026-11-27,miller,M-1,3,75,kg,20.00\n", corrects="D-1")
    assert [r.delivered_on for r in kitchen.seen().receipts] == [SAT - timedelta(1)]


def test_a_file_whose_day_was_mended_is_asked_about_on_the_day_it_was_booked(kitchen):
    """The same list of another morning, as a daily van brings it, is a list of its own."""
    friday = f"{SAT - timedelta(1)},miller,M-1,3,75,kg,20.00\n"
    kitchen.receive(friday)
    (fault,) = refused(lambda: kitchen.receive(f"{SAT},miller,M-1,3,75,kg,20.00\n")).faults
    assert fault.kind == "looks-alike"
    assert "--corrects D-1" in fault.right
    sunday = SAT + timedelta(1)
    kitchen.receive(f"{sunday},miller,M-1,3,75,kg,20.00\n", on=sunday)
    assert [r.delivered_on for r in kitchen.seen(sunday).receipts] == [SAT - timedelta(1), sunday]


def test_two_deliveries_of_the_same_goods_add_up_where_both_are_meant(kitchen):
    placed(kitchen)
    kitchen.receive(TWO)
    kitchen.receive(THREE, "second-van.csv", also=True)
    assert sorted(r.packs for r in kitchen.seen().receipts) == [2.0, 3.0]


def test_a_number_that_was_never_given_corrects_nothing(kitchen):
    assert refused(lambda: kitchen.receive(TWO, corrects="D-7")).faults[0].kind == "no-document"
    assert not store.ledger_path(kitchen.books).exists()
    kitchen.receive(TWO)
    fault = refused(lambda: kitchen.receive(THREE, corrects="D-7")).faults[0]
    assert (fault.kind, fault.wrong) == ("no-document", "the ledger has no delivery of this number")


def test_the_first_version_booked_again_after_a_correction_counts_again(kitchen):
    placed(kitchen)
    kitchen.receive(THREE)
    for text in (TWO, THREE):
        kitchen.receive(text, corrects="D-1")
    assert [r.packs for r in kitchen.seen().receipts] == [3.0]


@pytest.mark.parametrize(
    "again", ["2026-11-28,miller,M-1,3,75,kg,20\n", "2026-11-28,miller,M-1,3.0,75.00,kg,20.0\n"]
)
def test_the_same_figures_written_otherwise_are_the_same_delivery(kitchen, again):
    kitchen.receive(THREE)
    assert kitchen.receive(again, "copy (1).csv").lines == (
        "copy (1).csv was booked in on 2026-11-28 as D-1; nothing changed",
    )


def test_the_same_delivery_saved_as_a_workbook_is_the_same_delivery(kitchen):
    kitchen.receive(THREE)
    book = openpyxl.Workbook()
    for row in (
        ("delivered_on", "vendor", "code", "packs", "quantity", "unit", "price"),
        (SAT, "miller", "M-1", 3, 75, "kg", 20),
    ):
        book.active.append(row)
    book.save(kitchen.folder / "d.xlsx")
    report = bookkeeping.receive(kitchen.config, kitchen.books, kitchen.folder / "d.xlsx", SAT, Meant())
    assert report.lines == ("d.xlsx was booked in on 2026-11-28 as D-1; nothing changed",)


def test_a_second_van_with_other_goods_adds_without_a_question(kitchen):
    placed(kitchen)
    kitchen.receive(THREE)
    assert kitchen.receive("2026-11-28,miller,M-9,2,1000,g,4.00\n", "second-van.csv").status == 0
    assert len(kitchen.seen().receipts) == 2


def test_a_delivery_that_never_was_booked_is_said_in_one_line(kitchen):
    kitchen.make_run(LINES[1:2])
    kitchen.place()
    report = kitchen.receive("2026-11-30,miller,M-2,1,10,kg,9.00\n", on=SAT + timedelta(2))
    assert report.lines[-1] == (
        "  nothing of the order for Sat 28 Nov has been booked in: 1 line, no longer expected"
    )


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        ("2026-12-05,miller,M-1,3,75,kg,20.00\n", "future"),
        ("2026-11-28,miller,M-1,-3,75,kg,20.00\n", "no-reason"),
        ("", "empty-file"),
    ],
)
def test_a_delivery_that_cannot_be_is_refused_and_nothing_is_booked(kitchen, text, kind):
    assert kind in [f.kind for f in refused(lambda: kitchen.receive(text)).faults]
    assert not store.ledger_path(kitchen.books).exists()


@pytest.mark.parametrize(
    ("row", "kind", "words"),
    [
        (
            "M-1,3,7500,kg,20.00",
            "pack-weight",
            "M-1 Bread flour: 2026-11-28: 7500 kg came, but 3 packs hold 75 kg",
        ),
        ("M-1,3,7.5,kg,20.00", "pack-weight", "7.5 kg came, but 3 packs hold 75 kg"),
        ("M-1,3,0,kg,20.00", "pack-weight", "0 kg came, but 3 packs hold 75 kg"),
        ("M-1,0,75,kg,20.00", "pack-weight", "75 kg came, but 0 packs hold 0 kg"),
        ("M-9,2,1000,kg,4.00", "pack-weight", "1000000 g came, but 2 packs hold 1000 g"),
        ("M-1,30,750,kg,20.00", "many-packs", "30 packs came, 3 ordered"),
        ("M-2,50,500,kg,9.00", "many-packs", "500 kg came instead of M-1, 75 kg ordered"),
        ("M-1,3,75,kg,200.00", "price-off", "200.00 charged a pack, 20.00 agreed"),
        ("M-1,3,75,kg,0.80", "price-off", "0.80 charged a pack, 20.00 agreed"),
        ("M-9,2,1000,g,4.00,2026-11-08", "use-by-passed", "use by 2026-11-08 had passed when it came"),
        ("M-9,2,1000,g,4.00,2026-12-19", "use-by-far", "use by 2026-12-19, but it keeps 10 days"),
    ],
)
def test_a_slip_in_a_delivery_is_asked_about_and_booked_only_when_confirmed(kitchen, row, kind, words):
    placed(kitchen)
    before = kitchen.ledger()
    text = f"2026-11-28,miller,{row}\n2026-11-28,poulterer,077,5,10,kg,9.00\n"
    caught = refused(lambda: kitchen.receive(text))
    assert [f.kind for f in caught.faults] == [kind]
    assert words in str(caught)
    assert "if it is right, book it in with --yes" in str(caught)
    assert kitchen.ledger() == before
    report = kitchen.receive(text, yes=True)
    assert report.status == 1
    assert any(line.startswith("check: ") and words in line for line in report.lines)
    assert len(kitchen.ledger().receipts) == 2


@pytest.mark.parametrize(
    "row",
    [
        "miller,M-1,3,370,kg,20.00",
        "miller,M-1,14,350,kg,20.00",
        "miller,M-1,3,75,kg,99.00",
        "miller,M-1,3,75,kg,4.10",
        "miller,M-1,3,75,kg,0",
        "miller,M-1,0,0,kg,20.00",
        "miller,M-1,3,,,",
        "miller,M-2,30,300,kg,9.00",
        "poulterer,077,5,3,kg,9.00,2026-12-08",
    ],
)
def test_what_is_odd_and_can_be_is_booked_without_a_question(kitchen, row):
    placed(kitchen)
    kitchen.receive(f"2026-11-28,{row}\n")
    assert len(kitchen.ledger().receipts) == 1


def test_every_slip_of_a_delivery_is_said_at_once(kitchen):
    placed(kitchen)
    text = "2026-11-28,miller,M-1,30,75,kg,200.00\n2026-11-28,poulterer,077,5,100,kg,9.00\n"
    kinds = [f.kind for f in refused(lambda: kitchen.receive(text)).faults]
    assert sorted(kinds) == ["many-packs", "pack-weight", "pack-weight", "price-off"]


def test_what_nobody_ordered_is_held_against_the_most_that_ever_came(kitchen):
    kitchen.receive("2026-11-27,miller,M-2,2,20,kg,9.00\n", "fri.csv")
    kitchen.receive("2026-11-28,miller,M-2,19,190,kg,9.00\n", "sat.csv")
    text = "2026-11-28,miller,M-2,20,200,kg,9.00\n"
    caught = refused(lambda: kitchen.receive(text, "sat.csv", corrects="D-2"))
    assert [f.kind for f in caught.faults] == ["many-packs"]
    assert "20 packs came, which nobody ordered; the most there was is 2 packs" in str(caught)


@pytest.mark.parametrize(
    ("day", "on", "kind", "words"),
    [
        ("2025-11-28", SAT, "old-delivery", "delivered 365 days ago"),
        ("2026-10-27", SAT, "old-delivery", "delivered 32 days ago"),
        ("2026-10-28", SAT, "far-from-order", "it is ordered for 2026-11-28"),
        ("2026-11-18", SAT, "far-from-order", "it is ordered for 2026-11-28"),
        ("2026-12-08", SAT + timedelta(20), "far-from-order", "it is ordered for 2026-11-28"),
    ],
)
def test_a_date_far_from_the_order_and_from_today_is_asked_about(kitchen, day, on, kind, words):
    placed(kitchen)
    text = f"{day},miller,M-1,3,75,kg,20.00\n"
    caught = refused(lambda: kitchen.receive(text, on=on))
    assert [f.kind for f in caught.faults] == [kind]
    assert words in str(caught)
    assert any(words in line for line in kitchen.receive(text, on=on, yes=True).lines)


@pytest.mark.parametrize(
    ("day", "on"),
    [
        ("2026-11-21", SAT),
        ("2026-11-22", SAT),
        ("2026-12-05", SAT + timedelta(20)),
        ("2026-12-08", SAT + timedelta(12)),
        ("2026-11-28", SAT + timedelta(31)),
    ],
)
def test_a_date_near_the_order_or_near_today_is_none_to_ask_about(kitchen, day, on):
    placed(kitchen)
    kitchen.receive(f"{day},miller,M-1,3,75,kg,20.00\n", on=on)
    assert len(kitchen.ledger().receipts) == 1


def test_years_of_old_deliveries_are_asked_about_by_the_day_and_told_in_few_lines(kitchen):
    """A first file of the past: a fault for each delivery, at most 200, and not one for each row."""
    days = [THU - timedelta(40 + n) for n in range(300)]
    text = "".join(f"{day},miller,M-1,3,75,kg,20.00\n{day},miller,M-2,1,10,kg,9.00\n" for day in days)
    caught = refused(lambda: kitchen.receive(text))
    assert len(caught.faults) == 201
    assert {f.subject for f in caught.faults if f.kind == "old-delivery"} == {"miller"}
    assert "100 more faults" in str(caught)
    lines = kitchen.receive(text, yes=True).lines
    assert [line for line in lines if line.startswith("check: ")][-1] == "check: 280 more like these"
    assert len([line for line in lines if line.startswith("check: ")]) == 21
    assert len(kitchen.ledger().receipts) == 600


def test_what_was_confirmed_is_not_asked_about_when_the_file_grows(kitchen):
    placed(kitchen)
    heavy = "2026-11-27,poulterer,077,5,60,kg,9.00\n"
    kitchen.receive(heavy, yes=True)
    kitchen.receive(heavy + "2026-11-28,miller,M-1,3,75,kg,20.00\n", corrects="D-1")
    wrong = heavy + "2026-11-28,miller,M-1,3,7500,kg,20.00\n"
    caught = refused(lambda: kitchen.receive(wrong, corrects="D-1"))
    assert [f.subject for f in caught.faults] == ["M-1 Bread flour"]


def test_a_corrected_slip_is_held_against_the_order_and_not_against_the_slip(kitchen):
    placed(kitchen)
    kitchen.receive("2026-11-28,miller,M-1,30,750,kg,20.00\n", yes=True)
    report = kitchen.receive(THREE + "2026-11-28,miller,M-9,2,1,kg,4.00\n", corrects="D-1")
    assert report.lines[-1] == "  as ordered"


def test_a_delivery_of_a_day_to_come_is_refused_even_when_confirmed(kitchen):
    caught = refused(lambda: kitchen.receive("2026-12-05,miller,M-1,3,75,kg,20.00\n", yes=True))
    assert [f.kind for f in caught.faults] == ["future"]


def test_the_command_asks_and_takes_yes_for_an_answer(kitchen, capsys):
    file = kitchen.folder / "delivery.csv"
    file.write_text(
        "delivered_on,vendor,code,packs,quantity,unit,price\n2026-11-28,miller,M-1,3,7500,kg,20.00\n"
    )
    words = ["receive", str(file), f"--config={kitchen.config}", f"--books={kitchen.books}", f"--on={SAT}"]
    assert cli.main(words) == 2
    assert "1 fault; nothing was written" in capsys.readouterr().err
    assert not store.ledger_path(kitchen.books).exists()
    assert cli.main([*words, "--yes"]) == 1
    assert len(kitchen.ledger().receipts) == 1


@pytest.mark.parametrize(("days_ago", "is_asked"), [(364, True), (366, False)])
def test_what_is_usual_is_what_came_in_the_year_before(kitchen, days_ago, is_asked):
    """A pack then, and ten now that nobody ordered."""
    first = SAT - timedelta(days_ago)
    kitchen.receive(f"{first},poulterer,077,1,2,kg,9.00\n", on=first, name="first.csv")
    row = f"{SAT},poulterer,077,10,20,kg,9.00\n"
    if is_asked:
        assert [f.kind for f in refused(lambda: kitchen.receive(row)).faults] == ["many-packs"]
    else:
        kitchen.receive(row)
