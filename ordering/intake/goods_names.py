"""Words of goods as vendors and cooks write them, made comparable; what they tell of store and kind.

The tables beside this file (`abbreviations.csv`, `larder.csv`) are common practice of the trade, no source:
every store and keeping time taken from them is a proposal.
"""

from __future__ import annotations

import csv
import pkgutil
import re
import unicodedata
from collections.abc import Mapping
from functools import cache

_COLD = {"fresh", "chilled", "refrigerated", "raw", "live", "cooked"}


def table(name: str) -> list[dict[str, str]]:
    """A csv file shipped beside this module."""
    content = pkgutil.get_data("ordering.intake", f"data/{name}") or b""
    return list(csv.DictReader(content.decode("utf-8").splitlines()))


@cache
def kind_words(kind: str) -> frozenset[str]:
    """Words of one kind.

    noise: tell no goods apart; form: make another thing of it (juice, paste), `state` by what was done to
    it; mild: a name without them may mean them (cumin: ground cumin), but not `cut` ones of what is kept
    fresh; cured: smoked or not; soft: add little; goods: vendors put them first; plural: end in s as they
    are. Others say what weighs alike (spice, thick, watery), what comes in bunches (herb, bunched) or from
    the tap, what is poured, what is set, what holds goods or is sold as one, how they are prepared; of a
    file's name what does not tell one till from another.
    """
    return frozenset(next(row["words"] for row in table("word_kinds.csv") if row["kind"] == kind).split())


@cache
def _same() -> Mapping[str, tuple[tuple[frozenset[str], str], ...]]:
    """Words for which others stand, by the first of them: green onion is scallion."""
    found: dict[str, list[tuple[frozenset[str], str]]] = {}
    for row in table("same_words.csv"):
        words = row["words"].split()
        for word in words:
            found.setdefault(word, []).append((frozenset(words), row["same"]))
    return {word: tuple(rows) for word, rows in found.items()}


@cache
def _abbreviations() -> Mapping[str, str]:
    return {row["short"]: row["word"] for row in table("abbreviations.csv")}


def singular(word: str) -> str:
    """`tomatoes` as tomato, `berries` as berry, `leaves` as leaf."""
    if len(word) < 4 or word in kind_words("plural") or word.endswith(("ss", "us")):
        return word
    for end, one in (
        ("ies", "y"),
        ("oes", "o"),
        ("ches", "ch"),
        ("shes", "sh"),
        ("xes", "x"),
        ("sses", "ss"),
        ("eaves", "eaf"),
        ("oaves", "oaf"),
    ):
        if word.endswith(end):
            return word.removesuffix(end) + one
    return word.removesuffix("s")


@cache
def tokens(name: str) -> tuple[str, ...]:
    """The words of a name that tell goods apart, in order: no accents, numbers, noise or plurals."""
    plain = unicodedata.normalize("NFKD", name.lower()).encode("ascii", "ignore").decode()
    plain = re.sub(r"\([^)]*\)", " ", plain)
    plain = re.sub(r"\ba10\b|\bin (?:own )?(?:juice|brine|oil|water|syrup|puree|vinegar)\b", "tin", plain)
    plain = re.sub(r"(?<=[a-z]),? for [a-z ]+$", "", plain)
    plain = re.sub(r"\b(?:rind|crust|fat|shell)[ -](?:on|off)\b", " ", plain)
    plain = re.sub(r", *(?:salad|chip|pie)s?$", "", plain)  # what a potato is good for
    plain = re.sub(r"\bminced (?=beef|lamb|pork|veal|chicken|turkey)", "ground ", plain)
    short = _abbreviations()
    words = [w for raw in re.findall(r"[a-z][a-z'-]*", plain) for w in short.get(raw, raw).split()]
    found = [
        singular(part) for w in words for part in w.replace("'", "").split("-") if part not in ("", "of")
    ]
    found = _with_same_words(found)
    kept = [w for w in found if w not in kind_words("noise") and len(w) > 1]
    return tuple(dict.fromkeys(kept or found))


