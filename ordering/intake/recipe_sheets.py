"""Recipes in a workbook, however laid out: every layout is tried, and what explains most is taken."""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence
from dataclasses import replace

from ordering.intake.column_roles import columns_of
from ordering.intake.goods_names import is_food_word, tokens
from ordering.intake.headings import asked_table, find_table, roles_of, with_column
from ordering.intake.outcome import Outcome
from ordering.intake.recipe_cards import cards_in
from ordering.intake.recipe_lines import Said, quantity_in
from ordering.intake.recipe_tables import (
    Written,
    crossed,
    has_bare_items,
    long_table,
    repeats_names,
    told_by_cells,
)
from ordering.intake.sheets import SourceSheet

_NEEDED = ("recipe", "item")


def recipes_in(sheets: Sequence[SourceSheet], out: Outcome) -> list[Written]:
    """Every recipe of every sheet that has lines."""
    found: list[Written] = []
    n_tabs = 0
    for sheet in sheets:
        if _is_contents(sheet, sheets):
            continue
        how, recipes = _best(sheet, out)
        found += recipes
        out.told += how
        n_tabs += bool(recipes) and not how
    if n_tabs:
        which = "it holds" if len(sheets) == 1 else f"{n_tabs} of {len(sheets)} sheets hold"
        out.told.append(f"{which} recipes: name, yield line, lines, method")
    return [one for one in found if one.lines]


def _best(sheet: SourceSheet, out: Outcome) -> tuple[tuple[str, ...], list[Written]]:
    """How the sheet is laid out, as it is told, and the recipes that it holds read so."""
    cut = ([sheet], *_bands(sheet))
    read: list[tuple[tuple[str, ...], list[Written]]] = [
        ((), [one for band in bands for one in cards_in(band, out.country, has_heads)])
        for bands in cut
        for has_heads in (False, True)
    ]
    if (cross := crossed(sheet, out)) is not None:
        read.append(cross)
    is_clear = max(_explained(one) for _, one in read) > len(sheet.rows) / 2
    table = find_table(sheet, roles_of("recipes"), _NEEDED, out.asker)
    if table is None and repeats_names(sheet):
        table = asked_table(sheet, "recipes", _NEEDED, out.asker)
    if table is not None:
        table = told_by_cells(table)
        if has_bare_items(table) and not is_clear:
            table = with_column(table, "amount", out.asker)
        read.insert(0, (table.how, list(long_table(table, out))))
    return max(read, key=lambda one: _explained(one[1]))


def _explained(recipes: Sequence[Written]) -> float:
    """How much of a sheet a reading explains: lines with an amount of a food, recipes with name and yield."""
    return sum(sum(_is_line(said) for _, said in one.lines) + _is_recipe(one) for one in recipes if one.lines)


def _is_line(said: Said) -> float:
    if said.quantity is None:
        return 0.0 if said.is_by_feel else -0.5
    is_clean = not any(c.isdigit() for c in said.name)
    return 0.5 * is_clean + 0.5 * any(is_food_word(word) for word in tokens(said.name))


def _is_recipe(one: Written) -> float:
    makes = quantity_in(one.makes)[0] is not None
    is_named = quantity_in(one.name)[0] is None and any(c.isalpha() for c in one.name)
    return (0.75 if makes else -1.5) - (0.0 if is_named else 2.0)


def _bands(sheet: SourceSheet) -> Iterator[list[SourceSheet]]:
    """The sheet cut into cards side by side: at columns that are empty, and where a heading is repeated."""
    width = max(map(len, sheet.rows))
    used = [any(at < len(row) and row[at] for row in sheet.rows) for at in range(width)]
    starts = [at for at in range(width) if used[at] and (at == 0 or not used[at - 1])]
    cuts = {tuple(starts)}
    for row in sheet.rows:
        low = [cell.lower() for cell in row]
        if "item" not in columns_of(row, roles_of("recipes"), {}, ("item",))[0]:
            continue
        first = next(cell for cell in low if cell)
        cuts.add(tuple(at for at, cell in enumerate(low) if cell == first))
    for cut in sorted(cuts):
        if len(cut) > 1:
            yield [_band(sheet, start, end) for start, end in itertools.pairwise((*cut, width))]


def _band(sheet: SourceSheet, start: int, end: int) -> SourceSheet:
    cells = [(n, row[start:end]) for n, row in enumerate(sheet.rows) if any(row[start:end])]
    return replace(sheet, rows=[row for _, row in cells], lines=[sheet.line(n) for n, _ in cells])


def _is_contents(sheet: SourceSheet, sheets: Sequence[SourceSheet]) -> bool:
    """Whether a tab lists the others: most of its rows hold the title of one."""
    titles = {one.title.lower() for one in sheets if one is not sheet}
    named = sum(any(cell[:31].lower() in titles for cell in row if cell) for row in sheet.rows)
    return len(titles) > 1 and named > len(sheet.rows) / 2
