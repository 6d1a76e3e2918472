"""Recipes, however laid out, into `recipes.yaml`: every layout is tried, and what explains most is taken.

Ingredients not yet known are added; sub-recipes are known by name, measures by weight.
"""

from __future__ import annotations

import hashlib
from collections import defaultdict
from collections.abc import Mapping, Sequence

from ruamel.yaml.comments import CommentedMap, CommentedSeq
from ruamel.yaml.scalarstring import LiteralScalarString

from ordering.amounts import plural
from ordering.intake.bridges import put_each
from ordering.intake.card_words import makes_of
from ordering.intake.goods_names import id_of, is_food_word, tokens
from ordering.intake.headings import asked_table, find_table, no_table, roles_of, with_column
from ordering.intake.housefiles import block, flow, marked, marked_item, number
from ordering.intake.outcome import Outcome, free_id, some, titled
from ordering.intake.recipe_amounts import Amounts, as_cooked
from ordering.intake.recipe_cards import cards_in
from ordering.intake.recipe_goods import Goods
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
from ordering.read.fields import MAX_NOTES

_NEEDED = ("recipe", "item")


def bring_recipes(sheets: Sequence[SourceSheet], out: Outcome) -> None:
    """Read every recipe and write those that are new or whose text has changed since it was last read."""
    found = _once(recipes_in(sheets, out), out)
    if not found:
        raise no_table(sheets, ("item", ("amount", "unit")), out.name)
    recipes = out.house.entries("recipes")
    known = {name.lower(): key for key, names in out.known("recipes").items() for name in names}
    ids: dict[str, str] = {}
    for one in found:
        low = one.name.lower()
        if low not in ids:
            ids[low] = known.get(low) or free_id(
                id_of(one.name), out.house.entries("ingredients"), ids_taken(ids, recipes)
            )
    names = {**out.known("ingredients", "recipes")}
    for one in found:
        names.setdefault(ids[one.name.lower()], []).append(one.name)
    kitchen = _RecipeWriter(out, names, {ids[one.name.lower()]: one for one in found})
    n_new = n_same = 0
    changed: list[str] = []
    for one in found:
        key = ids[one.name.lower()]
        was_read = out.asker.known.get(f"read {key}")
        if key in recipes and was_read in (_fingerprint(one), _fingerprint(one, out)):
            n_same += 1
            continue
        is_new = key not in recipes
        kitchen.write(key, one)
        out.asker.given[f"read {key}"] = _fingerprint(one, out)
        n_new += is_new
        changed += [] if is_new else [one.name]
    out.told.append(
        f"{plural(len(found), 'recipe')}: {n_new} new, {len(changed)} changed, {n_same} as before"
    )
    out.told += [f"changed: {one}" for one in some(changed)]
    kitchen.tell()


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


def _once(found: Sequence[Written], out: Outcome) -> list[Written]:
    """The recipes with each name once; another of the same name is left out, and said."""
    first: dict[str, Written] = {}
    for one in found:
        kept = first.setdefault(one.name.lower(), one)
        if kept is not one and _fingerprint(kept) != _fingerprint(one):
            out.left.append(f"{one.where}: {one.name} is there twice, and not the same; the first is taken")
    return list(first.values())


def ids_taken(ids: dict[str, str], recipes: CommentedMap) -> dict[str, object]:
    """Ids given in this file and those of recipes that are not in it."""
    return {**dict.fromkeys(ids.values()), **{str(key): None for key in recipes}}


def _fingerprint(one: Written, out: Outcome | None = None) -> str:
    """A recipe's text in short, and which goods its lines were said to mean: another answer reads it anew."""
    text = repr((one.makes, one.lines, one.method))
    if out is not None:
        meant = (out.asker.answer_to(f"item {said.name.lower()}") for _, said in one.lines)
        text += "".join(f" {answer}" for answer in meant if answer)
    text += "".join(f" {said.usable}" for _, said in one.lines if said.usable is not None)
    return hashlib.sha256(text.encode()).hexdigest()[:8]


