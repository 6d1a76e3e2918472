"""Make eight weeks that the demo house has lived through: all invented, booked by the program's own commands.

    python demo/make_past.py                    # ledger.sqlite and counts.csv of the repository
    python demo/make_past.py --out /tmp/books   # the same into a copy of the books

Every Thursday the house counts, runs the order and places it; vans come short, heavy or dearer; batches and
waste are written down; the forecasts stay as issued. What is counted is what the program expects, less what a
kitchen spills, eats and never writes down. The last count, of the Thursday of README, goes into counts.csv.
Run make_books.py first. It takes about two minutes.
"""

from __future__ import annotations

import argparse
import contextlib
import csv
import io
import shutil
import sys
import tempfile
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from pathlib import Path

import numpy as np
from invented_demand import SEED, sittings
from invented_stock import WHOLE, counts, morning
from make_books import thrown, write

from ordering import cli
from ordering.ledger.store import with_ledger
from ordering.net.opening import opening
from ordering.read.books_folder import read_books
from ordering.read.house_folder import read_house
from ordering.records.books import Books, Lot
from ordering.records.house import House

LAST_THURSDAY = date(2026, 11, 26)
N_WEEKS = 8
WEEK = timedelta(weeks=1)
Rows = list[Sequence[object]]
# Batches that go over the scales when they are ready; of others the recipe is believed.
WEIGHED = ("aged-rib", "smoked-trout", "rib-steaks", "trout-fillets")
COUNT = "counted_on item quantity unit use_by ready_on"
# Ribs in their bags when the eight weeks begin: what was ordered before them has come.
HELD = {"rib": 42.0, "duck": 8.0}
# Two deliveries of ribs fall short in a row: five weeks later too few are ready.
SHORT = {("BB-109", date(2026, 11, 6)): 0, ("BB-109", date(2026, 11, 13)): 1}
# Prices that move: vendor, from which day, by how much in all.
DEARER = (
    ("sallowgate-butchers", date(2026, 10, 13), 1.025),
    ("sallowgate-butchers", date(2026, 11, 3), 1.05),
    ("pallowbeck-dairy", date(2026, 11, 10), 1.04),
    ("larkstore", date(2026, 10, 21), 1.015),
)
# What goes that nobody writes down, as a share of what is there at a count.
UNWRITTEN = {"butter": 0.06, "double-cream": 0.05, "port": 0.08, "almonds": 0.07, "prawns": 0.05}
USUALLY = 0.02
WRITTEN = (0.4, 0.8)  # share of what goes past its date that somebody writes down


@dataclass(frozen=True, slots=True)
class Place:
    """Where it all happens: the configuration, a copy of the books, the runs."""

    config: Path
    books: Path
    runs: Path

    def command(self, *words: str, on: date) -> None:
        """A command as a person would give it; stops where the program refuses.

        Raises
        ------
        SystemExit : the command was refused
        """
        said = io.StringIO()
        where = ["--config", str(self.config), "--books", str(self.books), "--runs", str(self.runs)]
        with contextlib.redirect_stdout(said), contextlib.redirect_stderr(said):
            status = cli.main([*words, *where, "--on", on.isoformat()])
        if status > 1:
            sys.stderr.write(f"ordering {' '.join(words)} on {on}:\n{said.getvalue()}")
            raise SystemExit(2)


def rng(day: date, what: int, name: str = "") -> np.random.Generator:
    """Chance of its own for each day and thing."""
    return np.random.default_rng([SEED, day.toordinal(), what, *name.encode()])


def books_until(source: Path, place: Place, on: date) -> None:
    """Sales, covers and bookings as they stood on the morning of a day."""
    for book, column in (("sales", "date"), ("covers", "date"), ("bookings", "taken_on")):
        with (source / f"{book}.csv").open(encoding="utf-8", newline="") as file:
            head, *rows = csv.reader(file)
        end = on + timedelta(days=1) if book == "bookings" else on  # bookings of the morning are known
        at = head.index(column)
        write(place.books / f"{book}.csv", " ".join(head), [r for r in rows if r[at] < end.isoformat()])


def known_books(house: House, place: Place, on: date) -> Books:
    books, faults = read_books(place.books, house)
    if books is None:
        raise SystemExit("\n".join(str(fault) for fault in faults))
    return with_ledger(books, house, place.books, on)


def first_count(house: House, source: Path, on: date) -> Iterator[Sequence[object]]:
    """The count the eight weeks begin with: enough of everything until the first vans."""
    past = [s for s in sittings(house, on) if s.day < on]
    for counted_on, item, quantity, unit, use_by, ready_on in counts(morning(house, on, past)):
        there = max(quantity, HELD.get(item, 0.0))
        yield counted_on, item, f"{there:g}", unit, use_by or "", ready_on or ""


