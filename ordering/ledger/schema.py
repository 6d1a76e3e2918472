"""The ledger's tables, and how an older ledger becomes a newer one.

Each migration is a list of statements that takes the schema from its index to the next version. The
version is kept in the file's header (`user_version`), which SQLite changes in the same transaction
as the tables, so that a ledger is never between two versions. Never edit a migration that was
released: add one.

Money is text (a decimal as written), dates are ISO text, quantities are floats in the unit beside them.
Rows are never deleted when a corrected file arrives: `replaced_by` names the file that took their place.
"""

from __future__ import annotations

APPLICATION_ID = 0x6F726472  # "ordr": tells a ledger from any other SQLite file

_FIRST = (
    """CREATE TABLE runs (
        run TEXT PRIMARY KEY,
        issued_on TEXT NOT NULL
    )""",
    """CREATE TABLE forecasts (
        run TEXT NOT NULL REFERENCES runs(run),
        date TEXT NOT NULL,
        service TEXT NOT NULL,
        dish TEXT NOT NULL,
        mean REAL NOT NULL,
        q05 REAL NOT NULL, q10 REAL NOT NULL, q25 REAL NOT NULL, q50 REAL NOT NULL,
        q75 REAL NOT NULL, q90 REAL NOT NULL, q95 REAL NOT NULL,
        PRIMARY KEY (run, date, service, dish)
    ) WITHOUT ROWID""",
    "CREATE INDEX forecasts_by_date ON forecasts (date)",
    """CREATE TABLE orders (
        run TEXT NOT NULL,
        vendor TEXT NOT NULL,
        code TEXT NOT NULL,
        deliver_on TEXT NOT NULL,
        item TEXT NOT NULL,
        packs INTEGER NOT NULL CHECK (packs >= 0),
        proposed INTEGER NOT NULL,
        quantity REAL NOT NULL,
        unit TEXT NOT NULL,
        price TEXT,
        amount TEXT NOT NULL,
        placed_on TEXT NOT NULL,
        PRIMARY KEY (run, vendor, code, deliver_on)
    ) WITHOUT ROWID""",
    """CREATE TABLE files (
        id INTEGER PRIMARY KEY,
        kind TEXT NOT NULL,
        name TEXT NOT NULL,
        sha256 TEXT NOT NULL,
        rows_sha256 TEXT NOT NULL,
        booked_on TEXT NOT NULL
    )""",
    "CREATE INDEX files_by_content ON files (kind, sha256)",
    """CREATE TABLE receipts (
        id INTEGER PRIMARY KEY,
        file INTEGER NOT NULL REFERENCES files(id),
        replaced_by INTEGER REFERENCES files(id),
        delivered_on TEXT NOT NULL,
        vendor TEXT NOT NULL,
        code TEXT NOT NULL,
        item TEXT NOT NULL,
        packs REAL NOT NULL,
        quantity REAL NOT NULL,
        unit TEXT NOT NULL,
        price TEXT,
        use_by TEXT
    )""",
    "CREATE INDEX receipts_by_day ON receipts (vendor, delivered_on)",
    """CREATE TABLE counts (
        id INTEGER PRIMARY KEY,
        file INTEGER NOT NULL REFERENCES files(id),
        replaced_by INTEGER REFERENCES files(id),
        counted_on TEXT NOT NULL,
        item TEXT NOT NULL,
        quantity REAL NOT NULL,
        unit TEXT NOT NULL,
        use_by TEXT,
        ready_on TEXT
    )""",
    "CREATE INDEX counts_by_day ON counts (counted_on, item)",
    """CREATE TABLE waste (
        id INTEGER PRIMARY KEY,
        file INTEGER NOT NULL REFERENCES files(id),
        replaced_by INTEGER REFERENCES files(id),
        date TEXT NOT NULL,
        item TEXT NOT NULL,
        quantity REAL NOT NULL,
        unit TEXT NOT NULL,
        reason TEXT NOT NULL
    )""",
    """CREATE TABLE batches (
        id INTEGER PRIMARY KEY,
        file INTEGER NOT NULL REFERENCES files(id),
        replaced_by INTEGER REFERENCES files(id),
        started_on TEXT NOT NULL,
        recipe TEXT NOT NULL,
        drawn REAL NOT NULL,
        made REAL NOT NULL,
        unit TEXT NOT NULL
    )""",
    """CREATE VIEW prices AS
        SELECT vendor, code, delivered_on AS since, price, id
        FROM receipts WHERE price IS NOT NULL AND replaced_by IS NULL""",
)

_WHAT_A_BATCH_DREW = (  # empty in rows from before: taken as in the units of today
    "ALTER TABLE batches ADD COLUMN drawn_item TEXT NOT NULL DEFAULT ''",
    "ALTER TABLE batches ADD COLUMN drawn_unit TEXT NOT NULL DEFAULT ''",
)

MIGRATIONS: tuple[tuple[str, ...], ...] = (_FIRST, _WHAT_A_BATCH_DREW)
VERSION = len(MIGRATIONS)
