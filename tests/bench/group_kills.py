"""Workers of a group killed at random while it runs: every house whole, and the same bytes as without.

    python tests/bench/group_kills.py [N]      (default 50 copies of the demo; one of them is broken)

The houses are run in peace first, then again with a worker killed every few seconds. The stated least (exit
1 where it is missed): every house but the broken one is run, each has one run folder with the bytes of the
calm run, the broken one is refused with its fault, and no fewer than three workers were killed.
"""

from __future__ import annotations

import filecmp
import random
import shutil
import signal
import sys
import tempfile
import threading
from pathlib import Path

import psutil
from group import ON, WORKERS, copies

from ordering.group.one_house import Task
from ordering.group.workers import run_all, workers

SECONDS = (2.0, 12.0)  # from one kill to the next
MOST_KILLED = 12  # so that a slow machine, too, comes to an end


class Killer(threading.Thread):
    """Kills one worker process of this program, chosen by chance, every few seconds."""

    def __init__(self) -> None:
        super().__init__(daemon=True)
        self.n_killed = 0
        self.is_over = threading.Event()
        self.chance = random.Random(1)

    def run(self) -> None:
        while self.n_killed < MOST_KILLED and not self.is_over.wait(self.chance.uniform(*SECONDS)):
            every = psutil.Process().children(recursive=True)
            working = [p for p in every if "spawn_main" in " ".join(p.cmdline())]
            if working:
                self.chance.choice(working).send_signal(signal.SIGKILL)
                self.n_killed += 1


def run(tasks: dict[str, Task], killer: Killer | None = None) -> dict[str, tuple[int, tuple[str, ...]]]:
    """By house its exit and its faults."""
    with workers(WORKERS) as client:
        if killer:
            killer.start()
        found = run_all(client, tasks, {})
        if killer:
            killer.is_over.set()
            killer.join()
    return {house: (one.exit, one.faults) for house, one in found.items()}


def is_same(one: Path, other: Path) -> bool:
    """Whether two folders hold the same files with the same bytes."""
    names = sorted(p.relative_to(one) for p in one.rglob("*") if p.is_file())
    theirs = sorted(p.relative_to(other) for p in other.rglob("*") if p.is_file())
    return names == theirs and all(filecmp.cmp(one / n, other / n, shallow=False) for n in names)


def main() -> int:
    n = int(sys.argv[1]) if len(sys.argv) > 1 else 50
    with tempfile.TemporaryDirectory() as scratch:
        tasks = copies(Path(scratch), n)
        broken = f"h{n // 2}"
        menu = tasks[broken].member.config / "menu.yaml"
        menu.write_text(menu.read_text("utf-8") + "\nspare: {portion: 2 kilometres}\n", "utf-8")
        calm = run(tasks)
        for task in tasks.values():
            if task.member.runs.exists():
                shutil.move(task.member.runs, task.member.books / "calm")
            (task.member.books / "ledger.sqlite").unlink(missing_ok=True)
        killer = Killer()
        found = run(tasks, killer)
        wrong = [] if found == calm else ["some houses came out otherwise"]
        wrong += [] if found[broken][0] == 2 and found[broken][1] else ["the broken house was not refused"]
        for house, task in tasks.items():
            if house == broken:
                wrong += [f"{house} wrote"] if task.member.runs.exists() else []
            elif [p.name for p in task.member.runs.iterdir()] != [ON.isoformat()]:
                wrong.append(f"{house} has something beside its run")
            elif not is_same(task.member.runs, task.member.books / "calm"):
                wrong.append(f"{house} is not what it was")
        if killer.n_killed < 3:
            wrong.append("hardly a worker was killed")
    print(f"{n} houses, {killer.n_killed} workers killed: {'; '.join(wrong) or 'all whole, the same bytes'}")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
