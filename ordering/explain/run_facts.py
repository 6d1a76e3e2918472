"""What a run holds: its facts, rows of its tables, what an item is called, how much of it a portion has."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from functools import cached_property
from typing import Any

from ordering.faults import Fault, Refused, nearest
from ordering.records.house import House
from ordering.records.plan import CONSUMABLES


@dataclass(frozen=True, slots=True)
class BatchContent:
    """One batch of a recipe: what it makes, and what each of its lines draws as (item, quantity)."""

    makes: float
    drawn: tuple[tuple[str, float], ...]


@dataclass(frozen=True)
class Contents:
    """All recipes, ready to be looked through, and by dish its recipe and how much of it a portion is."""

    batches: Mapping[str, BatchContent]
    plates: Mapping[str, tuple[str, float]]

    @cached_property
    def _above(self) -> dict[str, list[str]]:
        """By item, the recipes that draw it."""
        above: dict[str, list[str]] = {}
        for name, batch in self.batches.items():
            for part in dict.fromkeys(part for part, _ in batch.drawn):
                above.setdefault(part, []).append(name)
        return above

    def of(self, item: str) -> dict[str, float]:
        """Quantity of `item` drawn for one unit of each item that holds it, itself included.

        In the unit of `item`; yields and batch sizes counted in, what a batch gives back or throws off
        not taken away. A recipe that feeds its own next batch counts one batch.
        """
        found = {item: 1.0}
        for name in _upward(item, self._above)[1:]:
            batch = self.batches[name]
            held = sum(quantity * found.get(part, 0.0) for part, quantity in batch.drawn if part != name)
            found[name] = held / batch.makes
        return found

    def per_portion(self, item: str) -> dict[str, float]:
        """Quantity of `item` drawn for one portion, by dish that holds it."""
        held = self.of(item)
        each = {dish: portion * held.get(recipe, 0.0) for dish, (recipe, portion) in self.plates.items()}
        return {dish: quantity for dish, quantity in each.items() if quantity > 0}


def house_contents(house: House, is_needed: bool = False) -> Contents:
    """The recipes of a house. `is_needed`: without what is optional."""
    return Contents(
        {
            recipe.id: BatchContent(
                recipe.makes,
                tuple((x.item, x.drawn) for x in recipe.lines if not (is_needed and x.is_optional)),
            )
            for recipe in house.recipes.values()
        },
        {dish.id: (dish.recipe, dish.portion) for dish in house.dishes.values()},
    )


def _upward(item: str, above: Mapping[str, Sequence[str]]) -> list[str]:
    """The item and everything made from it, what is drawn before what draws it."""
    order: list[str] = []
    seen = {item}
    stack = [(item, iter(above.get(item, ())))]
    while stack:
        name, following = stack[-1]
        parent = next((one for one in following if one not in seen), None)
        if parent is None:
            order.append(name)
            stack.pop()
        else:
            seen.add(parent)
            stack.append((parent, iter(above.get(parent, ()))))
    return order[::-1]


Row = Mapping[str, str]
DISH = "dish:"
CONSUMED = "the service itself (consumables)"
PLACES = 6
"""Decimals of a quantity in a run's reasons: a milligram of a kilogram, and no digit that floats make up."""

