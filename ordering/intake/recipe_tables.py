"""Recipes in one long table: a line of each a row, its recipe named on all of them or on the first."""

from __future__ import annotations

import itertools
import re
from collections.abc import Iterator
from dataclasses import dataclass, field

from ordering.intake.headings import Found
from ordering.intake.outcome import Outcome
from ordering.intake.recipe_lines import Said, line_in
from ordering.intake.sheets import SourceSheet
from ordering.units import UnitError, kind_of, unit_name


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
    """Whether the first column says the same on row after row: a long table whose heading is not known."""
    names = [row[0] for row in sheet.rows]
    n_again = sum(one == other != "" for one, other in itertools.pairwise(names))
    return n_again > len(names) / 2 and max(map(len, sheet.rows)) > 2


def has_bare_items(table: Found) -> bool:
    """Whether amounts stand neither in a column that is known nor before the goods: `2 lb onions`."""
    items = [table.cell(row, "item") for _, row in table.body()]
    return "amount" not in table.columns and sum(item[:1].isdigit() for item in items) < len(items) / 3


def long_table(table: Found, out: Outcome) -> Iterator[Written]:
    """One long table: the recipe's name on each of its lines, or on the first only."""
    now: Written | None = None
    usual = unit_of_heading(table.head_of("amount"))
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
        now.makes = now.makes or makes
        if method := table.cell(row, "method"):
            now.method.append(method)
        item = table.cell(row, "item")
        if item and not re.match(r"(?i)totals?\b", item):
            amount, unit, note = (table.cell(row, role) for role in ("amount", "unit", "note"))
            said = line_in(amount, unit or of_number(amount, usual), item, note, out.country)
            now.lines.append((where, said))
    if now is not None:
        yield now


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


def of_number(amount: str, unit: str) -> str:
    """The heading's unit for an amount that is a number alone."""
    return unit if re.fullmatch(r"[\d.,/ ]+", amount) else ""
