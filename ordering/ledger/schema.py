"""The ledger's tables, and how an older ledger becomes a newer one.

Each migration is a list of statements that takes the schema from its index to the next version. The
version is kept in the file's header (`user_version`), which SQLite changes in the same transaction
as the tables, so that a ledger is never between two versions. Never edit a migration that was
released: add one.

The ledger keeps documents. A document has a number of its own kind, and versions; version 0 is the empty
form: the number is given out, nothing is booked. The highest version stands and has all its lines: a
correction never changes a line that was written, it writes the document again. Nothing is deleted.

Money is text (a decimal as written), dates are ISO text, quantities are floats in the unit beside them.
"""

from __future__ import annotations

from ordering.ledger.earlier_schemas import CARRIED_OVER, FIRST, WHAT_A_BATCH_DREW

APPLICATION_ID = 0x6F726472  # "ordr": tells a ledger from any other SQLite file

_TABLES = (
    """CREATE TABLE documents (
        id INTEGER PRIMARY KEY,
        kind TEXT NOT NULL CHECK
            (kind IN ('forecast', 'order', 'delivery', 'credit', 'count', 'waste', 'batches')),
        serial INTEGER NOT NULL CHECK (serial > 0),
        number TEXT NOT NULL,
        run TEXT NOT NULL,
        UNIQUE (kind, serial),
        UNIQUE (number)
    )""",
    "CREATE INDEX documents_by_run ON documents (run)",
    """CREATE TABLE versions (
        id INTEGER PRIMARY KEY,
        document INTEGER NOT NULL REFERENCES documents(id),
        version INTEGER NOT NULL CHECK (version >= 0),
        day TEXT NOT NULL,
        party TEXT NOT NULL,
        booked_on TEXT NOT NULL,
        source TEXT NOT NULL,
        invoice TEXT NOT NULL DEFAULT '',
        total TEXT,
        UNIQUE (document, version)
    )""",
    """CREATE TABLE lines (
        version INTEGER NOT NULL REFERENCES versions(id),
        line INTEGER NOT NULL,
        day TEXT NOT NULL,
        party TEXT NOT NULL,
        code TEXT NOT NULL,
        item TEXT NOT NULL,
        packs REAL,
        quantity REAL NOT NULL,
        unit TEXT NOT NULL,
        price TEXT,
        amount TEXT,
        proposed INTEGER,
        use_by TEXT,
        ready_on TEXT,
        drawn REAL,
        drawn_item TEXT NOT NULL DEFAULT '',
        drawn_unit TEXT NOT NULL DEFAULT '',
        reason TEXT NOT NULL DEFAULT '',
        instead_of TEXT NOT NULL DEFAULT '',
        answers TEXT NOT NULL DEFAULT '',
        temperature REAL,
        condition TEXT NOT NULL DEFAULT '',
        PRIMARY KEY (version, line)
    ) WITHOUT ROWID""",
    "CREATE INDEX lines_by_day ON lines (day)",
    """CREATE TABLE portions (
        version INTEGER NOT NULL REFERENCES versions(id),
        date TEXT NOT NULL,
        service TEXT NOT NULL,
        dish TEXT NOT NULL,
        mean REAL NOT NULL,
        q05 REAL NOT NULL, q10 REAL NOT NULL, q25 REAL NOT NULL, q50 REAL NOT NULL,
        q75 REAL NOT NULL, q90 REAL NOT NULL, q95 REAL NOT NULL,
        PRIMARY KEY (date, version, service, dish)
    ) WITHOUT ROWID""",
    """CREATE VIEW standing AS
        SELECT d.kind, d.number, d.run, v.*
        FROM versions v JOIN documents d ON d.id = v.document
        WHERE v.version > 0
            AND v.version = (SELECT max(o.version) FROM versions o WHERE o.document = v.document)""",
)

MIGRATIONS: tuple[tuple[str, ...], ...] = (FIRST, WHAT_A_BATCH_DREW, (*_TABLES, *CARRIED_OVER))
VERSION = len(MIGRATIONS)
