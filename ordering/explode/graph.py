"""The recipe graph: who draws what, who leaves what behind, and in which order to take the items.

Items are nodes. A recipe line is an edge to what it draws; a by-product and what a line `returns`
are edges to the item they turn up as. An item comes after every recipe that draws it *and* after
every recipe that leaves some of it behind, so one sweep in this order knows all of both.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, replace
from graphlib import CycleError, TopologicalSorter

from ordering.records.house import House, Recipe, RecipeLine


@dataclass(frozen=True, slots=True)
class Use:
    """One recipe draws one item: `quantity` AP a batch, `at_days` after its start."""

    recipe: str
    quantity: float
    at_days: int
    returns: float = 0.0
    is_optional: bool = False


@dataclass(frozen=True, slots=True)
class Fall:
    """One recipe leaves `quantity` of an item a batch, `after_days` after its start.

    `drawn_after` : days after the start on which what comes back was drawn; None: a by-product.
    """

    recipe: str
    quantity: float
    after_days: int
    drawn_after: int | None = None


@dataclass(frozen=True, slots=True)
class SetAside:
    """What one recipe leaves or takes of an item that is not planned, because it goes round in a circle.

    `wrong` and `right` say to a chef what that means and what to do about it.
    """

    recipe: str
    item: str
    wrong: str
    right: str


@dataclass(frozen=True, slots=True)
class Graph:
    """Items in order of low-level code, ties by id, so the order of input lines changes nothing.

    `uses` and `falls` are by item, `dishes` by recipe. `set_aside` has the by-products and returned lines
    that are in neither, because counting on them would go round in a circle.
    """

    items: tuple[str, ...]
    levels: Mapping[str, int]
    uses: Mapping[str, tuple[Use, ...]] = field(default_factory=dict)
    falls: Mapping[str, tuple[Fall, ...]] = field(default_factory=dict)
    dishes: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    set_aside: tuple[SetAside, ...] = ()

    def dishes_of(self, item: str, is_traced: bool) -> set[str]:
        """Dishes that are not served without an item; `is_traced`: all that anything of it can be in.

        That is with it as a garnish too, and with what comes off in the making.
        """
        found, waiting = {item}, [item]
        while waiting:
            one = waiting.pop()
            more = {use.recipe for use in self.uses.get(one, ()) if is_traced or not use.is_optional}
            if is_traced:
                more |= {i for i, falls in self.falls.items() if any(fall.recipe == one for fall in falls)}
            waiting += more - found
            found |= more
        return {dish for recipe in found for dish in self.dishes.get(recipe, ())}


def loops(house: House) -> list[tuple[str, ...]]:
    """Every loop of recipes that draw each other, once, its first item repeated at its end.

    A line that `returns` carries a liquor over to the next batch: it is no loop. One loop is spelled
    out for each knot of recipes; it starts at the first id of the alphabet.
    """
    edges = {r.id: sorted({x.item for x in r.lines if not x.returns}) for r in house.recipes.values()}
    return [_spelled(knot, edges) for knot in sorted(_knots(edges))]


def recipe_graph(house: House) -> Graph:
    """The graph of a house. Loops that `loops` would refuse are cut, never followed."""
    parts: dict[str, list[tuple[Recipe, RecipeLine]]] = defaultdict(list)
    edges: dict[str, set[str]] = {i: set() for i in (*house.ingredients, *house.recipes)}
    for recipe in house.recipes.values():
        for line in recipe.lines:
            parts[line.item].append((recipe, line))
            edges[recipe.id].add(line.item)
        edges[recipe.id].update(item for item, _ in recipe.also_makes)
    cut = _cut_circles(house, edges)
    levels = _levels(edges)
    return Graph(
        items=tuple(sorted(edges, key=lambda i: (levels[i], i))),
        levels=levels,
        uses={i: _uses(lines, cut) for i, lines in parts.items()},
        falls=falls_of(house, cut),
        dishes=_dishes(house),
        set_aside=tuple(_set_aside(house, r, i) for r, i in sorted(cut)),
    )


def folded(house: House) -> House:
    """The house with recipes that carry over their own output (a starter, a master stock) unrolled.

    Such a batch draws part of the batch before and returns it when it is ready. What is not returned is
    lost from what the batch makes; the line itself goes. A batch that is there is still needed.
    """
    recipes = dict(house.recipes)
    for recipe in house.recipes.values():
        own = [x for x in recipe.lines if x.item == recipe.id and x.returns]
        makes = recipe.makes - sum(x.drawn - x.returns for x in own)
        if own and makes > 0:
            recipes[recipe.id] = replace(
                recipe,
                makes=makes,
                lines=tuple(x for x in recipe.lines if x not in own),
                largest=_part(recipe.largest, makes / recipe.makes),
                smallest=_part(recipe.smallest, makes / recipe.makes),
                room=_part(recipe.room, makes / recipe.makes),
            )
    return replace(house, recipes=recipes)


def _part(amount: float | None, share: float) -> float | None:
    return None if amount is None else amount * share


def _uses(lines: Iterable[tuple[Recipe, RecipeLine]], cut: set[tuple[str, str]]) -> tuple[Use, ...]:
    kept = (
        Use(r.id, x.drawn, x.at_days, x.returns, x.is_optional) for r, x in lines if (r.id, x.item) not in cut
    )
    return tuple(sorted(kept, key=lambda u: (u.recipe, u.at_days, u.quantity, u.returns)))


def falls_of(
    house: House, cut: frozenset[tuple[str, str]] | set[tuple[str, str]] = frozenset()
) -> dict[str, tuple[Fall, ...]]:
    """By item, what batches leave or give back of it, but for the (recipe, item) that are cut."""
    falls: dict[str, list[Fall]] = defaultdict(list)
    for r in house.recipes.values():
        off = [(item, Fall(r.id, quantity, r.takes_days)) for item, quantity in r.also_makes]
        off += [(x.item, Fall(r.id, x.returns, r.takes_days, x.at_days)) for x in r.lines if x.returns]
        for item, fall in off:
            if (r.id, item) not in cut:
                falls[item].append(fall)
    return {i: tuple(sorted(f, key=lambda x: (x.recipe, x.quantity))) for i, f in falls.items()}


def _dishes(house: House) -> dict[str, tuple[str, ...]]:
    dishes: dict[str, list[str]] = defaultdict(list)
    for dish in sorted(house.dishes.values(), key=lambda d: d.id):
        dishes[dish.recipe].append(dish.id)
    return {r: tuple(d) for r, d in dishes.items()}


def _cut_circles(house: House, edges: dict[str, set[str]]) -> set[tuple[str, str]]:
    """Cut edges until none goes round: by-products first, then returned lines, then the rest."""
    drawn = {r.id: {x.item for x in r.lines} for r in house.recipes.values()}
    plain = {r.id: {x.item for x in r.lines if not x.returns} for r in house.recipes.values()}
    cut: set[tuple[str, str]] = set()
    may_cut: tuple[Callable[[str, str], bool], ...] = (
        lambda r, i: i not in drawn[r],
        lambda r, i: i not in plain[r],
        lambda r, i: True,
    )
    for allowed in may_cut:
        knots = _knots(edges)
        if not knots:
            break
        for knot in knots:
            for recipe in knot:
                for item in sorted(edges.get(recipe, set()) & set(knot)):
                    if allowed(recipe, item):
                        edges[recipe].discard(item)
                        cut.add((recipe, item))
    return cut


def _set_aside(house: House, recipe: str, item: str) -> SetAside:
    made, name, unit = house.recipes[recipe], house.name_of(item), house.unit_of(item)
    drawn = sum(x.drawn for x in made.lines if x.item == item)
    left = sum(quantity for i, quantity in made.also_makes if i == item)
    if any(x.item == item and x.returns for x in made.lines):
        return SetAside(
            recipe,
            item,
            f"{name} is carried over from batch to batch, and is itself made with {made.name}: none is "
            "planned for it, not even what a batch loses",
            f"see that {drawn:g} {unit} of it is there for each batch",
        )
    if drawn:
        wrong, right = f"{made.name} and {name} are made from each other", "break the loop"
        return SetAside(recipe, item, wrong, right)
    return SetAside(
        recipe,
        item,
        f"the {left:g} {unit} of {name} that a batch to come leaves over is not counted on: how much "
        f"{made.name} is made depends on how much {name} is wanted",
        "count it when it is there; what is in process is counted on",
    )


def _knots(edges: Mapping[str, Iterable[str]]) -> list[tuple[str, ...]]:
    """Strongly connected sets that hold a circle, each sorted."""
    try:
        TopologicalSorter(edges).prepare()
        return []
    except CycleError:
        # Needed by few houses, and a tenth of a second to load.
        from scipy.sparse import csr_array
        from scipy.sparse.csgraph import connected_components
    items = sorted({*edges, *(child for children in edges.values() for child in children)})
    at = {item: n for n, item in enumerate(items)}
    pairs = [(at[parent], at[child]) for parent, children in edges.items() for child in children]
    rows, columns = zip(*pairs, strict=True)
    matrix = csr_array(([1] * len(pairs), (rows, columns)), shape=(len(items), len(items)))
    _, labels = connected_components(matrix, directed=True, connection="strong")
    knots: dict[int, list[str]] = defaultdict(list)
    for item, label in zip(items, labels.tolist(), strict=True):
        knots[label].append(item)
    return [tuple(k) for k in knots.values() if len(k) > 1 or k[0] in edges.get(k[0], ())]


def _spelled(knot: tuple[str, ...], edges: Mapping[str, Iterable[str]]) -> tuple[str, ...]:
    """A loop through a knot, from the first of its ids."""
    try:
        TopologicalSorter({item: [x for x in edges[item] if x in knot] for item in knot}).prepare()
    except CycleError as error:
        loop = error.args[1][:0:-1]
        at = loop.index(min(loop))
        return (*loop[at:], *loop[: at + 1])
    return knot


def _levels(edges: Mapping[str, set[str]]) -> dict[str, int]:
    """Low-level codes: the longest way down to an item (0 for what nothing draws)."""
    levels = dict.fromkeys(sorted(edges), 0)
    for node in reversed([*TopologicalSorter(edges).static_order()]):
        for child in edges.get(node, ()):
            if child in levels:
                levels[child] = max(levels[child], levels[node] + 1)
    return levels
