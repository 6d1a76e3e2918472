"""CPU seconds of every command on a ledger of ten years, on the demo house, and of a late first count.

Run from the repository's root: `python tests/bench/ledger_years.py [YEARS]`. It builds the ledger beside a
copy of the demo's books, as a house would have it: each week two runs with their forecasts, 20 orders of nine
lines, a delivery for each, a whole count, a list of waste and one of batches a day. Then each command that
reads or writes the ledger runs once in a process of its own: each must stay below 10 s. Then three years in
which nothing was ever counted, and then all of it: below 5 s. It ends with an error where one does not.
"""

from __future__ import annotations

import os
import resource
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from datetime import date, timedelta
from decimal import Decimal
from pathlib import Path

import numpy as np

from ordering.ledger import register, store
from ordering.read.house_folder import read_house
from ordering.records.documents import BATCHES, COUNT, DELIVERY, FORECAST, ORDER, WASTE, Line, Paper
from ordering.records.house import House
from ordering.records.vendors import Offer

ROOT = Path(__file__).resolve().parents[2]
ON = date(2026, 11, 26)
N_DAYS_FORESEEN = 60


COMMANDS = (
    "check",
    "check --prices",
    "forecast",
    "order",
    "explain 2026-11-26 rib",
    "place 2026-11-26",
    "place 2026-11-26 --cancel ambervane-produce,2026-11-27",
    "receive --out door.xlsx",
    "receive came.csv --also --yes",
    "receive short.csv --also --yes",
    "count --out count.xlsx",
    "count counted.csv --also --yes",
    "count waste.csv --also",
    "count batches.csv --also",
    "review",
)
FILES = {
    "came.csv": "delivered_on,vendor,code,packs,quantity,unit,price\n2026-11-26,larkstore,L-4410,1,,,\n",
    "short.csv": "delivered_on,vendor,code,packs,quantity,unit,price\n"
    "2026-11-26,sallowgate-butchers,SB-180,0,,,\n",
    "counted.csv": "counted_on,item,quantity,unit\n2026-11-26,strong-flour,40,kg\n",
    "waste.csv": "date,item,quantity,unit,reason\n2026-11-25,strong-flour,1,kg,spilt\n",
    "batches.csv": "started_on,recipe,drawn,made,unit\n2026-11-25,duck-jus,,2,l\n",
}
MOST_SECONDS, MOST_OF_A_FIRST_COUNT = 10.0, 5.0


def main() -> None:
    n_years = int(sys.argv[1]) if len(sys.argv) > 1 else 10
    with house_of(n_years, is_counted=True) as folder:
        over = [words for words in COMMANDS if measured(folder, words) >= MOST_SECONDS]
    with house_of(3, is_counted=False) as folder:
        (folder / "all.csv").write_text(everything(folder))
        if measured(folder, "count all.csv --yes") >= MOST_OF_A_FIRST_COUNT:
            over.append("the first count after three years")
    if over:
        sys.exit(f"too slow: {', '.join(over)}")


@contextmanager
def house_of(n_years: int, is_counted: bool) -> Iterator[Path]:
    """The demo house with so many years in its ledger."""
    folder = Path(tempfile.mkdtemp(prefix="years-"))
    try:
        shutil.copytree(ROOT / "config", folder / "config")
        shutil.copytree(ROOT / "demo", folder / "books")
        house, _ = read_house(folder / "config")
        assert house is not None
        if not is_counted:
            (folder / "books" / "counts.csv").unlink()
        for name, text in FILES.items():
            (folder / name).write_text(text)
        begun = time.process_time()
        build(house, folder / "books", n_years, is_counted)
        size = store.ledger_path(folder / "books").stat().st_size / 2**20
        print(f"{n_years} years, {size:.0f} MB, built in {time.process_time() - begun:.0f} s")
        yield folder
    finally:
        shutil.rmtree(folder)


def everything(folder: Path) -> str:
    """A count of every item of the house."""
    house, _ = read_house(folder / "config")
    assert house is not None
    items = [*house.ingredients, *house.recipes]
    rows = "".join(f"{ON},{item},5,{house.unit_of(item)}\n" for item in items)
    return f"counted_on,item,quantity,unit\n{rows}"


