"""What a file to be booked in is known by: its name, its bytes and what was read from it."""

from __future__ import annotations

import hashlib
from collections.abc import Hashable, Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path

from ordering.faults import Fault
from ordering.ledger.rows import SourceFile

Said = tuple[str, str, str]  # what is wrong, what would be right, the kind of fault


@dataclass(frozen=True, slots=True)
class FileLines:
    """A file as messages name it, and the line on which each record read from it stands."""

    place: str
    lines: Mapping[Hashable, int]

    def fault(self, record: Hashable, subject: str, said: Said) -> Fault:
        """A fault at the record's line; in the file as a whole where the line is not known."""
        return Fault(self.place, self.lines.get(record, 0), subject, *said)


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
