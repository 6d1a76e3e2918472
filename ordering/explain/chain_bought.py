"""The chain behind a bought item: dishes, stock, safety, par, packs."""

from __future__ import annotations

from typing import Any

from ordering.days import format_day, span_said
from ordering.explain.chain_parts import (
    portions,
    recipe_steps,
    services,
    short,
    title,
    undrawn,
    unmet,
    users,
)
from ordering.explain.run_facts import Row, RunFacts, day_of, number_of
from ordering.explain.wording import (
    MOST_LISTED,
    amount,
    column,
    counted,
    itemised,
    often_enough,
    packs,
    wrapped,
)
from ordering.texts import listed

_WORDS = ("*consumables", "*safety", "*par", "*rounding")


def bought(run: RunFacts, item: str) -> list[str]:
    """All there is to say about a bought item: orders, who eats it, and the sum behind each delivery."""
    orders = run.rows("orders", item=item)
    later = _later(run, run.rows("outlook", item=item))
    if not orders:
        return [*_nothing(run, item), *later, *short(run, item)]
    lines = title(run, f"{run.name(item)}: what to order and why")
    sums: list[str] = []
    has_safety = False
    for delivery in run.items[item]["deliveries"]:
        keys = {(vendor, code, delivery["deliver_on"]) for vendor, code in delivery["lines"]}
        rows = [row for row in orders if (row["vendor"], row["code"], row["deliver_on"][:10]) in keys]
        if rows:
            lines += _asked(run, rows, delivery)
            pegs = [peg for row in rows for peg in run.rows("pegging", **_line_of(row))]
            has_safety = has_safety or delivery["safety"] > 0
            sums += [*_needed(run, item, delivery), *_order(run, item, delivery, rows, pegs)]
    if has_safety and run.items[item].get("why"):
        sums += [*wrapped(f"Safety: {run.items[item]['why']}.", run.width), ""]
    pegs = [peg for row in orders for peg in run.rows("pegging", **_line_of(row))]
    return [*lines, "", *_eaters(run, item, pegs), *sums, *later, *short(run, item)]


def _asked(run: RunFacts, rows: list[Row], delivery: dict[str, Any]) -> list[str]:
    lines = []
    for row in rows:
        text = (
            f"{_packs(run, row)} ({row['code']}): order by {format_day(day_of(row['order_by']))} "
            f"{row['order_by'][11:16]} for {format_day(day_of(row['deliver_on']))}, to last to "
            f"{format_day(day_of(delivery['until']))}"
        )
        lines += wrapped(text, run.width, "  ", "    ")
    return lines


def _packs(run: RunFacts, row: Row) -> str:
    return f"{packs(row['packs'], row['pack'])} from {run.vendor(row['vendor'])}"


def _later(run: RunFacts, outlook: list[Row]) -> list[str]:
    if not outlook:
        return []
    lines = [f"{format_day(day_of(row['deliver_on']))}: {_packs(run, row)}" for row in outlook]
    return ["Later (do not order yet)", *itemised(lines, run.width, "line"), ""]


def _eaters(run: RunFacts, item: str, pegs: list[Row]) -> list[str]:
    """Covers, dishes and recipes that the orders are for."""
    dishes = _by_dish(pegs)
    served = [day_of(peg["service_date"]) for own in dishes.values() for peg in own]
    if not served:
        return []
    lines = services(run, min(served), max(served))
    lines += _eaten(run, item, dishes)
    return [*lines, *recipe_steps(run, list(dishes), item)]


def _line_of(row: Row) -> dict[str, str]:
    return {"vendor": row["vendor"], "code": row["code"], "deliver_on": row["deliver_on"]}


def _by_dish(pegs: list[Row]) -> dict[str, list[Row]]:
    """Pegs to dishes, the dish with the largest part first."""
    found: dict[str, list[Row]] = {}
    for peg in pegs:
        if not peg["dish"].startswith("*"):
            found.setdefault(peg["dish"], []).append(peg)
    ranked = sorted(found, key=lambda dish: (-_total(found[dish]), dish))
    return {dish: found[dish] for dish in ranked}


def _total(pegs: list[Row]) -> float:
    return sum(number_of(peg["quantity"]) for peg in pegs)