def build(house: House, books: Path, n_years: int, is_counted: bool) -> None:
    """Write the ledger, a week in a transaction."""
    rng = np.random.default_rng(1)
    offers = [o for one in house.ingredients.values() for o in one.offers if o.price is not None]
    with store.open_ledger(books) as ledger:
        ledger.execute("PRAGMA synchronous = OFF")
        for week in range(52 * n_years, 0, -1):
            monday = ON - timedelta(days=7 * week + 3)
            with store.transaction(ledger):
                for paper, on in papers(house, offers, monday, rng):
                    if is_counted or paper.kind != COUNT:
                        register.write(ledger, paper, on, "PO-")
                for n in (0, 3):
                    issue(ledger, house, monday + timedelta(n))


def papers(
    house: House, offers: Sequence[Offer], monday: date, rng: np.random.Generator
) -> list[tuple[Paper, date]]:
    """The papers of a week, each with the day it is booked."""
    found: list[tuple[Paper, date]] = []
    for _ in range(20):
        vendor = str(rng.choice(sorted({o.vendor for o in offers})))
        day = monday + timedelta(int(rng.integers(1, 7)))
        mine = [o for o in offers if o.vendor == vendor]
        picked = [mine[i] for i in rng.permutation(len(mine))[:9]]
        lines = tuple(
            Line(
                day,
                o.item,
                o.pack_quantity * 2,
                house.unit_of(o.item),
                vendor,
                o.code,
                2.0,
                o.price,
                2 * (o.price or Decimal(0)),
                2,
            )
            for o in picked
        )
        found.append((Paper(ORDER, day, lines, party=vendor, run=f"run {monday}"), day - timedelta(1)))
        came = tuple(
            Line(day, o.item, o.pack_quantity * 2, house.unit_of(o.item), vendor, o.code, 2.0, o.price)
            for o in picked
        )
        found.append((Paper(DELIVERY, day, came, party=vendor, source="door.xlsx"), day))
    items = [*house.ingredients, *house.recipes]
    counted = tuple(Line(monday, i, float(rng.integers(1, 20)), house.unit_of(i)) for i in items)
    found.append((Paper(COUNT, monday, counted, source="count.xlsx"), monday))
    recipes = list(house.recipes)
    for n in range(7):
        day = monday + timedelta(n)
        waste = tuple(
            Line(day, items[i], 0.1, house.unit_of(items[i]), reason="old")
            for i in rng.integers(0, len(items), 4)
        )
        made = tuple(
            Line(day, recipes[i], 1.0, house.unit_of(recipes[i]), drawn=0.0)
            for i in rng.integers(0, len(recipes), 8)
        )
        found += [(Paper(WASTE, day, waste), day), (Paper(BATCHES, day, made), day)]
    return found


def issue(ledger: object, house: House, on: date) -> None:
    """A forecast as a run keeps it: covers and dishes of two services a day."""
    version = register.write(ledger, Paper(FORECAST, on, (), run=f"run {on}"), on)  # type: ignore[arg-type]
    rows = [
        (version, (on + timedelta(n)).isoformat(), service, dish, 10.0, *(float(q) for q in range(5, 12)))
        for n in range(N_DAYS_FORESEEN)
        for service in ("lunch", "dinner")
        for dish in ("*", *list(house.dishes)[: len(house.dishes) // 2])
    ]
    ledger.executemany(f"INSERT INTO portions VALUES ({','.join('?' * 12)})", rows)  # type: ignore[attr-defined]


def measured(folder: Path, words: str) -> float:
    """CPU seconds of a command run once, printed with how it ended."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    call = "import sys; from ordering.cli import command; command()"
    command = [sys.executable, "-c", call, *words.split(), "--on", ON.isoformat()]
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    done = subprocess.run(command, cwd=folder, capture_output=True, text=True, check=False, env=environment)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    seconds = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    said = (done.stderr or done.stdout).strip().splitlines()
    print(
        f"{words[:44]:44} {seconds:6.1f} s  exit {done.returncode}  {said[-1][:50] if said else ''}",
        flush=True,
    )
    return seconds


if __name__ == "__main__":
    main()
