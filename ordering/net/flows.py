"""The second sweep: decided starts carried down, expected flows, and what must be bought."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from ordering.net.decide import carried_on, cover
from ordering.net.frame import Frame
from ordering.net.levels import Level
from ordering.net.starts import Days, Making, batches, rolled
from ordering.net.stock import DUST, Drawn, Parcel, draw, received
from ordering.net.sweep import Demand, by_ready, by_start, gross_of, parcels_of, terms_of
from ordering.records.plan import Array, ItemFlow, Requirement

DAYS_SHOWN_AFTER = 7  # starts of the week after the next run are shown as planned


@dataclass(slots=True)
class Decision:
    """decided : by recipe, batches by start day, to a week past the next run; last : by recipe, last day
    index by ready day; lacks : as in a sweep."""

    flows: dict[str, ItemFlow] = field(default_factory=dict)
    requirements: dict[str, Requirement] = field(default_factory=dict)
    decided: dict[str, Array] = field(default_factory=dict)
    lacks: dict[str, Array] = field(default_factory=dict)
    last: dict[str, Days] = field(default_factory=dict)


def decide(
    frame: Frame,
    demand: Demand,
    levels: Mapping[str, Level],
    oldest: Mapping[str, Days],
    unmargined: Collection[str],
) -> Decision:
    """Flows, requirements and decided starts of every item.

    unmargined : recipes whose starts are each path's own, because there is nothing to build a margin of
    """
    found = Decision()
    starts: dict[str, Array] = {}
    means: dict[str, Array] = {}
    for item in frame.graph.items:
        gross = gross_of(frame, demand, starts, item)
        parcels = parcels_of(frame, starts, item)
        drawn = draw(parcels, gross)
        recipe = frame.house.recipes.get(item)
        if recipe is None:
            arrival = frame.arrival.get(item, frame.n_days)
            lack = drawn.unmet.copy()
            lack[arrival:] = 0.0
            net = drawn.unmet - lack
            made, thrown = net, np.zeros(frame.n_days)
            found.requirements[item] = _requirement(frame, item, net, levels[item])
        else:
            terms = terms_of(frame, item, oldest)
            found.last[item] = terms.last
            own = _starts(frame, item, drawn, terms)
            shown = own[: frame.decided_days + DAYS_SHOWN_AFTER]
            decided = cover(shown, levels[item].value, frame.offsets[item])
            found.decided[item] = decided if terms.most is None else np.minimum(decided, terms.most)
            if recipe.takes_days and item not in unmargined:
                own = carried_on(own, found.decided[item], frame.decided_days, frame.offsets[item])
            starts[item], means[item] = own, own.mean(axis=1)
            made = by_ready(own, recipe.takes_days) * recipe.makes
            lack, thrown = rolled(made, drawn.unmet, terms.last)
        lack[lack < DUST] = 0.0
        if lack.any():
            found.lacks[item] = lack
        parents = _by_parent(frame, demand, means, item)
        found.flows[item] = _flow(frame, item, parcels, (drawn, made, lack, thrown), parents)
        if recipe is None:
            found.requirements[item] = _with_stock(found.requirements[item], found.flows[item])
    return found


def _starts(frame: Frame, item: str, drawn: Drawn, terms: Making) -> Array:
    ready, _ = batches(drawn.unmet, terms)
    return by_start(ready, frame.house.recipes[item].takes_days)


def _by_parent(frame: Frame, demand: Demand, means: Mapping[str, Array], item: str) -> dict[str, Array]:
    """Mean draw of each parent by day; only parents that draw anything."""
    n_days = frame.n_days
    parents: dict[str, Array] = {}
    for dish in frame.graph.dishes.get(item, ()):
        drawn = demand.by_day(dish, n_days).mean(axis=1) * frame.house.dishes[dish].portion
        parents[f"dish:{dish}"] = drawn
    for use in frame.graph.uses.get(item, ()):
        if use.recipe in means:
            drawn = np.zeros(n_days)
            drawn[use.at_days :] = means[use.recipe][: max(0, n_days - use.at_days)] * use.quantity
            parents[use.recipe] = parents.get(use.recipe, 0.0) + drawn
    if item in frame.consumables:
        parents["*consumables"] = frame.consumables[item].mean(axis=1)
    return {p: a for p, a in parents.items() if a.any()}


def _flow(
    frame: Frame,
    item: str,
    parcels: list[Parcel],
    found: tuple[Drawn, Array, Array, Array],
    parents: dict[str, Array],
) -> ItemFlow:
    drawn, made, lack, thrown = found
    n_days = frame.n_days
    gross = sum(parents.values(), np.zeros(n_days))
    came = {kind: received(parcels, n_days, kind) for kind in ("scheduled", "in-process", "by-product")}
    opening = float(sum(np.mean(p.quantity) for p in parcels if p.kind == "opening"))
    planned, short = made.mean(axis=1), lack.mean(axis=1)
    expired = drawn.expired + thrown
    change = sum(came.values(), planned - expired - gross + short)
    projected = opening + np.cumsum(change)
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
    )


def _requirement(frame: Frame, item: str, net: Array, level: Level) -> Requirement:
    covered = np.cumsum(cover(net, level.value, frame.offsets[item]))
    expected = np.cumsum(net.mean(axis=1))
    return Requirement(item, covered, expected, np.zeros(frame.n_days), level.value, level.why)


def _with_stock(need: Requirement, flow: ItemFlow) -> Requirement:
    """`stock_left`: what is there on the morning of each day, that day's receipts in, nothing bought.

    What is bought is drawn on the day it is needed, so the evening's stock is the same without it.
    """
    left = np.maximum(0.0, flow.projected + flow.gross - flow.planned - flow.short)
    return replace(need, stock_left=left)
