"""Names of goods as vendors and cooks write them, made comparable; what their words tell of them.

The tables beside this file (`abbreviations.csv`, `larder.csv`) are common practice of the trade, no source:
every store and keeping time taken from them is a proposal.
"""

from __future__ import annotations

import csv
import pkgutil
import re
import unicodedata
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cache

from rapidfuzz import fuzz

_NOISE = frozenset(
    [
        "a",
        "an",
        "and",
        "the",
        "of",
        "in",
        "with",
        "or",
        "for",
        "fresh",
        "large",
        "medium",
        "small",
        "jumbo",
        "extra",
        "fancy",
        "choice",
        "prime",
        "select",
        "premium",
        "local",
        "organic",
        "grade",
        "usda",
        "usa",
        "us",
        "no",
        "each",
        "ea",
        "cs",
        "case",
        "ct",
        "lb",
        "lbs",
        "oz",
        "kg",
        "g",
        "ml",
        "l",
        "pack",
        "pk",
        "bag",
        "box",
        "bulk",
        "size",
        "approx",
        "avg",
        "cw",
        "whole-sale",
        "imported",
        "domestic",
        "clamshell",
        "per",
        "finely",
        "roughly",
        "coarsely",
        "thinly",
        "thick",
        "chopped",
        "diced",
        "sliced",
        "minced",
        "peeled",
        "grated",
        "brunoise",
        "julienne",
        "picked",
        "washed",
        "trimmed",
        "melted",
        "softened",
        "cold",
        "warm",
        "hot",
        "room",
        "temperature",
        "chiffonade",
        "crushed-fine",
        "packed",
        "heaped",
        "optional",
        "divided",
        "plus",
        "more",
        "about",
        "good",
        "quality",
        "ripe",
    ]
)
_KEPT_S = {
    "hummus",
    "couscous",
    "asparagus",
    "molasses",
    "citrus",
    "swiss",
    "watercress",
    "schnapps",
    "bass",
    "hearts",
}
_KINDS = frozenset(
    re.findall(
        r"\w+",
        "beef cheese chicken duck fish herb juice lamb mushroom nut oil pasta pork rice sauce spice veal",
    )
)
SEVERAL_WITHIN = 5.0
LIKELY = 80.0


@dataclass(frozen=True, slots=True)
class Match:
    """What a name may stand for, the likeliest first. `is_sure`: the same words; `is_open`: two fit."""

    ids: tuple[str, ...] = ()
    is_sure: bool = False
    is_open: bool = False

    @property
    def best(self) -> str:
        return self.ids[0] if self.ids else ""


def table(name: str) -> list[dict[str, str]]:
    """A csv file shipped beside this module."""
    content = pkgutil.get_data("ordering.intake", f"data/{name}") or b""
    return list(csv.DictReader(content.decode("utf-8").splitlines()))


@cache
def _abbreviations() -> Mapping[str, str]:
    return {row["short"]: row["word"] for row in table("abbreviations.csv")}


def singular(word: str) -> str:
    """`tomatoes` as tomato, `berries` as berry, `leaves` as leaf."""
    if len(word) < 4 or word in _KEPT_S or word.endswith(("ss", "us")):
        return word
    for end, one in (
        ("ies", "y"),
        ("oes", "o"),
        ("ches", "ch"),
        ("shes", "sh"),
        ("xes", "x"),
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
    short = _abbreviations()
    words = [w for raw in re.findall(r"[a-z][a-z'-]*", plain) for w in short.get(raw, raw).split()]
    found = [singular(part) for w in words for part in w.replace("'", "").split("-") if part]
    kept = [w for w in found if w not in _NOISE and len(w) > 1]
    return tuple(dict.fromkeys(kept or found))


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


def _heads(name: str) -> set[str]:
    """The words that may name the thing itself: the first, the last, and what stands before a comma.

    Vendors put the kind first (cheese parmesan, beef short rib): then what follows it names the thing too.
    """
    words = tokens(name)
    before = tokens(name.partition(",")[0]) if "," in name else ()
    first = words[:2] if words[:1] and words[0] in _KINDS else words[:1]
    return {*first, *(before[-1:] if before else words[-1:])}


def likeness(name: str, other: str) -> float:
    """0 to 100: the same words 100, one a part of the other and its head 80 to 95, spelling below."""
    a, b = tokens(name), tokens(other)
    if not a or not b:
        return 0.0
    if set(a) == set(b):
        return 100.0
    few, many, longer = (a, b, other) if len(a) <= len(b) else (b, a, name)
    if set(few) < set(many):
        shorter = name if longer is other else other
        if _heads(shorter) & _heads(longer):
            return max(92.0 - 3 * (len(many) - len(few)), 80.0)
        return 60.0
    ratio = fuzz.token_sort_ratio(" ".join(a), " ".join(b))
    return min(ratio, 91.0) if len(a) == len(b) or ratio > 90 else ratio * 0.9


def match(name: str, known: Mapping[str, Iterable[str]]) -> Match:
    """What `name` stands for among ids with their names."""
    scores: list[tuple[float, str]] = []
    for key, names in known.items():
        score = max(likeness(name, one) for one in (key.replace("-", " "), *names))
        if score >= LIKELY - SEVERAL_WITHIN:
            scores.append((score, key))
    scores.sort(key=lambda one: -one[0])
    if not scores or scores[0][0] < LIKELY:
        return Match()
    best = scores[0][0]
    near = [key for score, key in scores if score > best - SEVERAL_WITHIN and (best < 100 or score == 100)]
    return Match(tuple(near), best == 100 and len(near) == 1, len(near) > 1)


@cache
def _larder() -> list[tuple[tuple[tuple[str, ...], ...], dict[str, str]]]:
    return [(tuple(tokens(one) for one in row["words"].split(";")), row) for row in table("larder.csv")]


def larder(name: str, section: str = "") -> Mapping[str, str]:
    """Store, keeping time and whether it is liquid, as the words of the name (then its section) tell."""
    for text in (name, section):
        own = set(tokens(text))
        for group, row in _larder():
            if any(set(words) <= own for words in group if words):
                return row
    return {}


def is_liquid(name: str) -> bool | None:
    """Whether an ounce of it is a fluid ounce; None where the words do not tell."""
    row = larder(name)
    if not row:
        return None
    own = set(tokens(name))
    if own & {"cream", "milk"} and not own & {"cheese", "sour", "powder", "fraiche", "ice", "chocolate"}:
        return True
    return row["is_liquid"] == "yes" if row["store"] != "freezer" else False
