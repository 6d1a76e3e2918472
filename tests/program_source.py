"""The modules of the program, each parsed once for all tests that read them as text."""

from __future__ import annotations

import ast
from functools import cache
from pathlib import Path

ROOT = Path(__file__).parent.parent / "ordering"
MODULES = sorted(ROOT.rglob("*.py"))


@cache
def nodes(path: Path) -> tuple[ast.AST, ...]:
    """Every node of a module's syntax tree."""
    return tuple(ast.walk(ast.parse(path.read_text("utf-8"))))