def later_count(house: House, place: Place, on: date) -> Rows:
    """Rows of a count: what should be there, less what went without a word."""
    books = as_of(known_books(house, place, on), on)
    there: dict[tuple[str, object, object], float] = {}
    for lot in opening(house, books, on).lots:
        key = (lot.item, lot.use_by or "", lot.ready_on if _is_under_way(lot, on) else "")
        there[key] = there.get(key, 0.0) + lot.quantity * (1 - _lost(house, lot, on))
    rows: Rows = []
    for (item, use_by, ready_on), quantity in there.items():
        unit = house.unit_of(item)
        quantity = round(quantity) if unit in WHOLE else round(quantity, 2)
        if quantity > 0:
            rows.append((on, item, f"{quantity:g}", unit, use_by, ready_on))
    seen = {row[1] for row in rows}
    everything = [*house.ingredients, *(r.id for r in house.recipes.values() if r.keeps_days)]
    return rows + [(on, item, "0", house.unit_of(item), "", "") for item in everything if item not in seen]


def gone_off(house: House, place: Place, week: date) -> Rows:
    """Rows of waste: what was past its date in a week, thrown away on the last day it had.

    It is what there would be if nothing had a date, less what there is; a part of it is never written down.
    """
    after = week + WEEK
    books = known_books(house, place, after)
    last: dict[str, date] = {}
    for n in range(7):
        day = week + timedelta(days=n)
        last |= {x.item: day for x in opening(house, as_of(books, day), day).lots if x.use_by == day}
    dated, undated = (
        _totals(opening(one, other, after).lots)
        for one, other in ((house, as_of(books, after)), _without_dates(house, as_of(books, after)))
    )
    rows: Rows = []
    for item, day in sorted(last.items()):
        written = rng(day, 24, item).uniform(*WRITTEN)
        quantity = (undated.get(item, 0.0) - dated.get(item, 0.0)) * written
        quantity = round(quantity) if house.unit_of(item) in WHOLE else round(quantity, 2)
        if quantity > 0:
            rows.append((day, item, f"{quantity:g}", house.unit_of(item), "past its date"))
    return rows


def as_of(books: Books, on: date) -> Books:
    """Without counts after a morning, and without what came from that day on."""
    return replace(
        books,
        counts=tuple(c for c in books.counts if c.counted_on <= on),
        receipts=tuple(r for r in books.receipts if r.delivered_on < on),
    )


def _without_dates(house: House, books: Books) -> tuple[House, Books]:
    goods = {i.id: replace(i, keeps_days=None) for i in house.ingredients.values()}
    made = {r.id: replace(r, keeps_days=None, hazards=()) for r in house.recipes.values()}
    return (
        replace(house, ingredients=goods, recipes=made),
        replace(
            books,
            counts=tuple(replace(c, use_by=None) for c in books.counts),
            receipts=tuple(replace(r, use_by=None) for r in books.receipts),
        ),
    )


def _totals(lots: Iterable[Lot]) -> dict[str, float]:
    found: dict[str, float] = {}
    for lot in lots:
        found[lot.item] = found.get(lot.item, 0.0) + lot.quantity
    return found


def _is_under_way(lot: Lot, on: date) -> bool:
    return lot.ready_on is not None and lot.ready_on > on


def _lost(house: House, lot: Lot, on: date) -> float:
    """Share of a lot that went since the last count and was never written down."""
    usual = UNWRITTEN.get(lot.item, USUALLY if lot.item in house.ingredients else 0.0)
    return 0.0 if _is_under_way(lot, on) else usual * rng(on, 21, lot.item).uniform(0.3, 1.7)


def due(place: Place, house: House, week: date) -> dict[date, list[tuple[str, str, int]]]:
    """What was placed by this and earlier runs, by delivery day of the week: vendor, code, packs."""
    found: dict[date, list[tuple[str, str, int]]] = {}
    for run in sorted(place.runs.iterdir()):
        with (run / "orders.csv").open(encoding="utf-8", newline="") as file:
            for row in csv.DictReader(file):
                day = date.fromisoformat(row["deliver_on"])
                if week <= day < week + WEEK:
                    found.setdefault(day, []).append((row["vendor"], row["code"], int(row["packs"])))
    return found


def came(house: House, day: date, lines: Iterable[tuple[str, str, int]]) -> Iterator[Sequence[object]]:
    """Rows of a delivery: now and then short, weighed goods by their weight, prices of the day."""
    offers = {(o.vendor, o.code): o for i in house.ingredients.values() for o in i.offers}
    for vendor, code, packs in sorted(lines):
        offer, chance = offers[vendor, code], rng(day, 22, code)
        is_short = chance.random() < 0.025
        arrived = SHORT.get((code, day), max(0, packs - 1) if is_short else packs)
        weight = chance.uniform(0.96, 1.05) if offer.is_catch_weight else 1.0
        quantity = round(arrived * offer.pack_quantity * weight, 2)
        price = float(offer.price_per or offer.price or 0)
        price *= max([f for v, since, f in DEARER if v == vendor and day >= since], default=1.0)
        is_charged_more = offer.price_per is not None or not offer.breaks
        yield (
            day, vendor, code, arrived, f"{quantity:g}", house.unit_of(offer.item),
            f"{price:.2f}" if is_charged_more and arrived else "",
        )  # fmt: skip


