"""A group of copies of the demo house: CPU seconds a house, memory of a worker, and what is sent.

    python tests/bench/group.py [N ...]      (default 10 100; each house has a seed of its own)

Workers are two processes of this machine; each runs one house first, so that loading the libraries is not
counted. Counted are CPU seconds of the workers, which others at work on the machine disturb little. The
smallest group and the single order are measured before and after the largest group, and their means count,
so that a machine that slows down meanwhile is not taken for growth.

The stated least (exit 1 where it is missed): seconds a house within a tenth from the smallest group to the
largest, at most 1.4 times a warm single order (beside it a house is read back, and looked back on for four
weeks), memory of a worker within a tenth of that in the smallest group. Written in a temporary folder, which
needs about 1 MB a house.
"""

from __future__ import annotations

import pickle
import shutil
import statistics
import sys
import tempfile
import threading
import time
from datetime import date
from pathlib import Path

import psutil

from ordering.group.one_house import Task, run_house
from ordering.group.workers import run_all, workers
from ordering.memory import collect_rarely
from ordering.read.group_file import read_group
from ordering.runs import RunTerms, order

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


class Workers(threading.Thread):
    """Looks at the worker processes twice a second: the largest resident memory of any, in MB."""

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


def cpu_seconds() -> float:
    """What the worker processes have used so far."""
    times = [child.cpu_times() for child in psutil.Process().children(recursive=True)]
    return sum(one.user + one.system for one in times)


def warm_single(home: Path) -> float:
    """CPU seconds of `order` in this process, the libraries loaded: the median of five."""
    seconds = []
    collect_rarely()  # as in the command
    for task in copies(home, 6).values():
        began = time.process_time()
        order(task.member.config, task.member.books, task.member.runs, ON, RunTerms(task.at))
        seconds.append(time.process_time() - began)
    return statistics.median(seconds[1:])


def measured(n: int) -> tuple[float, float, float, float]:
    """Wall seconds, CPU seconds a house, MB of the largest worker, and kB of a house's answer."""
    with tempfile.TemporaryDirectory() as scratch:
        every = copies(Path(scratch), n + WORKERS)
        first = dict([every.popitem() for _ in range(WORKERS)])
        looking = Workers()
        with workers(WORKERS) as client:
            for task, worker in zip(first.values(), client.scheduler_info()["workers"], strict=True):
                client.submit(run_house, task, workers=[worker]).result()
            looking.start()
            cpu, began = cpu_seconds(), time.perf_counter()
            runs = run_all(client, every, {})
            wall, cpu = time.perf_counter() - began, cpu_seconds() - cpu
            looking.is_over.set()
    assert all(run.exit < 2 for run in runs.values())
    return wall, cpu / n, looking.most, len(pickle.dumps(runs["h0"])) / 1e3


def main() -> int:
    sizes = sorted(int(arg) for arg in sys.argv[1:]) or [10, 100]
    print("houses  wall s  CPU s a house  one order, warm  worker MB  answer kB")
    found = []
    for n in [*sizes, sizes[0]]:
        with tempfile.TemporaryDirectory() as scratch:
            single = warm_single(Path(scratch))
        wall, cpu, memory, answer = measured(n)
        print(f"{n:>6} {wall:>7.1f} {cpu:>14.2f} {single:>16.2f} {memory:>10.0f} {answer:>10.1f}", flush=True)
        found.append((cpu, single, memory))
    small = statistics.mean([found[0][0], found[-1][0]])
    single = statistics.mean([one for _, one, _ in found])
    largest = found[-2]
    print(
        f"the largest group: {largest[0] / small:.2f} of the smallest, {largest[0] / single:.2f} of one order"
    )
    wrong = [
        name
        for name, is_so in {
            "seconds a house are not flat": largest[0] > 1.1 * small,
            "memory of a worker is not flat": largest[2] > 1.1 * found[0][2],
            "more than 1.4 times the single order": max(small, largest[0]) > 1.4 * single,
        }.items()
        if is_so
    ]
    print("; ".join(wrong) or "within the stated least")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
