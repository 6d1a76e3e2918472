"""The layers of the program, checked: imports run one way, and only the rims touch the world."""

import ast
import re
from collections import Counter
from pathlib import Path

import pytest
from program_source import MODULES, ROOT, nodes

GROUND = {
    "amounts",
    "faults",
    "texts",
    "days",
    "units",
    "packs",
    "words",
    "cautions",
    "accuracy",
    "public_holidays",
    "memory",
}
STAGES = {"read", "forecast", "explode", "net", "buy", "explain", "review", "rehearsal", "pages"}
RIMS = {"write", "ledger"}
CONDUCTORS = {
    "commands",
    "options",
    "group",
    "grouping",
    "backtesting",
    "pricing",
    "forecasting",
    "loading",
    "pipeline",
    "runs",
    "bookkeeping",
    "intake",
    "reviewing",
    "explaining",
    "rehearse",
    "remaking",
}
TOUCHES_THE_WORLD = {"read", "write", "ledger", "intake", "cli"}
# `net` walks the recipe graph that `explode` lays out, a review and pars go straight through its recipes;
# a rehearsed kitchen keeps to `net`'s last days.
SIDE_STEPS = {("net", "explode"), ("review", "explode"), ("rehearsal", "explode"), ("rehearsal", "net")}
LONGEST_FILE = 330
LONGEST_FUNCTION = 60


def test_no_two_modules_share_a_name():
    """A name alone says which file is meant: in a traceback, in a search, in talk."""
    number = Counter(path.stem for path in MODULES if path.stem != "__init__")
    assert [name for name, n in number.items() if n > 1] == []


def test_no_two_classes_share_a_name():
    """One word per thing: who reads `Sheet` need not ask whose."""
    classes = [
        (node.name, path.name) for path in MODULES for node in nodes(path) if isinstance(node, ast.ClassDef)
    ]
    number = Counter(name for name, _ in classes)
    assert [(name, file) for name, file in classes if number[name] > 1] == []


def test_the_guide_names_only_files_that_there_are():
    """A bare name is that of a module anywhere, for no two share one."""
    text = (ROOT.parent / "DEVELOPERS.md").read_text("utf-8")
    known = {path.relative_to(ROOT).as_posix() for path in MODULES} | {path.name for path in MODULES}
    tests = {path.name for path in (ROOT.parent / "tests").rglob("*.py")}
    named = set(re.findall(r"`([a-z_/]+\.py)", text))
    assert {n for n in named - known if n.rpartition("/")[2] not in tests} == set()


def room(path: Path) -> str:
    part = path.relative_to(ROOT).parts[0]
    return part.removesuffix(".py")


def imported_rooms(path: Path) -> set[str]:
    rooms = set()
    for node in nodes(path):
        names = []
        if isinstance(node, ast.ImportFrom) and node.module and node.module.startswith("ordering"):
            names = [node.module]
            if node.module == "ordering":
                names = [f"ordering.{alias.name}" for alias in node.names]
        elif isinstance(node, ast.Import):
            names = [alias.name for alias in node.names if alias.name.startswith("ordering.")]
        rooms |= {name.split(".")[1] for name in names if "." in name}
    return rooms - {"__version__"}


def allowed(here: str) -> set[str]:
    if here in GROUND:
        return GROUND
    if here == "records":
        return GROUND | {"records"}
    if here in STAGES | RIMS:
        return GROUND | {"records", here} | {b for a, b in SIDE_STEPS if a == here}
    return GROUND | STAGES | RIMS | CONDUCTORS | {"records"}


@pytest.mark.parametrize("path", MODULES, ids=lambda p: str(p.relative_to(ROOT)))
def test_imports_run_one_way(path):
    here = room(path)
    if here == "__init__":
        return
    assert imported_rooms(path) <= allowed(here)


@pytest.mark.parametrize("path", MODULES, ids=lambda p: str(p.relative_to(ROOT)))
def test_only_the_rims_open_print_or_ask_the_time(path):
    if room(path) in TOUCHES_THE_WORLD:
        return
    for node in nodes(path):
        if not isinstance(node, ast.Call):
            continue
        name = ast.unparse(node.func)
        assert name not in {"open", "print", "input"}, f"line {node.lineno}: {name}"
        assert not name.endswith((".today", ".now", ".read_text", ".write_text", ".write_bytes", ".open")), (
            f"line {node.lineno}: {name}"
        )


@pytest.mark.parametrize("path", MODULES, ids=lambda p: str(p.relative_to(ROOT)))
def test_our_own_modules_are_imported_at_the_top(path):
    """An import inside a function hides a loop; `commands.py` alone may, to answer `--help` at once."""
    if room(path) == "commands":
        return
    for function in nodes(path):
        if isinstance(function, ast.FunctionDef):
            inner = [n for n in ast.walk(function) if isinstance(n, ast.Import | ast.ImportFrom)]
            ours = [n.lineno for n in inner if "ordering" in ast.unparse(n)]
            assert not ours, f"import of our own inside {function.name}, line {ours}"


@pytest.mark.parametrize("path", MODULES, ids=lambda p: str(p.relative_to(ROOT)))
def test_files_and_functions_stay_readable(path):
    text = path.read_text("utf-8")
    assert text.count("\n") <= LONGEST_FILE
    for node in nodes(path):
        if isinstance(node, ast.FunctionDef):
            body = node.body[1:] if ast.get_docstring(node) else node.body
            n_lines = (body[-1].end_lineno - body[0].lineno + 1) if body else 0
            assert n_lines <= LONGEST_FUNCTION, f"{node.name}: {n_lines} lines"
