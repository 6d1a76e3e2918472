"""The columns of a vendor's price list where headings do not tell all: by what stands in the cells.

A list whose rows are one cell each, as copied from a page, is cut from the end of its lines: the price,
before it the longest run of words that is a pack. What stands first is a code where all lines begin with
one. A weight of a line's own (`Sirloin 8oz 10 x 227 g`) stays in its name.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

from ordering.intake.column_roles import likely, plain
from ordering.intake.headings import Found, is_total, with_column
from ordering.intake.outcome import Outcome, Question
from ordering.intake.pack_strings import HELD, UNIT_WORDS
from ordering.intake.sheets import SourceSheet

PACK_IN_NAME = re.compile(
    rf"(?:\d+(?:[.,]\d+)?|\.\d+)\s*(?:{UNIT_WORDS})\s*[x×]\s*\d+\b|"
    r"(?:(?:approx|about|ca|avg)\b\.?\s*)?(?:\d+(?:[.,]\d+)?\s*-\s*(?=\d))?(?:\d+\s*[/x×]\s*)?(?:\d+(?:[.,]\d+)?|\.\d+)\s*(?:#(?!\d)|fl\.?\s*oz\b"
    rf"|(?:{UNIT_WORDS})(?![a-z]))|\d+\s*[/x×]\s*#\s*\d+|(?:\b\d+\s*)?\bx\s*\d+$",
    re.IGNORECASE,
)
_MOST = 0.6  # of the rows are lines of goods; others are titles and sections
_N = r"\d+(?:[.,]\d+)?"
_MONEY = r"(?:[£$€]\s?\d[\d.,]*|\d[\d.,]*[.,]\d\d(?!\d))(?:\s?[£$€]|\s?kr\b)?(?:\s?(?:/|per)\s?[a-z]+)?"
_PRICED = re.compile(
    rf"(?P<rest>.*?[^\W\d_].*?)\s+(?:(?:at|for|@)\s+)?(?:(?P<unit>{_MONEY})\s+)?"
    rf"(?P<price>{_MONEY}|mkt|market price|poa)\s*\W?",
    re.IGNORECASE,
)
_UNIT = rf"(?:{UNIT_WORDS}|#|fl\.? ?oz)\.?"
_HOLDER = rf"(?:{HELD}|case|cs|sack|tub|bottle|btl|jar|tin|can|pail|bucket|flat|block|piece)s?"
_PACK = re.compile(
    rf"(?:{_HOLDER} of )?(?:(?:approx|about|ca|avg)\.? ?|~)?(?:\d+ ?[x×/] ?)*(?:{_N}(?: ?- ?{_N})?|# ?10|a10)"
    rf" ?(?:{_UNIT}(?: [^\W\d_]+)?)?(?: ?{_HOLDER})?(?: ?(?:avg|approx|cw|rw)\.?)?"
    rf"|{_HOLDER}(?: of| x)? ?{_N}(?: ?{_UNIT})?|{_N} ?{_UNIT} ?[x×] ?\d+|(?:per )?(?:{_UNIT}|{_HOLDER})",
    re.IGNORECASE,
)
_PACKED = re.compile(rf"\d ?(?:{_UNIT}|{_HOLDER})(?!\w)", re.IGNORECASE)
_CODE = re.compile(r"(?=\S*\d)[A-Z0-9][A-Z0-9./-]{2,13}", re.IGNORECASE)
_LEADER = re.compile(r"\s*(?:[.·…_]{2,}|-{3,}|(?:\s\.){3,})\s*")
_ASIDE = re.compile(
    r"\b(?:vat|tax|gst|stock|min|minimum|order|ordered|qty to|moq|allergen|week|days?|shelf|line|no|nr|row"
    r"|\d+ ?[+–-]|page|gtin|ean|ti|hi|pallet|layer|price|cost|rrp|total|mon|tue|wed|thu|fri|sat|sun)\b|%",
    re.IGNORECASE,
)
COLUMNS = ("code", "name", "pack", "unit_price", "price")


def in_one_column(sheet: SourceSheet) -> Found | None:
    """The lines of such a list as a table; None where the rows have columns of their own."""
    filled = [[cell for cell in row if cell] for row in sheet.rows]
    texts = [re.sub(r"^[*•·–-]\s+", "", _joined(cells)) for cells in filled]
    found = [None if is_total([text]) else _PRICED.fullmatch(text) for text in texts]
    priced = [one for one in found if one]
    at = [n for n, one in enumerate(found) if one]
    n_lines = at[-1] - at[0] + 1 if at else 0  # a letter says more above and below them
    n_apart = sum(map(_has_price_apart, filled[at[0] : at[-1] + 1])) if at else 0
    if len(priced) < 3 or len(priced) < _MOST * n_lines or n_apart > (1 - _MOST) * n_lines:
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
    first = " | ".join(cell for cell in rows[at[0]] if cell)
    how = f"row {sheet.line(at[0])}: one cell a row, cut into {first}"
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
    text = text.strip(" ,-–@")
    if (held := re.fullmatch(r"(.+?)\s*\(([^()]+)\)", text)) and _PACK.fullmatch(held[2]):
        return held[1], held[2]
    parts = re.split(r"\s{2,}| [-–] ", text)
    if len(parts) > 1 and re.search(r"\d", parts[-1]):
        return " ".join(parts[:-1]), parts[-1]
    words = text.split()
    for n in range(1, len(words)):
        if _PACK.fullmatch(end := " ".join(words[n:])):
            return " ".join(words[:n]).rstrip(" ,-–@"), end
    return text, ""


def with_code(table: Found) -> Found:
    """The table with the column of the vendor's codes where only its cells tell it: all different."""
    rows = [row for _, row in table.body() if table.cell(row, "price")]
    known = [at for role, at in table.columns.items() if role != "grade"]
    free = [at for at in range(len(table.heading)) if at not in known]
    for at in free if "code" not in table.columns else ():
        if likely([row[at] if at < len(row) else "" for row in rows], "code") == 1 and len(rows) > 2:
            how = f"{table.heading[at] or 'an unnamed column'} = code, as its cells tell"
            others = {role: n for role, n in table.columns.items() if n != at}
            return replace(table, columns={**others, "code": at}, how=(*table.how, how))
    return table


