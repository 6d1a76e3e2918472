"""What a file to be booked in is known by: its name, its bytes and what was read from it."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from pathlib import Path

from ordering.ledger.rows import SourceFile


def source_of(kind: str, file: Path, records: Iterable[object]) -> SourceFile:
    """The file by its content.

    The second fingerprint is of the records in any sequence, so that a file saved again with other
    line ends, extra columns or rows moved about is still the same file.

    Raises
    ------
    OSError : the file can no longer be read
    """
    read = "\n".join(sorted(map(repr, records)))
    return SourceFile(
        kind,
        file.name,
        hashlib.sha256(file.read_bytes()).hexdigest(),
        hashlib.sha256(read.encode()).hexdigest(),
    )
