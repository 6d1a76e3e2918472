"""Placing a run on a tiny house on disk: what is said, what is booked, what is refused."""

from __future__ import annotations

from dataclasses import replace
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


def test_a_run_placed_is_what_the_next_run_counts_on(kitchen):
    kitchen.make_run()
    report = kitchen.place()
    assert report.status == 0
    assert report.lines == (
        "Placed 2026-11-26:",
        "  PO-0001 Old Mill, for Sat 28 Nov: 2 lines, 68.00 GBP",
        "  PO-0002 Marsh Fowl, for Sat 28 Nov: 1 line, 90.00 GBP",
        f"send: {kitchen.runs / '2026-11-26' / 'orders' / 'miller.eml'}",
        f"send: {kitchen.runs / '2026-11-26' / 'orders' / 'poulterer.eml'}",
    )
    assert [(o.code, o.packs, o.quantity) for o in kitchen.seen(THU).open_orders] == [
        ("M-1", 3, 75.0),
        ("M-9", 2, 1000.0),
        ("077", 5, 10.0),
    ]


def test_packs_changed_and_struck_out_in_the_sheets_are_read_back_and_said(kitchen):
    kitchen.make_run()
    kitchen.write_packs("miller", "M-1", 4)
    kitchen.write_packs("miller", "M-9", None)
    report = kitchen.place()
    assert "  changed: Old Mill M-1 Bread flour, Sat 28 Nov: 4 packs, 3 proposed" in report.lines
    assert "  crossed off: Old Mill M-9 Yeast, Sat 28 Nov: 2 packs proposed" in report.lines
    flour = next(p for p in kitchen.ledger().orders if p.code == "M-1")
    assert (flour.packs, flour.proposed, flour.quantity) == (4, 3, 100.0)
    assert (flour.price, flour.amount) == (Decimal("18.00"), Decimal("72.00")), "four packs reach the break"
    assert "M-9" not in {p.code for p in kitchen.ledger().orders}


def test_a_fee_is_said_where_the_delivery_is_below_what_waives_it(kitchen):
    vendors = kitchen.config / "vendors.yaml"
    terms = "  delivery_fee: 12.50\n  fee_waived_over: 68.00\n  deliveries:"
    vendors.write_text(vendors.read_text().replace("  deliveries:", terms, 1))
    kitchen.make_run()
    kitchen.write_packs("miller", "M-9", 1)
    report = kitchen.place()
    assert "  PO-0001 Old Mill, for Sat 28 Nov: 2 lines, 64.00 GBP and 12.50 for delivery" in report.lines
    kitchen.write_packs("miller", "M-9", 2)
    assert "  PO-0001 Old Mill, for Sat 28 Nov: 2 lines, 68.00 GBP" in kitchen.place().lines


def test_a_vendor_left_out_is_not_placed(kitchen):
    kitchen.make_run()
    report = kitchen.place("poulterer")
    assert "left out: Marsh Fowl, Sat 28 Nov: not placed now" in report.lines
    assert {p.vendor for p in kitchen.ledger().orders} == {"miller"}


def test_placing_twice_changes_nothing_and_says_so(kitchen):
    placed(kitchen)
    before = kitchen.ledger()
    report = kitchen.place()
    assert report.lines == ("2026-11-26 is already placed; nothing changed",)
    assert report.written == ()
    assert kitchen.ledger() == before


def test_placing_again_with_changed_sheets_replaces_and_says_each_change(kitchen):
    placed(kitchen)
    kitchen.write_packs("miller", "M-1", 2)
    report = kitchen.place("poulterer")
    assert "  changed: Old Mill M-1 Bread flour, Sat 28 Nov: 2 packs, was 3" in report.lines
    assert "amended: order PO-0001, Old Mill, Sat 28 Nov" in report.lines
    assert [(p.code, p.packs) for p in kitchen.ledger().orders] == [("M-1", 2), ("M-9", 2), ("077", 5)]


def test_what_has_been_delivered_can_no_longer_be_placed_otherwise(kitchen):
    placed(kitchen)
    kitchen.receive("2026-11-28,miller,M-1,3,75,kg,20.00\n")
    kitchen.write_packs("miller", "M-1", 2)
    fault = refused(lambda: kitchen.place(on=SAT)).faults[0]
    assert (fault.subject, fault.kind) == ("M-1", "delivered")