def with_price(table: Found) -> Found:
    """The table with its one price as that of what is sold, whatever its heading calls it."""
    if "price" in table.columns or "unit_price" not in table.columns:
        return table
    named = {"unit_price": "price"}
    return replace(table, columns={named.get(role, role): at for role, at in table.columns.items()})


def with_contents(table: Found) -> Found:
    """The table with its packs where contents stand: a column of bare words (Case, kg) is what is sold."""
    at = table.columns
    held = [cell for _, row in table.body() if (cell := table.cell(row, "per"))]
    n_held = sum(bool(re.search(r"\d ?[a-z]", cell, re.IGNORECASE)) for cell in held)
    if 2 * n_held > len(held) and not {"pack", "size", "um"} & set(at):  # `Per | 20 kg net`
        named = {("pack" if role == "per" else role): n for role, n in at.items()}
        return replace(table, columns=named, how=(*table.how, f"{table.head_of('per')} = pack"))
    if not {"pack", "size"} <= set(at) or "um" in at:
        return table
    cells = {
        role: [cell for _, row in table.body() if (cell := table.cell(row, role))]
        for role in ("pack", "size")
    }
    n_bare = sum(not re.search(r"[\d#]", cell) for cell in cells["pack"])
    n_sized = sum(bool(re.search(r"[\d#]", cell)) for cell in cells["size"])
    if 2 * n_bare <= len(cells["pack"]) or 2 * n_sized <= len(cells["size"]):
        return table
    others = {role: n for role, n in at.items() if role not in ("pack", "size")}
    how = f"{table.head_of('size')} = pack, {table.head_of('pack')} = um, as their cells tell"
    return replace(table, columns={**others, "pack": at["size"], "um": at["pack"]}, how=(*table.how, how))


def with_count(table: Found, out: Outcome) -> Found:
    """The table with the column of packs, or of how many sizes make one, where its heading does not say so.

    A size without its count beside it would be read as the whole pack, so a column of whole numbers is asked
    about.
    """
    if not {"size", "pack"} & set(table.columns):
        names = [table.cell(row, "name") for _, row in table.body()]
        has_own = sum(bool(PACK_IN_NAME.search(name)) for name in names) > len(names) / 2
        return table if has_own or _is_pack_unit(table) else with_column(table, "pack", out.asker)
    if "pack" in table.columns:
        return table
    rows = [row for _, row in table.body() if table.cell(row, "size") and table.cell(row, "price")]
    for at, heading in enumerate(table.heading):
        counts = [row[at] for row in rows if at < len(row)]
        n_whole = sum(bool(re.fullmatch(r"[1-9]\d{0,2}(?:\.0)?", cell)) for cell in counts)
        is_numbering = len(rows) > 2 and len(set(counts)) == len(counts)  # of rows: a count is there again
        if not heading or at in table.columns.values() or not rows or 2 * n_whole < len(rows) or is_numbering:
            continue
        key = f"column {plain(heading)}"
        text = f"Column {heading}: is that how many of the size make a pack?"
        if out.asker.settle(Question(key, text, ("pack", "none"), "pack")) == "pack":
            taken = "taken for" if out.asker.is_guess(key) else "it is"
            how = f"{heading} = pack: {taken} how many of the size make one"
            columns = {**table.columns, "pack": at}
            return replace(table, columns=columns, how=(*table.how, how))
    return table


def with_unread(table: Found, out: Outcome) -> Found:
    """The table, each column of numbers that may count or size its packs and that nobody knows asked about.

    What such a column says would be lost without a word; one answer is for all of the list.
    """
    rows = [row for _, row in table.body() if table.cell(row, "price") or table.cell(row, "unit_price")]
    for at, heading in enumerate(table.heading):
        cells = [row[at] if at < len(row) else "" for row in rows]
        n_numbers = sum(bool(re.fullmatch(r"\d{1,4}(?:[.,]\d{1,3})?", cell)) for cell in cells)
        is_known = at in table.columns.values() or not heading or bool(_ASIDE.search(heading))
        if is_known or len(rows) < 3 or 2 * n_numbers <= len(rows) or not 1 < len(set(cells)) < len(cells):
            continue
        free = [role for role in ("pack", "size") if role not in table.columns]
        text = f"Column {heading}: does it count or size the packs? It is not read."
        role = out.asker.settle(Question(f"column {plain(heading)}", text, ("none", *free), "none"))
        if role in free:
            how = f"{heading} = {role}, as answered"
            table = replace(table, columns={**table.columns, role: at}, how=(*table.how, how))
        else:
            table = replace(table, how=(*table.how, f"not read: {heading}"))
    return table


def _is_pack_unit(table: Found) -> bool:
    """Whether the unit column itself says what a pack is (`box of 12`, `per kg`), so that no other does."""
    units = [unit for _, row in table.body() if (unit := table.cell(row, "um"))]
    return sum(bool(re.search(r"\d", unit)) for unit in units) > len(units) / 2
