"""Facts of a run to JSON that a person can leaf through: a line for each input, item, dish and vendor."""

from __future__ import annotations

import json
from collections.abc import Mapping

N_LEVELS_OPEN = 3  # run.json, its `why`, and the items, dishes and vendors in there

_on_one_line = json.JSONEncoder(ensure_ascii=False, allow_nan=False).encode


def facts_bytes(facts: Mapping[str, object]) -> bytes:
    """The facts as UTF-8 JSON, the outer levels one entry a line; whatever lies deeper shares its line.

    Raises
    ------
    ValueError : a number is infinite or none
    TypeError : a value is of no kind JSON holds
    """
    return f"{_laid_out(facts, N_LEVELS_OPEN)}\n".encode()


def _laid_out(value: object, n_open: int) -> str:
    if not (n_open and isinstance(value, Mapping) and value):
        return _on_one_line(value)
    pad = " " * (N_LEVELS_OPEN + 1 - n_open)
    entries = (
        f"{pad}{_on_one_line(str(key))}: {_laid_out(entry, n_open - 1)}" for key, entry in value.items()
    )
    return "{\n" + ",\n".join(entries) + f"\n{pad[1:]}}}"