@pytest.mark.parametrize(
    ("value", "kind"),
    [
        ("a few", "bad-packs"),
        (-1, "bad-packs"),
        (2.5, "bad-packs"),
        (30, "too-many-packs"),
        ("=1+1", "no-value"),
    ],
)
def test_packs_that_cannot_be_are_refused_with_their_cell(kitchen, value, kind):
    kitchen.make_run()
    cell = kitchen.write_packs("miller", "M-1", value)
    caught = refused(kitchen.place)
    assert [f.kind for f in caught.faults] == [kind]
    assert f"Order!{cell}" in caught.faults[0].wrong
    assert kitchen.ledger().orders == (), "nothing written"


def test_every_slip_of_every_sheet_is_said_at_once(kitchen):
    kitchen.make_run()
    kitchen.write_packs("miller", "M-1", "x")
    kitchen.write_packs("miller", "M-9", -2)
    kitchen.write_packs("poulterer", "077", 500)
    kinds = [f.kind for f in refused(kitchen.place).faults]
    assert sorted(kinds) == ["bad-packs", "bad-packs", "too-many-packs"]


@pytest.mark.parametrize("damage", ["missing", "half", "another"])
def test_a_sheet_that_cannot_be_read_is_refused_with_a_way_out(kitchen, damage):
    folder = kitchen.make_run()
    sheet = folder / "orders" / "miller.xlsx"
    if damage == "missing":
        sheet.unlink()
    elif damage == "half":
        sheet.write_bytes(sheet.read_bytes()[:2000])
    else:
        openpyxl.Workbook().save(sheet)
    assert "--without miller" in str(refused(kitchen.place))
    assert kitchen.place("miller").status == 0


@pytest.mark.parametrize("name", ["../2026-11-26", "2026-11-26/", "", "..", "2026-11-25"])
def test_a_run_that_is_no_plain_folder_is_refused(kitchen, name):
    kitchen.make_run()
    assert refused(lambda: kitchen.place(run=name)).faults[0].kind == "no-run"


def test_a_vendor_in_orders_csv_that_leads_out_of_the_folder_is_refused(kitchen):
    folder = kitchen.make_run()
    orders = folder / "orders.csv"
    orders.write_text(orders.read_text().replace("miller,M-1", "../../miller,M-1"))
    assert [f.kind for f in refused(kitchen.place).faults] == ["damaged-run"]


def test_a_vendor_the_run_orders_nothing_from_cannot_be_left_out(kitchen):
    kitchen.make_run()
    fault = refused(lambda: kitchen.place("miler")).faults[0]
    assert (fault.kind, fault.right) == ("no-vendor", "did you mean 'miller'?")


def test_a_cut_off_that_has_passed_and_a_minimum_not_met_are_said(kitchen):
    kitchen.make_run()
    kitchen.write_packs("miller", "M-1", 1)
    report = kitchen.place(on=THU + timedelta(1))
    assert report.status == 1
    assert any(
        line.startswith("late: Old Mill for Sat 28 Nov: the cut-off was Thu 26 Nov 15:00")
        for line in report.lines
    )
    assert any("below the minimum: Old Mill for Sat 28 Nov: 28.00 of 30.00" in line for line in report.lines)


def test_a_second_run_of_a_day_does_not_order_everything_once_more(kitchen):
    kitchen.make_run()
    placed(kitchen)
    before = kitchen.ledger()
    faults = refused(lambda: kitchen.place(run="2026-11-26-2")).faults
    assert [(f.subject, f.kind) for f in faults] == [
        ("miller", "ordered-twice"),
        ("poulterer", "ordered-twice"),
    ]
    assert faults[1].wrong == (
        "on order already, and this run did not count on it: "
        "poulterer 077 Duck, Sat 28 Nov, order PO-0002, 5 packs"
    )
    assert faults[1].right == (
        "if this run takes the place of what was placed, --instead 2026-11-26; if both are meant, --also; "
        "or leave the vendor out with --without poulterer"
    )
    assert kitchen.ledger() == before, "nothing written"


