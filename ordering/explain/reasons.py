"""What the chain of one run needs beyond its tables, as plain values that go into run.json.

Everything is said in numbers of the run itself, so that an old run is explained as it was.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from datetime import date
from typing import Any

import numpy as np

from ordering.amounts import EPS, LEAST_SHOWN
from ordering.explain.run_facts import PLACES
from ordering.records.costs import portion_losses, unit_costs
from ordering.records.house import Dish, House, Ingredient, Recipe
from ordering.records.plan import CONSUMABLES, DeliveryWindow, ItemFlow, Plan, Requirement

_A_WEEK = 7
_NEXT_BATCH, _NEXT_PART = 0.25, 0.02
"""Expected makings that count as the next one: a quarter of a whole batch, two hundredths of the starts."""


def why(plan: Plan, house: House) -> dict[str, Any]:
    """Facts behind every item and dish of a run; JSON-able, the same for the same plan.

    Returns
    -------
    `dishes`, `vendors`, `offers` (vendor, code, item) and `items` by id. An item has its names, stock and
    what is on its way, and, where it is bought, `deliveries`: one sum for each, as in `_delivery`, and
    `notes` of lines, as [vendor, code, deliver_on, note];
    where it is made, its recipe and the sum behind its starts. `least` are the services, as
    [date, service], whose covers are those booked alone.
    """
    coming = plan.forecast
    lost = portion_losses(house, unit_costs(house, plan.on))
    least = [coming.slots[n] for n in sorted(coming.unknown) if coming.covers_mean[n] > 0]
    placed = {line.key for line in plan.buying.orders}
    items = {}
    for item in (*house.ingredients, *house.recipes):
        flow = plan.netting.flows.get(item)
        if flow is None:
            continue
        facts = _item(plan, house, item, flow)
        if item in house.ingredients:
            facts |= _bought(plan, house.ingredients[item], flow, placed)
        else:
            facts |= _made(plan, house.recipes[item], flow)
        items[item] = facts
    return {
        "house": house.name,
        "on": plan.on.isoformat(),
        "next_run": plan.next_run.isoformat(),
        "dishes": {dish.id: _dish(house, dish, lost.get(dish.id)) for dish in house.dishes.values()},
        "vendors": {vendor.id: vendor.name for vendor in house.vendors.values()},
        "offers": [[o.vendor, o.code, o.item] for i in house.ingredients.values() for o in i.offers],
        "items": items,
        "least": [[slot.date.isoformat(), slot.service] for slot in least],
    }


def _number(value: float) -> float:
    """Rounded, so that the file is compact; never a minus zero."""
    return round(float(value), PLACES) + 0.0


def _dish(house: House, dish: Dish, lost: float | None) -> dict[str, Any]:
    return {
        "name": dish.name,
        "recipe": dish.recipe,
        "portion": _number(dish.portion),
        "unit": house.unit_of(dish.recipe),
        "services": sorted(dish.services),
        "lost": None if lost is None else _number(lost),
    }


def _item(plan: Plan, house: House, item: str, flow: ItemFlow) -> dict[str, Any]:
    coming = flow.scheduled + flow.in_process
    return {
        "name": house.name_of(item),
        "unit": house.unit_of(item),
        "keeps": house.keeps_days(item),
        "level": plan.netting.levels.get(item),
        "opening": _number(flow.opening),
        "is_unknown": item in plan.opening.unknown,
        "coming": [[plan.days[n].isoformat(), _number(coming[n])] for n in np.flatnonzero(coming > 0)],
    }


def _bought(
    plan: Plan, ingredient: Ingredient, flow: ItemFlow, placed: Collection[tuple[str, str, date]]
) -> dict[str, Any]:
    need = plan.netting.requirements.get(ingredient.id)
    windows = plan.windows.get(ingredient.id, ())
    before = None
    deliveries: list[dict[str, Any]] = []
    for window in windows:
        if window.lines[0].key in placed or not deliveries:
            deliveries.append(_delivery(plan, flow, window, before))
        if before is None or window.until > before.until:
            before = window
    until = windows[0].until if windows else min(_A_WEEK, len(plan.days)) - 1
    noted = [line for window in windows for line in window.lines if line.note]
    facts: dict[str, Any] = {"is_made": False, "par": ingredient.par, "deliveries": deliveries}
    if noted:
        facts["notes"] = [[x.vendor, x.code, x.deliver_on.isoformat(), x.note] for x in noted]
    facts |= _users(plan, flow, until)
    if need is not None:
        first = np.flatnonzero(need.required > LEAST_SHOWN)
        facts |= {
            "level": need.level,
            "why": need.why,
            "first_need": plan.days[first[0]].isoformat() if len(first) else None,
        }
    return facts


def _delivery(
    plan: Plan, flow: ItemFlow, window: DeliveryWindow, before: DeliveryWindow | None
) -> dict[str, Any]:
    """The sum behind one delivery: gross + expired + left - stock - receipts ... = for dishes.

    It runs over the days after the delivery `before` has been used up, to the last day this one must last.
    Its terms add up to `drawn`, the part of the lines that is for dishes.
    """
    until = window.until
    first, wanted = (before.until + 1, before.wanted) if before else (0, 0.0)
    terms = _asked(plan, flow, first, until)
    need = float(flow.planned[first : until + 1].sum())
    met, spare = window.wanted - wanted, window.start - wanted
    drawn = float(window.drawn.sum())
    required = plan.netting.requirements.get(flow.item)
    terms |= {"out_of_reach": met - need, "earlier": -spare, "later": drawn - (met - spare)}
    return {
        "lines": [[line.vendor, line.code] for line in window.lines],
        "deliver_on": plan.days[window.day].isoformat(),
        "from": plan.days[min(first, len(plan.days) - 1)].isoformat(),
        "until": plan.days[until].isoformat(),
        "terms": _terms(terms),
        "drawn": _number(drawn),
        "safety": _number(window.safety),
        "par": _number(window.par),
        "rounding": _number(window.rounding),
        "quantity": _number(window.quantity),
        "level": None if required is None else _number(_level_at(required, until)),
    }


def _level_at(need: Requirement, day: int) -> float:
    """How surely what is required up to a day is enough until its end."""
    return need.level if need.enough is None else min(need.level, float(need.enough[day]))


def period(flow: ItemFlow, first: int, until: int) -> dict[str, float]:
    """Terms of one item over days `first` to `until`, that add up to what is bought or made for them.

    planned = gross - stock - receipts - by_products + expired + thrown + left - unserved, on the expected
    path; `expired` of what was there, came or comes off other recipes, `thrown` of what is planned.
    """
    days = slice(first, until + 1)
    thrown = 0.0 if flow.thrown is None else float(flow.thrown[days].sum())
    stock = float(flow.projected[first - 1]) if first > 0 else flow.opening
    left = float(flow.projected[until]) if until >= first else stock
    consumed = float(flow.by_parent[CONSUMABLES][days].sum()) if CONSUMABLES in flow.by_parent else 0.0
    return {
        "gross": float(flow.gross[days].sum()) - consumed,
        "consumables": consumed,
        "stock": -stock,
        "receipts": -float(flow.scheduled[days].sum() + flow.in_process[days].sum()),
        "by_products": -float(flow.by_product[days].sum()),
        "expired": float(flow.expired[days].sum()) - thrown,
        "thrown": thrown,
        "left": left,
        "unserved": -float(flow.short[days].sum()),
    }


def _asked(plan: Plan, flow: ItemFlow, first: int, until: int) -> dict[str, float]:
    """Terms as in `period`, what was given up because it cannot be had added to what is wanted.

    Netting plans without the portions it gives up. Of what was never counted it gives up none.
    """
    terms = period(flow, first, until)
    if flow.item in plan.opening.unknown:
        return terms
    days = plan.days[first : until + 1]
    short = sum(s.short for s in plan.netting.shortfalls if s.item == flow.item and s.needed_on in days)
    given_up = max(0.0, short + terms["unserved"])
    return terms | {"gross": terms["gross"] + given_up, "unserved": terms["unserved"] - given_up}


def _made(plan: Plan, recipe: Recipe, flow: ItemFlow) -> dict[str, Any]:
    lines = [
        [
            line.item,
            _number(line.quantity),
            line.yield_fraction,
            _number(line.drawn),
            line.at_days,
            _number(line.returns),
        ]
        for line in recipe.lines
    ]
    facts: dict[str, Any] = {
        "is_made": True,
        "par": recipe.par,
        "makes": _number(recipe.makes),
        "is_whole": recipe.is_whole,
        **({"step": recipe.step} if recipe.step < 1 else {}),
        "takes": recipe.takes_days,
        "largest": recipe.largest,
        **({"smallest": recipe.smallest} if recipe.smallest else {}),
        **({"room": recipe.room} if recipe.room else {}),
        "lines": lines,
        "also_makes": [[item, _number(quantity)] for item, quantity in recipe.also_makes],
    }
    starts = [start for start in plan.netting.starts if start.recipe == recipe.id]
    until = min(_A_WEEK, len(plan.days)) - 1
    if starts:
        started = sum(start.quantity for start in starts)
        until = max((s.ready_on - plan.on).days for s in starts)
        if recipe.takes_days or recipe.par:  # else there is a making for each day
            until = last_day_served(flow, recipe, started, until)
        terms = _asked(plan, flow, 0, until)
        facts["making"] = {
            "terms": _terms(terms),
            "planned": _number(sum(terms.values())),
            "started": _number(started),
        }
    return facts | _users(plan, flow, until)


def last_day_served(flow: ItemFlow, recipe: Recipe, started: float, last_ready: int) -> int:
    """Last day that the starts are for: until the next making after them is likely.

    No further than where the expected path makes as much as has been decided to start.
    """
    made = np.cumsum(flow.planned)
    last = min(last_ready, len(made) - 1)
    slack = _NEXT_BATCH * recipe.makes if recipe.is_whole else _NEXT_PART * started
    most = min(started, float(made[last]) + slack) + EPS
    return max(0, int(np.searchsorted(made, most, side="right")) - 1)


def _users(plan: Plan, flow: ItemFlow, until: int) -> dict[str, Any]:
    """Who draws the item up to a day, the largest part first."""
    drawn = {parent: float(by_day[: until + 1].sum()) for parent, by_day in flow.by_parent.items()}
    ranked = sorted(((p, q) for p, q in drawn.items() if q > LEAST_SHOWN), key=lambda row: (-row[1], row[0]))
    return {"until": plan.days[until].isoformat(), "users": [[p, _number(q)] for p, q in ranked]}


def _terms(terms: Mapping[str, float]) -> dict[str, float]:
    return {name: _number(value) for name, value in terms.items() if abs(value) > LEAST_SHOWN}
