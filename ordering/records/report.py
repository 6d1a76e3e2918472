"""What a command has to say when it is done."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path


@dataclass(frozen=True, slots=True)
class Report:
    """`status`: 0 done, 1 done but someone must look. `written`: files, for a test or a script."""

    lines: tuple[str, ...]
    status: int = 0
    written: tuple[Path, ...] = ()
