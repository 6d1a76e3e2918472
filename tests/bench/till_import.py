"""How long 200,000 rows of a till take to import, and how much memory: run by hand.

`python tests/bench/till_import.py [ROWS]` prints seconds and peak MB; below 20 s and 500 MB is wanted.
"""

import resource
import sys
import tempfile
import time
from datetime import date, timedelta
from pathlib import Path

from ordering.intake.bring import ImportTerms, bring

N_ROWS = int(sys.argv[1]) if len(sys.argv) > 1 else 200_000
DISHES = [f"Dish number {n}" for n in range(40)]


def write(folder):
    config = folder / "config"
    config.mkdir()
    (config / "house.yaml").write_text(
        "name: A\ncurrency: USD\nservices:\n  dinner: {days: [mon, tue, wed, thu, fri, sat, sun]}\n"
    )
    (config / "recipes.yaml").write_text("".join(f"r{n}: {{makes: 1 portion}}\n" for n in range(40)))
    menu = (f"d{n}: {{name: {name}, recipe: r{n}, portion: 1 portion}}\n" for n, name in enumerate(DISHES))
    (config / "menu.yaml").write_text("".join(menu))
    with (folder / "till.csv").open("w") as out:
        out.write("Date,Check,Guests,Item,Qty,Net\n")
        for n in range(N_ROWS):
            day = date(2023, 1, 1) + timedelta(days=n // 150)
            out.write(
                f"{day:%m/%d/%Y} {5 + n % 5}:{n % 60:02} PM,{n // 5},3,{DISHES[n * 7 % 40]},{1 + n % 2},20\n"
            )


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as scratch:
        folder = Path(scratch)
        write(folder)
        begun = time.perf_counter()
        report = bring(
            folder / "config",
            folder / "books",
            "sales",
            [folder / "till.csv"],
            ImportTerms(date(2026, 11, 26), "", True),
        )
        took = time.perf_counter() - begun
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(*report.lines, sep="\n")
    print(f"{N_ROWS:,} rows: {took:.1f} s, {peak:.0f} MB")
