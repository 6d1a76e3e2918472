"""What is refused of any file to be booked in."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from pathlib import Path

from ordering.faults import Fault


def to_come(file: Path, days: Iterable[date], on: date) -> list[Fault]:
    right = f"write the day it came, {on.isoformat()} or before"
    return [
        Fault(file.as_posix(), 0, "", f"{day.isoformat()} is still to come", right, "future")
        for day in sorted(set(days))
        if day > on
    ]


def empty(file: Path) -> Fault:
    return Fault(
        file.as_posix(), 0, "", "there is nothing to book in", "fill in at least one row", "empty-file"
    )
