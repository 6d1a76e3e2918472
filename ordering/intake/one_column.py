"""A price list whose rows are one cell each, as copied from a page: code, words, pack, price in a line.

A line is cut from its end: the price, before it the longest run of words that is a pack. What stands first is
a code where all lines begin with one. A weight of a line's own (`Sirloin 8oz 10 x 227 g`) stays in its name.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

from ordering.intake.headings import Found, is_total
from ordering.intake.pack_strings import HELD, UNIT_WORDS
from ordering.intake.sheets import SourceSheet

_MOST = 0.6  # of the rows are lines of goods; others are titles and sections
_N = r"\d+(?:[.,]\d+)?"
_MONEY = r"(?:[£$€]\s?\d[\d.,]*|\d[\d.,]*[.,]\d\d(?!\d))(?:\s?[£$€]|\s?kr\b)?(?:\s?(?:/|per)\s?[a-z]+)?"
_PRICED = re.compile(
    rf"(?P<rest>.*?[^\W\d_].*?)\s+(?:(?P<unit>{_MONEY})\s+)?(?P<price>{_MONEY}|mkt|market price|poa)\s*\W?",
    re.IGNORECASE,
)
_UNIT = rf"(?:{UNIT_WORDS}|#|fl\.? ?oz)\.?"
_HOLDER = rf"(?:{HELD}|case|cs|sack|tub|bottle|btl|jar|tin|can|pail|bucket|flat|block|piece)s?"
_PACK = re.compile(
    rf"(?:(?:approx|about|ca|avg)\.? ?|~)?(?:\d+ ?[x×/] ?)*(?:{_N}(?: ?- ?{_N})?|# ?10|a10)"
    rf" ?(?:{_UNIT}(?: [^\W\d_]+)?)?(?: ?{_HOLDER})?(?: ?(?:avg|approx|cw|rw)\.?)?"
    rf"|{_HOLDER}(?: of| x)? ?{_N}(?: ?{_UNIT})?|{_N} ?{_UNIT} ?[x×] ?\d+|(?:per )?(?:{_UNIT}|{_HOLDER})",
    re.IGNORECASE,
)
_PACKED = re.compile(rf"\d ?(?:{_UNIT}|{_HOLDER})(?!\w)", re.IGNORECASE)
_CODE = re.compile(r"(?=\S*\d)[A-Z0-9][A-Z0-9./-]{2,13}", re.IGNORECASE)
_LEADER = re.compile(r"\s*(?:[.·…_]{2,}|-{3,}|(?:\s\.){3,})\s*")
COLUMNS = ("code", "name", "pack", "unit_price", "price")


def in_one_column(sheet: SourceSheet) -> Found | None:
    """The lines of such a list as a table; None where the rows have columns of their own."""
    filled = [[cell for cell in row if cell] for row in sheet.rows]
    texts = [_joined(cells) for cells in filled]
    found = [None if is_total([text]) else _PRICED.fullmatch(text) for text in texts]
    priced = [one for one in found if one]
    n_apart = sum(map(_has_price_apart, filled))
    if len(priced) < 3 or len(priced) < _MOST * len(texts) or n_apart > (1 - _MOST) * len(texts):
        return None
    firsts = [one["rest"].split()[0] for one in priced]
    has_codes = all(map(_CODE.fullmatch, firsts)) and len(set(firsts)) == len(firsts)
    rows: list[list[str]] = []
    for text, one in zip(texts, found, strict=True):
        if one is None:
            packed = _PACKED.search(text)  # without a price, which is said: `Chives 100 g pack out of season`
            rows.append(["", text, packed[0], "", ""] if packed else [text])
            continue
        code, _, rest = one["rest"].partition(" ") if has_codes else ("", "", one["rest"])
        rows.append([code, *_name_and_pack(rest.strip()), one["unit"] or "", one["price"]])
    n = next(n for n, one in enumerate(found) if one)
    how = f"row {sheet.line(n)}: one cell a row, cut into {' | '.join(cell for cell in rows[n] if cell)}"
    lines = [sheet.line(n) for n in range(len(rows))]
    held = replace(sheet, rows=rows, lines=lines)
    given = [role for at, role in enumerate(COLUMNS) if any(len(row) > 1 and row[at] for row in rows)]
    return Found(held, -1, {role: COLUMNS.index(role) for role in given}, (how,))


def _joined(cells: Sequence[str]) -> str:
    """The text of a row that its commas have cut."""
    text = cells[0]
    for before, cell in pairwise(cells):
        is_number = before[-1].isdigit() and re.match(r"\d{2,3}(?!\d)", cell)  # `1,250.00`, `38,00`
        text += f"{',' if is_number else ', '}{cell}"
    return _LEADER.sub("  ", text).strip()


def _has_price_apart(cells: Sequence[str]) -> bool:
    """Whether the last cell is a column of its own, and no rest of a price that a comma has cut."""
    is_cut = len(cells) > 1 and re.fullmatch(r"\d\d", cells[-1]) and re.search(r"[^\W\d_].*\d$", cells[-2])
    return len(cells) > 1 and not is_cut and not _PRICED.fullmatch(cells[-1])


def _name_and_pack(text: str) -> tuple[str, str]:
    """The words of a line and its pack: what stands apart at its end, else its longest end that is a pack."""
    parts = re.split(r"\s{2,}", text)
    if len(parts) > 1 and re.search(r"\d", parts[-1]):
        return " ".join(parts[:-1]), parts[-1]
    words = text.split()
    for n in range(1, len(words)):
        if _PACK.fullmatch(end := " ".join(words[n:])):
            return " ".join(words[:n]).rstrip(" ,-–"), end
    return text, ""
