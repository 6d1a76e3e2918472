"""House files kept as tables: `ingredients.xlsx`, `recipes.csv` and so on, with the keys as columns.

A row is an entry; what an entry has several of (offers, lines of a recipe, delivery days) stands on further
rows below it, with the id again or left empty. Lists in a cell are separated by commas, amounts by item
(`menu`, `also_makes`, `breaks`) by semicolons: `soup: 20; pie: 20`.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from ordering.faults import Fault, nearest
from ordering.read.book_table import HEAD_WITHIN
from ordering.read.csv_table import delimiter, records
from ordering.read.files import MAX_TABLE_BYTES, decoded, read_bytes
from ordering.read.nodes import Node
from ordering.read.workbook import column_letter, read_sheets
from ordering.read.yaml_schema import (
    DeliveryIn,
    DishIn,
    EventIn,
    IngredientIn,
    LineIn,
    OfferIn,
    RecipeIn,
    VendorIn,
    YamlPart,
)

SUFFIXES = (".csv", ".xlsx")
_FILES: Mapping[str, tuple[type[YamlPart], str, type[YamlPart] | None]] = {
    "ingredients": (IngredientIn, "offers", OfferIn),
    "recipes": (RecipeIn, "from", LineIn),
    "vendors": (VendorIn, "deliveries", DeliveryIn),
    "menu": (DishIn, "", None),
    "calendar": (EventIn, "", None),
}
_LISTS = {"allergens", "free_of", "hazards", "services", "closed", "dates"}
_AMOUNTS = {"menu", "breaks"}


@dataclass(frozen=True, slots=True)
class _Cells:
    """A sheet of one file from its heading on: the columns by key, and where each cell stands."""

    place: str
    title: str
    columns: Mapping[str, int]
    rows: Sequence[tuple[int, Sequence[str]]]

    def node(self, row: int, at: int, text: str | None = None, **parts: object) -> Node:
        """A value with its place: the line of a csv file, the cell of a sheet."""
        place, line = self.where(row, at)
        return Node(line, text, place=place, **parts)  # type: ignore[arg-type]

    def where(self, row: int, at: int) -> tuple[str, int]:
        if self.title:
            return f"{self.place} [{self.title}], cell {column_letter(at)}{row}", 0
        return self.place, row


def read_house_table(path: Path, stem: str) -> tuple[Node | None, list[Fault]]:
    """The entries of a table as the same file in YAML would give them, and every fault of its form."""
    content = read_bytes(path, MAX_TABLE_BYTES)
    if isinstance(content, Fault):
        return None, [content]
    place = path.as_posix()
    if path.suffix == ".csv":
        text = decoded(content, place)
        if isinstance(text, Fault):
            return None, [text]
        rows, starts, faults = records(text, place, delimiter(text))
        grids: list[tuple[str, list[tuple[int, Sequence[str]]]]] = [
            ("", list(zip(starts, rows, strict=True)))
        ]
    else:
        sheets, faults = read_sheets(content, place)
        grids = [(s.title, list(zip(s.numbers, s.rows, strict=True))) for s in sheets]
        faults += [
            Fault(f"{place} [{s.title}], cell {column_letter(at)}{row}", 0, "", wrong, right, kind)
            for s in sheets
            for (row, at), (kind, wrong, right) in s.refused.items()
        ]
    tables = [t for title, grid in grids if (t := _table(place, title, grid, stem, faults)) is not None]
    if not tables and not faults:
        right = f"name its columns: id, {', '.join(_columns(stem)[:6])} and so on"
        faults.append(Fault(place, 0, "", "no row names the columns of this file", right, "no-heading"))
    if faults:
        return None, faults
    root = Node(1, keys={}, place=place)
    for table in tables:
        if stem == "calendar":
            _days(table, root)
        else:
            _entries(table, stem, root, faults)
    return (root if root.keys else None), faults


def _keys(model: type[YamlPart] | None) -> list[str]:
    fields = model.model_fields.items() if model is not None else ()
    return [field.alias or name for name, field in fields]


def _own(stem: str) -> list[str]:
    """The columns of an entry itself; those of its parts are in `_parts`."""
    model, parts, _ = _FILES[stem]
    also = ["why", "from", "until"] if stem == "calendar" else []
    return [key for key in _keys(model) if key != parts] + also


def _parts(stem: str) -> list[str]:
    """The columns of what an entry has several of; where both have a word, it is the entry's."""
    return [key for key in _keys(_FILES[stem][2]) if key not in _own(stem)]


def _columns(stem: str) -> list[str]:
    return [*_own(stem), *_parts(stem)]


def _plain(heading: str) -> str:
    return "_".join(heading.strip().lower().replace("-", " ").replace("_", " ").split())


