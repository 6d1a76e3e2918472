"""How long the reader takes: the demo's configuration, and books with 70,000 rows of sales.

Run by hand: `python tests/bench/bench_read.py`. Prints the best of some runs, in seconds.
"""

import csv
import shutil
import tempfile
import time
from collections.abc import Callable
from datetime import date, timedelta
from pathlib import Path

from ordering.read.books_folder import read_books
from ordering.read.checks import doubts
from ordering.read.house_folder import read_house
from ordering.records.house import House

ROOT = Path(__file__).parent.parent.parent
ON = date(2026, 11, 26)
N_ROWS = 70_000
N_RUNS = 7


def best(act: Callable[[], object]) -> float:
    times = []
    for _ in range(N_RUNS):
        begun = time.perf_counter()
        act()
        times.append(time.perf_counter() - begun)
    return min(times)


def long_sales(house: House, path: Path) -> None:
    """Every dish at every service, day after day back from `ON`, in `N_ROWS` rows or a few more."""
    with path.open("w", newline="", encoding="utf-8") as opened:
        rows = csv.writer(opened)
        rows.writerow(("date", "service", "dish", "sold", "sold_out"))
        n, day = 0, ON
        while n < N_ROWS:
            day -= timedelta(days=1)
            for service in house.services:
                rows.writerows((day, service, dish, n % 41, "no") for dish in house.dishes)
                n += len(house.dishes)


def main() -> None:
    house, _ = read_house(ROOT / "config")
    assert house is not None
    with tempfile.TemporaryDirectory() as scratch:
        books_dir = Path(scratch)
        for source in (ROOT / "demo").glob("*.csv"):
            shutil.copy(source, books_dir)
        long_sales(house, books_dir / "sales.csv")
        books, _ = read_books(books_dir, house)
        assert books is not None
        print(f"house  {best(lambda: read_house(ROOT / 'config')):.3f}")
        print(f"books  {best(lambda: read_books(books_dir, house)):.3f}  ({len(books.sales)} rows of sales)")
        print(f"doubts {best(lambda: doubts(house, books, ON)):.3f}")


if __name__ == "__main__":
    main()
