"""What looks doubtful about allergens and hazards: names that point to one nobody declared."""

from __future__ import annotations

import csv
import io
import pkgutil
import re
import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from functools import cache

from ordering.cautions import allergen_id, allergens_under
from ordering.faults import Fault
from ordering.records.allergens import allergens_held, parts_of_items
from ordering.records.books import Books
from ordering.records.house import House

_WORD = re.compile(r"[a-z0-9']+")


@dataclass(frozen=True, slots=True)
class _Words:
    """Words of one allergen: what it is called, what usually holds it, what only sounds like it."""

    names: tuple[str, ...]
    hints: tuple[str, ...]
    others: tuple[str, ...]


def pointed_to(text: str, allergen: str, only_names: bool = False) -> str:
    """The word of a name that points to an allergen, empty where none does.

    Whole words, singular or plural. `only_names` leaves out words of what usually holds it: of a recipe
    the house knows what went in.
    """
    words = _words()[allergen]
    plain = _plain(text)
    for other in words.others:
        plain = plain.replace(_plain(other), " | ")
    looked_for = words.names if only_names else (*words.names, *words.hints)
    return next((word for word in looked_for if _plain(word) in plain), "")


def check_allergens(house: House, books: Books, on: date) -> Iterator[Fault]:
    """A name or id points to an allergen that neither the item nor anything in it declares."""
    parts = parts_of_items(house)
    asked = allergens_under(house.food_law)
    goods = [("ingredients", i.id, i.id, i.name, i.free_of) for i in house.ingredients.values()]
    made = [("recipes", r.id, r.id, r.name, r.free_of) for r in house.recipes.values()]
    sold = [
        (
            "dishes",
            d.id,
            d.recipe,
            d.name,
            house.recipes[d.recipe].free_of if d.recipe in house.recipes else (),
        )
        for d in house.dishes.values()
    ]
    for file, key, item, name, free_of in (*goods, *made, *sold):
        held = {*allergens_held(house, item, parts), *free_of}
        for allergen in asked:
            if allergen in held:
                continue
            is_made = file != "ingredients"
            word = pointed_to(name, allergen, is_made) or pointed_to(key.replace("-", " "), allergen, is_made)
            if word:
                yield _undeclared(house, file, key, allergen_id(allergen, house.food_law), word)


def _undeclared(house: House, file: str, key: str, allergen: str, word: str) -> Fault:
    place = house.places.get(f"{file}.{key}")
    where, line = (place.path, place.line) if place else (file, 0)
    wrong = f"'{word}' in its name points to {allergen}, but {allergen} is not among its allergens"
    right = f"read the label and write 'allergens: [{allergen}]', or 'free_of: [{allergen}]' if there is none"
    if file != "ingredients":
        right = (
            f"look at what goes into it: write '{allergen}' where it comes from, "
            f"or 'free_of: [{allergen}]' on the recipe if there is none"
        )
    return Fault(where, line, key, wrong, right, "undeclared-allergen")


def check_tags(house: House, books: Books, on: date) -> Iterator[Fault]:
    """The hazard of live molluscs on something that holds crustaceans and no molluscs, as picked crab."""
    parts = parts_of_items(house)
    items = [("ingredients", i.id, i.hazards) for i in house.ingredients.values()]
    items += [("recipes", r.id, r.hazards) for r in house.recipes.values()]
    for file, key, hazards in items:
        held = allergens_held(house, key, parts) if "shellfish" in hazards else {}
        if "crustaceans" in held and "molluscs" not in held:
            place = house.places.get(f"{file}.{key}")
            where, line = (place.path, place.line) if place else (file, 0)
            wrong = "the hazard 'shellfish' is for live molluscs, whose tags are kept; this holds crustaceans"
            right = "take the hazard out, or write 'allergens: [molluscs]' if there are any"
            yield Fault(where, line, key, wrong, right, "not-a-mollusc")


def _plain(text: str) -> str:
    """Lower-case singular words between blanks, accents gone: ` red mussel `."""
    bare = unicodedata.normalize("NFKD", text.lower()).encode("ascii", "ignore").decode("ascii")
    words = [w[:-1] if w.endswith("s") and len(w) > 3 else w for w in _WORD.findall(bare)]
    return f" {' '.join(words)} "


@cache
def _words() -> dict[str, _Words]:
    text = (pkgutil.get_data("ordering", "allergen_words.csv") or b"").decode("utf-8")
    return {
        row["allergen"]: _Words(_listed(row["names"]), _listed(row["hints"]), _listed(row["not"]))
        for row in csv.DictReader(io.StringIO(text))
    }


def _listed(cell: str) -> tuple[str, ...]:
    return tuple(filter(None, (word.strip() for word in cell.split(";"))))
