"""Recipes in a workbook, however laid out: every layout is tried, and what explains most is taken."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence

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
    usual_unit,
)
from ordering.intake.sheet_forms import bands, by_number, of_levels
from ordering.intake.sheets import SourceSheet

_NEEDED = ("recipe", "item")


def recipes_in(sheets: Sequence[SourceSheet], out: Outcome) -> list[Written]:
    """Every recipe of every sheet that has lines."""
    found: list[Written] = []
    alone: dict[str, list[tuple[str, Written]]] = defaultdict(list)
    n_tabs = 0
    for sheet in [of_levels(by_number(sheet)) for sheet in sheets]:
        if _is_contents(sheet, sheets):
            continue
        how, recipes = _best(sheet, out)
        found += recipes
        if len(recipes) == 1:
            alone[recipes[0].name.lower()].append((sheet.title, recipes[0]))
        out.told += how
        n_tabs += bool(recipes) and not how
    for same in alone.values():
        for title, one in same if len(same) > 1 else ():  # one word on all tabs is no name
            one.name = title
    if n_tabs:
        which = "it holds" if len(sheets) == 1 else f"{n_tabs} of {len(sheets)} sheets hold"
        out.told.append(f"{which} recipes: name, yield line, lines, method")
    return [one for one in found if one.lines]


def _best(sheet: SourceSheet, out: Outcome) -> tuple[tuple[str, ...], list[Written]]:
    """How the sheet is laid out, as it is told, and the recipes that it holds read so."""
    usual = usual_unit(sheet, out)
    cut = ([sheet], *bands(sheet, "recipes", "item"))
    read: list[tuple[tuple[str, ...], list[Written]]] = [
        ((), [one for band in one_cut for one in cards_in(band, out.country, usual, has_heads)])
        for one_cut in cut
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
        read.insert(0, (table.how, list(long_table(table, out, usual))))
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


def _is_contents(sheet: SourceSheet, sheets: Sequence[SourceSheet]) -> bool:
    """Whether a tab lists the others: most of its rows hold the title of one."""
    titles = {one.title.lower() for one in sheets if one is not sheet}
    named = sum(any(cell[:31].lower() in titles for cell in row if cell) for row in sheet.rows)
    return len(titles) > 1 and named > len(sheet.rows) / 2
