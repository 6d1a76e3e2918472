"""Recipes in one long table: a line of each a row, its recipe named on all of them or on the first."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from statistics import median

from ordering.intake.column_roles import columns_of, likely
from ordering.intake.goods_names import is_food_word, tokens
from ordering.intake.headings import LOOKED_AT, Found, roles_of
from ordering.intake.outcome import Outcome, Question
from ordering.intake.recipe_lines import Said, is_unit, line_in, listed, of_number, quantity_in, with_yield
from ordering.intake.sheets import SourceSheet
from ordering.units import UnitError, kind_of, unit_name

_ALL_IN = re.compile(
    r"\b(?:weights?|quantit(?:y|ies)|amounts?|measures?|ingredients|everything|all)\b[^.;]*?\bin\s+([a-z]+)",
    re.IGNORECASE,
)
_WITH_UNIT = re.compile(r"\d+(?:[.,]\d+)?\s*(?:g|kg|ml|l|lb|oz|cups?|tbsp|tsp|qt|gal)\b", re.IGNORECASE)
MOST_PIECES = 50  # of a thing a recipe takes by the piece, in the middle of a book
MOSTLY_BARE = 4  # lines without a unit to one with it, for a book that leaves it out


@dataclass(slots=True)
class Written:
    """One recipe as it stands in the file; `row` is where it begins."""

    name: str
    where: str
    makes: str = ""
    keeps: str = ""
    lines: list[tuple[str, Said]] = field(default_factory=list)
    method: list[str] = field(default_factory=list)


def repeats_names(sheet: SourceSheet) -> bool:
    """Whether a column says the same on row after row: a long table whose heading is not known."""
    width = max(map(len, sheet.rows))
    columns = ([_at(row, at) for row in sheet.rows] for at in range(width))
    return width > 2 and any(sum(map(bool, c)) > len(c) / 2 < len(c) * likely(c, "recipe") for c in columns)


def told_by_cells(table: Found) -> Found:
    """The table with its columns of yields and units where only their cells say so.

    A yield is one for each recipe, on all of its lines or on the first.
    """
    columns = dict(table.columns)
    rows = [row for _, row in table.body()]
    for at in range(max(map(len, rows), default=0)):
        cells = [_at(row, at) for row in rows]
        filled = [cell for cell in cells if cell]
        if at in columns.values() or not filled:
            continue
        by_name: dict[str, set[str]] = defaultdict(set)
        for row, cell in zip(rows, cells, strict=True):
            by_name[table.cell(row, "recipe")] |= {cell} - {""}
        is_one = len(by_name) > 1 and all(len(values) < 2 for name, values in by_name.items() if name)
        if "yield" not in columns and is_one and all(quantity_in(cell)[0] for cell in filled):
            columns["yield"] = at
        elif "unit" not in columns and sum(map(is_unit, filled)) > len(filled) / 2:
            columns["unit"] = at
    return replace(table, columns=columns)


def has_bare_items(table: Found) -> bool:
    """Whether amounts stand neither in a column that is known nor before the goods: `2 lb onions`."""
    items = [table.cell(row, "item") for _, row in table.body()]
    return "amount" not in table.columns and sum(item[:1].isdigit() for item in items) < len(items) / 2


def long_table(table: Found, out: Outcome, usual: str) -> Iterator[Written]:
    """One long table: the recipe's name on each of its lines, or on the first only.

    `usual` is the unit of bare numbers where no column and no heading says one.
    """
    now: Written | None = None
    scaled = re.search(r"(?i)\b(?:per|for)\s+(\d+)", table.head_of("amount"))
    stated = f"{scaled[1]} portions" if scaled else ""
    usual = unit_of_heading(table.head_of("amount")) or ("" if "unit" in table.columns else usual)
    for n, row in table.body():
        where = f"row {table.sheet.line(n)}"
        name = table.cell(row, "recipe")
        if name and (now is None or name.lower() != now.name.lower()):
            if now is not None:
                yield now
            now = Written(name, where)
        if now is None:
            continue
        makes = " ".join(table.cell(row, role) for role in ("yield", "yield_unit")).strip()
        now.makes = now.makes or makes or stated
        if method := table.cell(row, "method"):
            now.method.append(method)
        item = table.cell(row, "item")
        if not item or re.match(r"(?i)totals?\b", item):
            continue
        amount, unit, note = (table.cell(row, role) for role in ("amount", "unit", "note"))
        several = listed(item) if not amount else [item]
        if len(several) > 1:
            now.lines += [(where, line_in("", "", one, "", out.country)) for one in several]
            continue
        said = line_in(amount, unit or of_number(amount, usual), item, note, out.country)
        if said.quantity is not None or said.is_by_feel or not is_part(item):
            said = with_yield(said, table.cell(row, "yield_percent"), table.head_of("amount"))
            now.lines.append((where, said))
    if now is not None:
        yield now


def usual_unit(sheet: SourceSheet, out: Outcome) -> str:
    """The unit of numbers alone: as a row says, or grams where so many can be no pieces; else empty."""
    for row in sheet.rows:
        for cell in row:
            if (said := _ALL_IN.search(cell)) and (unit := unit_of_heading(said[1])):
                out.told.append(f"{sheet.title or 'the sheet'}: '{cell}': numbers alone are {unit}")
                return unit
    bare, n_with_unit = [], 0
    for row in sheet.rows:
        numbers = [cell for cell in row if re.fullmatch(r"\d+(?:[.,]\d+)?", cell)]
        has_unit = any(is_unit(cell) or _WITH_UNIT.match(cell) for cell in row if cell)
        n_with_unit += has_unit
        bare += [] if has_unit or len(numbers) != 1 else [float(numbers[0].replace(",", "."))]
    if len(bare) < MOSTLY_BARE * n_with_unit or not bare or median(bare) < MOST_PIECES:
        return ""
    text = f"{sheet.title or 'the recipes'}: amounts have no unit, such as {max(bare):g}: are they grams?"
    answer = out.asker.settle(Question("unit of numbers alone", text, ("g", "each"), "g"))
    return "" if answer == "each" else answer


def is_part(text: str) -> bool:
    """Whether a text without an amount names a part of a recipe and no goods: `TO FINISH`, `For the base`."""
    is_marked = text.endswith(":") or text.isupper() or re.match(r"(?i)(?:for|to) ", text) is not None
    return is_marked or not any(is_food_word(word) for word in tokens(text))


def crossed(sheet: SourceSheet, out: Outcome) -> tuple[tuple[str, ...], list[Written]] | None:
    """Recipes across and goods down, as told and as read; None for a sheet that has no such table."""
    for n, row in enumerate(sheet.rows[:LOOKED_AT]):
        columns, _ = columns_of(row, roles_of("recipes"), {}, ("item",))
        free = [at for at in range(len(row)) if at not in columns.values()]
        names = [at for at in free if re.search(r"[^\W\d_]{3}", row[at])]
        if "item" not in columns or {"amount", "recipe"} & set(columns) or len(names) < 2:
            continue
        below = sheet.rows[n + 1 :]
        if not any(not _at(one, at) for one in below for at in names):
            return None  # full columns of figures are costs
        found = [_of_column(sheet, n, at, columns, out.country) for at in names]
        how = f"row {sheet.line(n)} has the recipes across: {', '.join(row[at] for at in names)}"
        return (how,), [one for one in found if one.lines]
    return None


def _of_column(sheet: SourceSheet, head: int, at: int, columns: Mapping[str, int], country: str) -> Written:
    """The recipe of one column: the goods of each row that has an amount in it."""
    one = Written(sheet.rows[head][at], f"column {at + 1}")
    for n in range(head + 1, len(sheet.rows)):
        row = sheet.rows[n]
        item, unit, amount = (_at(row, k) for k in (columns["item"], columns.get("unit", -1), at))
        if re.match(r"(?i)\W*(?:makes|yields?|serves|portions?|batch(?: size)?|covers)\b", item):
            one.makes = f"{amount} {unit or ('portions' if amount.isdigit() else '')}".strip()
        elif amount and amount not in ("-", "0"):
            one.lines.append((f"row {sheet.line(n)}", line_in(amount, unit, item, "", country)))
    return one


def _at(row: Sequence[str], at: int) -> str:
    return row[at] if 0 <= at < len(row) else ""


def unit_of_heading(text: str) -> str:
    """The unit that an amount's heading names: `Weight (g)`, `grams`, `Qty kg`; empty for none."""
    for word in reversed(re.findall(r"[a-z]+", text.lower())):
        try:
            unit = unit_name(word)
        except UnitError:
            continue
        if kind_of(unit) in ("mass", "volume"):
            return unit
    return ""
