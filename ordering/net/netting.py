"""Gross to net, top to bottom: what to start, what must be bought, what nothing can meet.

Two passes. The first takes every path as if its demand were known, finds what cannot be had in time and
gives up the portions it costs, until what is left can be done. The second decides, for what is left:
starts, purchases and the flow of every item.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import replace

import numpy as np

from ordering.net.dates import dated_parts
from ordering.net.expiring import expiring
from ordering.net.flows import Basis, Decision, decide, lots_left, with_bought
from ordering.net.frame import Frame, Sooner, frame_of
from ordering.net.levels import Worth, levels_of, worth
from ordering.net.listing import listed_starts
from ordering.net.par import lacking_more, par_warnings, pars, waits
from ordering.net.printed import printed_last
from ordering.net.rooms import begun_from_nothing, has_full_days, room_warnings
from ordering.net.scarce import Relief, relieve
from ordering.net.shortfalls import shortfalls
from ordering.net.sooner import Planned, all_above, begun_sooner
from ordering.net.stock import DUST
from ordering.net.sweep import Demand, Sweep, demand_of, sweep, terms_of
from ordering.records.house import House
from ordering.records.plan import Array, Chance, Forecast, Netting, Opening

ROUNDS = 4  # giving up portions can shift whole batches; what is left after these shows as `short`


def net_all(
    house: House,
    opening: Opening,
    forecast: Forecast,
    chances: Mapping[str, tuple[Chance, ...]],
    arrival: Mapping[str, int],
) -> Netting:
    """Net every item of the house on every path of the forecast.

    Parameters
    ----------
    chances : by vendor, the deliveries that can still be ordered
    arrival : by item, the first day index on which a purchase can be in the house; `n_days` when none
    """
    frame = frame_of(house, opening, forecast, arrival, chances)
    value = worth(frame)
    levels = levels_of(frame, value, chances)
    demand = demand_of(forecast, house.dishes)
    frame, found = _begun(frame, demand)
    found, demand, reliefs = _possible(frame, demand, value, found)
    basis, decision = _decided(Basis(frame, demand, levels, found))
    basis, decision = _sooner(basis, decision, value)
    frame, found, held_back = basis.frame, basis.swept, basis.plain
    decision = replace(with_bought(basis, decision), last=printed_last(basis, decision))
    starts = listed_starts(frame, opening, decision, held_back)
    starts, without_starter = begun_from_nothing(house, opening, starts)
    return Netting(
        flows=decision.flows,
        requirements=decision.requirements,
        starts=starts,
        shortfalls=shortfalls(frame, reliefs, {i: x.least for i, x in levels.items()}, decision.flows),
        levels={i: min(x.value, decision.enough.get(i, 1.0)) for i, x in levels.items()},
        warnings=(*room_warnings(frame, found.starts, reliefs), *par_warnings(frame), *without_starter),
        expiring=expiring(frame, decision.left, value),
    )


def _begun(frame: Frame, demand: Demand) -> tuple[Frame, Sweep]:
    """The first sweep, and the frame in which every par waits for what would lack for it."""
    found = sweep(frame, demand, {})
    if not pars(frame) or not _split(frame, found)[0].lacks:
        return frame, found
    none = replace(frame, par_off=dict.fromkeys(pars(frame), np.ones(frame.n_days, dtype=np.bool_)))
    without = sweep(none, demand, found.oldest, (found, pars(frame)))
    for turn in range(ROUNDS):
        off = waits(frame, lacking_more(frame, _split(frame, found)[0].lacks, without.lacks))
        if not off:
            break
        if turn == ROUNDS - 1:  # it helps no more to wait
            off = {r: np.maximum.accumulate(days) for r, days in off.items()}
        frame = replace(frame, par_off={**frame.par_off, **off})
        found = sweep(frame, demand, found.oldest, (found, off))
    return frame, found


def _possible(frame: Frame, demand: Demand, value: Worth, found: Sweep) -> tuple[Sweep, Demand, list[Relief]]:
    """The demand that can be met on every path, and what was given up to get there.

    An item never counted is taken as none, and what that costs is said; but because it is unknown and
    not known to be none, no portion is given up for it and the rest of the plate is bought and begun.
    """
    reliefs: list[Relief] = []
    known, uncertain = _split(frame, found)
    if uncertain.lacks:
        reliefs.append(relieve(frame, demand, uncertain, value))
    for _ in range(ROUNDS):
        if not known.lacks:
            break
        relief = relieve(frame, demand, known, value)
        reliefs.append(relief)
        if not relief.cuts:
            break
        demand = demand.less(relief.cuts)
        changed = {frame.house.dishes[d].recipe for d in relief.cuts}
        found = sweep(frame, demand, found.oldest, (found, changed))
        known, _ = _split(frame, found)
    return found, demand, reliefs


def _split(frame: Frame, found: Sweep) -> tuple[Sweep, Sweep]:
    """A sweep with what is known to lack, and with what lacks only for want of a count."""
    known: dict[str, Array] = {}
    uncertain: dict[str, Array] = {}
    for item, lack in found.lacks.items():
        if item not in frame.unknown:
            known[item] = lack
            continue
        recipe = frame.house.recipes.get(item)
        until = frame.n_days if recipe is None else recipe.takes_days
        for half, days in ((uncertain, slice(None, until)), (known, slice(until, None))):
            part = np.zeros_like(lack)
            part[days] = lack[days]
            if part.any():
                half[item] = part
    return replace(found, lacks=known), replace(found, lacks=uncertain)


def _decided(basis: Basis) -> tuple[Basis, Decision]:
    """The decision, with a margin only on what there is something to build a margin of.

    Where the margin of a start would draw what cannot be there in time, the recipes on the way to it
    are started for what each path needs instead, and the sweep is made again.
    """
    frame, decision = basis.frame, decide(basis)
    while asking := _recipes_above(frame, _newly_lacking(frame, decision, basis.swept), basis.plain):
        basis = replace(basis, plain=basis.plain | asking)
        decision = decide(basis, (decision, asking))
    return basis, decision


def _sooner(basis: Basis, decision: Decision, value: Worth) -> tuple[Basis, Decision]:
    """The decision with batches begun sooner to use up lots; without those that would make anything lack."""
    frame = basis.frame
    plan = Planned(basis.demand, decision.starts, lots_left(basis, decision), basis.swept.oldest, value.cost)
    sooner = begun_sooner(frame, plan)
    while sooner:
        then, decided = decided_again(basis, decision, sooner)
        wrong = all_above(frame, _newly_lacking(frame, decided, decision))
        wrong |= {r for r, begun in sooner.items() if _is_shorter(frame, then.swept, r, begun)}
        if not wrong:
            return then, decided
        kept = {r: begun for r, begun in sooner.items() if r not in wrong}
        sooner = kept if len(kept) < len(sooner) else {}
    return basis, decision


def decided_again(
    basis: Basis, decision: Decision, sooner: Mapping[str, tuple[Sooner, ...]]
) -> tuple[Basis, Decision]:
    """A decision with batches begun sooner: what they do not reach is taken from the one without them."""
    frame = replace(basis.frame, sooner=sooner)
    swept = sweep(frame, basis.demand, basis.swept.oldest, (basis.swept, sooner), _watched(frame))
    basis = replace(basis, frame=frame, swept=swept)
    return basis, decide(basis, (decision, sooner))


def _watched(frame: Frame) -> set[str]:
    """Items whose sweep still tells something once it is decided: parts whose date is kept, stages whose room
    can be full, and all above them."""
    house = frame.house
    dated = {part for recipe in house.recipes for part in dated_parts(house, recipe)}
    return all_above(frame, dated | {r.id for r in house.recipes.values() if has_full_days(r)})


def _is_shorter(frame: Frame, swept: Sweep, recipe: str, begun: Iterable[Sooner]) -> bool:
    """Whether the parts drawn make a batch begun sooner go off before the day it was reckoned to last to."""
    last = terms_of(frame, recipe, swept.oldest).last
    return any(last[one.ready] < one.last for one in begun)


def _newly_lacking(frame: Frame, decision: Decision, found: Sweep | Decision) -> set[str]:
    """Items that lack under the decided starts on days, and by amounts, where they did not lack before."""
    lacking = set()
    for item, lack in decision.lacks.items():
        if item in frame.unknown:
            continue
        recipe = frame.house.recipes.get(item)
        until = frame.arrival.get(item, frame.n_days) if recipe is None else recipe.takes_days
        before = found.lacks.get(item)
        more = lack[:until].sum() - (0.0 if before is None else before[:until].sum())
        if more > DUST * frame.n_paths:
            lacking.add(item)
    return lacking


def _recipes_above(frame: Frame, items: set[str], plain: Collection[str]) -> set[str]:
    """The next recipes on the way up from these items that carry a margin: they take a day or more."""
    found: set[str] = set()
    seen = set(items)
    ring = sorted(items)
    while ring:
        users = sorted({u.recipe for i in ring for u in frame.graph.uses.get(i, ())} - seen)
        seen.update(users)
        margined = {r for r in users if frame.house.recipes[r].takes_days and r not in plain}
        found |= margined
        ring = [r for r in users if r not in margined]
    return found
