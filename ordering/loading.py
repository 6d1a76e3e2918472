"""House and books read together, so that every fault of both comes out at once."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from pathlib import Path

from ordering.amounts import plural
from ordering.explode.drawn import used_in
from ordering.explode.graph import folded, loops, recipe_graph
from ordering.faults import ANSWER, Fault, Refused, still_asked, with_code
from ordering.ledger.counting import first_counts_over_use
from ordering.ledger.merge import merged
from ordering.ledger.store import bookings
from ordering.read.books_folder import read_books
from ordering.read.checks import doubts
from ordering.read.guesses import unconfirmed
from ordering.read.house_folder import read_house_in_part
from ordering.records.books import Books
from ordering.records.house import House
from ordering.records.ledger import Bookings
from ordering.records.report import Report


@dataclass(frozen=True, slots=True)
class Loaded:
    """House and books as read, `current` with the ledger laid over them, and what looks doubtful.

    `bookings` is what the ledger had by the end of the day.
    """

    house: House
    books: Books
    current: Books
    doubts: tuple[Fault, ...]
    bookings: Bookings


def load(config: Path, books: Path, on: date, shared: Path | None = None) -> Loaded:
    """Read and check everything. `shared`: the files of a group that the house begins from.

    Raises
    ------
    Refused : with every fault of configuration and books, or when the ledger cannot be read
    """
    house, faults = read_house_in_part(config, shared)
    read, book_faults = read_books(books, house)
    faults = [*faults, *book_faults]
    if house is not None:
        faults += _loop_faults(house if isinstance(house, House) else house.sound)
    if faults or not isinstance(house, House) or read is None:
        raise Refused(faults)
    booked = bookings(books, on)
    current, outdated = merged(read, house, booked, on)
    huge = first_counts_over_use(house, current, used_in(house, current.sales, on), on)
    found = {*doubts(house, current, on), *unconfirmed(config), *outdated, *_circle_doubts(house), *huge}
    return Loaded(house, read, current, tuple(sorted(found)), booked)


def check(config: Path, books: Path, on: date) -> Report:
    """What looks doubtful in an input without faults, and how large the house is.

    Raises
    ------
    Refused : with every fault of configuration and books
    """
    loaded = load(config, books, on)
    house = loaded.house
    open_ones = still_asked(map(str, loaded.doubts), house.answered)
    n = len(open_ones)
    parts = (
        plural(len(house.dishes), "dish", "dishes"),
        plural(len(house.recipes), "recipe"),
        plural(len(house.ingredients), "ingredient"),
        plural(len(house.vendors), "vendor"),
    )
    size = f"{house.name}: {', '.join(parts)}."
    own = (f"own: {override}" for override in house.overrides)
    verdict = f"No faults, {plural(n, 'thing')} to check." if n else "No faults, nothing to check."
    asked = (f"check: {with_code(doubt)}" for doubt in open_ones)
    return Report((*asked, *own, size, verdict, *([ANSWER] if n else [])), 1 if n else 0)


def _loop_faults(house: House) -> list[Fault]:
    """Recipes that feed themselves, refused."""
    right = "break the loop, or give what is carried over to the next batch a 'returns'"
    return [
        _about(house, loop[0], f"the recipe feeds itself: {' -> '.join(loop)}", right, "loop")
        for loop in loops(house)
    ]


def _circle_doubts(house: House) -> list[Fault]:
    """By-products and carried over liquors that the plan sets aside because they go round in a circle."""
    return [
        _about(house, one.recipe, one.wrong, one.right, "circle")
        for one in recipe_graph(folded(house)).set_aside
    ]


def _about(house: House, recipe: str, wrong: str, right: str, kind: str) -> Fault:
    place = house.places.get(f"recipes.{recipe}")
    where, line = (place.path, place.line) if place else ("recipes.yaml", 0)
    return Fault(where, line, recipe, wrong, right, kind)
