"""The whole demo order beside a bare import of the libraries it stands on, its peak memory, and it alone.

    python tests/bench/whole_order.py

Times are whole processes, taken in turn, medians of seven, with all code compiled beforehand as an installed
program has it. The order's budget is twice the import. GLM is imported both ways: from statsmodels.api, as
people do, and from its own module alone, which is quicker. The warm order is one of several in a process that
has imported everything. Ends with 1 where the order takes longer than `BUDGET` or `WARM`.
"""

from __future__ import annotations

import contextlib
import io
import os
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))
from ordering.cli import main as run
from ordering.memory import collect_rarely

ROOT = Path(__file__).parents[2]
RUNS = 7
BUDGET = 2.0
"""Most times the usual import, by the wall, that the order may take."""
WARM = 1.2
"""Most processor seconds of a warm order, on an otherwise idle core."""
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


def warm(order: list[str], folder: Path) -> float:
    """Processor seconds of an order in a process that has made one already, median of five."""
    collect_rarely()
    took = []
    for n in range(6):
        begun = time.process_time()
        with contextlib.redirect_stdout(io.StringIO()), contextlib.chdir(ROOT):
            run([*order, "--runs", str(folder / f"warm-{n}")])
        took.append(time.process_time() - begun)
        for ledger in folder.glob("books/ledger*"):
            ledger.unlink()
    return statistics.median(took[1:])


def main() -> int:
    with tempfile.TemporaryDirectory() as folder:
        books = Path(folder) / "books"
        books.mkdir()
        for book in (ROOT / "demo").glob("*.csv"):
            shutil.copy(book, books)
        asked = ["order", "--config", "config", "--books", str(books), "--on", "2026-11-26"]
        order = [sys.executable, "-m", "ordering.cli", *asked, "--runs", str(Path(folder) / "runs")]
        commands = {
            "usual": [sys.executable, "-c", USUAL],
            "lean": [sys.executable, "-c", LEAN],
            "order": order,
        }
        compiled = Path(folder) / "compiled"
        for command in commands.values():
            measured(command, compiled)
        rounds = [{name: measured(line, compiled) for name, line in commands.items()} for _ in range(RUNS)]
        for ledger in books.glob("ledger*"):
            ledger.unlink()
        alone = warm(asked, Path(folder))
    for name in commands:
        wall, cpu, peak = (statistics.median(one[name][k] for one in rounds) for k in range(3))
        print(f"{name:<8}{wall:6.2f} s wall {cpu:6.2f} s processor {peak:6.0f} MB peak")
    for name in ("lean", "usual"):
        ratios = [one["order"][0] / one[name][0] for one in rounds]
        low, middle, high = min(ratios), statistics.median(ratios), max(ratios)
        print(f"order / {name} import, round by round: {middle:.2f}  ({low:.2f} to {high:.2f})")
    print(f"warm order {alone:.2f} s processor, at most {WARM} is stated")
    return int(middle > BUDGET or alone > WARM)


if __name__ == "__main__":
    sys.exit(main())