class _RecipeWriter:
    """Ingredients and recipes as they are while recipes are written."""

    def __init__(self, out: Outcome, names: dict[str, list[str]], found: Mapping[str, Written]) -> None:
        self.out = out
        self.recipes = out.house.entries("recipes")
        self.makes = {key: makes_of(one.name, one.makes, out) for key, one in found.items()}
        self.goods = Goods(out, names, self.makes)
        self.amounts = Amounts(out, self.makes, found)
        self.by_feel: dict[str, None] = {}

    def write(self, key: str, one: Written) -> None:
        """The recipe in its place: what it makes, its lines, its method; other words of an old one stay."""
        made = self.makes[key]
        quantity, guess = made.quantity, made.guess
        lines, by_feel = self._lines(key, one)
        entry = self.recipes.get(key)
        if entry is None:
            entry = block(name=titled(one.name), makes=as_cooked(quantity))
            self.out.house.add("recipes", key, entry)
            if one.keeps or quantity.unit != "portion":
                entry["keeps"] = one.keeps or "3 d"
            if not one.keeps and quantity.unit != "portion":
                marked(entry, "keeps", "nothing is written; common practice, no source")
        entry["makes"] = as_cooked(quantity)
        if guess:
            marked(entry, "makes", guess)
        entry["from"] = lines
        each = (made.of_one, "") if made.of_one is not None else self.amounts.of_one.get(key)
        if each is not None and not entry.get("each"):
            put_each(entry, *each)
        notes = "\n".join([*one.method, *([f"By feel: {'; '.join(by_feel)}."] if by_feel else [])])
        if notes:
            entry["notes"] = LiteralScalarString(notes[:MAX_NOTES])
        self.out.house.changed.add("recipes")

    def _lines(self, key: str, one: Written) -> tuple[CommentedSeq, list[str]]:
        """The lines with an amount, guesses marked, and what is added by feel."""
        lines, by_feel = CommentedSeq(), []
        for where, line in one.lines:
            if line.quantity is not None and self.goods.is_from_the_tap(line.name):
                by_feel.append(f"{line.name}: {line.quantity}")
            elif line.quantity is None:
                by_feel.append(" ".join(p for p in (line.name, line.note) if p))
                if not line.is_by_feel:
                    what = f"{line.name} ({line.note})" if line.note else line.name
                    self.out.left.append(f"{where}: {one.name}: no amount for {what}")
                else:
                    self.by_feel[line.name.lower()] = None
            elif (made := self._line(key, where, one, line)) is not None:
                lines.append(made[0])
                if made[1]:
                    marked_item(lines, len(lines) - 1, made[1])
        return lines, by_feel

    def _line(self, key: str, where: str, one: Written, line: Said) -> tuple[CommentedMap, str] | None:
        """One line as it is written, and what is guessed in it; None where it is left out."""
        assert line.quantity is not None
        line, of_one = self.goods.pressed(line)
        item, why = self.goods.of_line(key, line)
        fitted = self.amounts.of_line(item, where, one, line)
        if fitted is None:
            return None
        amount, more = fitted
        reasons = "; ".join(r for r in (why, of_one, more) if r)
        usable = None if line.usable is None else number(f"{float(line.usable):.3g}")
        return flow(item=item, quantity=as_cooked(amount), **{"yield": usable}), reasons

    def tell(self) -> None:
        out = self.out
        taken = [f"{name} = {item}" for name, item in self.goods.taken.items()]
        out.told += [f"taken for: {one}" for one in some(taken, 24)]
        if self.by_feel:
            out.told.append(
                f"by feel, in the notes and not counted: {', '.join(some(list(self.by_feel), 12))}"
            )
        if new := self.goods.new:
            n = plural(len(new), "new ingredient")
            out.told.append(f"{n} that no vendor sells yet: {', '.join(some(new, 12))}")
        out.told.append(
            "Allergens are not read from recipes: write them on the ingredients from their labels."
        )