def begun(place: Place, house: House, week: date) -> Iterator[Sequence[object]]:
    """Batches of the week as the start list asked for them, weighed in and out."""
    with (place.runs / week.isoformat() / "starts.csv").open(encoding="utf-8", newline="") as file:
        for row in csv.DictReader(file):
            recipe, day = house.recipes[row["recipe"]], date.fromisoformat(row["start_on"])
            is_written = recipe.takes_days > 0 or recipe.id in WEIGHED
            if not is_written or not recipe.lines or not week <= day < week + WEEK:
                continue
            batches, chance = float(row["batches"]), rng(day, 23, recipe.id)
            drawn = batches * recipe.lines[0].drawn
            gave = min(chance.normal(0.995, 0.012), 1.05) if recipe.id in WEIGHED else 1.0
            made = batches * recipe.makes * gave
            made = round(made) if recipe.unit in WHOLE else round(made, 2)
            if drawn > 0 and made > 0:
                unit = house.unit_of(recipe.lines[0].item)
                yield day, recipe.id, f"{drawn:.3f}", f"{made:g}", recipe.unit, unit


def live(house: House, source: Path, place: Place) -> None:
    """The eight weeks, Thursday by Thursday, up to the count of the last morning."""
    first = LAST_THURSDAY - N_WEEKS * WEEK
    papers = place.books.parent
    books_until(source, place, first)
    write(papers / "count.csv", COUNT, first_count(house, source, first))
    place.command("count", str(papers / "count.csv"), "--yes", on=first)
    for n in range(N_WEEKS):
        on = first + n * WEEK
        place.command("order", on=on)
        place.command("place", on.isoformat(), on=on)
        for day, lines in sorted(due(place, house, on).items()):
            paper = papers / f"delivery-{day}.csv"
            write(paper, "delivered_on vendor code packs quantity unit price", came(house, day, lines))
            place.command("receive", str(paper), "--yes", on=day)
        after = on + WEEK
        books_until(source, place, after)
        paper = papers / f"batches-{on}.csv"
        write(paper, "started_on recipe drawn made unit drawn_unit", begun(place, house, on))
        place.command("count", str(paper), "--yes", on=after)
        days = [row for row in thrown(house, after - timedelta(days=1)) if on <= row[0] < after]
        paper = papers / f"waste-{on}.csv"
        write(paper, "date item quantity unit reason", [*days, *gone_off(house, place, on)])
        place.command("count", str(paper), "--yes", on=after)
        rows = later_count(house, place, after)
        if n + 1 < N_WEEKS:
            write(papers / f"count-{after}.csv", COUNT, rows)
            place.command("count", str(papers / f"count-{after}.csv"), "--yes", on=after)
        else:
            write(place.books / "counts.csv", COUNT, rows)


def earlier(path: Path, column: int, before: date) -> None:
    """Keep the rows of a book from before the eight weeks: what came later is in the ledger."""
    with path.open(encoding="utf-8", newline="") as file:
        head, *rows = csv.reader(file)
    write(path, " ".join(head), [row for row in rows if row[column] < before.isoformat()])


def main() -> int:
    parser = argparse.ArgumentParser(description="Make eight lived weeks of the demo house.")
    here = Path(__file__).resolve().parent
    parser.add_argument("--config", type=Path, default=here.parent / "config")
    parser.add_argument("--books", type=Path, default=here, help="books made by make_books.py")
    parser.add_argument("--out", type=Path, default=here)
    options = parser.parse_args()
    house, faults = read_house(options.config)
    if house is None:
        sys.stderr.write("\n".join(str(fault) for fault in faults) + "\n")
        return 2
    with tempfile.TemporaryDirectory() as scratch:
        place = Place(options.config, Path(scratch) / "books", Path(scratch) / "runs")
        place.books.mkdir()
        for book in ("waste", "batches"):
            shutil.copy(options.books / f"{book}.csv", place.books)
            earlier(place.books / f"{book}.csv", 0, LAST_THURSDAY - N_WEEKS * WEEK)
        live(house, options.books, place)
        options.out.mkdir(parents=True, exist_ok=True)
        for name in ("counts.csv", "waste.csv", "batches.csv", "ledger.sqlite"):
            shutil.copy(place.books / name, options.out)
    (options.out / "open_orders.csv").unlink(missing_ok=True)  # what is on order is in the ledger now
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
