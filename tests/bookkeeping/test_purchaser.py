"""A purchaser of two vendors lived through at random: order, edit, place, amend, cancel, receive in parts,
send back, correct, repeat, count in two rooms, be stopped in between. The truth beside it is a few
dictionaries.
"""

from __future__ import annotations

import shutil
import tempfile
from contextlib import suppress
from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from functools import cached_property
from pathlib import Path
from types import SimpleNamespace

import pytest
from hypothesis import HealthCheck, assume, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule
from kitchens import LINES, THU, Kitchen

from ordering import bookkeeping
from ordering.faults import Refused
from ordering.ledger import store
from ordering.ledger.merge import merged
from ordering.net.opening import opening
from ordering.records.documents import Meant

CODES = {"M-1": 25.0, "M-9": 500.0, "077": 2.0}
VENDORS = {"M-1": "miller", "M-9": "miller", "077": "poulterer"}
STOPS = {
    "before": "ordering.ledger.register._write_version",  # the ledger is open for writing
    "after": "ordering.bookkeeping.goods_in.delivery_told",  # it has been written
}
MOST_ORDERS = 6  # of three runs: more of them show nothing that amending and receiving these does not
PARTS = st.dictionaries(st.sampled_from(sorted(CODES)), st.integers(1, 4), min_size=1)


class KnownKitchen(Kitchen):
    """A kitchen whose files nobody changes: they are read once."""

    house = cached_property(lambda self: super().house)

    @cached_property
    def counted_before(self):
        return super().loaded(THU).books

    def loaded(self, on):
        bookings = store.bookings(self.books, on)
        return SimpleNamespace(
            bookings=bookings, current=merged(self.counted_before, self.house, bookings, on)[0]
        )


