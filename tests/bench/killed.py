"""Kills at every write of a whole order and its placing on the demo house, and many commands at once.

Run from the repository's root: `python tests/bench/killed.py [EVERY] [ROUNDS]`. Of the states that a killed
order or placing can leave behind every EVERY-th is taken (default 10; 1 for all, some ten minutes), the
command is run again, and what stands is held against a run that was never killed. Then ROUNDS times (default
20) eight processes place, receive and count on the same books. It ends with an error where anything is lost
or doubled.
"""

from __future__ import annotations

import random
import shutil
import sys
import tempfile
from datetime import date
from functools import partial
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT / "tests"))

from killing import at_once, left_behind  # noqa: E402
from kitchens import SAT, THU, Kitchen  # noqa: E402
from test_killed import files, restored  # noqa: E402

from ordering import runs  # noqa: E402
from ordering.bookkeeping import PlacingTerms, place  # noqa: E402
from ordering.ledger import store  # noqa: E402
from ordering.read.run_folder import run_facts  # noqa: E402

ON = date(2026, 11, 26)


def main() -> None:
    every = int(sys.argv[1]) if len(sys.argv) > 1 else 10
    n_rounds = int(sys.argv[2]) if len(sys.argv) > 2 else 20
    folder = Path(tempfile.mkdtemp(prefix="killed-"))
    try:
        print(f"order killed: {orders_killed(folder / 'order', every)} states made good")
        print(f"place killed: {places_killed(folder / 'place', every)} states made good")
        for n in range(n_rounds):
            eight_at_once(folder / f"{n}", random.Random(n))
        print(f"eight at once: {n_rounds} rounds, nothing lost, nothing doubled")
    finally:
        shutil.rmtree(folder)


def demo(folder: Path) -> Path:
    """A copy of the demo house."""
    here = folder / "here"
    shutil.copytree(ROOT / "config", here / "config")
    shutil.copytree(ROOT / "demo", here / "books", ignore=shutil.ignore_patterns("pictures"))
    return here


def orders_killed(folder: Path, every: int) -> int:
    """Of each state left behind: the next order leaves whole runs alone, each known to the ledger."""
    here = demo(folder)
    order = partial(runs.order, here / "config", here / "books", here / "runs", ON)
    states = left_behind(order, here, folder / "left")[::every]
    names = set(files(here / "runs" / ON.isoformat()))
    for state in states:
        restored(state, here)
        order()
        made = list((here / "runs").iterdir())
        assert all(set(files(run)) == names for run in made), state
        known = store.known_runs(here / "books")
        assert {str(run_facts(run)["id"]) for run in made} <= known, state
    return len(states)


def places_killed(folder: Path, every: int) -> int:
    """Of each state left behind: the next placing leaves what one that was never killed leaves."""
    here = demo(folder)
    runs.order(here / "config", here / "books", here / "runs", ON)
    terms = PlacingTerms()
    placing = partial(place, here / "config", here / "books", here / "runs", ON.isoformat(), terms, ON)
    states = left_behind(placing, here, folder / "left")[::every]
    whole, ledger = files(here / "runs"), store.bookings(here / "books")
    for state in states:
        restored(state, here)
        placing()
        assert files(here / "runs") == whole, state
        assert store.bookings(here / "books") == ledger, state
    return len(states)


def eight_at_once(folder: Path, chance: random.Random) -> None:
    """Eight commands of all kinds on the same books, some of them twice."""
    folder.mkdir()
    kitchen = Kitchen(folder)
    kitchen.make_run()
    packs = [chance.randint(1, 4) for _ in range(3)]
    rooms = [chance.randint(1, 40) for _ in range(2)]
    commands = [
        *[kitchen.place] * chance.randint(1, 3),
        *(
            partial(kitchen.receive, f"{SAT},miller,M-1,{n},,,\n", f"van {at}.csv", also=True)
            for at, n in enumerate(packs)
        ),
        *(
            partial(kitchen.count, f"{THU},flour,{n},kg,\n", f"room {at}.csv", yes=True, also=True)
            for at, n in enumerate(rooms)
        ),
    ]
    chance.shuffle(commands)
    at_once(commands[:8])
    booked = kitchen.ledger()
    assert [(p.code, p.packs) for p in booked.orders] == [("M-1", 3), ("M-9", 2), ("077", 5)]
    assert sorted(b.record.packs for b in booked.receipts) == sorted(set(packs))
    assert sorted(b.record.quantity for b in booked.counts) == sorted(set(rooms))


if __name__ == "__main__":
    main()
