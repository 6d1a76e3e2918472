"""Which column is what: by the words of its heading and by what stands below it, all columns at once."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from functools import cache
from itertools import pairwise

import numpy as np
from rapidfuzz import fuzz, process
from scipy.optimize import linear_sum_assignment

from ordering.intake.goods_names import is_food_word, tokens

Roles = Mapping[str, str]
Rows = Sequence[Sequence[str]]
READ = 400  # rows below a heading that are looked at
_CLOSE = 88
_SHORT = {
    **{"prod": "product", "desc": "description", "descr": "description", "qty": "quantity", "amt": "amount"},
    **dict.fromkeys(("#", "nr", "num", "number", "nbr"), "no"),
}
_IDLE = {"line", "lines", "text", "field", "full", "info", "list", "our", "your"}
_IDLE |= {"ex", "exc", "excl", "excluding", "before", "plus", "gst", "vat", "hst"}  # not "inc"
_MONEY = r"(?:[£$€]|gbp|usd|eur|chf|aud|nzd|cad)"
_COSTS = re.compile(
    rf"\W*(?:{_MONEY}\W*(?:each|(?:base )?unit|case|net|ex vat|delivered|per)?"
    rf"|(?:each|unit|case|net)\W*{_MONEY})"
    r"\W*(?:lbs?|kgs?)?\W*",
    re.IGNORECASE,
)
# Ranks of how far a heading tells a role: it begins with a word of it, ends in one, is one in part or nearly,
# is one. Cells that do not bear it out halve what it says.
_BEGINS, _ENDS, _PART, _SAME = 2.0, 3.0, 4.0, 5.0
_PACKED = re.compile(
    r"\d.*(?:[/x×#]|[^\W\d_])|#|\b(?:each|ea|bunch|dozen|doz|head|case|bag|box)\b", re.IGNORECASE
)
_COUNTS = re.compile(
    r"\b(?:ctn|carton|case|cs|outer|box|tray)\b.*\b(?:qty|quantity|count|ct|units)\b|\b(?:qty|quantity|units?|no|number|packs?|count|ct|pcs|pieces)\b.*(?:\b(?:per|in|a)\b|/)\s*"
    r"(?:outer|case|cs|box|ctn|carton|pack|tray|crate|bag|sack|vpe)\b",
    re.IGNORECASE,
)
_FROM_ONE = re.compile(r"1 ?(?:\+|(?:-|–|to) ?\d+)(?: ?[a-z]+)?", re.IGNORECASE)  # the price of few packs
_ALONE = {"name", "case", "each"}  # tell nothing at the end or the beginning of a longer heading
_NAMES = ("name", "item", "dish", "recipe")
_NUMBERS = ("price", "unit_price", "sold", "party")
_FORMS = {  # what cells begin with, or are
    "count": re.compile(r"[~½¼¾.\d].*|(?:none|nil|out|-)$", re.IGNORECASE),
    "party": re.compile(r"\d{1,3}(?: ?[a-z]{1,6})?$", re.IGNORECASE),
    "date": re.compile(r"\d{1,4}[./-]\d{1,2}[./-]\d{2,4}|20\d{6}"),
    "amount": re.compile(r".*\d"),
}
_SEVERAL = re.compile(r"\d[^\n;]*[\n;]\s*\d")  # lines of a recipe in one cell
_NAMED = re.compile(r"(?!\d)\w.*[^\W\d_]{4}")
_AMOUNT = r"[^\d\n]{0,4}-?\d[\d.,]*[^\d\n]{0,4}"
_HELD = re.compile(
    r"[^£$€]*?\d+(?:[.,]\d)?\s?(?:kgs?|g|lbs?|oz|l|ltr|ml|cl|gal|ct|pcs?|dz|doz|#)\.?", re.IGNORECASE
)
_PRICE = r"\D{0,4}\d[\d.,]*[.,]\d\d\D{0,4}"


def plain(text: str) -> str:
    """A heading as it is compared: lower case, without brackets, signs and double spaces."""
    text = re.sub(r"(?<=[a-z])(?=[A-Z])", " ", text)
    text = (
        re.sub(r"\([^)]*\)|\[[^]]*\]", " ", text.lower()) if not text.startswith(("(", "[")) else text.lower()
    )
    text = re.sub(r"(?<=[a-z]) (?:per|for) \d+(?: [a-z]+)?$", "", text)  # `Qty per 100`
    words = re.sub(r"[^\w#/%. ]", " ", text.replace("_", " ").replace(".", " ").replace("#", " # ")).split()
    return " ".join(_SHORT.get(word, word) for word in words)


def columns_of(
    heading: Sequence[str], roles: Roles, own: Mapping[str, str], needed: Sequence[str] = (), below: Rows = ()
) -> tuple[dict[str, int], float]:
    """The column of each role, and how well the heading tells it.

    An assignment: of all ways to give each role one column, that whose headings say most, with those `needed`
    before all others. A column whose cells cannot be what a role says is never given to it. `own` has the
    roles answered by the house, which go before everything.
    """
    below = _full(below)
    is_listed = any(sum(_SEVERAL.search(cell) is not None for cell in row) for row in below)
    names = list(roles)
    more = _SAME * len(names)  # than all headings together
    worth = np.zeros((len(heading), len(names)))
    for at, cell in enumerate(heading):
        if (answer := own.get(plain(cell))) is not None:
            worth[at] = [more * len(names) * (role == answer) for role in names]
            continue
        may_be = list(_said(cell, roles))
        cells = [row[at] if at < len(row) else "" for row in below] if may_be else []
        for role, said in may_be:
            stands_once = is_listed or "item" not in roles  # a menu has no lines below the name of a recipe
            is_free = not below or (stands_once and role == "recipe")
            is_fit = is_free or _can_be(role, cells)
            if is_fit and said > worth[at, names.index(role)]:
                worth[at, names.index(role)] = said * fits(role, cells) + more * (role in needed) - at / 1000
    at_of, role_of = linear_sum_assignment(worth, maximize=True)
    given = [(int(at), names[n], worth[at, n]) for at, n in zip(at_of, role_of, strict=True) if worth[at, n]]
    columns = {role: at for at, role, _ in given}
    if "unit" in roles and "unit" not in columns and "amount" in columns:
        beside = columns["amount"] + 1
        if beside < len(heading) and not heading[beside]:
            columns["unit"] = beside  # an amount's unit stands beside it, often under no heading
    return columns, float(sum(said for *_, said in given))


def _said(cell: str, roles: Roles) -> Iterator[tuple[str, float]]:
    """(role, how far it is told) of each role that a heading may name."""
    name = plain(cell)
    if "price" in roles and _COSTS.fullmatch(cell):
        is_of_unit = "unit_price" in roles and re.search(r"(?i)each|base unit|lbs?|kgs?", cell)
        yield ("unit_price" if is_of_unit else "price"), (_PART + _SAME) / 2
    if "price" in roles and re.search(_MONEY, cell, re.IGNORECASE) and not re.search(r"\d", cell):
        yield "price", _BEGINS
    if "price" in roles and _FROM_ONE.fullmatch(cell.strip()):
        yield "price", _PART
    if "pack" in roles and _COUNTS.search(cell):
        yield "pack", _ENDS
    if name and len(name) <= 40:
        parts = [plain(part) for part in re.split(r"[/|]", cell)]
        yield from ((role, _told(name, parts, _listed(listed))) for role, listed in roles.items())


def _told(name: str, parts: Sequence[str], words: Sequence[str]) -> float:
    """How far a heading tells the role of these words: the same, a part, its end."""
    bare = " ".join(word for word in name.split() if word not in _IDLE)
    if name in words:
        return _SAME - words.index(name) / len(words)
    if bare in words:
        return _PART
    if match := process.extractOne(name, words, scorer=fuzz.ratio, score_cutoff=_CLOSE):
        return _PART * match[1] / 100
    if any(len(part) > 2 and part in words for part in parts):
        return _PART
    if re.search(r"\d", name) or len(re.findall(r"\w+", name)) > 4:
        return 0.0
    whole = [word for word in words if len(word) > 2 and word not in _ALONE]
    if any(name.endswith(f" {word}") or bare.endswith(f" {word}") for word in whole):
        return _ENDS
    return _BEGINS if any(name.startswith(f"{word} ") for word in whole) else 0.0


@cache
def _listed(names: str) -> list[str]:
    return [plain(name) for name in names.split(", ")]


def _full(rows: Rows) -> Rows:
    """The rows of goods, without titles between them: those at least half as full as the fullest."""
    most = max((sum(map(bool, row)) for row in rows), default=0)
    return [row for row in rows if 2 * sum(map(bool, row)) >= most]


def fits(role: str, cells: Sequence[str]) -> float:
    """How far cells bear a role out, from a half to 1: codes differ, names have words of food."""
    if not cells or role not in ("code", "name", "price", "unit_price", "um"):
        return 1.0
    filled = [cell for cell in cells if cell]
    if role == "code":
        share = sum(cell.count(" ") < 2 for cell in filled) * len(set(filled)) / max(len(filled), 1)
    elif role == "name":
        share = sum(any(map(is_food_word, tokens(cell))) for cell in filled)
    elif role == "um":
        share = len(cells) - sum(bool(re.search(r"\d", cell)) for cell in filled)
    else:
        is_whole = not any(re.search(r"\d[.,]\d", cell) for cell in filled)  # counts are, prices seldom
        share = sum(bool(re.fullmatch(_AMOUNT, cell)) for cell in filled) * (0.5 if is_whole else 1)
    return 0.5 + share / len(cells) / 2


def _can_be(role: str, cells: Sequence[str]) -> bool:
    """Whether a column's cells can be what a role says; only what is certain counts against it."""
    filled = [cell for cell in cells if cell]
    if not filled:
        return role not in (*_NAMES, *_NUMBERS)
    if role == "recipe" and len(set(filled)) > 0.75 * len(cells):  # its lines stand below it, or repeat it
        return False
    if role in (*_NAMES, "brand", "section"):
        return sum(bool(re.search(r"[^\W\d_]", cell)) for cell in filled) >= len(filled) / 2
    if role in ("price", "unit_price") and len(filled) > 2:
        money = [cell for cell in filled if re.fullmatch(_AMOUNT, cell) and not _HELD.fullmatch(cell)]
        return 3 * len(money) > len(filled)
    if role == "status":  # a column of figures counts what was voided
        return not (all(re.fullmatch(r"\d+", cell) for cell in filled) and set(filled) - {"0", "1"})
    if role in _NUMBERS:
        return 2 * sum(bool(re.match(r"\D{0,4}\d", cell)) for cell in filled) > len(filled)
    return True


