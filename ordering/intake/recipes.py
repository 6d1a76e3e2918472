"""Recipes into `recipes.yaml`, with ingredients not yet known; sub-recipes by name, bridges by weight."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

from ruamel.yaml.comments import CommentedMap, CommentedSeq
from ruamel.yaml.scalarstring import LiteralScalarString

from ordering.amounts import plural
from ordering.intake import measures
from ordering.intake.bridges import measure_of
from ordering.intake.goods_names import id_of, is_liquid, kind_words, larder, match, spelled, tokens
from ordering.intake.headings import no_table
from ordering.intake.housefiles import block, flow, marked, marked_item, number
from ordering.intake.outcome import Outcome, free_id, some, titled
from ordering.intake.questions import Question
from ordering.intake.recipe_amounts import PLAIN, Amounts, answered, as_fruit, likely_weight, meant, of_recipe
from ordering.intake.recipe_lines import Said, quantity_in
from ordering.intake.recipe_sheets import recipes_in
from ordering.intake.recipe_tables import Written
from ordering.intake.sheets import SourceSheet
from ordering.read.fields import MAX_NOTES
from ordering.units import Quantity, UnitError, kind_of, parse_quantity


def bring_recipes(sheets: Sequence[SourceSheet], out: Outcome) -> None:
    """Read every recipe and write those that are new or whose text has changed since it was last read."""
    found = recipes_in(sheets, out)
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
    kitchen = _RecipeWriter(out, names, {ids[one.name.lower()]: _makes(one, out) for one in found})
    n_new = n_same = 0
    changed: list[str] = []
    for one in found:
        key = ids[one.name.lower()]
        print_now = _fingerprint(one)
        if key in recipes and out.asker.known.get(f"read {key}") == print_now:
            n_same += 1
            continue
        is_new = key not in recipes
        kitchen.write(key, one)
        out.asker.given[f"read {key}"] = print_now
        n_new += is_new
        changed += [] if is_new else [one.name]
    out.told.append(
        f"{plural(len(found), 'recipe')}: {n_new} new, {len(changed)} changed, {n_same} as before"
    )
    out.told += [f"changed: {one}" for one in some(changed)]
    kitchen.tell()


def ids_taken(ids: dict[str, str], recipes: CommentedMap) -> dict[str, object]:
    """Ids given in this file and those of recipes that are not in it."""
    return {**dict.fromkeys(ids.values()), **{str(key): None for key in recipes}}


def _fingerprint(one: Written) -> str:
    text = repr((one.makes, one.lines, one.method))
    text += "".join(f" {said.usable}" for _, said in one.lines if said.usable is not None)
    return hashlib.sha256(text.encode()).hexdigest()[:8]


def _makes(one: Written, out: Outcome) -> tuple[Quantity, str]:
    """What a recipe makes, and why that is a guess (empty where it is written)."""
    quantity, rest = quantity_in(
        re.sub(r"^(?:about|approx\.?)\s+", "", one.makes, flags=re.IGNORECASE), out.country
    )
    if quantity is not None and quantity.amount > 0:
        if quantity.unit == "each" and (
            cut := re.search(r"(?i)\((?:about )?(\d+) (?:portion|serving)s?\)", rest)
        ):
            return Quantity(Fraction(cut[1]), "portion"), ""
        if quantity.amount == 1 and (
            cut := re.match(r"(?i)(?:of|=|x|makes) ?(\d+)\b(?! ?(?:kg|g|lb|oz|l)\b)", rest)
        ):
            return Quantity(Fraction(cut[1]), "portion"), f"the file says '{one.makes}'"  # `1 tray of 24`
        inner = re.search(r"\((?:about )?([^)]*)\)", rest) if kind_of(quantity.unit) not in PLAIN else None
        measured = quantity_in(inner[1], out.country)[0] if inner else None
        if measured is not None and kind_of(measured.unit) in PLAIN:
            return measured, ""
        if quantity.unit == "each" and (
            not rest or re.match(r"(?i)portions?|servings?|serves|ptns?|guests|covers|people|plates?", rest)
        ):
            return Quantity(quantity.amount, "portion"), ""
        return quantity, ""
    text = f"How much does {one.name} make? The file says '{one.makes or 'nothing'}'."
    answer = out.asker.settle(Question(f"makes {id_of(one.name)}", text, (), "1 portion"))
    try:
        return parse_quantity(answer), f"the file says '{one.makes}'" if one.makes else "no yield is written"
    except UnitError:
        return Quantity(Fraction(1), "portion"), f"'{answer}' cannot be read"


class _RecipeWriter:
    """Ingredients and recipes as they are while recipes are written."""

    def __init__(
        self, out: Outcome, names: dict[str, list[str]], makes: dict[str, tuple[Quantity, str]]
    ) -> None:
        self.out = out
        self.items = out.house.entries("ingredients")
        self.recipes = out.house.entries("recipes")
        self.names = names
        self.makes = makes
        self.new: list[str] = []
        self.taken: dict[str, str] = {}
        self.by_feel: dict[str, None] = {}
        self.amounts = Amounts.of(self.items)

    def write(self, key: str, one: Written) -> None:
        """The recipe in its place: what it makes, its lines, its method; other words of an old one stay."""
        quantity, guess = self.makes[key]
        lines, by_feel = self._lines(key, one)
        entry = self.recipes.get(key)
        if entry is None:
            entry = block(name=titled(one.name), makes=_written(quantity))
            self.out.house.add("recipes", key, entry)
            if one.keeps or quantity.unit != "portion":
                entry["keeps"] = one.keeps or "3 d"
            if not one.keeps and quantity.unit != "portion":
                marked(entry, "keeps", "nothing is written; common practice, no source")
        entry["makes"] = _written(quantity)
        if guess:
            marked(entry, "makes", guess)
        entry["from"] = lines
        notes = "\n".join([*one.method, *([f"By feel: {'; '.join(by_feel)}."] if by_feel else [])])
        if notes:
            entry["notes"] = LiteralScalarString(notes[:MAX_NOTES])
        self.out.house.changed.add("recipes")

    def _lines(self, key: str, one: Written) -> tuple[CommentedSeq, list[str]]:
        """The lines with an amount, guesses marked, and what is added by feel."""
        lines, by_feel = CommentedSeq(), []
        for where, line in one.lines:
            if line.quantity is not None and self._is_from_the_tap(line.name):
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
        pressed = None if match(line.name, self.names).best else as_fruit(line)
        if pressed is not None and match(pressed[0].name, self.names).best:
            line, of_one = pressed
        else:
            of_one = ""
        item, why = self._item(key, line)
        quantity = line.quantity
        assert quantity is not None
        if item in self.makes or item in self.recipes:
            own = self.makes[item][0].unit if item in self.makes else measure_of(self.recipes[item], True)
            fitted = of_recipe(self.recipes.get(item), own, line)
        else:
            fitted = self.amounts.of_goods(item, self.items[item], line)
            self.out.house.changed.add("ingredients")
        said, piece = (
            str(quantity).removesuffix(" each"),
            "piece" if quantity.unit == "each" else quantity.unit,
        )
        if fitted is None:
            entry = self.items.get(item)
            named = str(entry.get("name") or item) if isinstance(entry, CommentedMap) else item
            text = f"{one.name}: {said} {line.name}: what does one {piece} of {named} weigh?"
            best = likely_weight(quantity, self.items.get(item))
            asked = Question(f"weighs {quantity.unit} {item}", text, (), best)
            fitted = answered(quantity, self.out.asker.settle(asked))
            if fitted is not None and self.out.asker.is_guess(asked.key):
                fitted = fitted[0], f"one {piece} taken to be {best}: weigh one"
        if fitted is None:
            self.out.left.append(
                f"{where}: {one.name}: {said} {line.name}: nothing says what one {piece} weighs"
            )
            return None
        amount, more = fitted
        reasons = "; ".join(r for r in (why, of_one, more) if r)
        usable = None if line.usable is None else number(f"{float(line.usable):.3g}")
        return flow(item=item, quantity=_written(amount), **{"yield": usable}), reasons

    def _is_from_the_tap(self, name: str) -> bool:
        """Water, which nobody sells: no line, unless the house has it as goods."""
        is_water = "water" in tokens(name) and set(tokens(name)) <= kind_words("tap")
        return is_water and not match(name, self.names).is_sure

    def _item(self, key: str, line: Said) -> tuple[str, str]:
        """The ingredient or recipe a line means, and why that is a guess."""
        assert line.quantity is not None
        name = line.name
        known = {one: names for one, names in self.names.items() if one != key}
        found = meant(line, known)
        if not found.is_sure and line.quantity.unit.endswith(" can"):  # tomatoes by the can: those sold so
            cans = {one: own for one, own in known.items() if self._is_in_cans(one)}
            found = canned if (canned := meant(line, cans)).best else found
        best = found.best
        if not found.is_sure and best in self.makes:
            # butter is what a vendor sells before it is a steak butter
            goods = meant(line, {one: own for one, own in known.items() if one not in self.makes})
            found = goods if goods.best else found
            best = found.best
        if not found.is_sure and (plates := self._made_of_it(name)) & set(found.ids):
            # pork belly is what a vendor sells before it is a pork belly bao; of a plate alone it is asked
            goods = meant(line, {one: names for one, names in known.items() if one not in plates})
            found = goods if goods.best else replace(found, is_open=True)
            best = goods.best or "new"
        if found.is_sure:
            return found.best, ""
        asked = f"item {name.lower()}"
        if found.is_open or asked in self.out.asker.known:
            text = f"{name}: is that {' or '.join(found.ids[:6])}, or something new?"
            answer = self.out.asker.settle(Question(asked, text, (*found.ids[:6], "new"), best))
            if answer in known:
                return answer, f"taken for {answer}" if self.out.asker.is_guess(asked) else ""
            if answer == "new":
                return self._new_item(line), ""
        if found.best:
            self.taken[name] = found.best
            return found.best, f"{name} taken for {found.best}"
        part = {"eggyolk", "eggwhite"} & set(tokens(name))
        if part and line.quantity.unit == "each" and (egg := match("egg", known)).best:
            return egg.best, "an egg for each"
        return self._new_item(line), ""

    def _is_in_cans(self, item: str) -> bool:
        entry = self.items.get(item)
        return isinstance(entry, CommentedMap) and measure_of(entry).endswith(" can")

    def _made_of_it(self, name: str) -> set[str]:
        """Recipes whose name ends in a word that is not in this one."""
        words = set(tokens(name))
        named = {one: tokens(names[-1]) for one, names in self.names.items() if one in self.makes and names}
        return {one for one, own in named.items() if own and own[-1] not in words}

    def _new_item(self, line: Said) -> str:
        assert line.quantity is not None
        unit = line.quantity.unit
        key = free_id(id_of(line.name), self.items, self.recipes, self.makes)
        is_metric = self.out.country == "GB" or unit in ("ml", "cl", "dl", "l")
        if kind_of(unit) == "volume" and is_liquid(line.name):
            unit = "l" if is_metric else "quart"
        elif kind_of(unit) == "volume" and (
            measures.density(line.name, line.note) or measures.alike(line.name)
        ):
            unit = "kg" if is_metric else "lb"
        elif kind_of(unit) == "mass":
            unit = {"g": "kg", "mg": "kg", "oz": "lb"}.get(unit, unit)
        row = larder(line.name)
        entry = block(
            name=spelled(line.name), unit=unit, store=row.get("store", "dry store"), keeps=row.get("keeps")
        )
        marked(entry, "unit", "in recipes only; no vendor sells it yet")
        self.out.house.add("ingredients", key, entry)
        self.names[key] = [line.name]
        if kind_of(unit) not in PLAIN:
            self.amounts.pieces[key] = kind_of(unit)
        self.new.append(line.name)
        return key

    def tell(self) -> None:
        out = self.out
        if self.taken:
            out.told += [f"taken for: {name} = {item}" for name, item in some_pairs(self.taken)]
        if self.by_feel:
            out.told.append(
                f"by feel, in the notes and not counted: {', '.join(some(list(self.by_feel), 12))}"
            )
        if self.new:
            new = plural(len(self.new), "new ingredient")
            out.told.append(f"{new} that no vendor sells yet: {', '.join(some(self.new, 12))}")
        out.told.append(
            "Allergens are not read from recipes: write them on the ingredients from their labels."
        )


def some_pairs(pairs: dict[str, str], most: int = 8) -> list[tuple[str, str]]:
    """The first of some pairs."""
    return list(pairs.items())[:most]


def _written(quantity: Quantity) -> str:
    """An amount as a cook writes it: thirds, quarters and eighths, else four figures."""
    amount = quantity.amount
    if amount.denominator in (2, 3, 4, 8):
        whole, part = divmod(amount.numerator, amount.denominator)
        number = f"{whole} {part}/{amount.denominator}" if whole else f"{part}/{amount.denominator}"
        return f"{number} {quantity.unit}"
    return str(Quantity(Fraction(f"{float(amount):.4g}"), quantity.unit))
