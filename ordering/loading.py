"""House and books read together, so that every fault of both comes out at once."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from pathlib import Path

from ordering.explode.graph import loops
from ordering.faults import Fault, Refused
from ordering.read.books import read_books
from ordering.read.checks import doubts
from ordering.read.house import read_house
from ordering.records.books import Books
from ordering.records.house import House
from ordering.records.report import Report


@dataclass(frozen=True, slots=True)
class Loaded:
    """House and books as read, ledger not yet looked at, with what looks doubtful."""

    house: House
    books: Books
    doubts: tuple[Fault, ...]


def load(config: Path, books: Path, on: date) -> Loaded:
    """Read and check everything.

    Raises
    ------
    Refused : with every fault of configuration and books
    """
    house, faults = read_house(config)
    read, book_faults = read_books(books, house)
    faults = [*faults, *book_faults]
    if house is not None:
        faults += _loop_faults(house)
    if faults or house is None or read is None:
        raise Refused(faults)
    return Loaded(house, read, tuple(sorted(doubts(house, read, on))))


def check(config: Path, books: Path, on: date) -> Report:
    """What looks doubtful in an input without faults, and how large the house is.

    Raises
    ------
    Refused : with every fault of configuration and books
    """
    loaded = load(config, books, on)
    house, n = loaded.house, len(loaded.doubts)
    size = (
        f"{house.name}: {len(house.dishes)} dishes, {len(house.recipes)} recipes, "
        f"{len(house.ingredients)} ingredients, {len(house.vendors)} vendors."
    )
    verdict = f"No faults, {n} doubt{'' if n == 1 else 's'}."
    return Report((*(f"doubt: {doubt}" for doubt in loaded.doubts), size, verdict), 1 if n else 0)


def _loop_faults(house: House) -> list[Fault]:
    faults = []
    for loop in loops(house):
        place = house.places.get(f"recipes.{loop[0]}")
        where, line = (place.path, place.line) if place else ("recipes.yaml", 0)
        faults.append(
            Fault(
                where,
                line,
                loop[0],
                f"the recipe feeds itself: {' -> '.join((*loop, loop[0]))}",
                "break the loop, or give what is carried over to the next batch a 'returns'",
                "loop",
            )
        )
    return faults
