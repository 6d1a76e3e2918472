"""The usual cautions under a list of work, each once, with what it is about."""

from __future__ import annotations

from collections.abc import Sequence

from ordering.pages.parts import Block, section
from ordering.records.page import Cell

DEFER = "Local code and licensed practice decide; no sheet can say that food is safe."


def caution_block(hazards: Sequence[tuple[str, str]]) -> list[Block]:
    """A block for (hazard, name of what carries it) pairs; nothing where there are none."""
    if not hazards:
        return []
    named: dict[str, list[str]] = {}
    for hazard, name in hazards:
        names = named.setdefault(hazard, [])
        if name not in names:
            names.append(name)
    rows = tuple(
        (Cell(hazard.replace("-", " "), "strong"), Cell(", ".join(names))) for hazard, names in named.items()
    )
    return [section("Cautions", DEFER), Block(rows)]
