"""The whole demo order beside a bare import of the libraries it stands on, and its peak memory.

    python tests/bench/whole_order.py

Times are whole processes, taken in turn, medians of seven. The order's budget is twice the import.
"""

from __future__ import annotations

import os
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).parent.parent.parent
RUNS = 7
IMPORTS = (
    "import pandas, statsmodels.genmod.generalized_linear_model, scipy.optimize, pydantic, yaml, xlsxwriter"
)


def measured(command: list[str]) -> tuple[float, float, float]:
    """Wall seconds, processor seconds and peak megabytes of one process."""
    begun = time.perf_counter()
    process = subprocess.Popen(command, stdout=subprocess.DEVNULL, cwd=ROOT)
    _, _, usage = os.wait4(process.pid, 0)
    return time.perf_counter() - begun, usage.ru_utime + usage.ru_stime, usage.ru_maxrss / 1024


def main() -> None:
    with tempfile.TemporaryDirectory() as folder:
        books = Path(folder) / "books"
        books.mkdir()
        for book in (ROOT / "demo").glob("*.csv"):
            shutil.copy(book, books)
        order = [sys.executable, "-m", "ordering.cli", "order", "--config", "config", "--books", str(books)]
        order += ["--runs", str(Path(folder) / "runs"), "--on", "2026-11-26"]
        bare = [sys.executable, "-c", IMPORTS]
        measured(bare), measured(order)
        pairs = [(measured(bare), measured(order)) for _ in range(RUNS)]
    for name, n in (("import", 0), ("order", 1)):
        wall, cpu, peak = (statistics.median(pair[n][k] for pair in pairs) for k in range(3))
        print(f"{name:<8}{wall:6.2f} s wall {cpu:6.2f} s processor {peak:6.0f} MB peak")
    ratios = [pair[1][0] / pair[0][0] for pair in pairs]
    low, middle, high = min(ratios), statistics.median(ratios), max(ratios)
    print(f"order / import, pair by pair: {middle:.2f}  ({low:.2f} to {high:.2f})")


if __name__ == "__main__":
    main()
