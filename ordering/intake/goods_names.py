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
        """The likeliest id; empty where nothing fits."""
        return self.ids[0] if self.ids else ""


def table(name: str) -> list[dict[str, str]]:
    """A csv file shipped beside this module."""
    content = pkgutil.get_data("ordering.intake", f"data/{name}") or b""
    return list(csv.DictReader(content.decode("utf-8").splitlines()))


@cache
def kind_words(kind: str) -> frozenset[str]:
    """Words of one kind.

    noise: tell no goods apart; form: make another thing of it (juice, paste); mild: a name without them may
    mean them (cumin: ground cumin); soft: add little; goods: vendors put them first; plural: end in s as they
    are. Others say what weighs alike (spice, thick, watery), what comes in bunches (herb, bunched) or from
    the tap, what is poured and what is set; of a file's name what does not tell one till from another.
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


def _itself(name: str) -> tuple[str, ...]:
    """The words of the thing itself, without what it lies in, comes with or is for."""
    return tokens(re.split(r"\b(?:in|with|for)\b", name.lower())[0]) or tokens(name)


def _heads(name: str) -> set[str]:
    """The words that may name the thing itself: the first, the last, and what stands before a comma.

    Vendors put the kind first (cheese parmesan, beef short rib): then what follows it names the thing too.
    """
    words = _itself(name)
    words = tuple(word for word in words if word not in kind_words("soft")) or words
    before = tokens(name.partition(",")[0]) if "," in name else ()
    first = words[:2] if words[:1] and words[0] in kind_words("goods") else words[:1]
    return {*first, *(before[-1:] if before else words[-1:])}


def likeness(name: str, other: str) -> float:
    """0 to 100: the same words 100; `other` the same with words that only say more 80 to 95; spelling 91.

    A word that makes another thing of it (lemon, lemon juice) or different words on both sides (brown,
    granulated sugar) keep two names apart. What `other` alone says of a spice (ground) may be meant. Of a
    name in two languages (`pimentón / paprika`) the likelier counts.
    """
    return max(_likeness(a, b) for a in name.split(" / ") for b in {other, *other.split(" / ")})


@cache
def _likeness(name: str, other: str) -> float:
    a, b = tokens(name), tokens(other)
    if not a or not b:
        return 0.0
    b = _written_out(b, a)
    a = _written_out(a, b)
    if set(a) == set(b):
        return 100.0
    if _is_spelled_like(a, b):
        return 91.0
    more, less = set(a) - set(b), set(b) - set(a)
    soft = kind_words("soft")
    if not set(a) & set(b) or (more - soft and less - soft):
        return fuzz.token_sort_ratio(" ".join(a), " ".join(b)) * 0.7
    is_within = len(a) > 1 and set(a) <= set(_itself(other))
    if not (is_within or _heads(name) & _heads(other)) or _is_another(name, more, less, set(a) & set(b)):
        return 60.0
    n_soft = len((more | less) & soft)
    return max(92.0 - 4 * len(more - soft) - 3 * len(less - soft) - n_soft, LIKELY)


def _written_out(words: tuple[str, ...], others: tuple[str, ...]) -> tuple[str, ...]:
    """The words with those cut short in it written as in the other name: `swtnd cond milk`."""
    missing = [other for other in others if other not in words]
    long = {
        word: next((o for o in missing if o[0] == word[0] and _is_same_word(word, o)), word)
        for word in words
        if missing and word not in others
    }
    return tuple(long.get(word, word) for word in words)


@cache
def _is_same_word(word: str, other: str) -> bool:
    return _is_short_for(word, other) or _stem(word) == _stem(other)


def _stem(word: str) -> str:
    """A word without the end that says what was done to it: rise and rising, smoke and smoked."""
    return re.sub(r"(?<=[a-z]{3})(?:ing|ed|e)$", "", word)


def _is_short_for(short: str, word: str) -> bool:
    """Whether letters were left out of a word: its vowels (swtnd), or its end (cond)."""
    if not 3 <= len(short) < len(word) - 1 or short[0] != word[0] or short in _larder_words():
        return False
    if len(short) > 3 and word.startswith(short):
        return True
    letters = iter(word)
    return not set(short[1:]) & set("aeiou") and all(letter in letters for letter in short)


def _is_another(name: str, more: set[str], less: set[str], both: set[str]) -> bool:
    """Whether a word that only one name has makes another thing of it.

    What the other name alone has does only where this name is a food by itself: a bolillo is a bolillo roll,
    an almond no almond milk.
    """
    forms, mild = kind_words("form"), kind_words("mild")
    if (food := _foods().get(frozenset(both | more))) and food == _foods().get(frozenset(both | less)):
        return False
    words = frozenset(tokens(name))
    is_food = bool(words & _larder_words()) or any(words - mild == own - mild for own in _foods())
    further = (less - mild) & forms if is_food else set()
    return bool(more & forms or further) and not (both & (forms - mild))


def _is_spelled_like(a: tuple[str, ...], b: tuple[str, ...]) -> bool:
    """Whether two names differ in letters or in how words are parted only: shortrib, short rib."""
    few, many = sorted(({w[0] for w in a}, {w[0] for w in b}), key=len)
    alike = max(fuzz.ratio("".join(a), "".join(b)), fuzz.ratio("".join(sorted(a)), "".join(sorted(b))))
    return few <= many and alike >= 90


def match(name: str, known: Mapping[str, Iterable[str]]) -> Match:
    """What `name` stands for among ids with their names."""
    scores: list[tuple[float, str]] = []
    for key, names in known.items():
        score = max(likeness(name, one) for one in (key.replace("-", " "), *names))
        if score >= LIKELY - SEVERAL_WITHIN:
            scores.append((score, key))
    # Of names as like as each other that with most words in common as written: chopped tomatoes.
    own = set(re.findall(r"\w+", name.lower()))
    said = {key: set(re.findall(r"\w+", " ".join((key, *known[key])).lower())) for _, key in scores}
    scores.sort(key=lambda one: (-one[0], -len(own & said[one[1]])))
    if not scores or scores[0][0] < LIKELY:
        return Match()
    best = scores[0][0]
    near = [key for score, key in scores if score > best - SEVERAL_WITHIN and (best < 100 or score == 100)]
    return Match(tuple(near), best == 100 and len(near) == 1, len(near) > 1)


@cache
def _larder() -> list[tuple[tuple[tuple[str, ...], ...], dict[str, str]]]:
    return [(tuple(tokens(one) for one in row["words"].split(";")), row) for row in table("larder.csv")]


@cache
def _foods() -> Mapping[frozenset[str], str]:
    """The one food with a published weight that each of its names stands for."""
    found: dict[frozenset[str], set[str]] = {}
    for row in table("measures.csv"):
        for name in (row["food"], *row["synonyms"].rstrip("*").split(";")):
            found.setdefault(frozenset(tokens(name)), set()).add(row["food"])
    return {words: min(foods) for words, foods in found.items() if len(foods) == 1}


@cache
def _larder_words() -> frozenset[str]:
    """Words that are a food by themselves."""
    return frozenset(word for group, _ in _larder() for words in group if len(words) == 1 for word in words)


@cache
def is_food_word(word: str) -> bool:
    """Whether a word stands in the name of any food that is known here."""
    return word in _larder_words() or any(word in words for words in _foods())


def larder(name: str, section: str = "") -> Mapping[str, str]:
    """Store, keeping time and whether it is liquid, as the words of the name (then its section) tell."""
    for text in (name, section):
        own = set(tokens(text))
        for group, row in _larder():
            if any(set(words) <= own for words in group if words):
                return row
    return {}


def is_graded(name: str) -> bool:
    """Whether it is sold by pieces to the pound, as shrimp and scallops are."""
    return bool(kind_words("graded") & set(tokens(name)))


def is_liquid(name: str) -> bool | None:
    """Whether an ounce of it is a fluid ounce; None where the words do not tell."""
    row, own = larder(name), set(tokens(name))
    if own & kind_words("poured") and not own & kind_words("set"):
        return not own & {"cheese", "condensed", "ice", "chocolate"}
    if not row:
        return None
    solid = {"cheese", "sour", "powder", "fraiche", "ice", "chocolate", "condensed"}
    if own & {"cream", "milk"}:
        return not own & solid
    return row["is_liquid"] == "yes" if row["store"] != "freezer" else False