class Purchaser(RuleBasedStateMachine):
    """`orders`: number to packs by code, as vendors were told; `came`: by number of the delivery, its day and
    packs by code; `back`: days and sacks of flour sent back; `counted`: by day, kilograms of flour in each
    room."""

    @initialize()
    def begin(self):
        self.folder = Path(tempfile.mkdtemp(prefix="purchaser-"))
        self.kitchen = KnownKitchen(self.folder)
        self.house = self.kitchen.house
        self.today = THU
        self.runs: dict[str, str] = {}
        self.orders: dict[str, dict[str, int]] = {}
        self.came: dict[str, tuple[object, dict[str, int]]] = {}
        self.back: list[tuple[object, int]] = []
        self.counted: dict[object, list[float]] = {THU - timedelta(7): [30.0]}

    def teardown(self):
        shutil.rmtree(self.folder, ignore_errors=True)

    @rule(days=st.integers(1, 3))
    def time_goes_by(self, days):
        self.today += timedelta(days)

    @precondition(lambda self: len(self.orders) < MOST_ORDERS)
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
            for line in LINES
        ]
        run = self.kitchen.make_run(lines).name
        self.kitchen.place(run=run, on=self.today, is_on_top=True)
        for vendor in ("miller", "poulterer"):
            number = f"PO-{len(self.orders) + 1:04d}"
            mine = {code: n for code, n in packs.items() if VENDORS[code] == vendor}
            self.runs[number], self.orders[number] = run, mine

    @precondition(lambda self: self.orders)
    @rule(data=st.data(), packs=st.integers(0, 6), is_stopped=st.booleans())
    def amend(self, data, packs, is_stopped):
        """Change a line and place again; stopped after booking, the next placing writes the letter."""
        number = data.draw(st.sampled_from(sorted(self.orders)))
        vendor = ("poulterer", "miller")[int(number.removeprefix("PO-")) % 2]
        code = data.draw(st.sampled_from([code for code in sorted(CODES) if VENDORS[code] == vendor]))
        self.kitchen.write_packs(vendor, code, packs, self.runs[number])
        now = {**self.orders[number], code: packs}
        try:
            with pytest.MonkeyPatch.context() as disk:
                if is_stopped:
                    disk.setattr("ordering.bookkeeping.letters.write_file", _stopped)
                self.kitchen.place(run=self.runs[number], on=self.today, is_on_top=True, is_confirmed=True)
        except Refused as refused:
            if {f.kind for f in refused.faults} != {"delivered"}:
                raise
            self.kitchen.write_packs(vendor, code, self.orders[number].get(code, 0), self.runs[number])
            return
        except InterruptedError:
            self.kitchen.place(run=self.runs[number], on=self.today, is_on_top=True, is_confirmed=True)
        self.orders[number] = {code: n for code, n in now.items() if n}

    @rule(packs=PARTS, stop=st.sampled_from(["", *STOPS]))
    def receive_a_part(self, packs, stop):
        """A list without a number that says the same as another is that other, whatever is said of it.

        Stopped before it is booked nothing is, stopped after it the next time says so.
        """
        if stop:
            with pytest.MonkeyPatch.context() as disk, suppress(InterruptedError):
                disk.setattr(STOPS[stop], _stopped)
                self._receive(packs, also=True)
        if stop == "after" and (self.today, packs) not in self.came.values():
            self.came[f"D-{len(self.came) + 1}"] = (self.today, dict(packs))
        report = self._receive(packs, also=True)
        if (self.today, packs) in self.came.values():
            assert report.lines[0].endswith("nothing changed")
        else:
            self.came[f"D-{len(self.came) + 1}"] = (self.today, dict(packs))

    @precondition(lambda self: self.came)
    @rule(data=st.data(), packs=PARTS)
    def correct_a_delivery(self, data, packs):
        number = data.draw(st.sampled_from(sorted(self.came)))
        came = {**self.came, number: (self.today, packs)}
        assume(min(self._flour(came, day) for day in {self.today, *dict(self.back)}) >= 0)
        self._receive(packs, corrects=number)
        self.came[number] = (self.today, dict(packs))

    @precondition(lambda self: self.came)
    @rule(data=st.data())
    def book_the_same_paper_again(self, data):
        number = data.draw(st.sampled_from(sorted(self.came)))
        day, packs = self.came[number]
        report = self._receive(packs, corrects=number, day=day, name="copy (1).csv")
        assert f"as {number}; nothing changed" in report.lines[0]

    @rule(sacks=st.integers(1, 2))
    def send_flour_back(self, sacks):
        """Of what there is, whether it has been counted since it came; the same note again is the same."""
        assume(self._flour() >= 25.0 * sacks)
        assume((self.today, sacks) not in self.back)
        heads = "delivered_on,vendor,code,packs,quantity,unit,price,reason\n"
        (self.folder / "back.csv").write_text(f"{heads}{self.today},miller,M-1,-{sacks},,,,weevils\n")
        for meant in (Meant(is_further=True, is_confirmed=True), Meant(is_confirmed=True)):
            bookkeeping.receive(
                self.kitchen.config, self.kitchen.books, self.folder / "back.csv", self.today, meant
            )
        self.back.append((self.today, sacks))

    @precondition(lambda self: self.today not in self.counted)
    @rule(rooms=st.lists(st.integers(1, 40), min_size=1, max_size=2, unique=True))
    def count_in_every_room(self, rooms):
        """In the morning: what went back later that day was there to be counted, or came that day."""
        back = sum(n for day, n in self.back if day == self.today)
        came = sum(packs.get("M-1", 0) for day, packs in self.came.values() if day == self.today)
        assume(sum(rooms) >= 25 * (back - came))
        for n, quantity in enumerate(rooms):
            text = f"{self.today},flour,{quantity},kg,\n"
            self.kitchen.count(text, f"room {n}.csv", on=self.today, yes=True, also=True)
        self.counted[self.today] = [float(quantity) for quantity in rooms]

    def _receive(self, packs, day=None, name="came.csv", **more):
        rows = [f"{day or self.today},{VENDORS[code]},{code},{n}" for code, n in sorted(packs.items())]
        return self.kitchen.receive("\n".join(rows), name, on=self.today, yes=True, **more)

    @invariant()
    def the_books_say_what_is_true(self):
        """On order is what vendors were told, stock the last count and what came since less what went back.

        What went back is a credit and no waste.
        """
        if not hasattr(self, "kitchen"):
            return
        tomorrow = self.today + timedelta(1)
        loaded = self.kitchen.loaded(tomorrow)
        booked: dict[str, dict[str, int]] = {number: {} for number in self.orders}
        for p in loaded.bookings.orders:
            booked[p.number][p.code] = p.packs
        assert booked == self.orders
        lots = opening(self.house, loaded.current, tomorrow).lots
        assert sum(lot.quantity for lot in lots if lot.item == "flour") == pytest.approx(self._flour())
        credits = [(b.record.delivered_on, -b.record.packs) for b in loaded.bookings.credits]
        assert sorted(credits) == sorted(self.back)
        assert loaded.bookings.waste == ()

    def _flour(self, deliveries=None, until=date.max):
        """Kilograms of flour after a day, if these had been the deliveries."""
        last = max(self.counted)
        bags = [(day, packs.get("M-1", 0)) for day, packs in (deliveries or self.came).values()]
        bags += [(day, -n) for day, n in self.back]
        return sum(self.counted[last]) + 25.0 * sum(n for day, n in bags if last <= day <= until)


def _stopped(*_):
    raise InterruptedError


TestPurchaser = Purchaser.TestCase
TestPurchaser.settings = settings(
    max_examples=8, stateful_step_count=14, deadline=None, suppress_health_check=list(HealthCheck)
)
