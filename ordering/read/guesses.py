"""Values that were guessed and that nobody has confirmed: they carry a mark in the file."""

from __future__ import annotations

from pathlib import Path

from ordering.amounts import plural
from ordering.faults import Fault
from ordering.read.files import MAX_YAML_BYTES, read_text

MARK = "guess: "


def unconfirmed(directory: Path) -> list[Fault]:
    """A doubt for each file of a house that has guesses, at the first of them."""
    found = []
    for path in sorted(directory.glob("*.yaml")):
        text = read_text(path, MAX_YAML_BYTES)
        if isinstance(text, Fault):
            continue
        lines = [n for n, line in enumerate(text.splitlines(), 1) if f"# {MARK}" in line]
        if lines:
            wrong = f"{plural(len(lines), 'guess', 'guesses')} that nobody has confirmed yet"
            right = f"look at each line with '# {MARK.strip()}', correct it if need be, take the mark out"
            found.append(Fault(path.as_posix(), lines[0], "", wrong, right, "unconfirmed"))
    return found
