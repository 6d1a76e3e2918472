"""The order as a command, in a tiny house of one party that wants carrots: numbers, nothing left behind by a
refusal, a ledger that was lost, a calendar without ghosts."""

from __future__ import annotations

import json
import shutil
from contextlib import contextmanager
from datetime import date

import icalendar
import pytest

from ordering import bookkeeping, runs
from ordering.faults import Refused
from ordering.ledger import store
from ordering.records.documents import Meant

THU = date(2026, 11, 26)
CONFIG = {
    "house.yaml": "name: T\ntimezone: Europe/London\nservices: {dinner: {days: [thu, fri, sat]}}\n",
    "vendors.yaml": "farm: {name: Farm, email: f@farm.example, delivery_fee: 3.00, "
    "deliveries: [{day: fri, order_by: thu 15:00}]}\n",
    "ingredients.yaml": "carrot: {unit: kg, offers: [{vendor: farm, code: C-1, pack: 5 kg, price: 6.00}]}\n",
    "recipes.yaml": "soup: {makes: 1 kg, from: [{item: carrot, quantity: 1 kg}]}\n",
    "menu.yaml": "soup: {recipe: soup, portion: 1 kg}\n",
}
PARTY = "events: [{{name: P, date: 2026-11-28, service: dinner, covers: {n}, menu: {{soup: {n}}}}}]\n"


class House:
    def __init__(self, folder):
        self.config, self.books, self.runs = folder / "config", folder / "books", folder / "runs"
        for path in (self.config, self.books):
            path.mkdir()
        for name, text in CONFIG.items():
            (self.config / name).write_text(text)
        (self.books / "counts.csv").write_text("counted_on,item,quantity,unit\n2026-11-26,carrot,0,kg\n")
        self.expect(20)

    def expect(self, n):
        (self.config / "calendar.yaml").write_text(PARTY.format(n=n))

    def order(self):
        """Order as of Thursday: the run's name and the packs it orders."""
        (folder,) = runs.order(self.config, self.books, self.runs, THU).written
        rows = (folder / "orders.csv").read_text().splitlines()[1:]
        return folder.name, sum(int(row.split(",")[4]) for row in rows)

    def place(self, run, **more):
        return bookkeeping.place(
            self.config, self.books, self.runs, run, bookkeeping.PlacingTerms(**more), THU
        )

    def placed(self):
        return [(p.number, p.packs) for p in store.bookings(self.books).orders]


@pytest.fixture
def house(tmp_path):
    return House(tmp_path)


def test_an_open_order_of_the_books_is_counted_on_whatever_is_placed_beside_it(house):
    """20 kg wanted, 5 kg in the books for Friday: three packs more, and then nothing, ever again."""
    (house.books / "open_orders.csv").write_text("vendor,code,packs,deliver_on\nfarm,C-1,1,2026-11-27\n")
    run, packs = house.order()
    assert packs == 3
    house.place(run)
    assert house.order()[1] == 0


def test_more_of_a_code_for_a_day_of_which_part_has_come_is_ordered_once(house):
    house.expect(5)
    run, packs = house.order()
    assert packs == 1
    house.place(run)
    came = house.books.parent / "came.csv"
    came.write_text("delivered_on,vendor,code,packs,quantity,unit,price\n2026-11-26,farm,C-1,1,,,\n")
    bookkeeping.receive(house.config, house.books, came, THU, Meant())
    house.expect(20)
    run, packs = house.order()
    assert packs == 3
    house.place(run)
    assert house.order()[1] == 0


def test_a_run_made_again_after_its_folder_was_taken_away_is_another_run(house):
    run, packs = house.order()
    house.place(run)
    shutil.rmtree(house.runs)
    house.expect(25)
    again, more = house.order()
    assert (run, again, packs, more) == ("2026-11-26", "2026-11-26", 4, 1)
    house.place(again)
    assert house.placed() == [("PO-0001", 4), ("PO-0002", 1)]
    assert house.order()[1] == 0


@pytest.mark.parametrize("lost", ["gone", "empty", "older"])
def test_a_ledger_that_was_lost_is_not_ordered_again_without_a_word(house, lost):
    path = store.ledger_path(house.books)
    run, _ = house.order()
    older = path.read_bytes()
    house.place(run)
    house.order()
    house.expect(30)
    third, _ = house.order()
    house.place(third)
    if lost == "gone":
        path.unlink()
    else:
        path.write_bytes(b"" if lost == "empty" else older)
    with pytest.raises(Refused) as refused:
        house.order()
    assert [f.kind for f in refused.value.faults] == ["lost-ledger"]
    assert "put back the latest copy of the ledger" in refused.value.faults[0].right
    assert path.exists() == (lost != "gone")


def test_a_refused_order_leaves_neither_run_nor_ledger(house, monkeypatch):
    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("ordering.write.folder._write_through", full)
    for _ in range(2):
        with pytest.raises(OSError, match="No space"):
            house.order()
    assert not house.runs.exists()
    assert {path.name for path in house.books.iterdir()} == {"counts.csv"}


def test_an_order_that_cannot_be_booked_leaves_no_run(house, monkeypatch):
    """The ledger refuses at the very end, when the run's folder is there already."""
    house.order()
    before = store.ledger_path(house.books).read_bytes()

    @contextmanager
    def failing(connection):
        with store.transaction(connection):
            yield
            raise Refused([])

    monkeypatch.setattr("ordering.runs.transaction", failing)
    with pytest.raises(Refused):
        house.order()
    monkeypatch.undo()
    assert store.ledger_path(house.books).read_bytes() == before
    assert house.order()[0] == "2026-11-26-2"


def test_what_a_killed_order_left_behind_is_cleared_by_the_next(house):
    left = house.runs / ".building-killed"
    left.mkdir(parents=True)
    (left / "orders.csv").write_text("half")
    house.order()
    assert [path.name for path in house.runs.iterdir()] == ["2026-11-26"]


def test_two_vendors_numbers_go_on_from_run_to_run_and_are_in_orders_csv(house):
    for n in (1, 2):
        name, _ = house.order()
        rows = (house.runs / name / "orders.csv").read_text().splitlines()
        assert rows[0].endswith(",order")
        assert rows[1].endswith(f",PO-000{n}")
    ids = {json.loads((house.runs / name / "run.json").read_text())["id"] for name in ("2026-11-26", name)}
    assert len(ids) == 2


def entries(house, run):
    calendar = icalendar.Calendar.from_ical((house.runs / run / "calendar.ics").read_bytes())
    return {str(e["UID"]): e for e in calendar.walk("VEVENT")}


def test_what_is_no_longer_planned_is_taken_out_of_the_calendar(house):
    first, _ = house.order()
    house.expect(0)
    (house.config / "calendar.yaml").write_text("{}\n")
    second, _ = house.order()
    planned, after = entries(house, first), entries(house, second)
    assert planned.keys() <= after.keys()
    gone = {uid for uid, entry in after.items() if entry.get("STATUS") == "CANCELLED"}
    assert gone == planned.keys()
    house.expect(20)
    third, _ = house.order()
    assert not any(entry.get("STATUS") for entry in entries(house, third).values()), "planned once more"


def test_the_calendar_s_money_has_the_fee(house):
    run, _ = house.order()
    (notes,) = [
        str(e["DESCRIPTION"])
        for e in entries(house, run).values()
        if "cut-off" in str(e.get("CATEGORIES").to_ical())
    ]
    assert notes.startswith("1 line, 27.00, 3.00 of it for delivery")