def _with_same_words(words: list[str]) -> list[str]:
    """The words with those put in place for which others stand where they stand side by side."""
    rules = {rule for word in words for rule in _same().get(word, ()) if rule[0] <= set(words)}
    for stood, same in sorted(rules, key=lambda rule: (-len(rule[0]), rule[1])):
        size = len(stood)
        at = next((n for n in range(len(words)) if set(words[n : n + size]) == stood), None)
        if at is not None:
            words[at : at + size] = same.replace("-", " ").split()
    return words


def spelled(name: str) -> str:
    """A vendor's capitals as a name to read: `BTR UNSALTED` is Butter unsalted; small letters stay."""
    clean = " ".join(name.split())[:200]
    if clean.upper() != clean:
        return clean[:1].upper() + clean[1:]
    short = _abbreviations()
    return " ".join(short.get(w, w) for w in clean.lower().split()).capitalize()


def id_of(name: str) -> str:
    """An id for a house file."""
    plain = unicodedata.normalize("NFKD", name.lower()).encode("ascii", "ignore").decode()
    return re.sub(r"[^a-z0-9]+", "-", plain).strip("-")[:60].strip("-") or "item"


@cache
def _larder() -> list[tuple[tuple[tuple[str, ...], ...], dict[str, str]]]:
    return [(tuple(tokens(one) for one in row["words"].split(";")), row) for row in table("larder.csv")]


@cache
def weighed_foods() -> Mapping[frozenset[str], str]:
    """The one food with a published weight that each of its names stands for."""
    found: dict[frozenset[str], set[str]] = {}
    for row in table("measures.csv"):
        for name in (row["food"], *row["synonyms"].rstrip("*").split(";")):
            found.setdefault(frozenset(tokens(name)), set()).add(row["food"])
    return {words: min(foods) for words, foods in found.items() if len(foods) == 1}


@cache
def larder_words() -> frozenset[str]:
    """Words that are a food by themselves."""
    return frozenset(word for group, _ in _larder() for words in group if len(words) == 1 for word in words)


@cache
def is_food_word(word: str) -> bool:
    """Whether a word stands in the name of any food that is known here."""
    return word in larder_words() or any(word in words for words in weighed_foods())


def larder(name: str, section: str = "") -> Mapping[str, str]:
    """Store, keeping time and whether it is liquid, as the words of the name (then its section) tell."""
    for text in (name, section):
        own = set(tokens(text))
        for group, row in _larder():
            if any(set(words) <= own for words in group if words):
                return row
    return {}


def is_sure_to_keep(name: str) -> bool:
    """Whether a name leaves nothing open: it says frozen, or all its words say dry store.

    A word that nobody knows, one of a food that is in no other row (anchovy) or of the cold leaves it open.
    """
    own = set(tokens(name))
    fitting = [(set(words), row["store"]) for group, row in _larder() for words in group if set(words) <= own]
    if fitting and fitting[0][1] == "freezer":
        return True
    others = own.difference(*(words for words, _ in fitting)) - kind_words("soft")
    is_open = any(not is_food_word(word) or frozenset([word]) in weighed_foods() for word in others)
    is_cold = bool(_COLD & set(re.findall(r"[a-z]+", name.lower())))
    return {store for _, store in fitting} == {"dry store"} and not is_open and not is_cold


def is_graded(name: str) -> bool:
    """Whether it is sold by pieces to the pound, as shrimp and scallops are."""
    return bool(kind_words("graded") & set(tokens(name)))


def is_liquid(name: str) -> bool | None:
    """Whether an ounce of it is a fluid ounce; None where the words do not tell."""
    row, own = larder(name), set(tokens(name))
    thing, _, rest = name.partition(",")
    is_food = larder(thing).get("is_liquid") == "" or frozenset(tokens(thing)) in weighed_foods()
    if is_food and set(tokens(rest)) & {"oil", "water", "syrup", "brine"}:
        return None  # anchovies, oil: what they are packed in
    if own & kind_words("poured") and not own & kind_words("set"):
        return not own & {"cheese", "condensed", "ice", "chocolate"}
    if not row:
        return None
    solid = {"cheese", "sour", "powder", "fraiche", "ice", "chocolate", "condensed"}
    if own & {"cream", "milk"}:
        return not own & solid
    return row["is_liquid"] == "yes" if row["store"] != "freezer" else False
