"""Commands killed at any of their writes are whole or absent, and made good by running them again; commands at
once lose nothing and double nothing."""

from __future__ import annotations

import shutil
from pathlib import Path

from killing import left_behind
from test_bookkeeping import Kitchen


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
