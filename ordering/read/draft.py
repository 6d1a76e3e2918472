"""A house as written: every file read and held against its schema, references not yet looked at."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from pathlib import Path
from typing import Generic, TypeVar

from pydantic import BaseModel
from pydantic_core import PydanticCustomError

from ordering import units
from ordering.faults import Fault, nearest
from ordering.read.fields import an_id
from ordering.read.files import no_folder
from ordering.read.house_tables import SUFFIXES as TABLES
from ordering.read.house_tables import read_house_table
from ordering.read.layers import Override, layered, with_nothing_to_take_out
from ordering.read.nodes import Node, read_yaml
from ordering.read.shape import place_at, shaped_in_part
from ordering.read.yaml_schema import CalendarIn, DishIn, HouseIn, IngredientIn, RecipeIn, VendorIn
from ordering.records.house import Place
from ordering.texts import with_article

M = TypeVar("M", bound=BaseModel)


@dataclass(slots=True)
class Entries(Generic[M]):
    """One file of entries by id, bad lines taken out.

    `sound` is what passed the schema; `nodes` has the others too, `at` their places.

    `is_read` is False for a file that could not be read at all: nothing is then said about ids that would
    have been in it.
    """

    place: str
    what: str
    sound: dict[str, M] = field(default_factory=dict)
    nodes: dict[str, Node] = field(default_factory=dict)
    at: dict[str, Place] = field(default_factory=dict)
    is_read: bool = True


@dataclass(frozen=True, slots=True)
class Measure:
    """What an item's quantities are held in, and its bridges between kinds of unit."""

    unit: str
    each_g: Fraction | None = None
    density: Fraction | None = None


@dataclass(slots=True)
class Draft:
    """Everything written, with the faults found so far; bad parts are taken out.

    `house` is None when nothing sound is left of it. `services` is None when they could not be read.
    """

    directory: Path
    house: HouseIn | None
    house_node: Node
    calendar: CalendarIn
    calendar_node: Node
    vendors: Entries[VendorIn]
    ingredients: Entries[IngredientIn]
    recipes: Entries[RecipeIn]
    dishes: Entries[DishIn]
    faults: list[Fault]
    services: tuple[str, ...] | None = ()
    measures: dict[str, Measure] = field(default_factory=dict)
    piece_words: dict[str, tuple[str, Place]] = field(default_factory=dict)
    shared: Path | None = None
    overrides: tuple[Override, ...] = ()

    def place(self, entries: Entries[M], key: str, *loc: int | str) -> Place:
        """Where an entry, or the part of it that `loc` leads to, is written."""
        return place_at(entries.nodes[key], loc) if loc else entries.at[key]

    def fault(self, place: Place, subject: str, said: tuple[str, str, str]) -> None:
        """Note a fault; `said` is (kind, wrong, right)."""
        kind, wrong, right = said
        self.faults.append(Fault(place.path, place.line, subject, wrong, right, kind))

    def knows_item(self, item: str) -> bool:
        """Whether an id is written as an ingredient or a recipe, sound or not."""
        return item in self.ingredients.nodes or item in self.recipes.nodes

    def check_item(self, place: Place, subject: str, item: str) -> bool:
        """Whether `item` can be worked with; a fault when it is nowhere."""
        if not self.knows_item(item) and self.ingredients.is_read and self.recipes.is_read:
            known = [*self.ingredients.nodes, *self.recipes.nodes]
            right = nearest(item, known) or "add it to ingredients.yaml or recipes.yaml"
            self.fault(place, subject, ("unknown-item", f"'{item}' is not an ingredient or recipe", right))
        return item in self.measures

    def check_id(self, place: Place, subject: str, word: str, entries: Entries[M]) -> bool:
        """Whether `word` is a sound entry of a file; a fault when it is none at all."""
        if word in entries.nodes or not entries.is_read:
            return word in entries.sound
        name = Path(entries.place).name
        right = nearest(word, entries.nodes) or f"add it to {name}"
        wrong = f"'{word}' is not {with_article(entries.what)}"
        self.fault(place, subject, (f"unknown-{entries.what}", wrong, right))
        return False

    def check_service(self, place: Place, subject: str, word: str) -> bool:
        """Whether `word` is a service; a fault when not (none when services could not be read)."""
        if self.services is None or word in self.services:
            return True
        right = nearest(word, self.services) or "add it to services in house.yaml"
        self.fault(place, subject, ("unknown-service", f"'{word}' is not a service", right))
        return False

    def amount(self, place: Place, subject: str, item: str, quantity: units.Quantity) -> float | None:
        """`quantity` of an item in its own unit; None, and a fault, where it has no bridge."""
        measure = self.measures[item]
        try:
            ratio = units.factor(quantity.unit, measure.unit, measure.each_g, measure.density)
        except units.UnitError as error:
            wrong = f"{quantity} of {item}: {error.wrong}"
            self.fault(place, subject, ("no-bridge", wrong, error.right))
            return None
        self._one_piece_word(place, subject, item, quantity.unit)
        return float(quantity.amount * ratio)

    def amount_in(self, place: Place, subject: str, quantity: units.Quantity, unit: str) -> Fraction | None:
        """`quantity` of the item `subject` in a unit that is not its own; None, and a fault, as `amount`."""
        measure = self.measures[subject]
        try:
            ratio = units.factor(quantity.unit, unit, measure.each_g, measure.density)
        except units.UnitError as error:
            wrong = f"a pack of {quantity} priced per {unit}: {error.wrong}"
            self.fault(place, subject, ("no-bridge", wrong, error.right))
            return None
        return quantity.amount * ratio

    def _one_piece_word(self, place: Place, subject: str, item: str, unit: str) -> None:
        """`each` weighs one piece, so an item held by weight may be written in one kind of piece only."""
        kind = units.kind_of(unit)
        if kind in ("mass", "volume"):
            return
        first, where = self.piece_words.setdefault(item, (kind, place))
        if first != kind:
            wrong = f"{item} is written in '{unit}' here and in '{first}' at {where}"
            right = "'each' is the weight of one kind of piece: write one of them as a weight"
            self.fault(place, subject, ("two-pieces", wrong, right))


