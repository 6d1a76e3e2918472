"""`ordering explain`: the chain behind one line, read from the run folder alone."""

from __future__ import annotations

from pathlib import Path

from ordering.explain.chain_bought import bought
from ordering.explain.chain_made import dish, made
from ordering.explain.run_facts import DISH, Facts, RunFacts, Tables, find
from ordering.explain.wording import wrapped
from ordering.faults import Fault, Refused
from ordering.read.run_folder import read_run
from ordering.texts import cells_wide

NARROWEST = 60


def explain(runs: Path, name: str, item: str, width: int = 80) -> list[str]:
    """The chain from covers to packs for one item of a run, in lines of at most `width`.

    Raises
    ------
    Refused : no such run, or nothing in it goes by that name
    """
    run = read_run(runs, name)
    return chain(run.tables, run.facts, item, width)


def chain(tables: Tables, facts: Facts, item: str, width: int = 80) -> list[str]:
    """Lines of at most `width` about an ingredient, a recipe, a dish or a vendor's code.

    Parameters
    ----------
    tables : rows of the run's csv files by file name without ending, all values text
    facts : run.json; its `why` holds what the tables do not

    Raises
    ------
    Refused : nothing in the run goes by that word, or the run keeps no reasons
    """
    if "why" not in facts:
        raise Refused([Fault("run.json", 0, "", "keeps no reasons", "make the run again", "no-reasons")])
    run = RunFacts(tables, facts["why"], max(width, NARROWEST))
    kind, name = find(run, item)
    if kind == "dish":
        lines = dish(run, name)
    else:
        lines = made(run, name) if run.items[name]["is_made"] else bought(run, name)
        if name in run.dishes:
            lines.append(f"There is a dish of that name too: ask for {DISH}{name}")
    return _fitted(lines, run.width)


def _fitted(lines: list[str], width: int) -> list[str]:
    """No line wider than asked, no spaces at the ends of lines, no empty lines at the end."""
    fitted = [[line] if cells_wide(line) <= width else wrapped(line, width, "", "    ") for line in lines]
    lines = [line.rstrip() for parts in fitted for line in parts]
    while lines and not lines[-1]:
        lines.pop()
    return lines
