"""Make the books of the demo house. Every figure, guest and delivery in them is invented.

    python demo/make_books.py                       # the books in the repository
    python demo/make_books.py --until 2026-12-31 --out /tmp/books

The same days always give the same rows; `--until` only adds later ones.
"""

from __future__ import annotations

import argparse
import csv
import sys
from collections.abc import Iterable, Sequence
from datetime import date, timedelta
from pathlib import Path

import numpy as np
from invented_demand import COMING_DAYS, FIRST_DAY, SEED, Sitting, bookings, sittings
from invented_stock import Morning, counts, morning, open_orders

from ordering.read.house_folder import read_house
from ordering.records.house import House

LAST_DAY = date(2026, 11, 25)
# What is thrown away now and then: item, a usual amount, why.
THROWN = (
    ("spring-greens", 0.6, "yellow"),
    ("mixed-leaves", 0.3, "wilted"),
    ("watercress", 1, "wilted"),
    ("mussels", 0.8, "gaping"),
    ("hake-fillet", 0.4, "past its date"),
    ("seeded-sourdough", 2, "left over"),
    ("mashed-potato", 1.2, "left over"),
    ("hand-cut-chips", 1.5, "left over"),
    ("raspberries", 0.2, "mould"),
    ("double-cream", 0.8, "past its date"),
    ("custard", 0.6, "left over"),
    ("aged-trim", 0.3, "dried out"),
    ("rib-steaks", 0.3, "sent back"),
    ("smoked-trout", 0.2, "past its date"),
)
# Batches weighed in and out: recipe, weekday it is begun, main ingredient drawn, what it gives, spread.
WEIGHED = (
    ("aged-rib", 4, 8.49, 7.5, 0.012),
    ("rib-steaks", 2, 7.0, 5.03, 0.02),
    ("rib-steaks", 5, 7.0, 5.03, 0.02),
    ("trout-fillets", 3, 10.0, 5.9, 0.025),
    ("smoked-trout", 3, 3.0, 2.5, 0.02),
)


def thrown(house: House, until: date) -> Iterable[Sequence[object]]:
    """Rows of waste.csv for the last year: one or two a day."""
    for n in range(364, -1, -1):
        day = until - timedelta(days=n)
        rng = np.random.default_rng([SEED, day.toordinal(), 11])
        for item, usual, why in THROWN:
            if rng.random() < 0.06:
                step = 1.0 if house.unit_of(item) in ("each", "bunch") else 0.1
                quantity = max(step, round(usual * rng.uniform(0.5, 1.6) / step) * step)
                yield day, item, f"{quantity:g}", house.unit_of(item), why


def weighed(until: date) -> Iterable[Sequence[object]]:
    """Rows of batches.csv for the last 14 months."""
    for n in range(425, -1, -1):
        day = until - timedelta(days=n)
        rng = np.random.default_rng([SEED, day.toordinal(), 12])
        for recipe, weekday, drawn, made, spread in WEIGHED:
            size, share = rng.uniform(0.85, 1.15), rng.normal(1.0, spread)
            if weekday == day.weekday():
                yield day, recipe, f"{drawn * size:.2f}", f"{made * size * min(share, 1.1):.2f}", "kg"


def write(path: Path, columns: str, rows: Iterable[Sequence[object]]) -> None:
    """One table, `columns` parted by blanks."""
    with path.open("w", encoding="utf-8", newline="") as file:
        table = csv.writer(file, lineterminator="\n")
        table.writerow(columns.split())
        table.writerows(rows)


def sales_rows(past: list[Sitting]) -> Iterable[Sequence[object]]:
    """A row for each dish on the menu of each service, none sold included."""
    for s in past:
        for dish, sold in sorted(s.sold.items()):
            yield s.day, s.service, dish, sold, "yes" if dish in s.sold_out else "no"


def count_rows(m: Morning) -> Iterable[Sequence[object]]:
    for counted_on, item, quantity, unit, use_by, ready_on in counts(m):
        yield counted_on, item, f"{quantity:.2f}".rstrip("0").rstrip("."), unit, use_by or "", ready_on or ""


def make(house: House, until: date, out: Path) -> None:
    """All books from the first day to `until`; counts are of the morning after."""
    on = until + timedelta(days=1)
    everything = list(sittings(house, on + timedelta(days=COMING_DAYS)))
    past = [s for s in everything if s.day <= until]
    m = morning(house, on, past)
    out.mkdir(parents=True, exist_ok=True)
    write(out / "sales.csv", "date service dish sold sold_out", sales_rows(past))
    write(out / "covers.csv", "date service covers", ((s.day, s.service, s.covers) for s in past))
    write(out / "bookings.csv", "taken_on date service booked", bookings(everything, on))
    write(out / "counts.csv", "counted_on item quantity unit use_by ready_on", count_rows(m))
    write(out / "open_orders.csv", "vendor code packs deliver_on", open_orders(m))
    write(out / "waste.csv", "date item quantity unit reason", thrown(house, until))
    write(out / "batches.csv", "started_on recipe drawn made unit", weighed(until))


def main() -> int:
    parser = argparse.ArgumentParser(description="Make the invented books of the demo house.")
    here = Path(__file__).resolve().parent
    parser.add_argument("--until", type=date.fromisoformat, default=LAST_DAY, help="last day (2026-11-25)")
    parser.add_argument("--config", type=Path, default=here.parent / "config")
    parser.add_argument("--out", type=Path, default=here)
    options = parser.parse_args()
    house, faults = read_house(options.config)
    if house is None or options.until < FIRST_DAY:
        said = [str(fault) for fault in faults] or [f"--until: nothing happened before {FIRST_DAY}"]
        print("\n".join(said), file=sys.stderr)
        return 2
    make(house, options.until, options.out)
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
