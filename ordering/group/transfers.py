"""What is over in one house and short in another that a van reaches."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable

from ordering.amounts import EPS
from ordering.records.group import LEAST_WORTH, Group, HouseRun, Surplus, Transfer, Want
from ordering.records.money import cents


def transfers(group: Group, runs: Iterable[HouseRun]) -> tuple[Transfer, ...]:
    """What to take where: each surplus to the houses that run short of it before it goes off.

    Looked at is what runs short before the house's next run: later ones can still be ordered for. A shortage
    is met from what goes off first and is there by then, the earliest shortage first; nothing is taken from a
    house that runs short of the item itself, nor counted twice, nor sent for less than a stop is worth. An
    item is the same where id and unit are.

    Returns
    -------
    tuple of Transfer : the one worth most first
    """
    over: dict[tuple[str, str], list[Surplus]] = defaultdict(list)
    wanted: dict[tuple[str, str], list[Want]] = defaultdict(list)
    for run in runs:
        for one in run.surplus:
            over[one.item, one.unit].append(one)
        near = (w for w in run.shortages if run.next_run is None or w.needed_on <= run.next_run)
        for want in near:
            wanted[want.item, want.unit].append(want)
    found = [
        move for key in sorted(over.keys() & wanted.keys()) for move in _moves(group, over[key], wanted[key])
    ]
    return tuple(sorted(found, key=lambda m: (-m.worth, m.needed_on, m.item, m.from_house, m.to_house)))


def _moves(group: Group, over: list[Surplus], wanted: list[Want]) -> list[Transfer]:
    lots = sorted(over, key=lambda lot: (lot.use_by, lot.house))
    left = [lot.quantity for lot in lots]
    is_short = {want.house for want in wanted}
    found: list[Transfer] = []
    for want in sorted(wanted, key=lambda w: (w.needed_on, w.house)):
        short = want.quantity
        for n, lot in enumerate(lots):
            can_go = lot.house not in is_short and group.are_in_reach(lot.house, want.house)
            is_there = lot.there_on <= want.needed_on <= lot.use_by
            taken = min(short, left[n]) if can_go and is_there else 0.0
            worth = cents(float(lot.worth) * taken / lot.quantity)
            if taken <= EPS or worth < LEAST_WORTH:
                continue
            left[n] -= taken
            short -= taken
            found.append(
                Transfer(
                    lot.house,
                    want.house,
                    lot.item,
                    lot.name,
                    taken,
                    lot.unit,
                    want.needed_on,
                    lot.use_by,
                    worth,
                )
            )
    return found
