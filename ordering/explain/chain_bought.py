"""The chain behind a bought item: dishes, stock, safety, par, packs."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime
from typing import Any

from ordering.amounts import packs_said
from ordering.days import day_and_time, format_day, span_said
from ordering.explain.chain_parts import (
    in_the_house,
    need,
    portions,
    recipe_steps,
    services,
    short,
    title,
    undrawn,
    users,
)
from ordering.explain.run_facts import CONSUMED, Row, RunFacts, day_of, number_of
from ordering.explain.wording import (
    MOST_LISTED,
    amount,
    column,
    counted,
    itemised,
    often_enough,
    wrapped,
)
from ordering.records.plan import CONSUMABLES, NO_DISHES, PAR, ROUNDING, SAFETY
from ordering.texts import listed


def bought(run: RunFacts, item: str) -> list[str]:
    """All there is to say about a bought item: orders, who eats it, and the sum behind each delivery."""
    orders = run.rows("orders", item=item)
    later = [
        f"{format_day(day_of(row['deliver_on']))}: {_packs_from(run, row)}{_noted(run, row)}"
        for row in run.rows("outlook", item=item)
    ]
    ends = ["Later (do not order yet)", *itemised(later, run.width, "line"), ""] if later else []
    ends += short(run, run.rows("shortages", item=item))
    if not orders:
        return [*_nothing(run, item), *ends]
    lines = title(run, f"{run.name(item)}: what to order and why")
    sums: list[str] = []
    has_safety = False
    for delivery in run.items[item]["deliveries"]:
        keys = {(vendor, code, delivery["deliver_on"]) for vendor, code in delivery["lines"]}
        rows = [row for row in orders if (row["vendor"], row["code"], row["deliver_on"][:10]) in keys]
        if rows:
            lines += _asked(run, rows, delivery)
            has_safety = has_safety or delivery["safety"] > 0
            sums += [*_needed(run, item, delivery), *_order(run, item, delivery, rows)]
    if has_safety and run.items[item].get("why"):
        sums += [*wrapped(f"Safety: {run.items[item]['why']}.", run.width), ""]
    return [*lines, "", *_eaters(run, item, _pegs(run, orders)), *sums, *ends]


def _asked(run: RunFacts, rows: list[Row], delivery: Mapping[str, Any]) -> list[str]:
    lines = []
    for row in rows:
        text = (
            f"{_packs_from(run, row)} ({row['code']}): order by "
            f"{day_and_time(datetime.fromisoformat(row['order_by']))} for "
            f"{format_day(day_of(row['deliver_on']))}, to last to {format_day(day_of(delivery['until']))}"
            f"{_noted(run, row)}"
        )
        lines += wrapped(text, run.width, "  ", "    ")
    return lines


def _noted(run: RunFacts, row: Row) -> str:
    """What is to be known of a line beside its packs: a price, waste, a minimum; older runs say nothing."""
    key = [row["vendor"], row["code"], row["deliver_on"][:10]]
    said = (note for *own, note in run.items[row["item"]].get("notes", ()) if own == key)
    return "".join(f"; {note}" for note in said)


def _packs(row: Row) -> str:
    return packs_said(int(row["packs"]), row["pack"])


def _packs_from(run: RunFacts, row: Row) -> str:
    return f"{_packs(row)} from {run.vendor(row['vendor'])}"


def _pegs(run: RunFacts, lines: list[Row]) -> dict[str, list[Row]]:
    """Pegs of order lines by what they are for, the largest part first."""
    found: dict[str, list[Row]] = {}
    for row in lines:
        own = {column: row[column] for column in ("vendor", "code", "deliver_on")}
        for peg in run.rows("pegging", **own):
            found.setdefault(peg["dish"], []).append(peg)
    return {dish: found[dish] for dish in sorted(found, key=lambda dish: (-_total(found[dish]), dish))}


def _total(pegs: list[Row]) -> float:
    return sum(number_of(peg["quantity"]) for peg in pegs)


def _dishes(pegs: Mapping[str, list[Row]]) -> dict[str, list[Row]]:
    return {dish: own for dish, own in pegs.items() if not dish.startswith("*")}


def _eaters(run: RunFacts, item: str, pegs: Mapping[str, list[Row]]) -> list[str]:
    """Covers, dishes and recipes that the orders are for: portions of those expected on their days."""
    dishes = _dishes(pegs)
    if not dishes:
        return []
    each = run.contents.per_portion(item)
    days: set[date] = set()
    plates = []
    for dish, own in dishes.items():
        served = {day_of(peg["service_date"]) for peg in own}
        days |= served
        fed = _total(own) / each[dish] if each.get(dish) else 0.0
        most = portions(run, dish, served.__contains__)
        number = counted(fed, "portion") if fed < 0.5 else f"{fed:,.0f} of {counted(most, 'portion')}"
        if round(fed) >= round(most):
            number = counted(most, "portion")
        plates.append(f"{run.dish_name(dish)}: {number}, {span_said(min(served), max(served))}")
    lines = ["What these orders put on plates", *itemised(plates, run.width, "dish", "dishes"), ""]
    return [*services(run, min(days), max(days)), *lines, *recipe_steps(run, list(dishes), item)]


def _needed(run: RunFacts, item: str, delivery: Mapping[str, Any]) -> list[str]:
    """Gross less what the house has, down to what this delivery brings for dishes."""
    days = day_of(delivery["from"]), day_of(delivery["until"])
    total = ("to buy for what is expected", delivery["drawn"])
    return [*need(run, item, days, delivery["terms"], [total]), ""]


def _order(run: RunFacts, item: str, delivery: Mapping[str, Any], rows: list[Row]) -> list[str]:
    """What the packs are for, adding up to them."""
    facts, pegs = run.items[item], _pegs(run, rows)
    dishes = list(_dishes(pegs).items())
    parts = [(run.dish_name(dish), _total(own)) for dish, own in dishes[:MOST_LISTED]]
    if len(dishes) > MOST_LISTED:
        rest = sum(_total(own) for _, own in dishes[MOST_LISTED:])
        parts.append((counted(len(dishes) - MOST_LISTED, "other dish", "other dishes"), rest))
    other = {word: _total(pegs.get(word, [])) for word in NO_DISHES}
    parts += [
        (CONSUMED, other[CONSUMABLES]),
        ("surplus from whole batches", max(0.0, other[ROUNDING] - delivery["rounding"])),
        (f"safety stock (enough {often_enough(delivery['level'])})", other[SAFETY]),
        (f"kept in the house, par {amount(facts['par'] or 0, facts['unit'])}", other[PAR]),
        ("rounding to whole packs", min(other[ROUNDING], delivery["rounding"])),
    ]
    head = f"What the delivery of {format_day(day_of(delivery['deliver_on']))} is for"
    total = (f"ordered: {listed(list(map(_packs, rows)))}", sum(number_of(row["quantity"]) for row in rows))
    return [*column(head, facts["unit"], parts, total, run.width), ""]


def _nothing(run: RunFacts, item: str) -> list[str]:
    """Why nothing is to be ordered now."""
    facts = run.items[item]
    lines = title(run, f"{facts['name']}: nothing to order now")
    if facts["is_unknown"]:
        lines += wrapped("It has never been counted, so it is taken as none.", run.width)
    text = in_the_house(run, item)
    is_short = bool(run.rows("shortages", item=item))
    if is_short or not (facts["users"] or facts.get("first_need")):
        text += f" {undrawn(run, item)}"
    if facts.get("first_need"):
        until = format_day(day_of(facts["first_need"]))
        text += f" More is needed from {until} on to have enough {often_enough(facts['level'])}."
    elif facts["users"] and not is_short:
        text += " That lasts for all the days this run looks at."
    lines += [*wrapped(text, run.width), "", *(users(run, item) if facts["users"] else [])]
    for delivery in facts["deliveries"][:1]:
        lines += _needed(run, item, delivery)
    return lines
