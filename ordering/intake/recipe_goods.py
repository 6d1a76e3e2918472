"""Which ingredient or recipe a line of a recipe means; a new ingredient where the house has none."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction

from ruamel.yaml.comments import CommentedMap

from ordering.intake import measures
from ordering.intake.bridges import measure_of
from ordering.intake.card_words import Makes
from ordering.intake.goods_match import ALIKE, Match, likeness, match, says_all_as_written, without_cut
from ordering.intake.goods_names import id_of, is_liquid, kind_words, larder, spelled, tokens
from ordering.intake.housefiles import block, marked
from ordering.intake.outcome import Outcome, Question, free_id
from ordering.intake.recipe_lines import Said
from ordering.units import UNITS, Quantity, format_number, kind_of

_PRESSED = re.compile(r"\b(?:juice|zest|rind)d?\b", re.IGNORECASE)
_USUAL = {"basic", "classic", "house", "master", "our", "plain", "simple"}
_OTHER_THING = {"ground", "dried", "powder", "frozen", "smoked", "pickled", "canned", "candied"}


@dataclass(slots=True)
class Goods:
    """The names that ingredients and recipes go by, with what this file adds: `makes` are its recipes.

    `new` are ingredients that no vendor sells yet, `added` their ids, `taken` names and the known goods they
    were taken for.
    """

    out: Outcome
    names: dict[str, list[str]]
    makes: Mapping[str, Makes]
    new: list[str] = field(default_factory=list)
    added: set[str] = field(default_factory=set)
    taken: dict[str, str] = field(default_factory=dict)

    @property
    def items(self) -> CommentedMap:
        """The house's ingredients."""
        return self.out.house.entries("ingredients")

    def pressed(self, line: Said) -> tuple[Said, str]:
        """Juice that nobody sells as its fruit, and how much one gives; any other line as it is."""
        fruit = None if match(line.name, self.names).best else as_fruit(line)
        return fruit if fruit is not None and match(fruit[0].name, self.names).best else (line, "")

    def is_from_the_tap(self, name: str) -> bool:
        """Water, which nobody sells: no line, unless the house has it as goods."""
        is_water = "water" in tokens(name) and set(tokens(name)) <= kind_words("tap")
        return is_water and not match(name, self.names).is_sure

    def of_line(self, key: str, line: Said) -> tuple[str, str]:
        """The ingredient or recipe a line means, and why that is a guess."""
        name, known = line.name, {one: own for one, own in self.names.items() if one != key}
        found = self._may_be(line, {o: own for o, own in known.items() if not self._says_more(o, line)})
        if found.is_sure:
            return found.best, ""
        asked = f"item {name.lower()}"
        if found.is_only and asked not in self.out.asker.known:
            self.taken[name] = found.best
            return found.best, ""
        if found.best or asked in self.out.asker.known:
            named = " or ".join(self.names[one][-1] if self.names[one] else one for one in found.ids[:6])
            text = f"{name}: is that {named}, or something new?"
            answer = self.out.asker.settle(Question(asked, text, (*found.ids[:6], "new"), found.best))
            if answer in known:
                self.taken[name] = answer
                return answer, ""
            if answer == "new":
                return self._new_item(line), ""
        part = {"eggyolk", "eggwhite"} & set(tokens(name))
        if part and str(line.quantity).endswith(" each") and (egg := match("egg", known)).best:
            return egg.best, "an egg for each"
        return self._new_item(line), ""

    def _may_be(self, line: Said, known: Mapping[str, Sequence[str]]) -> Match:
        """What a line may mean: what comes in cans by the can, what is sold before what is made of it."""
        found = meant(line, known)
        if str(line.quantity).endswith(" can") and not (found.is_sure and self._is_in_cans(found.best)):
            canned = meant(line, {one: own for one, own in known.items() if self._is_in_cans(one)})
            found = canned if canned.best else found
        for later in (self.makes, self.added):  # a steak butter, duck eggs that nobody sells
            if not found.is_sure and found.best in later:
                goods = meant(line, {one: own for one, own in known.items() if one not in later})
                found = goods if goods.best else found
        return found

    def _is_in_cans(self, item: str) -> bool:
        entry = self.items.get(item)
        return isinstance(entry, CommentedMap) and measure_of(entry).endswith(" can")

    def _says_more(self, one: str, line: Said) -> bool:
        """Whether a recipe's name says more than a line: cheddar is no chicken and cheddar."""
        names = self.names[one][-1:] if one in self.makes else []
        idle = set(tokens(f"{line.name} {line.note}")) | kind_words("form") | kind_words("soft") | _USUAL
        return any(set(tokens(name)) - idle and likeness(line.name, name) < ALIKE for name in names)

    def _new_item(self, line: Said) -> str:
        assert line.quantity is not None
        unit = line.quantity.unit
        key = free_id(id_of(line.name), self.items, self.out.house.entries("recipes"), self.makes)
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
        self.new.append(line.name)
        self.added.add(key)
        return key


def as_fruit(line: Said) -> tuple[Said, str] | None:
    """Juice as so many of the fruit it is pressed from, and how much one gives; None where nothing says."""
    assert line.quantity is not None
    quantity, pressed, density = line.quantity, measures.juice(line.name), measures.density(line.name)
    if pressed is None or density is None or kind_of(quantity.unit) != "volume":
        return None
    fruit, of_one = pressed
    n = quantity.amount * UNITS[quantity.unit][1] * density.grams / of_one.grams
    why = f"{quantity} of juice at {format_number(of_one.grams)} g from one, {of_one.source}"
    return replace(line, name=fruit, quantity=Quantity(Fraction(round(4 * n), 4) or n, "each")), why


def meant(line: Said, known: Mapping[str, Sequence[str]]) -> Match:
    """What a line's goods may be, likeliest first: of tins what comes in tins; its note may tell which."""
    plain, tinned = (
        match(line.name, known),
        match(f"{line.name}, canned", known) if line.is_tinned else Match(),
    )
    is_named = plain.best != tinned.best and says_all_as_written(line.name, known.get(plain.best, ()))
    if tinned.best and not tinned.is_open and not is_named:
        return replace(tinned, is_sure=tinned.is_sure or plain.is_sure)
    if line.quantity is not None and line.quantity.unit in ("bunch", "sprig"):
        dry = {"ground", "dried", "seed", "powder", "flake"}
        known = {one: own for one, own in known.items() if not dry & set(tokens(" ".join((one, *own))))}
    note = line.note
    if line.quantity is not None and line.quantity.unit == "each":
        known = without_cut(known, f"{line.name} {note}")
        note = _PRESSED.sub("", note).strip()  # three lemons, juice, are no lemon juice
    full = match(f"{line.name}, {note}", known) if note else Match()
    if line.note in _OTHER_THING and measures.is_food(f"{line.note} {line.name}"):
        return full  # `ginger, ground` is another food than ginger
    found = full if full.is_sure else match(line.name, known)
    if not found.is_open:
        return found
    # `tomatoes, whole peeled`: the rest of the line may tell which
    rest = set(tokens(line.note))
    shared = {one: len(rest & set(tokens(" ".join((one, *known[one]))))) for one in found.ids}
    return replace(found, ids=tuple(sorted(found.ids, key=lambda one: -shared[one])))
