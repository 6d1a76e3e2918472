"""The first two schemas of the ledger, and how what they kept is carried over into documents.

Never edit what stands here: ledgers were written by it. Each table is written out whole, though it looks like
its neighbours and like tables of today: this is the record of what those versions wrote, and nothing made
from one template, or shared with a schema that still changes, would stay that.
"""

from __future__ import annotations

FIRST = (
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

WHAT_A_BATCH_DREW = (  # empty in rows from before: taken as in the units of today
    "ALTER TABLE batches ADD COLUMN drawn_item TEXT NOT NULL DEFAULT ''",
    "ALTER TABLE batches ADD COLUMN drawn_unit TEXT NOT NULL DEFAULT ''",
)

# A file booked under the second schema becomes a document: its first version has all its rows, and each
# later file that took rows over leaves a version without them. `was` tells the rows of each version.
_FILES = """CREATE TEMP TABLE {table}_was AS
    SELECT f.id AS file, f.name, 0 AS by, f.booked_on FROM files f WHERE f.kind = '{table}'
    UNION ALL
    SELECT DISTINCT f.id, f.name, r.replaced_by, g.booked_on
    FROM {table} r JOIN files f ON f.id = r.file JOIN files g ON g.id = r.replaced_by"""
_DOCUMENTS_OF_FILES = """INSERT INTO documents (kind, serial, number, run)
    SELECT '{kind}', row_number() OVER (ORDER BY id), '{mark}-' || row_number() OVER (ORDER BY id),
        'file ' || id
    FROM files WHERE kind = '{table}'"""
_VERSIONS_OF_FILES = """INSERT INTO versions (document, version, day, party, booked_on, source)
    SELECT d.id, row_number() OVER (PARTITION BY w.file ORDER BY w.by),
        coalesce((SELECT min(r.{day}) FROM {table} r WHERE r.file = w.file), w.booked_on), '',
        w.booked_on, w.name || ' ' || w.by
    FROM {table}_was w JOIN documents d ON d.kind = '{kind}' AND d.run = 'file ' || w.file"""
_LINES_OF_FILES = """INSERT INTO lines (version, line, day, {columns})
    SELECT v.id, row_number() OVER (PARTITION BY v.id ORDER BY r.id), r.{day}, {values}
    FROM {table}_was w
    JOIN documents d ON d.kind = '{kind}' AND d.run = 'file ' || w.file
    JOIN versions v ON v.document = d.id AND v.source = w.name || ' ' || w.by
    JOIN {table} r ON r.file = w.file AND (r.replaced_by IS NULL OR r.replaced_by > w.by)"""


def _of_files(table: str, kind: str, mark: str, day: str, columns: str, values: str) -> tuple[str, ...]:
    terms = {"table": table, "kind": kind, "mark": mark, "day": day, "columns": columns, "values": values}
    return (
        *(text.format(**terms) for text in (_FILES, _DOCUMENTS_OF_FILES, _VERSIONS_OF_FILES)),
        _LINES_OF_FILES.format(**terms),
        f"""UPDATE versions SET source = (SELECT w.name FROM {table}_was w JOIN documents d
                ON d.run = 'file ' || w.file WHERE d.id = document LIMIT 1)
            WHERE document IN (SELECT id FROM documents WHERE kind = '{kind}')""",
        f"UPDATE documents SET run = '' WHERE kind = '{kind}'",
        f"DROP TABLE {table}_was",
    )


_ORDERS = (
    """CREATE TEMP TABLE placed AS
        SELECT DISTINCT run, vendor, deliver_on, placed_on FROM orders""",
    """INSERT INTO documents (kind, serial, number, run)
        SELECT 'order', row_number() OVER w, printf('PO-%04d', row_number() OVER w),
            run || '/' || vendor || '/' || deliver_on
        FROM (SELECT run, vendor, deliver_on, min(placed_on) AS first FROM placed GROUP BY 1, 2, 3)
        WINDOW w AS (ORDER BY first, run, vendor, deliver_on)""",
    """INSERT INTO versions (document, version, day, party, booked_on, source)
        SELECT d.id, row_number() OVER (PARTITION BY d.id ORDER BY placed_on),
            deliver_on, vendor, placed_on, p.run
        FROM placed p
        JOIN documents d ON d.kind = 'order' AND d.run = p.run || '/' || vendor || '/' || deliver_on""",
    """INSERT INTO lines
            (version, line, day, party, code, item, packs, quantity, unit, price, amount, proposed)
        SELECT v.id, row_number() OVER (PARTITION BY v.id ORDER BY o.code), o.deliver_on, o.vendor, o.code,
            o.item, o.packs, o.quantity, o.unit, o.price, o.amount, o.proposed
        FROM versions v JOIN documents d ON d.kind = 'order' AND d.id = v.document
        JOIN orders o ON o.run = v.source AND o.vendor = v.party AND o.deliver_on = v.day
            AND o.placed_on <= v.booked_on""",
    """UPDATE documents SET run = (SELECT source FROM versions WHERE document = documents.id LIMIT 1)
        WHERE kind = 'order'""",
    """UPDATE versions SET source = ''
        WHERE document IN (SELECT id FROM documents WHERE kind = 'order')""",
    "DROP TABLE placed",
)

_FORECASTS = (
    """INSERT INTO documents (kind, serial, number, run)
        SELECT 'forecast', row_number() OVER (ORDER BY rowid), 'F-' || row_number() OVER (ORDER BY rowid), run
        FROM runs""",
    """INSERT INTO versions (document, version, day, party, booked_on, source)
        SELECT d.id, 1, r.issued_on, '', r.issued_on, ''
        FROM runs r JOIN documents d ON d.kind = 'forecast' AND d.run = r.run ORDER BY d.id""",
    """INSERT INTO portions
        SELECT v.id, f.date, f.service, f.dish, f.mean, q05, q10, q25, q50, q75, q90, q95
        FROM forecasts f JOIN documents d ON d.kind = 'forecast' AND d.run = f.run
        JOIN versions v ON v.document = d.id""",
)

CARRIED_OVER = (
    *_FORECASTS,
    *_ORDERS,
    *_of_files(
        "receipts",
        "delivery",
        "D",
        "delivered_on",
        "party, code, item, packs, quantity, unit, price, use_by",
        "r.vendor, r.code, r.item, r.packs, r.quantity, r.unit, r.price, r.use_by",
    ),
    *_of_files(
        "counts",
        "count",
        "C",
        "counted_on",
        "party, code, item, quantity, unit, use_by, ready_on",
        "'', '', r.item, r.quantity, r.unit, r.use_by, r.ready_on",
    ),
    *_of_files(
        "waste",
        "waste",
        "W",
        "date",
        "party, code, item, quantity, unit, reason",
        "'', '', r.item, r.quantity, r.unit, r.reason",
    ),
    *_of_files(
        "batches",
        "batches",
        "B",
        "started_on",
        "party, code, item, quantity, unit, drawn, drawn_item, drawn_unit",
        "'', '', r.recipe, r.made, r.unit, r.drawn, r.drawn_item, r.drawn_unit",
    ),
    "DROP VIEW prices",
    *(f"DROP TABLE {table}" for table in ("receipts", "counts", "waste", "batches", "files")),
    *(f"DROP TABLE {table}" for table in ("orders", "forecasts", "runs")),
)
