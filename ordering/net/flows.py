"""The second sweep: decided starts carried down, expected flows, and what must be bought."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from ordering.net.dates import dated_parts
from ordering.net.decide import carried_on, cover, enough
from ordering.net.expiring import Lots, left_over
from ordering.net.frame import Frame, draws_begun
from ordering.net.levels import Level
from ordering.net.par import planned
from ordering.net.starts import Making, rolled
from ordering.net.stock import DUST, Days, Drawn, Parcel, draw, received
from ordering.net.sweep import (
    Dates,
    Demand,
    Sweep,
    by_ready,
    by_start,
    gross_of,
    parcels_of,
    terms_of,
    too_soon,
    touched,
    with_sooner,
)
from ordering.records.plan import Array, ItemFlow, Requirement

DAYS_SHOWN_AFTER = 7  # starts of the week after the next run are shown as planned


@dataclass(slots=True)
class Decision:
    """What is decided, and what follows from it.

    dates : those of the sweep it was made from; decided : by recipe, batches by start day, to a week past the
    next run; starts : [day, path], with the decided ones on every path alike, and means over the paths;
    last : by recipe, last day index by ready day; lacks : as in a sweep; as_swept : recipes that start on
    every path what they start in the sweep; flows, left : by recipe, and lots that will likely be past their
    date before they are used up. Of what is bought these and `requirements` come last, by `with_bought`.
    enough : by recipe of which less than its level may be held, share of the paths on which it is enough
    """

    dates: Dates
    flows: dict[str, ItemFlow] = field(default_factory=dict)
    requirements: dict[str, Requirement] = field(default_factory=dict)
    decided: dict[str, Array] = field(default_factory=dict)
    starts: dict[str, Array] = field(default_factory=dict)
    means: dict[str, Array] = field(default_factory=dict)
    last: dict[str, Days] = field(default_factory=dict)
    lacks: dict[str, Array] = field(default_factory=dict)
    as_swept: set[str] = field(default_factory=set)
    left: dict[str, Lots] = field(default_factory=dict)
    enough: dict[str, float] = field(default_factory=dict)

    def note_lack(self, item: str, lack: Array) -> None:
        if (felt := _felt(lack)).any():
            self.lacks[item] = felt

    def keep(self, before: Decision, item: str) -> None:
        """Take everything about an item from an earlier decision."""
        if item in before.flows:
            self.flows[item], self.left[item] = before.flows[item], before.left[item]
            self.decided[item], self.last[item] = before.decided[item], before.last[item]
            self.starts[item], self.means[item] = before.starts[item], before.means[item]
            if item in before.enough:
                self.enough[item] = before.enough[item]
        if item in before.lacks:
            self.lacks[item] = before.lacks[item]
        if item in before.as_swept:
            self.as_swept.add(item)


@dataclass(frozen=True, slots=True)
class Basis:
    """What is decided from: the demand that can be met, the sweep of it, how surely each item is held.

    plain : recipes that start what each path needs, because there is nothing to build a margin of
    """

    frame: Frame
    demand: Demand
    levels: Mapping[str, Level]
    swept: Sweep
    plain: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class Made:
    """What supplies an item beyond its parcels. made, lack : [day, path]; thrown : [day], mean."""

    made: Array
    lack: Array
    thrown: Array


def decide(basis: Basis, before: tuple[Decision, Collection[str]] | None = None) -> Decision:
    """Decided starts and flows of every recipe, and what lacks of any item.

    before : an earlier decision, and the recipes that have become plain since
    """
    frame, found = basis.frame, Decision(basis.swept.oldest)
    fresh = set() if before is None else touched(frame, before[1], before[0].dates, found.dates)
    for item in frame.graph.items:
        if before is not None and item not in fresh:
            found.keep(before[0], item)
        elif item in frame.house.recipes:
            _decide_recipe(basis, found, item)
        else:
            gross = gross_of(frame, basis.demand, found.starts, item, frame.arrival.get(item))
            found.note_lack(item, too_soon(frame, item, draw(parcels_of(frame, found.starts, item), gross)))
    return found


def _decide_recipe(basis: Basis, found: Decision, item: str) -> None:
    frame = basis.frame
    parcels = parcels_of(frame, found.starts, item)
    drawn = draw(parcels, gross_of(frame, basis.demand, found.starts, item))
    supply = _made(basis, found, item, drawn)
    found.note_lack(item, supply.lack)
    found.left[item] = left_over(drawn.taken, frame.n_days)
    parents = _by_parent(frame, basis.demand, found.means, item)
    found.flows[item] = _flow(frame, (item, parcels), drawn, supply, parents)


def lots_left(basis: Basis, decision: Decision) -> dict[str, Lots]:
    """By item, what a decision leaves of its lots. Of what is bought the days until the last lot tell it."""
    frame, left = basis.frame, dict(decision.left)
    for item in frame.house.ingredients:
        lasts = [p.last for p in frame.parcels.get(item, ()) if p.last + 1 < frame.n_days]
        if lasts:
            gross = gross_of(frame, basis.demand, decision.starts, item, max(lasts) + 1)
            drawn = draw(parcels_of(frame, decision.starts, item), gross)
            left[item] = left_over(drawn.taken, frame.n_days)
    return left


def with_bought(basis: Basis, decision: Decision) -> Decision:
    """The decision with flows, lots left and requirements of what is bought, each day what that day lacks."""
    frame, flows, left = basis.frame, dict[str, ItemFlow](), dict(decision.left)
    requirements: dict[str, Requirement] = {}
    for item in frame.graph.items:
        if item in decision.flows:
            flows[item] = decision.flows[item]
            continue
        parcels = parcels_of(frame, decision.starts, item)
        drawn = draw(parcels, gross_of(frame, basis.demand, decision.starts, item))
        lack = too_soon(frame, item, drawn)
        supply = Made(drawn.unmet - lack, _felt(lack), np.zeros(frame.n_days))
        parents = _by_parent(frame, basis.demand, decision.means, item)
        flow = flows[item] = _flow(frame, (item, parcels), drawn, supply, parents)
        left[item] = left_over(drawn.taken, frame.n_days)
        requirements[item] = _requirement(frame, supply.made, basis.levels[item], flow)
    return replace(decision, flows=flows, left=left, requirements=requirements)


def _made(basis: Basis, found: Decision, item: str, drawn: Drawn) -> Made:
    """Made as decided, with a margin where it takes a day or more and there is something to build it of."""
    frame = basis.frame
    takes, offset = frame.house.recipes[item].takes_days, frame.offsets[item]
    terms = terms_of(frame, item, basis.swept.oldest)
    has_margin = takes > 0 and item not in basis.plain
    own, short = _own_starts(basis, found, (item, terms), drawn)
    level = basis.levels[item]
    decided = cover(own, level.value, offset, level.spare, frame.decided_days + DAYS_SHOWN_AFTER)
    decided = decided if terms.most is None else np.minimum(decided, terms.most)
    if level.spare is not None:
        found.enough[item] = float(enough(own, decided)[frame.decided_days - 1])
    if has_margin:
        own = carried_on(own, decided, frame.decided_days, offset)
        found.as_swept.discard(item)
    found.decided[item] = with_sooner(frame, item, decided)
    starts = found.starts[item] = with_sooner(frame, item, own)
    found.means[item], found.last[item] = starts.mean(axis=1), terms.last
    made, thrown = by_ready(own, takes) * terms.makes, np.zeros(frame.n_days)
    if has_margin or not terms.is_to_measure:  # else each path makes what it needs and has nothing over
        short, thrown = rolled(made, drawn.unmet, terms.last)
    return Made(by_ready(starts, takes) * terms.makes, _felt(short), thrown)


def _own_starts(basis: Basis, found: Decision, made: tuple[str, Making], drawn: Drawn) -> tuple[Array, Array]:
    """What each path starts for its own need, and what that leaves unmet. Both [day, path].

    Where neither it nor what is above it is decided otherwise than swept, the sweep knows them already.
    """
    (item, terms), frame, swept = made, basis.frame, basis.swept
    above = {use.recipe for use in frame.graph.uses.get(item, ())}
    above |= {fall.recipe for fall in frame.graph.falls.get(item, ())}
    if above <= found.as_swept and item not in frame.sooner and not dated_parts(frame.house, item):
        found.as_swept.add(item)
        nothing = np.zeros_like(drawn.unmet)
        return swept.starts.get(item, nothing), swept.lacks.get(item, nothing)
    ready, short = planned(drawn, terms)
    return by_start(ready, frame.house.recipes[item].takes_days), short


def _felt(lack: Array) -> Array:
    """A lack without its dust."""
    return np.where(lack < DUST, 0.0, lack) if lack.any() else lack


def _by_parent(frame: Frame, demand: Demand, means: Mapping[str, Array], item: str) -> dict[str, Array]:
    """Mean draw of each parent by day; only parents that draw anything."""
    n_days = frame.n_days
    parents: dict[str, Array] = {}
    for dish in frame.graph.dishes.get(item, ()):
        drawn = demand.by_day(dish).mean(axis=1) * frame.house.dishes[dish].portion
        parents[f"dish:{dish}"] = drawn
    for use in frame.graph.uses.get(item, ()):
        drawn = draws_begun(frame, use)
        if use.recipe in means:
            drawn[use.at_days :] += means[use.recipe][: max(0, n_days - use.at_days)] * use.quantity
        parents[use.recipe] = parents.get(use.recipe, 0.0) + drawn
    if item in frame.consumables:
        parents["*consumables"] = frame.consumables[item].mean(axis=1)
    return {p: a for p, a in parents.items() if a.any()}


def _flow(
    frame: Frame,
    there: tuple[str, list[Parcel]],
    drawn: Drawn,
    supply: Made,
    parents: dict[str, Array],
) -> ItemFlow:
    item, parcels = there
    n_days = frame.n_days
    gross = sum(parents.values(), np.zeros(n_days))
    came = {kind: received(parcels, n_days, kind) for kind in ("scheduled", "in-process", "by-product")}
    opening = float(sum(p.mean for p in parcels if p.kind == "opening"))
    planned, short = supply.made.mean(axis=1), supply.lack.mean(axis=1)
    expired = drawn.expired + supply.thrown
    projected = opening + np.cumsum(sum(came.values(), planned - expired - gross + short))
    projected[np.abs(projected) < DUST] = 0.0
    return ItemFlow(
        item=item,
        opening=opening,
        gross=gross,
        by_parent=parents,
        scheduled=came["scheduled"],
        in_process=came["in-process"],
        by_product=came["by-product"],
        planned=planned,
        expired=expired,
        projected=projected,
        short=short,
        thrown=supply.thrown + _sooner_left(drawn, n_days),
    )


def _sooner_left(drawn: Drawn, n_days: int) -> Array:
    """What is left of batches begun sooner, [day], mean, on the day after its last."""
    left = np.zeros(n_days)
    for taken in drawn.taken:
        if taken.parcel.kind == "sooner" and taken.parcel.last + 1 < n_days:
            left[taken.parcel.last + 1] += taken.left.mean()
    return left


def _requirement(frame: Frame, net: Array, level: Level, flow: ItemFlow) -> Requirement:
    """What must be bought. `stock_left` is what is there on the morning of each day, that day's receipts
    in, nothing bought: what is bought is drawn the day it is needed, so evenings are the same without it.
    """
    decided = cover(net, level.value, frame.offsets[flow.item], level.spare)
    return Requirement(
        item=flow.item,
        required=np.cumsum(decided),
        expected=np.cumsum(net.mean(axis=1)),
        stock_left=np.maximum(0.0, flow.projected + flow.gross - flow.planned - flow.short),
        level=level.value,
        why=level.why,
        enough=None if level.spare is None else enough(net, decided),
        by_path=net if _is_supplied_by_house(frame, flow.item) else None,
    )


def _is_supplied_by_house(frame: Frame, item: str) -> bool:
    vendors = (frame.house.vendors.get(o.vendor) for o in frame.house.ingredients[item].offers)
    return any(vendor.house for vendor in vendors if vendor is not None)