def read_draft(directory: Path, shared: Path | None = None) -> Draft:
    """Read the six files of a house; what is refused is left out and noted in `faults`.

    `shared`: the folder of a group's files that this house begins from; `shared` in its own `house.yaml`
    names another.
    """
    files = _Files(directory, shared)
    faults = files.faults
    house_node, house = files.root("house"), None
    if house_node is None and not faults:
        right = "write one with at least 'name: ...'"
        faults.append(Fault(files.place("house"), 0, "", "this file is missing or empty", right, "no-house"))
    services = _services(house_node)
    if house_node is not None:
        house, house_node, found = shaped_in_part(HouseIn, house_node, "")
        faults += found
    calendar_node = files.root("calendar") or files.nothing("calendar")
    calendar, calendar_node, found = shaped_in_part(CalendarIn, calendar_node, "")
    faults += found
    draft = Draft(
        directory=directory,
        house=house,
        house_node=house_node or files.nothing("house"),
        calendar=calendar or CalendarIn(),
        calendar_node=calendar_node,
        vendors=_entries(files, "vendors", "vendor", VendorIn),
        ingredients=_entries(files, "ingredients", "ingredient", IngredientIn),
        recipes=_entries(files, "recipes", "recipe", RecipeIn),
        dishes=_entries(files, "menu", "dish", DishIn),
        faults=faults,
        services=services,
        shared=files.shared,
        overrides=tuple(files.overrides),
    )
    draft.measures = _measures(draft.ingredients.sound, draft.recipes.sound)
    return draft


def _services(house: Node | None) -> tuple[str, ...] | None:
    """Ids of the services, sound or not; None where they cannot be read."""
    written = (house.keys or {}).get("services") if house is not None else None
    if house is None or (written is not None and written.keys is None and not written.is_empty):
        return None
    return tuple(written.keys or ()) if written is not None else ()