Tables = Mapping[str, Sequence[Row]]
Facts = Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class RunFacts:
    """`why` as `reasons.why` made it; `tables` as read from the run folder, all values text."""

    tables: Tables
    why: Facts
    width: int

    @property
    def items(self) -> Facts:
        """Facts of every item, by id."""
        found: Facts = self.why.get("items", {})
        return found

    @property
    def dishes(self) -> Facts:
        """Facts of every dish, by id."""
        found: Facts = self.why.get("dishes", {})
        return found

    def rows(self, table: str, **where: str) -> list[Row]:
        """Rows of one table whose columns hold the values given."""
        found = list(self.tables.get(table, ()))
        for column, value in where.items():
            found = [row for row in found if row.get(column) == value]
        return found

    def rows_naming(self, table: str, column: str, words: str) -> list[Row]:
        """Rows of one table in whose column the words stand."""
        return [row for row in self.tables.get(table, ()) if words in row.get(column, "")]

    def name(self, item: str) -> str:
        """What an item is called; its id where the run does not know it."""
        return str(self.items[item]["name"]) if item in self.items else item

    def dish_name(self, dish: str) -> str:
        """What a dish is called; its id where the run does not know it."""
        return str(self.dishes[dish]["name"]) if dish in self.dishes else dish

    def user_name(self, parent: str) -> str:
        """Who draws an item: a recipe, `dish:ID` or `*consumables`."""
        if parent.startswith(DISH):
            return self.dish_name(parent.removeprefix(DISH))
        return CONSUMED if parent == CONSUMABLES else self.name(parent)

    def unit(self, item: str) -> str:
        """The unit of an item's quantities."""
        return str(self.items[item]["unit"]) if item in self.items else ""

    def vendor(self, vendor: str) -> str:
        """What a vendor is called."""
        return str(self.why.get("vendors", {}).get(vendor, vendor))

    @property
    def contents(self) -> Contents:
        """The run's own recipes and dishes."""
        recipes = {
            name: BatchContent(facts["makes"], tuple((line[0], line[3]) for line in facts["lines"]))
            for name, facts in self.items.items()
            if facts["is_made"]
        }
        return Contents(recipes, {dish: (f["recipe"], f["portion"]) for dish, f in self.dishes.items()})


def find(run: RunFacts, word: str) -> tuple[str, str]:
    """(kind, id) of what goes by that word: `item` or `dish`, by id, vendor code or name.

    Where an item and a dish have the same id the item is meant; `dish:ID` is the dish. A code that two
    vendors use for different goods is asked about; `VENDOR:CODE` says which.

    Raises
    ------
    Refused : nothing in the run goes by it, or more than one thing; what was meant is named
    """
    asked = word.strip()
    dish = asked.removeprefix(DISH)
    if dish in run.dishes and (asked.startswith(DISH) or asked not in run.items):
        return "dish", dish
    codes = _codes(run)
    if asked in run.items or asked in codes:
        return "item", asked if asked in run.items else _only(run, asked, codes[asked])
    for kind, facts in (("dish", run.dishes), ("item", run.items)):
        for name, fact in facts.items():
            if asked.lower() in (name.lower(), str(fact["name"]).lower()):
                return kind, name
    for code, sellers in codes.items():
        if asked.lower() == code.lower():
            return "item", _only(run, asked, sellers)
    called = {str(f["name"]).lower() for f in (*run.items.values(), *run.dishes.values())}
    meant = nearest(asked, [*run.items, *run.dishes]) or nearest(asked, [*called, *codes])
    right = meant or "give an item, a dish or a vendor's code"
    raise Refused([Fault("explain", 0, "", f"nothing in this run is called '{word}'", right, "unknown-item")])


def _codes(run: RunFacts) -> dict[str, dict[str, str]]:
    """By code, and by vendor and code, the item each vendor sells under it. An older run knows fewer."""
    found: dict[str, dict[str, str]] = {}
    sold = [(str(v), str(c), str(i)) for v, c, i in run.why.get("offers", ())]
    sold += [("", code, item) for code, item in run.why.get("codes", {}).items()]
    sold += [(r["vendor"], r["code"], r["item"]) for t in ("outlook", "orders") for r in run.rows(t)]
    for vendor, code, item in sold:
        if item in run.items:
            found.setdefault(code, {})[vendor] = item
            found.setdefault(f"{vendor}:{code}", {})[vendor] = item
    return found


def _only(run: RunFacts, code: str, sellers: Mapping[str, str]) -> str:
    """The item of a code, if all who use it mean the same."""
    items = list(dict.fromkeys(sellers.values()))
    if len(items) == 1:
        return items[0]
    meant = [f"{vendor}:{code} is {run.name(item)}" for vendor, item in sorted(sellers.items())]
    wrong = f"{len(sellers)} vendors use the code {code}"
    raise Refused([Fault("explain", 0, "", wrong, f"say which: {', '.join(meant)}", "shared-code")])


def day_of(text: str) -> date:
    """The date of a cell that holds a date or a date and time."""
    return date.fromisoformat(text[:10])


def number_of(text: str) -> float:
    """The number of a cell; an empty one is 0."""
    return float(text) if text else 0.0
