"""What a command leaves behind when it is killed at any of its writes, and commands run at the same time."""

from __future__ import annotations

import hashlib
import os
import re
import shutil
import sqlite3
import sys
import warnings
from collections.abc import Callable, Sequence
from pathlib import Path

WRITES = {"os.rename", "os.remove", "os.mkdir", "os.rmdir"}
STATEMENTS = ("INSERT", "UPDATE", "CREATE", "BEGIN", "COMMIT")
_BY_CHANCE = re.compile(r"[a-z0-9_]{8}$")  # how names of unfinished files and folders end


def left_behind(command: Callable[[], object], folder: Path, into: Path) -> list[Path]:
    """Copies of a folder as a command leaves it that is killed at any of its writes, and at its end.

    A write is whatever may leave a trace: a file opened for writing, brought to disk, renamed or taken away,
    a statement that changes the ledger. Just before each the folder is copied: that is what a killed process
    leaves, for all it has written is in the files. States that are alike are kept once.
    """
    into.mkdir()
    _wait([_fork(lambda: (_copy_before_every_write(folder, into), command()))])
    shutil.copytree(folder, into / "9999")
    return sorted(into.iterdir())


def at_once(commands: Sequence[Callable[[], object]]) -> None:
    """Run commands at the same time, each in a process of its own that begins when all are there."""
    ready, go = os.pipe()
    children = [_fork(lambda command=command: (os.read(ready, 1), command())) for command in commands]
    os.write(go, b"!" * len(commands))
    _wait(children)
    os.close(ready)
    os.close(go)


def _wait(children: Sequence[int]) -> None:
    ended = [os.waitpid(child, 0)[1] for child in children]
    assert not any(ended), "a command failed by itself: see above"


def _fork(work: Callable[[], object]) -> int:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", DeprecationWarning)  # of threads: those here only wait for work
        child = os.fork()
    if child:
        return child
    status = 1
    try:
        work()
        status = 0
    except BaseException as error:
        sys.stderr.write(f"{type(error).__name__}: {error}\n")
    finally:
        os._exit(status)


def _copy_before_every_write(folder: Path, into: Path) -> None:
    seen: set[str] = set()
    is_copying = False

    def write() -> None:
        nonlocal is_copying
        if is_copying:
            return
        is_copying = True
        if (state := _state(folder)) not in seen:
            shutil.copytree(folder, into / f"{len(seen):04d}")
            seen.add(state)
        is_copying = False

    def heard(event: str, given: tuple[object, ...]) -> None:
        if event in WRITES or (event == "open" and isinstance(given[2], int) and given[2] & os.O_CREAT):
            write()

    class Watched(sqlite3.Connection):
        def execute(self, statement: str, *values: object) -> sqlite3.Cursor:
            if statement.lstrip().startswith(STATEMENTS):
                write()
            return super().execute(statement, *values)

        def executemany(self, statement: str, *values: object) -> sqlite3.Cursor:
            write()
            return super().executemany(statement, *values)

    connect, fsync = sqlite3.connect, os.fsync
    sqlite3.connect = lambda *a, **k: connect(*a, factory=Watched, **k)
    os.fsync = lambda handle: (write(), fsync(handle))
    sys.addaudithook(heard)


def _state(folder: Path) -> str:
    """What stands in a folder, whatever unfinished files and folders are called."""
    digest = hashlib.sha256()
    for path in sorted(folder.rglob("*")):
        names = (_BY_CHANCE.sub("", part) if part.startswith(".") else part for part in path.parts)
        digest.update("/".join(names).encode())
        digest.update(path.read_bytes() if path.is_file() else b"")
    return digest.hexdigest()