def house_files(directory: Path) -> list[Path]:
    """The files of a house that are there; whatever else lies in the folder is not looked at."""
    stems = ("calendar", "house", "ingredients", "menu", "recipes", "vendors")
    return [path for stem in stems for path in written_as(directory, stem)]


def written_as(directory: Path, stem: str) -> list[Path]:
    """The file of that name that is there: YAML, or a table; more than one is a fault."""
    suffixes = (".yaml",) if stem == "house" else (".yaml", *TABLES)
    return [path for suffix in suffixes if (path := directory / f"{stem}{suffix}").is_file()]


class _Files:
    """The files of one house, laid over those it shares with others, with the faults of their form."""

    def __init__(self, directory: Path, shared: Path | None) -> None:
        self.directory = directory
        self.shared = shared
        self.faults: list[Fault] = []
        self.overrides: list[Override] = []

    def place(self, stem: str) -> str:
        there = written_as(self.directory, stem)
        return (there[0] if there else self.directory / f"{stem}.yaml").as_posix()

    def nothing(self, stem: str) -> Node:
        return Node(1, keys={}, place=self.place(stem))

    def root(self, stem: str) -> Node | None:
        """The mapping that a file holds, shared entries included; None where nothing is written."""
        own = _root(self.directory, stem, self.faults)
        if stem == "house" and own is not None and own.keys and (named := own.keys.get("shared")):
            self.shared = self.directory / (named.text or "")
            self.faults += no_folder(self.shared, "write where the shared files are, seen from this folder")
        common = _root(self.shared, stem, self.faults) if self.shared is not None else None
        if own is not None and stem != "house":
            own, lost = with_nothing_to_take_out(own, common or self.nothing(stem))
            self.faults += lost
        if common is None or own is None:
            return own or common
        merged, found = layered(common, own, lists_add=stem == "calendar")
        self.overrides += found
        return merged


def _root(directory: Path, stem: str, faults: list[Fault]) -> Node | None:
    path = directory / f"{stem}.yaml"
    other = directory / f"{stem}.yml"
    if other.exists():
        right = f"rename it to {path.name}"
        faults.append(Fault(other.as_posix(), 0, "", "this file is not read", right, "wrong-name"))
    there = written_as(directory, stem)
    if not there:
        return None
    if len(there) > 1:
        wrong = f"there is {there[1].name} too"
        faults.append(Fault(there[0].as_posix(), 0, "", wrong, "keep the right one", "two-files"))
    node, found = read_yaml(path) if there[0] == path else read_house_table(there[0], stem)
    faults += found
    if node is not None and node.keys is None:
        wrong = "lines of 'word: value' are expected"
        faults.append(
            Fault(path.as_posix(), node.line, "", wrong, "write an id, a colon, its lines", "wrong-shape")
        )
        return None
    return node


def _entries(files: _Files, stem: str, what: str, model: type[M]) -> Entries[M]:
    entries: Entries[M] = Entries(files.place(stem), what)
    faults = files.faults
    n_faults = len(faults)
    root = files.root(stem)
    entries.is_read = root is not None or len(faults) == n_faults
    for key, node in ((root.keys if root else None) or {}).items():
        at = place_at(root, (key,), at_value=False) if root else Place(entries.place, 0)
        try:
            an_id(key)
        except PydanticCustomError as error:
            context = error.context or {}
            faults.append(Fault(at.path, at.line, "", context["wrong"], context["right"], error.type))
            continue
        written = Node(at.line, keys={}, place=at.path) if node.is_empty else node
        sound, entries.nodes[key], found = shaped_in_part(model, written, key)
        entries.at[key] = at
        faults += found
        if sound is not None:
            entries.sound[key] = sound
    return entries


def _grams(weight: units.Quantity | None) -> Fraction | None:
    return None if weight is None else weight.amount * units.UNITS[weight.unit][1]


def _measures(ingredients: Mapping[str, IngredientIn], recipes: Mapping[str, RecipeIn]) -> dict[str, Measure]:
    bought = {k: Measure(i.unit, _grams(i.each), i.density) for k, i in ingredients.items()}
    made = {k: Measure(r.makes.unit, _grams(r.each), r.density) for k, r in recipes.items()}
    return bought | made
