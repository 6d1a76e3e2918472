"""What is wrong with an input, said so that a chef can mend it."""

from __future__ import annotations

import base64
import difflib
import hashlib
import re
from bisect import bisect
from collections.abc import Collection, Iterable
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
        cure = f"{'' if self.wrong.endswith('?') else ';'} {self.right}" if self.right else ""
        return f"{where}:{who} {self.wrong}{cure}"


class Refused(Exception):
    """Input that cannot be used: carries every fault found, and nothing has been written."""

    def __init__(self, faults: Iterable[Fault]) -> None:
        self.faults = tuple(sorted(set(faults)))
        super().__init__("\n".join(str(fault) for fault in self.faults))


MANY_NAMES = 1_000
"""Names that are all held against a misspelt one; a house of thousands would wait minutes for 200 slips."""


def nearest(word: str, known: Iterable[str], cutoff: float = 0.6) -> str:
    """The known word closest to `word` as a question, or an empty string when none is close.

    Of more than `MANY_NAMES` only as many are looked at, around it in the alphabet: they begin alike.
    """
    word, names = word.lower(), list(known)
    if len(names) > MANY_NAMES:
        names.sort()
        at = bisect(names, word)
        names = names[max(at - MANY_NAMES // 2, 0) : at + MANY_NAMES // 2]
    close = difflib.get_close_matches(word, names, n=1, cutoff=cutoff)
    return f"did you mean '{close[0]}'?" if close else ""


ANSWER = "To stop being asked: add its code to 'answered' in house.yaml."
_FLEETING = re.compile(r"\S*/|[0-9]+|\b(?:Mon|Tue|Wed|Thu|Fri|Sat|Sun)\b|\b[A-Z][a-z]{2}\b(?= *$)", re.ASCII)


def answer_code(doubt: str) -> str:
    """Five letters that stay with a doubt from run to run, whatever figures, days and lines it names."""
    lasting = " ".join(_FLEETING.sub(" ", doubt).split())
    return base64.b32encode(hashlib.sha256(lasting.encode()).digest())[:5].decode().lower()


def still_asked(doubts: Iterable[str], answered: Collection[str]) -> tuple[str, ...]:
    """Doubts that nobody has answered yet, in the same sequence."""
    return tuple(doubt for doubt in doubts if answer_code(doubt) not in answered)


def with_code(doubt: str) -> str:
    """A doubt with the code that answers it."""
    return f"{doubt} [{answer_code(doubt)}]"
