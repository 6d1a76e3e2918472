"""A credit of money with no goods: booked with its reason, apart from goods and waste, seen in the review."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest
from kitchens import SAT, THU, Kitchen, refused

from ordering import bookkeeping
from ordering.bookkeeping import Invoice
from ordering.ledger import store
from ordering.records.books import Allowance
from ordering.records.documents import Meant
from ordering.reviewing import looked_back


@pytest.fixture
def kitchen(tmp_path):
    return Kitchen(tmp_path)


def credited(kitchen, whom="miller,M-1", money="7.50", reason="overcharged", number="CN-7", **meant):
    total = None if money is None else Decimal(money)
    note = bookkeeping.CreditNote(whom, reason, Invoice(number, total))
    return bookkeeping.credit(kitchen.config, kitchen.books, note, SAT, Meant(**meant))


def test_money_is_credited_with_its_reason_and_no_goods_move(kitchen):
    kitchen.receive(f"{SAT},miller,M-1,3,75,kg,22.50\n", yes=True)
    before = kitchen.seen().receipts
    assert credited(kitchen).lines == (
        "Credit R-1: 7.50 GBP credited by Old Mill for M-1 Bread flour: overcharged",
    )
    booked = kitchen.ledger()
    assert [(b.number, b.record) for b in booked.allowances] == [
        ("R-1", Allowance(SAT, "miller", "M-1", Decimal("7.50"), "overcharged"))
    ]
    assert (booked.credits, booked.waste) == ((), ())
    assert kitchen.seen().receipts == before, "no goods have moved"
    assert store.document(kitchen.books, "R-1").invoice == "CN-7"


def test_the_same_note_again_is_the_same_and_another_like_it_is_asked_about(kitchen):
    credited(kitchen)
    assert credited(kitchen).lines == ("CN-7 was booked in on 2026-11-28 as R-1; nothing changed",)
    assert refused(lambda: credited(kitchen, number="CN-8")).faults[0].kind == "looks-alike"
    credited(kitchen, number="CN-8", is_further=True)
    credited(kitchen, money="5.00", corrects="R-1")
    assert sorted(b.record.money for b in kitchen.ledger().allowances) == [Decimal("5.00"), Decimal("7.50")]


def test_a_note_may_be_for_no_code_at_all(kitchen):
    assert "credited by Old Mill: late van" in credited(kitchen, "miller", reason="late van").lines[0]


def test_every_fault_of_a_note_is_said_at_once_and_nothing_is_booked(kitchen):
    faults = refused(lambda: credited(kitchen, "miler,M-8", money=None, reason=" ")).faults
    assert {f.kind for f in faults} == {"unknown-vendor", "no-money", "no-reason"}
    faults = refused(lambda: credited(kitchen, "miller,M-8", money="-1")).faults
    assert {f.kind for f in faults} == {"unknown-code", "no-money"}
    assert kitchen.ledger().allowances == ()


def test_the_review_takes_it_off_what_was_bought_and_off_what_was_overcharged(kitchen):
    kitchen.receive(f"{SAT},miller,M-1,3,75,kg,22.50\n", yes=True)
    credited(kitchen, money="5.00")
    credited(kitchen, "miller", money="1.00", reason="late van", number="CN-8")
    on = SAT + timedelta(1)
    found = looked_back(kitchen.loaded(on), kitchen.books, on, (THU, SAT))
    assert (found.cost.bought, found.cost.credited) == (Decimal("61.50"), Decimal("6.00"))
    assert [(d.code, d.money) for d in found.dearer] == [("M-1", Decimal("2.50"))], "7.50 charged too much"
