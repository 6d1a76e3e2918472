"""The words of the program: every key a user may write and every column read or written.

They stand in `words.csv` beside this file, so that schemas, column heads and the reference in README cannot
drift apart: a test holds them against each other.
"""

from __future__ import annotations

import csv
import io
import pkgutil
from dataclasses import dataclass
from functools import cache

REQUIRED = "required"


@dataclass(frozen=True, slots=True)
class Word:
    """One key or column.

    `where` is a YAML file (`house.yaml`), a part of one (`house.yaml: services`), a book (`sales`) or a file
    of a run (`orders.csv`). `unit` is `none` where there is none; `default` is empty where nothing is assumed
    and `required` where it must be written.
    """

    name: str
    where: str
    type: str
    unit: str
    default: str
    meaning: str


@cache
def words() -> tuple[Word, ...]:
    """Every word, in the order of `words.csv`."""
    text = (pkgutil.get_data("ordering", "words.csv") or b"").decode("utf-8")
    return tuple(Word(**row) for row in csv.DictReader(io.StringIO(text)))


@cache
def words_of(where: str) -> tuple[Word, ...]:
    """The words of one file, part of a file, or book, in order."""
    return tuple(word for word in words() if word.where == where)


def meaning(where: str, name: str) -> str:
    """What a word means.

    Raises
    ------
    KeyError : there is no such word
    """
    for word in words_of(where):
        if word.name == name:
            return word.meaning
    raise KeyError((where, name))
