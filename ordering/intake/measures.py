"""What a cup, a spoon or a piece of a food weighs: published figures, for proposals a house can override.

`data/measures.csv`: US Department of Agriculture, Agricultural Research Service, Nutrient Data Laboratory,
USDA National Nutrient Database for Standard Reference, Release 28 (2015), file WEIGHT; public domain. Grams
are of the edible part. `data/pieces.csv`: what the release has no row for (a bay leaf, a bunch of kale),
written from memory, common practice, no source; every proposal from it says so. `data/cans.csv` has the
contents of standard cans with its sources.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from functools import cache

from ordering.intake.goods_match import LIKELY, likeness
from ordering.intake.goods_names import kind_words, table, tokens
from ordering.units import UNITS

SOURCE = "USDA SR28"
NO_SOURCE = "from memory, no source: weigh one"
_VOLUMES = ("cup", "tbsp", "tsp", "fl oz")
_SIZES = ("", "medium", "large")
_WHOLE = ("each", "head", "bulb")
_STALK = ("stalk", "stick")
# Lighter by the spoon than table salt, by how much depends on the make.
_NOT_IN_SOURCE = {"kosher", "flaked", "flake"}


@dataclass(frozen=True, slots=True)
class Weight:
    """Grams of one `measure` of a food, and where that stands."""

    food: str
    measure: str
    grams: Fraction
    source: str


@cache
def _foods() -> Mapping[str, tuple[Weight, ...]]:
    found: dict[str, list[Weight]] = defaultdict(list)
    for row in table("measures.csv"):
        source = f"{SOURCE} {row['source_id'].split(' seq')[0]}"
        found[row["food"]].append(Weight(row["food"], row["measure"], Fraction(row["grams"]), source))
    for row in table("pieces.csv"):
        found[row["food"]].append(Weight(row["food"], row["measure"], Fraction(row["grams"]), NO_SOURCE))
    return {food: tuple(rows) for food, rows in found.items()}


@cache
def _names() -> Mapping[frozenset[str], tuple[str, ...]]:
    """Foods by the words of their names and synonyms; several foods may claim one."""
    found: dict[frozenset[str], dict[str, None]] = defaultdict(dict)
    for row in (*table("measures.csv"), *table("pieces.csv")):
        for name in (row["food"], *row["synonyms"].rstrip("*").split(";")):
            if words := frozenset(tokens(name.rstrip("*"))):
                found[words][row["food"]] = None
    return {words: tuple(foods) for words, foods in found.items()}


@cache
def food_of(name: str) -> str:
    """The food whose weights hold for a name, empty where none or several may be meant."""
    words = frozenset(tokens(name))
    if words & _NOT_IN_SOURCE:
        return ""
    exact = _names().get(words, ())
    if len(exact) == 1:
        return exact[0]
    if exact:
        return next((food for food in exact if frozenset(tokens(food)) == words), "")
    mild = kind_words("mild")
    plain = {foods for known, foods in _names().items() if words - mild and known - mild == words - mild}
    if len(plain) == 1 and len(next(iter(plain))) == 1:  # ground cumin as cumin seed
        return next(iter(plain))[0]
    scored = sorted(
        (
            (likeness(name, " ".join(known)), foods[0])
            for known, foods in _names().items()
            if len(foods) == 1 and known & words
        ),
        reverse=True,
    )
    return scored[0][1] if scored and scored[0][0] >= LIKELY else ""


def is_food(name: str) -> bool:
    """Whether a food of just these words has published weights."""
    return frozenset(tokens(name)) in _names()


def density(name: str, note: str = "") -> Weight | None:
    """Grams of one millilitre of a food, by its cup or spoon; `note` picks the state (chopped, sliced)."""
    rows = [w for w in _foods().get(food_of(name), ()) if w.measure.split(",")[0] in _VOLUMES]
    if not rows:
        return None
    state = set(tokens_of_state(note))
    best = min(
        rows,
        key=lambda w: (
            not state & set(tokens_of_state(w.measure)),
            _VOLUMES.index(w.measure.split(",")[0]),
            len(w.measure),
        ),
    )
    unit = best.measure.split(",")[0]
    return Weight(best.food, best.measure, best.grams / UNITS[unit][1], best.source)


def alike(name: str) -> Weight | None:
    """Grams of a millilitre of the food most like it.

    Of one that ends in the same word (kosher salt as table salt), of ground spices or of pastes.
    """
    words = tokens(name)
    if not words:
        return None
    for kind, like in (("spice", "paprika"), ("thick", "tomato paste")):
        if kind_words(kind) & set(words):
            return density(like)
    for food in _near(name):
        if found := density(food):
            return found
    return None


def piece(name: str, unit: str, note: str = "") -> Weight | None:
    """Grams of one piece (`each`, `clove`, `head`, ...) of a food: medium unless `note` says a size.

    Sold by the piece, a head or a bulb is the piece.
    """
    near = [
        *_near(name),
        *(["parsley"] if unit == "sprig" and kind_words("herb") & set(tokens(name)) else []),
    ]
    return next((found for food in (food_of(name), *near) if (found := _piece(food, unit, note))), None)


def juice(name: str) -> tuple[str, Weight] | None:
    """The fruit that a juice is pressed from, and the juice of one of them; None where none was published."""
    words = set(tokens(name))
    if "juice" not in words:
        return None
    rows = _foods().get(food_of(name), ())
    found = next((w for w in rows if w.measure.startswith("from 1 ")), None)
    return None if found is None else (found.measure.removeprefix("from 1 "), found)


def _near(name: str) -> list[str]:
    """Foods whose names end in the same word, the likest first: for napa cabbage a cabbage."""
    words = tokens(name)[-1:]
    near = [food for food in _foods() if words and tokens(food)[-1:] == words]
    return sorted(near, key=lambda food: (-likeness(name, food), food))


def _piece(food: str, unit: str, note: str) -> Weight | None:
    known = _foods().get(food, ())
    same = (unit, *_WHOLE) if unit in ("each", *_WHOLE) else (unit, *_STALK) if unit in _STALK else (unit,)
    rows = next((r for u in same if (r := [w for w in known if w.measure.split(",")[0] == u])), [])
    if not rows:
        return None
    sizes = [word for word in ("small", "medium", "large") if word in note.lower()]
    usual = ("large", *_SIZES) if rows[0].food == "egg" else _SIZES
    for size in (*sizes, *usual):
        for one in rows:
            if one.measure.partition(", ")[2] == size:
                return one
    return rows[0]


def tokens_of_state(text: str) -> list[str]:
    """Words that say how a thing is cut or prepared, alike where they weigh alike."""
    low = text.lower()
    same = {"brunoise": "chopped", "diced": "chopped", "minced": "chopped", "julienne": "sliced"}
    words = [same.get(word.strip(",.;"), word.strip(",.;")) for word in low.split()]
    return [w for w in words if w in kind_words("prepared")]


@cache
def can_ounces(size: str) -> tuple[Fraction, Fraction] | None:
    """Published net ounces (from, to) of a standard can, `no. 10 can`; None where none was read."""
    for row in table("cans.csv"):
        if size == f"{row['name'].lower().replace('2 1/2', '2.5')} can" and row["net_oz_low"]:
            return Fraction(row["net_oz_low"]), Fraction(row["net_oz_high"])
    return None
