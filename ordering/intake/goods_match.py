"""Which of the known goods a name stands for: the same words, one within the other, or the same spelling."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache

from rapidfuzz import fuzz

from ordering.intake.goods_names import kind_words, larder, larder_words, singular, tokens, weighed_foods

SEVERAL_WITHIN = 5.0
LIKELY = 80.0
ALIKE = 91.0  # the same letters but for a slip
CUT = {"chopped", "diced", "crushed", "minced", "grated", "shredded", "powder", "puree"}
_NUMBER = re.compile(r"\d+(?:[./]\d+)?(?!\d|[./]\d| ?(?:kg|lbs?|#|l|ltr|lt|ml|cl|gal|qt|ct|dz|doz|pk|x|%)\b)")
_GRADE = re.compile(r"\b\d+/\d+\b(?! ?(?:lb|oz|kg|in|\"))")
_FRESH = ("walk-in", "produce store")


@dataclass(frozen=True, slots=True)
class Match:
    """What a name may stand for, the likeliest first.

    `is_sure`: the same words; `is_open`: two fit; `is_only`: nothing else is like it, and it is a kind of it.
    """

    ids: tuple[str, ...] = ()
    is_sure: bool = False
    is_open: bool = False
    is_only: bool = False

    @property
    def best(self) -> str:
        """The likeliest id; empty where nothing fits."""
        return self.ids[0] if self.ids else ""


def _itself(name: str) -> tuple[str, ...]:
    """The words of the thing itself, without what it lies in, comes with or is for."""
    return tokens(re.split(r"\b(?:in|with|for)\b", name.lower())[0]) or tokens(name)


def _heads(name: str) -> set[str]:
    """The words that may name the thing itself: the first, the last, and what stands before a comma.

    Vendors put the kind first (cheese parmesan, beef short rib): then what follows it names the thing too.
    """
    words = _itself(name)
    words = tuple(w for w in words if w not in kind_words("soft") | kind_words("quality")) or words
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
    is_alike = _is_spelled_like(a, b)
    b = _written_out(b, a)
    a = _written_out(a, b)
    if set(a) == set(b):
        return 100.0
    if is_alike:
        return ALIKE
    more, less = set(a) - set(b), set(b) - set(a)
    soft = kind_words("soft")
    if not set(a) & set(b) or (more - soft and less - soft):
        return fuzz.token_sort_ratio(" ".join(a), " ".join(b)) * 0.7
    is_within = len(a) > 1 and set(a) <= set(_itself(other))
    is_one = is_within or bool(_heads(name) & _heads(other))
    if not is_one or _is_another(name, other, more, less, set(a) & set(b)):
        return 60.0
    n_soft = len((more | less) & soft)
    n_foods = len(
        (less - soft - kind_words("mild")) & larder_words()
    )  # eggs are of hens before they are of ducks
    n_more = len((more | less) - soft) + n_foods
    return max(92.0 - 3 * n_more - n_soft, LIKELY)


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
    if not 3 <= len(short) < len(word) - 1 or short[0] != word[0] or short in larder_words():
        return False
    if len(short) > 3 and word.startswith(short):
        return True
    letters = iter(word)
    return not set(short[1:]) & set("aeiou") and all(letter in letters for letter in short)


def _is_another(name: str, other: str, more: set[str], less: set[str], both: set[str]) -> bool:
    """Whether a word that only one name has makes another thing of it.

    What the other name alone has does only where this name is a food by itself: a bolillo is a bolillo roll,
    an almond no almond milk. Of goods that are kept fresh the ground and the dried are others (ginger, beef),
    of spices they may be meant; cured goods are smoked or not.
    """
    forms, mild = kind_words("form"), kind_words("mild")
    foods = [weighed_foods().get(frozenset(both | own)) for own in (more, less)]
    if foods[0] and foods[0] == foods[1]:
        return False
    words = frozenset(tokens(name))
    if words & kind_words("cured"):
        forms = forms - {"smoked", "dried", "cured"}
    is_food = bool(words & larder_words()) or any(words - mild == own - mild for own in weighed_foods())
    store = larder(name).get("store")
    is_fresh = store in _FRESH and not words & kind_words("herb")
    if both & {"stock", "broth", "bouillon"}:
        forms = forms - kind_words("set")
    if not larder(name).get("is_liquid"):  # a sourdough is a bread, panko a crumb
        row = larder(name)
        forms = forms - {one for one in less & forms - kind_words("cut") if row and larder(one) == row}
    if is_fresh and not both & forms:  # dry onions are the whole ones
        mild = mild - kind_words("cut") | ({"dried"} if store == "produce store" else set())
    further = (less - mild) & forms if is_food else set()
    heads = (more & _heads(name)) | (less & _heads(other)) - kind_words("state")
    return bool((more & forms | further) & heads) or (
        bool(more & forms or further) and not (both & (forms - mild))
    )


def _is_spelled_like(a: tuple[str, ...], b: tuple[str, ...]) -> bool:
    """Whether two names differ in letters or in how words are parted only: shortrib, short rib."""
    few, many = sorted(({w[0] for w in a}, {w[0] for w in b}), key=len)
    if len(a) == len(b) and any(fuzz.ratio(x, y) < LIKELY for x, y in zip(sorted(a), sorted(b), strict=True)):
        return False
    alike = max(fuzz.ratio("".join(a), "".join(b)), fuzz.ratio("".join(sorted(a)), "".join(sorted(b))))
    return few <= many and alike >= 90


def _words(text: str) -> set[str]:
    return set(re.findall(r"[^\W\d_]+", text.lower()))


def _differs(name: str, others: Iterable[str]) -> bool:
    """Whether names have other numbers, as boxes of 14 and 18 in; what a pack holds is none of those."""
    own, *known = (set(_NUMBER.findall(one.lower())) for one in (name, *others))
    return bool(own) and any(known) and not any(own & numbers for numbers in known)


def _has_other_grade(name: str, others: Iterable[str]) -> bool:
    """Whether names are of other sizes, so many to the pound: shrimp of 21/25 and of 70/90."""
    own, *known = (set(_GRADE.findall(one)) for one in (name, *others))
    return bool(own) and any(known) and not any(own & grades for grades in known)


def without_cut(known: Mapping[str, Sequence[str]], text: str) -> Mapping[str, Sequence[str]]:
    """The goods that are not sold cut up, unless the text says so: half a tomato is none of those."""
    cut = CUT - _words(text)
    return {key: names for key, names in known.items() if not cut & _words(" ".join((key, *names)))}


def match(name: str, known: Mapping[str, Iterable[str]]) -> Match:
    """What `name` stands for among ids with their names."""
    scores: list[tuple[float, str]] = []
    own = _words(name)
    for key, names in known.items():
        score = max(likeness(name, one) for one in (key.replace("-", " "), *names))
        if score >= LIKELY - SEVERAL_WITHIN and not _has_other_grade(name, names):
            less = bool(_words(" ".join((key, *names))) & CUT - own) or _differs(name, names)
            scores.append((score - less if score > LIKELY else score, key))
    # Of names as like as each other that with most words in common as written: chopped tomatoes.
    said = {key: _words(" ".join((key, *known[key]))) for _, key in scores}
    scores.sort(key=lambda one: (-one[0], -len(own & said[one[1]])))
    if not scores or scores[0][0] < LIKELY:
        return Match()
    best = scores[0][0]
    near = [key for score, key in scores if score > best - SEVERAL_WITHIN and (best < 100 or score == 100)]
    is_only = sum(score >= LIKELY for score, _ in scores) == 1
    is_kind = any(is_kind_of(name, one) for one in (near[0].replace("-", " "), *known[near[0]]))
    return Match(tuple(near), best == 100 and len(near) == 1, len(near) > 1, is_only and is_kind)


def is_kind_of(name: str, other: str) -> bool:
    """Whether `other` can only be a kind of `name`: eggs, free range; fine sea salt; no lemon curd of lemons.

    It says every word, and what it says more stands before them, behind a comma, or tells quality alone.
    """
    said, words = set(_written_out(tokens(name), tokens(other))), tokens(other)
    more = set(words) - set(_written_out(words, tokens(name))) | set(words) - said
    kinds = kind_words("goods") - {"oil", "juice", "base"} | kind_words("mild") | kind_words("quality")
    foods = (larder_words() | kind_words("form")) - kinds
    if not _says_all(name, other) or _differs(name, [other]) or more & foods:
        return False
    known = kind_words("soft") | kind_words("mild") | kind_words("quality")
    for part in other.split(","):
        after = tokens(part)
        last = max((at for at, word in enumerate(after) if word in said), default=len(after))
        if set(after[last + 1 :]) - known:
            return False
    return True


def agreeing(name: str, known: Mapping[str, Iterable[str]]) -> tuple[str, ...]:
    """The goods that go by every word of `name`, cuts too: chopped clams are no littlenecks.

    Where several do, those that have every word as it is written: peeled potatoes.
    """
    said = {key: [one for one in names if _says_all(name, one)] for key, names in known.items()}
    agree = tuple(key for key, names in said.items() if names)
    return tuple(key for key in agree if says_all_as_written(name, said[key])) or agree


def says_all_as_written(name: str, others: Iterable[str]) -> bool:
    """Whether the names have every word of `name`, those too that tell no goods apart: peeled tomatoes."""
    return _parts(name) <= _parts(" ".join(others))


def _says_all(name: str, other: str) -> bool:
    a, b = tokens(name), tokens(other)
    more = set(_written_out(a, b)) - set(_written_out(b, a)) - kind_words("soft")
    return not more and not (CUT & _words(name)) - _words(other)


def nearest(name: str, known: Mapping[str, Iterable[str]]) -> tuple[str, ...]:
    """The goods with a word of `name` or the words it shortens (LM: low moisture), most words first."""
    own, parts = set(tokens(name)), _parts(name)
    shared: dict[str, int] = {}
    for key, names in known.items():
        text = " ".join(names)
        said = _parts(text)
        initials = "".join(word[0] for word in re.findall(r"[^\W\d_]+", text.lower()))
        n_short = sum(len(part) > 1 and part.isalpha() and part in initials for part in parts - said)
        if own & (set(tokens(text)) | said):
            shared[key] = len(own & set(tokens(text))) + len(parts & said) + n_short
    return tuple(sorted(shared, key=lambda key: -shared[key]))


def _parts(text: str) -> set[str]:
    return {singular(part) for part in re.findall(r"\w+", text.lower())}
