"""Opening the ledger file, bringing it up to date, and writing to it whole or not at all.

The journal is SQLite's rollback journal, not the write-ahead log: the ledger is then one file that can be
copied, mailed or kept on a shared drive (the write-ahead log needs memory shared between processes and
leaves two more files beside it), and a kitchen books a few files a day, so readers that wait a moment for a
writer cost nothing. `synchronous=FULL` makes a finished command outlive a power cut.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress
from pathlib import Path

from ordering.faults import Fault, Refused
from ordering.ledger.schema import APPLICATION_ID, MIGRATIONS, VERSION

FILE = "ledger.sqlite"


class Unsound(Exception):
    """A value in the ledger is not what was written there."""


BUSY_SECONDS = 60.0  # an order holds the ledger while it writes its sheets: about a second


def ledger_path(books_dir: Path) -> Path:
    """Where a house keeps its ledger: beside its books."""
    return books_dir / FILE


@contextmanager
def open_ledger(books_dir: Path, busy_seconds: float = BUSY_SECONDS) -> Iterator[sqlite3.Connection]:
    """The ledger beside the books for writing; the first `transaction` makes it where there is none.

    Raises
    ------
    Refused : no such folder, not a ledger, damaged, written by a later version, or in use for longer
        than `busy_seconds`
    """
    path = ledger_path(books_dir)
    if not books_dir.is_dir():
        raise Refused([Fault(str(books_dir), 0, "", "no such folder", "name the folder of the books")])
    with _said_plainly(path), _connected(path, busy_seconds) as connection:
        connection.execute("PRAGMA synchronous = FULL")
        _version(connection, path)
        yield connection


@contextmanager
def read_ledger(books_dir: Path, busy_seconds: float = BUSY_SECONDS) -> Iterator[sqlite3.Connection | None]:
    """One unchanging view of the ledger, or None where there is none yet. Nothing is written.

    A ledger of an older version is brought up to date in a copy of its own: whoever only looks changes
    nothing.

    Raises
    ------
    Refused : as `open_ledger`; what stands in it is none of what the program writes
    """
    path = ledger_path(books_dir)
    if not path.exists() or path.stat().st_size == 0:
        yield None
        return
    with _said_plainly(path), _connected(path, busy_seconds) as connection:
        if _version(connection, path) == VERSION:
            connection.execute("BEGIN")
            yield connection
            return
        with closing(sqlite3.connect(":memory:", isolation_level=None)) as copy:
            connection.backup(copy)
            copy.execute("BEGIN")
            _migrate(copy, path)
            yield copy


@contextmanager
def _connected(path: Path, busy_seconds: float) -> Iterator[sqlite3.Connection]:
    with closing(sqlite3.connect(path, timeout=busy_seconds, isolation_level=None)) as connection:
        connection.execute("PRAGMA foreign_keys = ON")
        connection.execute("PRAGMA journal_mode = DELETE")
        yield connection


@contextmanager
def transaction(connection: sqlite3.Connection) -> Iterator[None]:
    """Everything inside is written, or nothing: the write lock is taken before anything is read.

    A new ledger gets its tables, an older one is brought up to date, with the first thing that is written. A
    ledger that would have been new leaves no file behind where it was not: it goes while it is still locked,
    and whoever waited for the lock is told to try again.
    """
    connection.execute("BEGIN IMMEDIATE")
    path = Path(connection.execute("PRAGMA database_list").fetchone()[2])
    is_new = False
    try:
        if not path.exists():
            raise sqlite3.OperationalError("locked by a command that could not write it")
        is_new = _version(connection, path) == 0
        _migrate(connection, path)
        yield
    except BaseException:
        if is_new:
            with suppress(OSError):
                path.unlink()
        connection.execute("ROLLBACK")
        raise
    connection.execute("COMMIT")


def _migrate(connection: sqlite3.Connection, path: Path) -> None:
    version = _version(connection, path)
    if version == VERSION:
        return
    for statements in MIGRATIONS[version:]:
        for statement in statements:
            connection.execute(statement)
    connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
    connection.execute(f"PRAGMA user_version = {VERSION}")


def _version(connection: sqlite3.Connection, path: Path) -> int:
    """Schema version of the file: 0 when it is new. Refuses what is no ledger of ours."""
    version = int(connection.execute("PRAGMA user_version").fetchone()[0])
    owner = int(connection.execute("PRAGMA application_id").fetchone()[0])
    n_tables = int(connection.execute("SELECT count(*) FROM sqlite_master").fetchone()[0])
    if owner != APPLICATION_ID and (n_tables or version):
        wrong = "this is a database, but no ledger of this program"
        raise Refused([Fault(str(path), 0, "", wrong, "move it away", "no-ledger")])
    if version > VERSION:
        wrong = f"the ledger has schema {version}, this program knows up to {VERSION}"
        raise Refused([Fault(str(path), 0, "", wrong, "use the newer program", "later-ledger")])
    return version


@contextmanager
def _said_plainly(path: Path) -> Iterator[None]:
    """SQLite's own complaints as faults a chef can act on."""
    try:
        yield
    except sqlite3.OperationalError as trouble:
        if "locked" in str(trouble) or "busy" in str(trouble):
            wrong = "another command is booking into the ledger"
            right = "wait for it to finish and run this one again; nothing was written"
            raise Refused([Fault(str(path), 0, "", wrong, right, "ledger-busy")]) from trouble
        wrong = f"the ledger cannot be opened or written ({trouble})"
        right = "check that the folder may be written to and the disk is not full"
        raise Refused([Fault(str(path), 0, "", wrong, right, "ledger-unusable")]) from trouble
    except (sqlite3.DatabaseError, Unsound) as trouble:
        wrong = f"the ledger is damaged or is another kind of file ({trouble})"
        right = "put back a copy, or move it away to start a new one"
        raise Refused([Fault(str(path), 0, "", wrong, right, "ledger-damaged")]) from trouble
