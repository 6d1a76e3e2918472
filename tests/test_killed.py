"""Commands killed at any of their writes are whole or absent, and made good by running them again.

Commands at the same time lose nothing and double nothing.
"""

from __future__ import annotations

import json
import shutil
from functools import partial
from pathlib import Path

from killing import at_once, left_behind
from kitchens import SAT, THU, Kitchen
from test_orders_numbered import House

from ordering import runs
from ordering.ledger import store
from ordering.loading import load
from ordering.write.document_bytes import documents_bytes


def files(folder: Path) -> dict[str, bytes]:
    return {p.relative_to(folder).as_posix(): p.read_bytes() for p in folder.rglob("*") if p.is_file()}


def restored(saved: Path, folder: Path) -> None:
    shutil.rmtree(folder)
    shutil.copytree(saved, folder)


def test_a_placing_killed_at_any_write_is_whole_or_absent_and_mended_by_the_next(tmp_path):
    """Two vendors, a sheet changed by hand: the books first, then letters, sheets and what was told."""
    here = tmp_path / "here"
    here.mkdir()
    kitchen = Kitchen(here)
    kitchen.make_run()
    kitchen.write_packs("miller", "M-1", 4)
    states = left_behind(kitchen.place, here, tmp_path / "left")
    ledger, whole = kitchen.ledger(), files(kitchen.runs)
    assert len(states) > 15
    for state in states:
        restored(state, here)
        there = kitchen.ledger().orders
        assert there in ((), ledger.orders), state
        letters = [name for name in files(kitchen.runs) if name.endswith(".eml")]
        assert not letters or there, "no vendor holds an order that the books do not"
        kitchen.place()
        assert kitchen.ledger() == ledger, state
        assert files(kitchen.runs) == whole, state


def test_an_order_killed_at_any_write_is_whole_or_absent_and_no_number_stands_on_two_sheets(
    tmp_path, monkeypatch
):
    """The next order takes away what was never booked: its number is given out again."""
    here = tmp_path / "here"
    here.mkdir()
    house = House(here)
    loaded = load(house.config, house.books, THU)
    made = runs.planned(loaded, house.config, house.books, THU, runs.RunTerms())
    monkeypatch.setattr(runs, "planned", lambda *_: made)
    two_of = {"orders.csv", "orders/farm.eml"}
    monkeypatch.setattr(
        runs, "documents_bytes", lambda all_of: documents_bytes({n: all_of[n] for n in two_of})
    )
    states = left_behind(house.order, here, tmp_path / "left")
    names = set(files(house.runs))
    assert len(states) > 8
    for state in states:
        restored(state, here)
        n_booked = len(store.known_runs(house.books))
        house.order()
        ids = {}
        for facts in house.runs.glob("*/run.json"):
            ids[facts.parent.name] = json.loads(facts.read_text())["id"]
            assert {f"2026-11-26/{name}" for name in files(facts.parent)} == names, "whole"
        assert len(ids) == len(list(house.runs.iterdir())) == n_booked + 1, state
        assert set(ids.values()) == store.known_runs(house.books), "each is in the ledger, none is lost"
        numbers = [(house.runs / name / "orders.csv").read_text().split(",")[-1].strip() for name in ids]
        assert len(set(numbers)) == len(numbers), state


def test_commands_at_once_lose_nothing_and_double_nothing(tmp_path):
    """Two place the same run, three vans come, two book in the third, two rooms are counted."""
    kitchen = Kitchen(tmp_path)
    kitchen.make_run()
    vans = [f"{SAT},miller,M-1,{n},,,\n" for n in (1, 2, 3, 3)]
    at_once(
        [
            *[kitchen.place] * 2,
            *(partial(kitchen.receive, row, f"van {n}.csv", also=True) for n, row in enumerate(vans)),
            *(
                partial(kitchen.count, f"{THU},flour,{n},kg,\n", f"{n}.csv", yes=True, also=True)
                for n in (5, 6)
            ),
        ]
    )
    booked = kitchen.ledger()
    assert [(p.number, p.code, p.packs) for p in booked.orders] == [
        ("PO-0001", "M-1", 3),
        ("PO-0001", "M-9", 2),
        ("PO-0002", "077", 5),
    ]
    assert store.document(kitchen.books, "PO-0001").version == 1
    assert sorted(b.record.packs for b in booked.receipts) == [1.0, 2.0, 3.0]
    assert {b.number for b in booked.receipts} == {"D-1", "D-2", "D-3"}
    assert sorted(b.record.quantity for b in booked.counts) == [5.0, 6.0]
    assert kitchen.place().lines == ("2026-11-26 is already placed; nothing changed",)