def _table(
    place: str, title: str, grid: Sequence[tuple[int, Sequence[str]]], stem: str, faults: list[Fault]
) -> _Cells | None:
    """The table below the first row that has an id or a name and another key; None where no row has."""
    known = {"id", *_columns(stem)}
    for n, (row, heading) in enumerate(grid[:HEAD_WITHIN]):
        names = [_plain(cell) for cell in heading]
        if not {"id", "name", "date", "dates"} & set(names) or len(known & set(names)) < 2:
            continue
        table = _Cells(place, title, {}, ())
        columns: dict[str, int] = {}
        for at, name in enumerate(names):
            where, line = table.where(row, at)
            if name in columns:
                right = "rename or take out one of them"
                faults.append(Fault(where, line, "", f"two columns are '{name}'", right, "equal-columns"))
            elif name in known:
                columns[name] = at
            elif name and not name.startswith("#"):
                right = nearest(name, known) or f"known: {', '.join(sorted(known))}"
                right += "; a column of your own begins with #"
                wrong = f"'{heading[at].strip()[:40]}' is not a column of {stem}"
                faults.append(Fault(where, line, "", wrong, right, "unknown-column"))
        return _Cells(place, title, columns, grid[n + 1 :])
    return None


def _filled(table: _Cells, row: Sequence[str], names: Sequence[str]) -> Iterator[tuple[str, int, str]]:
    for name in names:
        at = table.columns.get(name)
        if at is not None and at < len(row) and (text := row[at].strip()):
            yield name, at, text


def _entries(table: _Cells, stem: str, root: Node, faults: list[Fault]) -> None:
    """The entries of a table, each with its parts from the rows below it."""
    now: Node | None = None
    for number, row in table.rows:
        if not any(cell.strip() for cell in row):
            continue
        at = table.columns.get("id", table.columns.get("name", 0))
        given = {name: text for name, _, text in _filled(table, row, ("id", "name"))}
        if key := given.get("id") or _id_of(given.get("name", "")):
            now = (root.keys or {}).get(key)
            if now is None:
                now = table.node(number, at, keys={})
                _put(root, key, now)
        if now is None:
            where, line = table.where(number, at)
            right = "write its id here; further rows of an entry stand below its first"
            faults.append(Fault(where, line, "", "this row belongs to no entry", right, "no-id"))
            continue
        _own_words(table, stem, (number, row), now, faults)
        _part_of(table, stem, (number, row), now)


def _own_words(
    table: _Cells, stem: str, numbered: tuple[int, Sequence[str]], entry: Node, faults: list[Fault]
) -> None:
    """What a row says of the entry itself; a further row may say the same again, nothing else."""
    number, row = numbered
    for name, at, text in _filled(table, row, _own(stem)):
        value = _value(table, number, at, name, text)
        held = (entry.keys or {}).get(name)
        if held is not None and held.plain() != value.plain():
            where, line = table.where(number, at)
            wrong = f"{name}: another value than in the rows above"
            faults.append(Fault(where, line, "", wrong, "keep one of them", "equal-keys"))
        _put(entry, name, value)


def _part_of(table: _Cells, stem: str, numbered: tuple[int, Sequence[str]], entry: Node) -> None:
    """The offer, line or delivery day that a row has."""
    number, row = numbered
    filled = list(_filled(table, row, _parts(stem)))
    if filled:
        part = table.node(number, filled[0][1], keys={})
        for name, at, text in filled:
            _put(part, name, _value(table, number, at, name, text))
        _listed(table, number, entry, _FILES[stem][1]).append(part)


def _listed(table: _Cells, number: int, entry: Node, word: str) -> list[Node]:
    """The list under a word of an entry, begun where there is none yet."""
    items: list[Node] = []
    found = (entry.keys or {}).get(word)
    if found is not None and found.items is not None:
        return found.items
    _put(entry, word, table.node(number, 0, items=items))
    return items


def _put(node: Node, key: str, value: Node) -> None:
    if node.keys is not None:
        node.keys[key] = value
        node.key_lines[key] = value.line


def _value(table: _Cells, row: int, at: int, name: str, text: str) -> Node:
    """A cell as the word's value in YAML would be: a list, amounts by item, or text."""
    if name in _LISTS:
        return table.node(
            row, at, items=[table.node(row, at, p.strip()) for p in re.split(r"[,;]", text) if p.strip()]
        )
    pairs = [part.strip() for part in text.split(";") if part.strip()]
    if name in _AMOUNTS:
        node = table.node(row, at, keys={})
        for pair in pairs:
            key, _, amount = pair.partition(":")
            _put(node, key.strip(), table.node(row, at, amount.strip() or None))
        return node
    if name == "also_makes":
        found = []
        for pair in pairs:
            item, _, amount = pair.partition(":") if ":" in pair else pair.partition(" ")
            one = table.node(row, at, keys={})
            _put(one, "item", table.node(row, at, item.strip()))
            _put(one, "quantity", table.node(row, at, amount.strip() or None))
            found.append(one)
        return table.node(row, at, items=found)
    return table.node(row, at, text)


def _days(table: _Cells, root: Node) -> None:
    """Closures and events: a row with a name is an event, any other a closure."""
    for number, row in table.rows:
        filled = list(_filled(table, row, _own("calendar")))
        if not filled:
            continue
        entry = table.node(number, filled[0][1], keys={})
        for name, column, text in filled:
            _put(entry, name, _value(table, number, column, name, text))
        word = "events" if any(name == "name" for name, _, _ in filled) else "closures"
        _listed(table, number, root, word).append(entry)


def _id_of(name: str) -> str:
    """An id for an entry that has a name only."""
    plain = unicodedata.normalize("NFKD", name.lower()).encode("ascii", "ignore").decode()
    return re.sub(r"[^a-z0-9]+", "-", plain).strip("-")[:60].strip("-")
