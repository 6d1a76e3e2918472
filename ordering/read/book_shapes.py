"""Books beside a house that was refused: form, dates, numbers and ids, said together with its own faults."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from ordering.faults import Fault
from ordering.read import columns, packed
from ordering.read.book_table import BookTable
from ordering.read.columns import read_column
from ordering.read.entries import NEW_ITEM, only
from ordering.read.names import known
from ordering.records.house import House

PORTIONS = columns.whole_number(columns.MAX_PORTIONS, "portions")
COVERS = columns.whole_number(columns.MAX_COVERS, "covers")
NEW_SERVICE = (
    "add it to services in house.yaml ('days: []' for one no longer held), or map it there: service_names"
)
_READERS: dict[str, Callable[[str], Any]] = {
    **dict.fromkeys(("date", "taken_on", "counted_on", "started_on", "deliver_on"), columns.a_day),
    **dict.fromkeys(("use_by", "ready_on"), columns.a_day_or_none),
    **dict.fromkeys(("made", "packs"), columns.number),
    "quantity": packed.counted,
    "drawn": columns.number_or_none,
    "sold": PORTIONS,
    "covers": COVERS,
    "booked": COVERS,
    "sold_out": columns.truth,
    **dict.fromkeys(("per_cover", "spread"), columns.number),
}
# What is said of an id that is none: (what, remedy, kind).
_IDS = {
    "service": ("service", NEW_SERVICE, ""),
    "item": ("ingredient or recipe", NEW_ITEM, "unknown-item"),
    "recipe": ("recipe", "add it to recipes.yaml", ""),
    "vendor": ("vendor", "add it to vendors.yaml", ""),
}


@dataclass(frozen=True, slots=True)
class HouseInPart:
    """What of a refused house is sound, its entries and all that draws on them.

    `ids` has what may be written in a column of the books, sound or not, as `names.ids_by_name` gives it; a
    column is missing where the file that knows its ids could not be read. `headers` is None where those of
    the house are not known.
    """

    sound: House
    ids: Mapping[str, Mapping[str, str]]
    headers: Mapping[str, Mapping[str, str]] | None


def faults_of_shape(table: BookTable, house: HouseInPart | None) -> list[Fault]:
    """What is wrong with a book as far as that can be told without its house."""
    if table.book == "counts" and "quantity" in table.columns:
        table = only(table, [bool(text.strip()) for text in table.columns["quantity"]])
    readers = dict(_READERS)
    if house is not None and table.book != "sisters":  # what the others sell may be unknown here
        for column, ids in house.ids.items():
            what, remedy, kind = _IDS[column]
            readers[column] = known(what, ids, remedy, kind)
    faults: list[Fault] = []
    for column in table.columns:
        if column in readers:
            read_column(table, column, readers[column], faults)
    return faults
