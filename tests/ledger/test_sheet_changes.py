"""Placing as a rule by itself: any text in a packs cell, and matching under random deliveries."""

from datetime import date, datetime, timedelta
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ordering.ledger.order_lines import below_minimum
from ordering.ledger.order_matching import expectations, matched
from ordering.ledger.sheet_changes import SheetLine, changes, settled
from ordering.records.books import Receipt
from ordering.records.buying import OrderLine
from ordering.records.documents import Booked
from ordering.records.house import House, Ingredient
from ordering.records.ledger import Placed
from ordering.records.vendor_orders import orders_of
from ordering.records.vendors import Offer, Vendor

THU = date(2026, 11, 26)
SAT = THU + timedelta(2)
LINE = OrderLine(
    *("mill", "M", "flour", "Flour", 3, "25 kg", 75.0, "kg", Decimal("20.00"), Decimal("60.00")),
    order_by=datetime(2026, 11, 26, 15),
    deliver_on=SAT,
)
YEAST = Ingredient(
    "yeast", "Yeast", "g", offers=(Offer("mill", "Y", "yeast", "500 g", 500.0, Decimal("4.00")),)
)
HOME = House(
    "h", vendors={"mill": Vendor("mill", "Mill", minimum=Decimal(100))}, ingredients={"yeast": YEAST}
)


def sheet(packs, code="M", cell="Order!D8", day=SAT, price="20"):
    return SheetLine("mill", code, day, packs, price, "mill.xlsx", cell)


def said(lines):
    return tuple(changes(HOME, [LINE], lines, is_placed=False))


@settings(max_examples=200)
@given(st.text(max_size=12) | st.integers(-50, 5000).map(str) | st.floats(allow_nan=True).map(str))
def test_whatever_stands_in_a_packs_cell_is_whole_packs_nothing_or_a_fault(text):
    result, faults = settled(HOME, [LINE], [sheet(text)], False)
    (line,) = result
    assert (line == LINE) or not faults
    assert 0 <= line.packs < 30
    assert line.quantity == 25.0 * line.packs
    assert line.amount == 20 * line.packs
    assert all("Order!D8" in fault.wrong for fault in faults)


def test_ten_times_what_is_expected_is_asked_about_and_taken_where_it_is_meant():
    assert settled(HOME, [LINE], [sheet("29")], False)[1] == []
    assert [f.kind for f in settled(HOME, [LINE], [sheet("30")], False)[1]] == ["too-many-packs"]
    result, faults = settled(HOME, [LINE], [sheet("30")], True)
    assert (result[0].packs, faults) == (30, [])


def test_a_line_lost_doubled_or_strange_is_a_fault():
    def kinds(*sheets):
        return sorted(f.kind for f in settled(HOME, [LINE], sheets, False)[1])

    assert kinds() == ["lost-line"]
    assert kinds(sheet("3"), sheet("2", cell="Order!D9")) == ["doubled-line"]
    assert kinds(sheet("3"), sheet("2", "X")) == ["unknown-code"]
    assert kinds(sheet("3"), sheet("2", "Y", day=SAT + timedelta(1))) == ["unknown-day"]
    assert kinds(sheet("3", price="much")) == ["bad-price"]


def test_a_line_added_by_hand_needs_no_more_than_code_and_packs():
    result, faults = settled(HOME, [LINE], [sheet("3"), sheet("2", "Y", day=None, price="")], False)
    assert faults == []
    added = result[1]
    assert (added.item, added.packs, added.quantity, added.price, added.deliver_on) == (
        *("yeast", 2, 1000.0, Decimal("4.00"), SAT),
    )
    assert said(result) == ("added: Mill Y Yeast, Sat 28 Nov: 2 packs",)


def test_a_price_changed_in_the_sheet_is_what_the_line_costs():
    result, _ = settled(HOME, [LINE], [sheet("3", price="21.50")], False)
    assert (result[0].price, result[0].amount) == (Decimal("21.50"), Decimal("64.50"))
    assert said(result) == ("price: Mill M flour, Sat 28 Nov: 21.50 a pack, was 20.00",)


def test_what_is_added_to_a_delivery_ordered_before_is_not_below_the_minimum():
    (order,) = orders_of(HOME, [LINE], {("mill", SAT): "PO-2"})
    assert "60.00 of 100" in next(below_minimum(HOME, [order]))
    before = Placed(
        *("PO-1", "r", "mill", "M", "flour", 3, 3, 75.0, "kg", Decimal("20.00"), Decimal("60.00")),
        deliver_on=SAT,
        placed_on=THU,
    )
    (order,) = orders_of(HOME, [LINE], {("mill", SAT): "PO-2"}, [before])
    assert order.adds_to == ("PO-1",)
    assert list(below_minimum(HOME, [order])) == []


placed = st.builds(
    lambda code, packs, day, number: Placed(
        *(number, "r", "v", code, code[0], packs, packs, float(packs), "kg", None, Decimal(0)),
        deliver_on=THU + timedelta(day),
        placed_on=THU,
    ),
    st.sampled_from(["a1", "a2", "b1"]),
    st.integers(0, 4),
    st.integers(0, 10),
    st.integers(1, 10**6).map("PO-{}".format),
)
booked = st.builds(
    lambda code, packs, day: Booked(
        Receipt(THU + timedelta(day), "v", code, code[0], packs, float(packs)), "kg", "f"
    ),
    st.sampled_from(["a1", "a2", "b1", "c1"]),
    st.integers(1, 4),
    st.integers(0, 12),
)


@settings(max_examples=200)
@given(st.lists(placed, max_size=8, unique_by=lambda p: p.number), st.lists(booked, max_size=8))
def test_every_pack_that_came_is_counted_once_and_only_what_it_answers_is_settled(orders, receipts):
    found = matched(expectations(orders), receipts)
    assert sum(a.packs for a in found.arrivals) == pytest.approx(sum(b.record.packs for b in receipts))
    answered: dict[object, float] = {}
    for a in found.arrivals:
        if a.answers is not None:
            answered[a.answers] = answered.get(a.answers, 0.0) + a.packs
            assert -1 <= (a.delivered_on - a.answers.deliver_on).days <= 7
            assert a.is_substitute == (a.code != a.answers.code)
    assert sum(e.packs for e in found.expected) == sum(o.packs for o in orders)
    for e in found.expected:
        assert e.is_settled == (e.key in answered)
        assert e.received == pytest.approx(answered.get(e.key, 0.0))


@settings(max_examples=100)
@given(
    st.lists(placed, max_size=6, unique_by=lambda p: p.number),
    st.lists(booked, max_size=6),
    st.randoms(use_true_random=False),
)
def test_the_sequence_in_which_rows_were_booked_changes_nothing(orders, receipts, random):
    mixed = list(receipts)
    random.shuffle(mixed)
    assert matched(expectations(orders), mixed) == matched(expectations(orders), receipts)