def _repeated(cells: Sequence[str]) -> float:
    """The share of cells that name a recipe, where a name stands again on each of its lines."""
    filled = [cell for cell in cells if cell]
    is_named = sum(bool(_NAMED.match(cell)) for cell in filled) > len(filled) / 2
    return is_named * sum(one == other != "" for one, other in pairwise(cells)) / len(filled)


def likely(cells: Sequence[str], role: str) -> float:
    """The share of a column's cells that could be what a role says, whatever its heading is."""
    filled = [cell for cell in cells if cell]
    if len(filled) < 2:
        return 0.0
    if role == "recipe":
        return _repeated(cells)
    if role == "party" and len(set(filled)) == len(filled):
        return 0.0  # sizes are there again; what never is, numbers the rows
    if form := _FORMS.get(role):
        return sum(bool(form.match(cell)) for cell in filled) / len(filled)
    if role in _NUMBERS:
        is_price = role in ("price", "unit_price")
        share = sum(bool(re.fullmatch(_PRICE if is_price else _AMOUNT, cell)) for cell in filled) / len(cells)
        has_cents = any(re.fullmatch(r"\d+\.\d{1,2}", cell) for cell in filled)  # 7.8 and 21 of a workbook
        if is_price and has_cents:
            share = max(share, 0.9 * sum(bool(re.fullmatch(_AMOUNT, cell)) for cell in filled) / len(cells))
        return share
    if role == "pack":
        return sum(bool(_PACKED.search(cell)) for cell in filled) / len(cells)
    if role == "code":
        is_code = all(re.fullmatch(r"[\w./-]{1,14}", cell) for cell in filled)
        n_figures = sum(bool(re.search(r"\d", cell)) for cell in filled)
        return (fits(role, cells) - 0.5) * 2 * (is_code and 2 * n_figures > len(filled))
    letters = sum(len(re.findall(r"[^\W\d_]", cell)) for cell in filled) / len(cells)
    return min(letters / 6, 1.0) * (1 + len(set(filled)) / len(filled)) / 2
