"""What looks doubtful about allergens and hazards: names that point to one nobody declared."""

from __future__ import annotations

import csv
import io
import pkgutil
import re
import unicodedata
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from functools import cache

from ordering.cautions import allergen_id, allergens_under
from ordering.faults import Fault
from ordering.records.allergens import allergens_held, contained, parts_of_items
from ordering.records.books import Books
from ordering.records.house import House, Recipe

_WORD = re.compile(r"[a-z0-9']+")


@dataclass(frozen=True, slots=True)
class _Words:
    """Words of one allergen: what it is called, what usually holds it, what only sounds like it.

    Each beside its plain form.
    """

    names: Mapping[str, str]
    hints: Mapping[str, str]
    others: Mapping[str, str]


def pointed_to(text: str, allergen: str, only_names: bool = False) -> str:
    """The word of a name that points to an allergen, empty where none does.

    Whole words, singular or plural. `only_names` leaves out words of what usually holds it: of a recipe
    the house knows what went in.
    """
    words = _words()[allergen]
    plain = _plain(text)
    for other in words.others.values():
        plain = plain.replace(other, " | ")
    looked_for = words.names if only_names else {**words.names, **words.hints}
    return next((word for word, form in looked_for.items() if form in plain), "")


def check_allergens(house: House, books: Books, on: date) -> Iterator[Fault]:
    """A name or id points to an allergen that neither the item nor anything in it declares.

    What is already asked of a part is not asked again of what is made of it.
    """
    parts = parts_of_items(house)
    asked: dict[str, set[str]] = {allergen: set() for allergen in allergens_under(house.food_law)}
    named = [("ingredients", i.id, i.id, i.name, i.free_of) for i in house.ingredients.values()]
    named += [("recipes", r.id, r.id, r.name, r.free_of) for r in _from_the_bottom(house, parts)]
    named += [("dishes", d.id, d.recipe, d.name, house.recipes[d.recipe].free_of)
              for d in house.dishes.values() if d.recipe in house.recipes]  # fmt: skip
    for file, key, item, name, free_of in named:
        is_made = file != "ingredients"
        words = (name, key.replace("-", " "))
        near = _near(" ".join(words))
        pointing = {
            allergen: word
            for allergen in asked
            if allergen in near
            and (word := next(filter(None, (pointed_to(text, allergen, is_made) for text in words)), ""))
        }
        if not pointing:
            continue
        held = {*allergens_held(house, item, parts), *free_of}
        below = contained(item, parts) if is_made else ()
        for allergen, word in pointing.items():
            if allergen not in held and asked[allergen].isdisjoint(below):
                asked[allergen].add(item)
                yield _undeclared(house, file, key, allergen_id(allergen, house.food_law), word)


def _from_the_bottom(house: House, parts: Mapping[str, tuple[str, ...]]) -> list[Recipe]:
    """Recipes, those of which others are made before the others."""
    return sorted(house.recipes.values(), key=lambda recipe: (len(contained(recipe.id, parts)), recipe.id))


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


@cache
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


@cache
def _by_word() -> dict[str, set[str]]:
    """Allergens by every single word of what points to them."""
    found: dict[str, set[str]] = {}
    for allergen, words in _words().items():
        for one in " ".join([*words.names.values(), *words.hints.values()]).split():
            found.setdefault(one, set()).add(allergen)
    return found


def _near(text: str) -> set[str]:
    """Allergens that share a word with a text: all that it can point to, of most names none."""
    by_word = _by_word()
    return set().union(*(by_word[word] for word in _plain(text).split() if word in by_word))


def _listed(cell: str) -> dict[str, str]:
    return {word: _plain(word) for word in filter(None, (one.strip() for one in cell.split(";")))}
