"""The chain behind one line of a run, from covers to packs, as a chef would tell it."""

from __future__ import annotations

from ordering.explain.chain_bought import bought
from ordering.explain.chain_made import dish, made
from ordering.explain.lookup import DISH, Facts, Tables, Told, find
from ordering.explain.reasons import why
from ordering.explain.telling import wrapped
from ordering.faults import Fault, Refused
from ordering.texts import cells_wide

NARROWEST = 60


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
    told = Told(tables, facts["why"], max(width, NARROWEST))
    kind, name = find(told, item)
    if kind == "dish":
        lines = dish(told, name)
    else:
        lines = made(told, name) if told.items[name]["is_made"] else bought(told, name)
        if name in told.dishes:
            lines.append(f"There is a dish of that name too: ask for {DISH}{name}")
    return _fitted(lines, told.width)


def _fitted(lines: list[str], width: int) -> list[str]:
    """No line wider than asked, no spaces at the ends of lines, no empty lines at the end."""
    fitted = [[line] if cells_wide(line) <= width else wrapped(line, width, "", "    ") for line in lines]
    lines = [line.rstrip() for parts in fitted for line in parts]
    while lines and not lines[-1]:
        lines.pop()
    return lines


__all__ = ["chain", "why"]