def _eaten(run: RunFacts, item: str, dishes: dict[str, list[Row]]) -> list[str]:
    """Portions that the orders are for, of those expected on their days."""
    held = run.content(item)
    plates = []
    for dish, pegs in dishes.items():
        days = {day_of(peg["service_date"]) for peg in pegs}
        facts = run.dishes[dish]
        each = facts["portion"] * held.get(facts["recipe"], 0.0)
        fed = _total(pegs) / each if each else 0.0
        all_of_them = portions(run, dish, days)
        number = counted(fed, "portion") if fed < 0.5 else f"{fed:,.0f} of {counted(all_of_them, 'portion')}"
        if round(fed) >= round(all_of_them):
            number = counted(all_of_them, "portion")
        plates.append(f"{run.dish_name(dish)}: {number}, {span_said(min(days), max(days))}")
    return ["What these orders put on plates", *itemised(plates, run.width, "dish", "dishes"), ""]


def _needed(run: RunFacts, item: str, delivery: dict[str, Any]) -> list[str]:
    """Gross less what the house has, down to what this delivery brings for dishes."""
    first, until = day_of(delivery["from"]), day_of(delivery["until"])
    words = {
        "gross": "needed by dishes and recipes",
        "consumables": "used by the service itself (consumables)",
        "stock": f"in the house on {format_day(first)}, before deliveries",
        "receipts": "already on its way",
        "by_products": "comes off other recipes",
        "expired": "of that, past its use-by before it is needed",
        "left": f"of that, still there after {format_day(until)} on average",
        "unserved": unmet(run, item),
        "out_of_reach": "no delivery in time, see below",
        "earlier": "still there from the delivery before",
        "later": "left to other deliveries",
    }
    parts = [(label, delivery["terms"].get(term, 0.0)) for term, label in words.items()]
    head = f"Need, {span_said(first, until)}"
    total = ("to buy for what is expected", delivery["drawn"])
    return [*column(head, run.unit(item), parts, total, run.width), ""]


def _order(run: RunFacts, item: str, delivery: dict[str, Any], rows: list[Row], pegs: list[Row]) -> list[str]:
    """What the packs are for, adding up to them."""
    facts = run.items[item]
    dishes = list(_by_dish(pegs).items())
    parts = [(run.dish_name(dish), _total(own)) for dish, own in dishes[:MOST_LISTED]]
    if len(dishes) > MOST_LISTED:
        rest = sum(_total(own) for _, own in dishes[MOST_LISTED:])
        parts.append((counted(len(dishes) - MOST_LISTED, "other dish", "other dishes"), rest))
    other = {word: _total([peg for peg in pegs if peg["dish"] == word]) for word in _WORDS}
    parts += [
        ("the service itself (consumables)", other["*consumables"]),
        ("surplus from whole batches", max(0.0, other["*rounding"] - delivery["rounding"])),
        (f"safety stock (enough {often_enough(delivery['level'])})", other["*safety"]),
        (f"kept in the house, par {amount(facts['par'] or 0, facts['unit'])}", other["*par"]),
        ("rounding to whole packs", min(other["*rounding"], delivery["rounding"])),
    ]
    head = f"What the delivery of {format_day(day_of(delivery['deliver_on']))} is for"
    asked = listed([packs(row["packs"], row["pack"]) for row in rows])
    total = (f"ordered: {asked}", sum(number_of(row["quantity"]) for row in rows))
    return [*column(head, run.unit(item), parts, total, run.width), ""]


def _nothing(run: RunFacts, item: str) -> list[str]:
    """Why nothing is to be ordered now."""
    facts = run.items[item]
    unit = facts["unit"]
    lines = title(run, f"{facts['name']}: nothing to order now")
    if facts["is_unknown"]:
        lines += wrapped("It has never been counted, so it is taken as none.", run.width)
    text = f"In the house: {amount(facts['opening'], unit)}."
    for day, quantity in facts["coming"]:
        text += f" On its way: {amount(quantity, unit)} for {format_day(day_of(day))}."
    is_short = bool(run.rows("shortages", item=item))
    if is_short:
        text += f" {undrawn(run, item)}"
    if facts.get("first_need"):
        until = format_day(day_of(facts["first_need"]))
        text += f" More is needed from {until} on to have enough {often_enough(facts['level'])}."
    elif facts["users"] and not is_short:
        text += " That lasts for all the days this run looks at."
    elif not is_short:
        text += f" {undrawn(run, item)}"
    lines += [*wrapped(text, run.width), "", *(users(run, item) if facts["users"] else [])]
    for delivery in facts["deliveries"][:1]:
        lines += _needed(run, item, delivery)
    return lines
