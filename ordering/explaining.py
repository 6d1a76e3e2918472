"""`ordering explain`: the chain behind one line, read from the run folder alone."""

from __future__ import annotations

from pathlib import Path

from ordering.explain.chain import chain
from ordering.read.run_folder import read_run


def explain(runs: Path, name: str, item: str, width: int = 80) -> list[str]:
    """The chain from covers to packs for one item of a run, in lines of at most `width`.

    Raises
    ------
    Refused : no such run, or nothing in it goes by that name
    """
    run = read_run(runs, name)
    return chain(run.tables, run.facts, item, width)