def test_a_run_made_after_the_first_was_placed_adds_to_it_without_a_word(kitchen):
    placed(kitchen)
    kitchen.make_run(LINES[:1])
    assert kitchen.place(run="2026-11-26-2").status == 0
    assert [o.packs for o in kitchen.seen(THU).open_orders if o.code == "M-1"] == [3, 3]


def test_what_was_placed_only_after_a_run_was_made_is_nothing_it_counted_on(kitchen):
    """The first run was placed without the poulterer, then the second made, then the first placed whole."""
    kitchen.make_run()
    kitchen.place("poulterer")
    placed(kitchen)
    faults = refused(lambda: kitchen.place(run="2026-11-26-2")).faults
    assert [f.subject for f in faults] == ["poulterer"]


def test_the_same_goods_from_another_vendor_are_ordered_twice_as_well(kitchen):
    kitchen.make_run(LINES[:1])
    kitchen.make_run([replace(LINES[0], vendor="poulterer", code="P-1")])
    kitchen.place()
    fault = refused(lambda: kitchen.place(run="2026-11-26-2")).faults[0]
    assert (fault.subject, fault.kind) == ("poulterer", "ordered-twice")
    assert "miller M-1 Bread flour, Sat 28 Nov, order PO-0001" in fault.wrong


def test_one_run_takes_the_place_of_another_and_says_what_to_call_off(kitchen):
    kitchen.make_run()
    kitchen.make_run([replace(LINES[0], packs=4, quantity=100.0), LINES[1]])
    kitchen.place()
    report = kitchen.place(run="2026-11-26-2", instead=("2026-11-26",))
    assert report.status == 0
    assert [(p.number, p.code, p.packs) for p in kitchen.ledger().orders] == [
        ("PO-0003", "M-1", 4),
        ("PO-0003", "M-9", 2),
    ]
    assert "cancelled: order PO-0001: M-1, 3 packs" in report.lines
    assert "cancelled: order PO-0002: 077, 5 packs" in report.lines
    orders = kitchen.runs / "2026-11-26-2" / "orders"
    assert {path.name for path in orders.glob("*.eml")} == {
        "miller.eml",
        "miller-PO-0001-cancelled.eml",
        "poulterer-PO-0002-cancelled.eml",
    }


def test_a_vendor_left_out_keeps_what_it_was_told_before(kitchen):
    kitchen.make_run()
    placed(kitchen)
    kitchen.place("poulterer", run="2026-11-26-2", instead=("2026-11-26",))
    assert [(p.number, p.code) for p in kitchen.ledger().orders] == [
        ("PO-0002", "077"),
        ("PO-0003", "M-1"),
        ("PO-0003", "M-9"),
    ]


def test_both_runs_are_ordered_where_both_are_meant(kitchen):
    kitchen.make_run()
    placed(kitchen)
    assert kitchen.place(run="2026-11-26-2", is_on_top=True).status == 0
    assert [o.packs for o in kitchen.seen(THU).open_orders] == [3, 3, 2, 2, 5, 5]
    again = kitchen.place(run="2026-11-26-2")
    assert again.lines == ("2026-11-26-2 is already placed; nothing changed",)


@pytest.mark.parametrize("instead", ["2026-11-25", "2026-11-26-2"])
def test_a_run_takes_the_place_only_of_another_that_stands(kitchen, instead):
    kitchen.make_run()
    placed(kitchen)
    faults = refused(lambda: kitchen.place(run="2026-11-26-2", instead=(instead,))).faults
    assert [f.subject for f in faults] == [f"--instead {instead}"]


def test_what_has_come_of_a_run_cannot_be_taken_back(kitchen):
    kitchen.make_run()
    placed(kitchen)
    kitchen.receive("2026-11-28,miller,M-1,3,75,kg,20.00\n")
    call = lambda: kitchen.place(run="2026-11-26-2", instead=("2026-11-26",), on=SAT)  # noqa: E731
    faults = refused(call).faults
    assert [(f.subject, f.kind) for f in faults] == [("--instead 2026-11-26", "delivered")]


def test_nothing_to_place_says_why(kitchen):
    kitchen.make_run(LINES[2:])
    assert kitchen.place("poulterer").lines == ("2026-11-26: every vendor was left out; nothing placed",)
    kitchen.write_packs("poulterer", "077", 0)
    assert kitchen.place().lines == ("every line of 2026-11-26 is crossed off; nothing placed",)
