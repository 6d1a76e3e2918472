"""What a run holds: its facts, rows of its tables, what an item is called, how much of it a portion has."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from ordering.faults import Fault, Refused, nearest
from ordering.records.house import House


@dataclass(frozen=True, slots=True)
class BatchContent:
    """One batch of a recipe: what it makes, and what each of its lines draws as (item, quantity)."""

    makes: float
    drawn: tuple[tuple[str, float], ...]


@dataclass(frozen=True, slots=True)
class Contents:
    """All recipes, ready to be looked through; `above` has the recipes that draw each item."""

    batches: Mapping[str, BatchContent]
    above: Mapping[str, tuple[str, ...]]

    def of(self, item: str) -> dict[str, float]:
        """Quantity of `item` drawn for one unit of each item that holds it, itself included.

        In the unit of `item`; yields and batch sizes counted in, what a batch gives back or throws off
        not taken away. A recipe that feeds its own next batch counts one batch.
        """
        found = {item: 1.0}
        for name in _upward(item, self.above)[1:]:
            batch = self.batches[name]
            held = sum(quantity * found.get(part, 0.0) for part, quantity in batch.drawn if part != name)
            found[name] = held / batch.makes
        return found


def contents(batches: Mapping[str, BatchContent]) -> Contents:
    """The recipes of a run or a house, by id, with who draws what."""
    above: dict[str, list[str]] = {}
    for name, batch in batches.items():
        for item in dict.fromkeys(item for item, _ in batch.drawn):
            above.setdefault(item, []).append(name)
    return Contents(batches, {item: tuple(names) for item, names in above.items()})


def house_contents(house: House, is_needed: bool = False) -> Contents:
    """The recipes of a house. `is_needed`: without what is optional."""
    return contents(
        {
            recipe.id: BatchContent(
                recipe.makes,
                tuple((x.item, x.drawn) for x in recipe.lines if not (is_needed and x.is_optional)),
            )
            for recipe in house.recipes.values()
        }
    )


def per_portion(house: House, recipes: Contents, item: str) -> dict[str, float]:
    """Quantity of `item` drawn for one portion, by dish that holds it."""
    content = recipes.of(item)
    return {
        dish.id: content[dish.recipe] * dish.portion
        for dish in house.dishes.values()
        if content.get(dish.recipe, 0.0) > 0
    }


def _upward(item: str, above: Mapping[str, tuple[str, ...]]) -> list[str]:
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
CONSUMABLES = "*consumables"

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
        return "the service itself (consumables)" if parent == CONSUMABLES else self.name(parent)

    def unit(self, item: str) -> str:
        """The unit of an item's quantities."""
        return str(self.items[item]["unit"]) if item in self.items else ""

    def vendor(self, vendor: str) -> str:
        """What a vendor is called."""
        return str(self.why.get("vendors", {}).get(vendor, vendor))

    def content(self, item: str) -> dict[str, float]:
        """Quantity of `item` drawn for one unit of each made item above it, by the run's own recipes."""
        made = {name: facts for name, facts in self.items.items() if facts["is_made"]}
        recipes = {
            name: BatchContent(facts["makes"], tuple((line[0], line[3]) for line in facts["lines"]))
            for name, facts in made.items()
        }
        return contents(recipes).of(item)


def find(run: RunFacts, word: str) -> tuple[str, str]:
    """(kind, id) of what goes by that word: `item` or `dish`, by id, vendor code or name.

    Where an item and a dish have the same id the item is meant; `dish:ID` is the dish. A code that two
    vendors use for different goods is asked about; `VENDOR:CODE` says which.

    Raises
    ------
    Refused : nothing in the run goes by it, or more than one thing; what was meant is named
    """
    asked = word.strip()
    if asked.removeprefix(DISH) in run.dishes and (asked.startswith(DISH) or asked not in run.items):
        return "dish", asked.removeprefix(DISH)
    known = _codes(run)
    if asked in run.items:
        return "item", asked
    if asked in known:
        return "item", _only(run, asked, known[asked])
    for kind, facts in (("dish", run.dishes), ("item", run.items)):
        for name, fact in facts.items():
            if asked.lower() in (name.lower(), str(fact["name"]).lower()):
                return kind, name
    for code, sellers in known.items():
        if asked.lower() == code.lower():
            return "item", _only(run, asked, sellers)
    names = [*run.items, *run.dishes]
    called = {str(f["name"]).lower() for f in (*run.items.values(), *run.dishes.values())}
    right = (
        nearest(asked, names)
        or nearest(asked, [*called, *known])
        or "give an item, a dish or a vendor's code"
    )
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
