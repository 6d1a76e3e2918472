"""The whole demo order beside a bare import of the libraries it stands on, and its peak memory.

    python tests/bench/whole_order.py

Times are whole processes, taken in turn, medians of seven, with all code compiled beforehand as an installed
program has it. The order's budget is twice the import. GLM is imported both ways: from statsmodels.api, as
people do, and from its own module alone, which is quicker.
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
OTHERS = "scipy.optimize, pydantic, yaml, xlsxwriter"
USUAL = f"import pandas, statsmodels.api, {OTHERS}"
LEAN = f"import pandas, statsmodels.genmod.generalized_linear_model, {OTHERS}"


def measured(command: list[str], compiled: Path) -> tuple[float, float, float]:
    """Wall seconds, processor seconds and peak megabytes of one process that keeps compiled code there."""
    env = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
    env["PYTHONPYCACHEPREFIX"] = str(compiled)
    begun = time.perf_counter()
    process = subprocess.Popen(command, stdout=subprocess.DEVNULL, cwd=ROOT, env=env)
    _, status, usage = os.wait4(process.pid, 0)
    if os.waitstatus_to_exitcode(status) > 1:
        sys.exit(f"this failed, so there is nothing to measure: {' '.join(command)}")
    return time.perf_counter() - begun, usage.ru_utime + usage.ru_stime, usage.ru_maxrss / 1024


def main() -> None:
    with tempfile.TemporaryDirectory() as folder:
        books = Path(folder) / "books"
        books.mkdir()
        for book in (ROOT / "demo").glob("*.csv"):
            shutil.copy(book, books)
        order = [sys.executable, "-m", "ordering.cli", "order", "--config", "config", "--books", str(books)]
        order += ["--runs", str(Path(folder) / "runs"), "--on", "2026-11-26"]
        commands = {
            "usual": [sys.executable, "-c", USUAL],
            "lean": [sys.executable, "-c", LEAN],
            "order": order,
        }
        compiled = Path(folder) / "compiled"
        for command in commands.values():
            measured(command, compiled)
        rounds = [{name: measured(line, compiled) for name, line in commands.items()} for _ in range(RUNS)]
    for name in commands:
        wall, cpu, peak = (statistics.median(one[name][k] for one in rounds) for k in range(3))
        print(f"{name:<8}{wall:6.2f} s wall {cpu:6.2f} s processor {peak:6.0f} MB peak")
    for name in ("usual", "lean"):
        ratios = [one["order"][0] / one[name][0] for one in rounds]
        low, middle, high = min(ratios), statistics.median(ratios), max(ratios)
        print(f"order / {name} import, round by round: {middle:.2f}  ({low:.2f} to {high:.2f})")


if __name__ == "__main__":
    main()
