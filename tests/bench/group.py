"""A group of copies of the demo house: seconds a house, memory of a worker, and what is moved.

    python tests/bench/group.py [N ...]      (default 10 100; each house has a seed of its own)

The stated least: seconds a house within a tenth from the smallest group to the largest, at most 1.3 times a
warm single order in one process, memory of a worker no more than a tenth above that of the smallest group.
Workers are two processes of this machine. Written in a temporary folder, which needs about 1 MB a house.
"""

from __future__ import annotations

import pickle
import shutil
import sys
import tempfile
import threading
import time
from datetime import date
from pathlib import Path

import psutil

from ordering.group.one_house import Task, run_house
from ordering.group.workers import run_all, workers
from ordering.read.group_file import read_group

ROOT = Path(__file__).parents[2]
ON = date(2026, 11, 26)
WORKERS = 2


def copies(home: Path, n: int) -> dict[str, Task]:
    """`n` houses with the demo's files, each with its own seed and its own books folder."""
    lines = ["name: Copies", "houses:"]
    for i in range(n):
        house = home / f"h{i}"
        shutil.copytree(ROOT / "config", house / "config")
        shutil.copytree(
            ROOT / "demo", house / "books", ignore=shutil.ignore_patterns("*.py", "pictures", "*.sqlite")
        )
        file = house / "config" / "house.yaml"
        file.write_text(file.read_text("utf-8").replace("seed: 1}", f"seed: {i + 1}}}"), "utf-8")
        lines.append(f"  h{i}: {{config: h{i}/config, books: h{i}/books, runs: h{i}/runs}}")
    (home / "group.yaml").write_text("\n".join(lines) + "\n", "utf-8")
    group = read_group(home / "group.yaml")
    return {i: Task(member, None, ON) for i, member in group.members.items()}


class Memory(threading.Thread):
    """Largest resident memory of any worker, in MB, looked at twice a second."""

    def __init__(self) -> None:
        super().__init__(daemon=True)
        self.most = 0.0
        self.is_over = threading.Event()

    def run(self) -> None:
        while not self.is_over.wait(0.5):
            for child in psutil.Process().children(recursive=True):
                try:
                    self.most = max(self.most, child.memory_info().rss / 1e6)
                except psutil.Error:
                    continue


def warm_single(home: Path) -> float:
    """Seconds of one house in this process, the libraries loaded: the least of three."""
    tasks = copies(home, 4)
    seconds = [run_house(task).seconds or 0.0 for task in tasks.values()]
    return min(seconds[1:])


def main() -> None:
    sizes = [int(arg) for arg in sys.argv[1:]] or [10, 100]
    with tempfile.TemporaryDirectory() as scratch:
        single = warm_single(Path(scratch) / "single")
    print(f"one house, warm: {single:.2f} s")
    print("houses  wall s  s a house and worker  worker MB  result kB")
    for n in sizes:
        with tempfile.TemporaryDirectory() as scratch:
            tasks = copies(Path(scratch), n)
            memory = Memory()
            memory.start()
            began = time.perf_counter()
            with workers(WORKERS) as client:
                runs = run_all(client, tasks, {})
            wall = time.perf_counter() - began
            memory.is_over.set()
        assert all(run.exit < 2 for run in runs.values())
        seconds = sorted(run.seconds or 0.0 for run in runs.values())
        mean = sum(seconds[: -WORKERS or None]) / (
            n - WORKERS
        )  # each worker's first house loads the libraries
        size = len(pickle.dumps(runs["h0"])) / 1e3
        print(f"{n:>6}  {wall:>6.1f}  {mean:>20.2f}  {memory.most:>9.0f}  {size:>9.1f}")


if __name__ == "__main__":
    main()
