"""A run folder read back: the plan as it was, whatever the configuration says today."""

from __future__ import annotations

import csv
import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

from ordering.faults import Fault, Refused, nearest

_TABLES = ("forecast", "orders", "outlook", "starts", "shortages", "projection", "pegging")
PLACED = "placed.json"


@dataclass(frozen=True, slots=True)
class RunFiles:
    """`tables` by file name without ending; each row a mapping of column to text."""

    name: str
    folder: Path
    tables: Mapping[str, list[dict[str, str]]]
    facts: Mapping[str, Any]


def run_path(runs: Path, name: str) -> Path:
    """The folder of a run.

    Raises
    ------
    Refused : the name is not a plain folder name, or there is no such run
    """
    folder = runs / name
    if name in {"", ".", ".."} or Path(name).name != name or not (folder / "run.json").is_file():
        known = sorted(p.parent.name for p in runs.glob("*/run.json"))
        right = nearest(name, known) or (f"the latest is '{known[-1]}'" if known else "make one with 'order'")
        raise Refused([Fault(str(runs), 0, "", f"there is no run '{name}'", right, "no-run")])
    return folder


def read_run(runs: Path, name: str, asked: Iterable[str] = _TABLES) -> RunFiles:
    """The tables asked for, if nothing is said every one, and the facts of one run.

    Raises
    ------
    Refused : no such run, or a file of it is missing or damaged
    """
    folder = run_path(runs, name)
    faults: list[Fault] = []
    tables = {table: _rows(folder / f"{table}.csv", faults) for table in asked}
    facts: dict[str, Any] = {}
    try:
        facts = json.loads((folder / "run.json").read_text("utf-8"))
    except (OSError, ValueError):
        faults.append(_damaged(folder / "run.json"))
    if faults:
        raise Refused(faults)
    return RunFiles(name, folder, tables, facts)


def run_facts(folder: Path) -> Mapping[str, Any]:
    """What `run.json` says in a folder; nothing where it cannot be read."""
    return _facts(folder / "run.json")


def latest_run(runs: Path, house: str, on: date) -> RunFiles | None:
    """The last run that a house made up to the end of a day; None where there is none, or it is damaged."""
    made: list[tuple[str, int, str]] = []
    for path in runs.glob("[!.]*/run.json"):
        facts = run_facts(path.parent)
        when = str(facts.get("when", ""))
        if facts.get("house") == house and when[:10] <= on.isoformat():
            made.append((when, len(path.parent.name), path.parent.name))
    if not made:
        return None
    try:
        return read_run(runs, max(made)[-1])
    except Refused:
        return None


@dataclass(frozen=True, slots=True)
class PlacedRun:
    """What `place` wrote down in a run folder: the run's identity, the house."""

    name: str
    facts: Mapping[str, Any]


def placed_facts(folder: Path) -> Mapping[str, Any]:
    """What `place` wrote down in a run folder; nothing where it did not, or where it cannot be read."""
    return _facts(folder / PLACED)


def placed_runs(runs: Path) -> tuple[PlacedRun, ...]:
    """Runs of which something has been placed, by what stands in their folders; damaged ones say nothing."""
    paths = sorted(runs.glob(f"*/{PLACED}")) if runs.is_dir() else []
    found = (PlacedRun(path.parent.name, placed_facts(path.parent)) for path in paths)
    return tuple(run for run in found if run.facts)


def _facts(path: Path) -> dict[str, Any]:
    """A small file of facts; nothing where it cannot be read."""
    try:
        facts = json.loads(path.read_text("utf-8"))
    except (OSError, ValueError):
        return {}
    return facts if isinstance(facts, dict) else {}


def _rows(path: Path, faults: list[Fault]) -> list[dict[str, str]]:
    try:
        with path.open(encoding="utf-8-sig", newline="") as file:
            return [{k: _unguarded(v or "") for k, v in row.items() if k} for row in csv.DictReader(file)]
    except (OSError, ValueError, csv.Error):
        faults.append(_damaged(path))
        return []


def _unguarded(text: str) -> str:
    """Text without the quote put before what a spreadsheet would take for a formula."""
    return text[1:] if len(text) > 1 and text[0] == "'" and text[1] in "=+-@\t\r" else text


def _damaged(path: Path) -> Fault:
    return Fault(str(path), 0, "", "is missing or damaged", "make the run again with 'order'", "damaged-run")
