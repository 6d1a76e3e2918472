"""A file to be booked in as messages name it."""

from __future__ import annotations

from collections.abc import Hashable, Mapping
from dataclasses import dataclass

from ordering.faults import Fault

Said = tuple[str, str, str]  # what is wrong, what would be right, the kind of fault


@dataclass(frozen=True, slots=True)
class FileLines:
    """A file as messages name it, and where each record read from it stands: sheet and line."""

    place: str
    lines: Mapping[Hashable, tuple[str, int]]

    def fault(self, record: Hashable, subject: str, said: Said) -> Fault:
        """A fault at the record's line; in the file as a whole where the line is not known."""
        place, line = self.lines.get(record, (self.place, 0))
        return Fault(place, line, subject, *said)
