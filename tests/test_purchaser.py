"""A purchaser lived through at random: order, edit, place, amend, cancel, receive in parts, correct, repeat,
count in two rooms, be stopped in between. The truth beside it is a few dictionaries.
"""

from __future__ import annotations

import shutil
import tempfile
from dataclasses import replace
from datetime import timedelta
from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule
from test_bookkeeping import LINES, THU, Kitchen

from ordering.faults import Refused
from ordering.net.opening import opening

CODES = {"M-1": 25.0, "M-9": 500.0}
PARTS = st.dictionaries(st.sampled_from(sorted(CODES)), st.integers(1, 4), min_size=1)


class Purchaser(RuleBasedStateMachine):
    """`orders`: number to packs by code, as vendors were told; `came`: by number of the delivery, its day and
    packs by code; `counted`: by day, kilograms of flour in each room."""

    @initialize()
    def begin(self):
        self.folder = Path(tempfile.mkdtemp(prefix="purchaser-"))
        self.kitchen = Kitchen(self.folder)
        self.today = THU
        self.runs: dict[str, str] = {}
        self.orders: dict[str, dict[str, int]] = {}
        self.came: dict[str, tuple[object, dict[str, int]]] = {}
        self.counted: dict[object, list[float]] = {THU - timedelta(7): [30.0]}

    def teardown(self):
        shutil.rmtree(self.folder, ignore_errors=True)

    @rule(days=st.integers(1, 3))
    def time_goes_by(self, days):
        self.today += timedelta(days)

    @rule(packs=st.fixed_dictionaries({code: st.integers(1, 5) for code in CODES}))
    def order_and_place(self, packs):
        lines = [
            replace(
                line,
                packs=packs[line.code],
                quantity=packs[line.code] * CODES[line.code],
                amount=packs[line.code] * Decimal(line.price or 0),
                deliver_on=self.today + timedelta(2),
            )
            for line in LINES[:2]
        ]
        run = self.kitchen.make_run(lines).name
        self.kitchen.place(run=run, on=self.today, is_on_top=True)
        number = f"PO-{len(self.orders) + 1:04d}"
        self.runs[number], self.orders[number] = run, dict(packs)

    @precondition(lambda self: self.orders)
    @rule(
        data=st.data(), code=st.sampled_from(sorted(CODES)), packs=st.integers(0, 6), is_stopped=st.booleans()
    )
    def amend(self, data, code, packs, is_stopped):
        """Change a line and place again; stopped after booking, the next placing writes the letter."""
        number = data.draw(st.sampled_from(sorted(self.orders)))
        self.kitchen.write_packs("miller", code, packs, self.runs[number])
        now = {**self.orders[number], code: packs}
        try:
            with pytest.MonkeyPatch.context() as disk:
                if is_stopped:
                    disk.setattr("ordering.bookkeeping.letters.write_file", _stopped)
                self.kitchen.place(run=self.runs[number], on=self.today, is_on_top=True, is_confirmed=True)
        except Refused as refused:
            if {f.kind for f in refused.faults} != {"delivered"}:
                raise
            self.kitchen.write_packs("miller", code, self.orders[number].get(code, 0), self.runs[number])
            return
        except InterruptedError:
            self.kitchen.place(run=self.runs[number], on=self.today, is_on_top=True, is_confirmed=True)
        self.orders[number] = {code: n for code, n in now.items() if n}

    @rule(packs=PARTS)
    def receive_a_part(self, packs):
        """A list without a number that says the same as another is that other, whatever is said of it."""
        report = self._receive(packs, also=True)
        if (self.today, packs) in self.came.values():
            assert report.lines[0].endswith("nothing changed")
        else:
            self.came[f"D-{len(self.came) + 1}"] = (self.today, dict(packs))

    @precondition(lambda self: self.came)
    @rule(data=st.data(), packs=PARTS)
    def correct_a_delivery(self, data, packs):
        number = data.draw(st.sampled_from(sorted(self.came)))
        self._receive(packs, corrects=number)
        self.came[number] = (self.today, dict(packs))

    @precondition(lambda self: self.came)
    @rule(data=st.data())
    def book_the_same_paper_again(self, data):
        number = data.draw(st.sampled_from(sorted(self.came)))
        day, packs = self.came[number]
        report = self._receive(packs, corrects=number, day=day, name="copy (1).csv")
        assert f"as {number}; nothing changed" in report.lines[0]

    @precondition(lambda self: self.today not in self.counted)
    @rule(rooms=st.lists(st.integers(1, 40), min_size=1, max_size=2, unique=True))
    def count_in_every_room(self, rooms):
        for n, quantity in enumerate(rooms):
            text = f"{self.today},flour,{quantity},kg,\n"
            self.kitchen.count(text, f"room {n}.csv", on=self.today, yes=True, also=True)
        self.counted[self.today] = [float(quantity) for quantity in rooms]

    def _receive(self, packs, day=None, name="came.csv", **more):
        rows = [f"{day or self.today},miller,{code},{n}" for code, n in sorted(packs.items())]
        return self.kitchen.receive("\n".join(rows), name, on=self.today, yes=True, **more)

    @invariant()
    def what_is_on_order_is_what_vendors_were_told(self):
        if hasattr(self, "kitchen"):
            booked: dict[str, dict[str, int]] = {number: {} for number in self.orders}
            for p in self.kitchen.ledger().orders:
                booked[p.number][p.code] = p.packs
            assert booked == self.orders

    @invariant()
    def stock_is_the_last_count_and_what_came_since(self):
        if hasattr(self, "kitchen"):
            tomorrow = self.today + timedelta(1)
            last = max(self.counted)
            since = [packs for day, packs in self.came.values() if day >= last]
            flour = sum(self.counted[last]) + 25.0 * sum(packs.get("M-1", 0) for packs in since)
            lots = opening(self.kitchen.house, self.kitchen.seen(tomorrow), tomorrow).lots
            assert sum(lot.quantity for lot in lots if lot.item == "flour") == pytest.approx(flour)


def _stopped(*_):
    raise InterruptedError


TestPurchaser = Purchaser.TestCase
TestPurchaser.settings = settings(
    max_examples=8, stateful_step_count=14, deadline=None, suppress_health_check=list(HealthCheck)
)
