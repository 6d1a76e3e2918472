"""What is wrong with an input, said so that a chef can mend it."""

from __future__ import annotations

import difflib
from collections.abc import Iterable
from dataclasses import dataclass


@dataclass(frozen=True, slots=True, order=True)
class Fault:
    """One fault or doubt: where it is, what is wrong, what would be right.

    `place` is a file name, with sheet where there is one; `line` is 0 where no line can be named.
    `kind` is a short stable word for tests (`unknown-item`); it is not printed.
    """

    place: str
    line: int
    subject: str
    wrong: str
    right: str = ""
    kind: str = ""

    def __str__(self) -> str:
        where = f"{self.place}:{self.line}" if self.line else self.place
        who = f" {self.subject}:" if self.subject else ""
        cure = f"; {self.right}" if self.right else ""
        return f"{where}:{who} {self.wrong}{cure}"


class Refused(Exception):
    """Input that cannot be used: carries every fault found, and nothing has been written."""

    def __init__(self, faults: Iterable[Fault]) -> None:
        self.faults = tuple(sorted(set(faults)))
        super().__init__("\n".join(str(fault) for fault in self.faults))


def nearest(word: str, known: Iterable[str], cutoff: float = 0.6) -> str:
    """The known word closest to `word` as a question, or an empty string when none is close."""
    close = difflib.get_close_matches(word.lower(), list(known), n=1, cutoff=cutoff)
    return f"did you mean '{close[0]}'?" if close else ""
