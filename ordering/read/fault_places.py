"""A fault at the file and line of an entry of the house."""

from __future__ import annotations

from ordering.faults import Fault
from ordering.records.house import House


def fault_at(house: House, key: str, said: tuple[str, str, str], part: str = "") -> Fault:
    """(kind, wrong, right) of an entry such as `recipes.stock`, or of a `part` of it such as `.from.2`."""
    place = house.places.get(f"{key}{part}") or house.places.get(key)
    where, line = (place.path, place.line) if place else (key.partition(".")[0], 0)
    kind, wrong, right = said
    return Fault(where, line, key.partition(".")[2], wrong, right, kind)
