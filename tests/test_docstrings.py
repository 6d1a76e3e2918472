"""Every function that takes or gives an array says in its docstring what its axes are."""

import ast
import re

from program_source import MODULES, ROOT, nodes

QUAINT = re.compile(
    r"\b(nought|naught|betimes|whilst|thereof|therein|hereby|in vain"
    r"|falls? out of|fell out of|worth a thought|for want of|on which it lacks|to see to|must see to"
    r"|reckon(ed|s)?|afresh)\b"
)
ARRAYS = re.compile(r"\b(Array|Flags|Ints|Index|Codes|NDArray)\b")
AXES = re.compile(r"\[(\.\.\.|[a-z_ ]+)(, (\.\.\.|[a-z0-9_ +]+))*\]|\bshapes?\b", re.IGNORECASE)


def handles_arrays(function: ast.FunctionDef) -> bool:
    a = function.args
    given = [one.annotation for one in (*a.posonlyargs, *a.args, *a.kwonlyargs)]
    return any(ARRAYS.search(ast.unparse(one)) for one in (*given, function.returns) if one is not None)


def test_every_array_function_gives_its_axes():
    silent = [
        f"{path.relative_to(ROOT)}:{node.lineno} {node.name}"
        for path in MODULES
        for node in nodes(path)
        if isinstance(node, ast.FunctionDef)
        and handles_arrays(node)
        and not AXES.search(ast.get_docstring(node) or "")
    ]
    assert silent == []


def test_comments_and_docstrings_are_in_modern_words():
    found = [
        f"{path.relative_to(ROOT)}: {match[0]}"
        for path in [*MODULES, *sorted(ROOT.rglob("*.csv"))]
        for match in QUAINT.finditer(path.read_text("utf-8"))
    ]
    assert found == []
