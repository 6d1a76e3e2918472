"""Placing as a rule by itself: any text in a packs cell, and matching under random deliveries."""

from datetime import date, datetime, timedelta
from decimal import Decimal

from hypothesis import given, settings
from hypothesis import strategies as st

from ordering.ledger.matching import expectations, matched
from ordering.ledger.placing import RunLine, SheetLine, placing, replacing
from ordering.records.books import Receipt
from ordering.records.documents import Booked
from ordering.records.house import House, Vendor
from ordering.records.ledger import Bookings, Placed

THU = date(2026, 11, 26)
SAT = THU + timedelta(2)
LINE = RunLine(
    *("mill", "M", "flour", 3, 75.0, "kg", Decimal("20.00"), Decimal("60.00")),
    order_by=datetime(2026, 11, 26, 15),
    deliver_on=SAT,
)


def sheet(packs, code="M", cell="Order!D8"):
    return SheetLine("mill", code, SAT, packs, "mill.xlsx", cell)


@settings(max_examples=200)
@given(st.text(max_size=12) | st.integers(-50, 5000).map(str) | st.floats(allow_nan=True).map(str))
def test_whatever_stands_in_a_packs_cell_is_whole_packs_nothing_or_a_fault(text):
    result, faults = placing("run", [LINE], [sheet(text)], House("h"), THU)
    assert bool(faults) != bool(result.lines or result.struck)
    for line in result.lines:
        assert 0 < line.packs < 30
        assert line.quantity == 25.0 * line.packs
        assert line.amount == 20 * line.packs
    assert all("Order!D8" in fault.wrong for fault in faults)


def test_a_line_lost_doubled_or_strange_is_a_fault():
    def kinds(*sheets):
        return sorted(f.kind for f in placing("run", [LINE], sheets, House("h"), THU)[1])

    assert kinds() == ["lost-line"]
    assert kinds(sheet("3"), sheet("2", cell="Order!D9")) == ["doubled-line"]
    assert kinds(sheet("3"), sheet("2", "X")) == ["unknown-line"]


def test_the_same_lines_on_another_day_are_no_difference():
    (line,) = placing("run", [LINE], [sheet("3")], House("h"), THU)[0].lines
    (later,) = placing("run", [LINE], [sheet("3")], House("h"), SAT)[0].lines
    difference, faults = replacing("run", [later], Bookings(orders=(line,)))
    assert (difference.lines, difference.taken_back, faults) == ((), (), [])


def test_what_is_added_to_a_delivery_ordered_before_is_not_below_the_minimum():
    home = House("h", vendors={"mill": Vendor("mill", "Mill", minimum=Decimal(100))})
    (line,) = placing("before", [LINE], [sheet("3")], home, THU)[0].lines
    assert "60.00 of 100" in placing("run", [LINE], [sheet("3")], home, THU)[0].warnings[0]
    assert placing("run", [LINE], [sheet("3")], home, THU, [line])[0].warnings == ()


placed = st.builds(
    lambda code, packs, day: Placed(
        *("PO-1", "r", "v", code, code[0], packs, packs, float(packs), "kg", None, Decimal(0)),
        deliver_on=THU + timedelta(day),
        placed_on=THU,
    ),
    st.sampled_from(["a1", "a2", "b1"]),
    st.integers(0, 4),
    st.integers(0, 10),
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
@given(st.lists(placed, max_size=8), st.lists(booked, max_size=8))
def test_every_pack_that_came_is_counted_once_and_only_what_it_answers_is_settled(orders, receipts):
    found = matched(expectations(orders), receipts)
    assert sum(a.packs for a in found.arrivals) == sum(b.record.packs for b in receipts)
    answered: dict[object, float] = {}
    for a in found.arrivals:
        if a.answers is not None:
            answered[a.answers] = answered.get(a.answers, 0.0) + a.packs
            assert -1 <= (a.delivered_on - a.answers.deliver_on).days <= 7
            assert a.is_substitute == (a.code != a.answers.code)
    assert sum(e.packs for e in found.expected) == sum(o.packs for o in orders)
    for e in found.expected:
        assert e.is_settled == (e.key in answered)
        assert e.received == answered.get(e.key, 0.0)


@settings(max_examples=100)
@given(st.lists(placed, max_size=6), st.lists(booked, max_size=6), st.randoms(use_true_random=False))
def test_the_sequence_in_which_rows_were_booked_changes_nothing(orders, receipts, random):
    mixed = list(receipts)
    random.shuffle(mixed)
    assert matched(expectations(orders), mixed) == matched(expectations(orders), receipts)
