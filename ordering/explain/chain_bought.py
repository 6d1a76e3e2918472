"""The chain behind a bought item: dishes, stock, safety, par, packs."""

from __future__ import annotations

from datetime import date
from typing import Any

from ordering.days import said
from ordering.explain.chain_parts import portions, recipe_steps, services, short, title
from ordering.explain.lookup import Row, Told, day_of, number_of
from ordering.explain.sums import column
from ordering.explain.telling import amount, counted, days_said, figure, listed, wrapped

_MOST_DISHES = 8

_WORDS = {
    "*consumables": "used by the service itself (consumables)",
    "*safety": "safety",
    "*par": "par",
    "*rounding": "rounding",
}


def bought(told: Told, item: str) -> list[str]:
    """All there is to say about a bought item, its orders first."""
    facts = told.items[item]
    orders = told.rows("orders", item=item)
    outlook = told.rows("outlook", item=item)
    placed = {(row["vendor"], row["code"], row["deliver_on"]) for row in orders}
    lines: list[str] = []
    for delivery in facts["deliveries"]:
        keys = {(vendor, code, delivery["deliver_on"]) for vendor, code in delivery["lines"]}
        if keys & placed:
            lines += _delivery(told, item, delivery, [row for row in orders if _key(row) in keys])
    if not lines:
        lines = _nothing(told, item, outlook)
    elif outlook:
        lines += ["Later, not to be placed yet", *(f"  {_packs(told, row)}" for row in outlook[:5]), ""]
    lines += short(told, item)
    return [line.rstrip() for line in lines[:-1]] if lines and not lines[-1] else lines


def _key(row: Row) -> tuple[str, str, str]:
    return row["vendor"], row["code"], row["deliver_on"][:10]


def _packs(told: Told, row: Row) -> str:
    return (
        f"{said(day_of(row['deliver_on']))}: {row['packs']} x {row['pack']} "
        f"({figure(number_of(row['quantity']))} {row['unit']}) from {told.vendor(row['vendor'])}"
    )


def _delivery(told: Told, item: str, delivery: dict[str, Any], rows: list[Row]) -> list[str]:
    facts = told.items[item]
    on, until = day_of(delivery["deliver_on"]), day_of(delivery["until"])
    asked = listed([f"{row['packs']} x {row['pack']}" for row in rows])
    vendors = listed(list(dict.fromkeys(told.vendor(row["vendor"]) for row in rows)))
    head = f"{facts['name']}: {asked} from {vendors} ({', '.join(row['code'] for row in rows)})"
    by = min(row["order_by"] for row in rows)
    when = f"Order by {said(day_of(by))} {by[11:16]}; it comes on {said(on)} and must last to {said(until)}."
    pegs = [p for row in rows for p in told.rows("pegging", **_line_of(row))]
    dishes = _by_dish(pegs)
    served = [day_of(p["service_date"]) for p in pegs if p["dish"] in told.dishes]
    lines = [*title(told, head), *wrapped(when, told.width), ""]
    if served:
        lines += services(told, min(served), max(served))
        lines += _eaten(told, dishes)
        lines += recipe_steps(told, list(dishes), item)
    return [*lines, *_needed(told, item, delivery), *_order(told, item, delivery, rows, pegs)]


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


def _eaten(told: Told, dishes: dict[str, list[Row]]) -> list[str]:
    lines = ["What they are expected to eat of it"]
    for dish, pegs in list(dishes.items())[:_MOST_DISHES]:
        days = {day_of(peg["service_date"]) for peg in pegs}
        number = portions(told, dish, days)
        text = f"{told.name(dish)}: {counted(number, 'portion')}, {days_said(sorted(days))}"
        lines += wrapped(text, told.width, "  ", "    ")
    if len(dishes) > _MOST_DISHES:
        lines.append(f"  and {counted(len(dishes) - _MOST_DISHES, 'more dish', 'more dishes')}")
    return [*lines, ""]


def _needed(told: Told, item: str, delivery: dict[str, Any]) -> list[str]:
    """Gross less what the house has, down to what this delivery brings for dishes."""
    terms = delivery["terms"]
    first, until = day_of(delivery["from"]), day_of(delivery["until"])
    morning = f"in the house on the morning of {said(first)}"
    parts = [
        ("wanted by dishes and recipes", terms["gross"]),
        (morning, terms["stock"]),
        ("already on its way", terms["receipts"]),
        ("falls out of other recipes", terms["by_products"]),
        ("of that, past its date before it is wanted", terms["expired"]),
        (f"of that, left in the house after {said(until)} on average", terms["left"]),
        ("cannot be served, see below", terms["unserved"]),
        ("out of reach of any delivery", terms["out_of_reach"]),
        ("still there from the delivery before", terms["earlier"]),
        ("left to other deliveries", terms["later"]),
    ]
    head = f"Need, {days_said([first, until])}"
    total = ("to buy for what is expected", delivery["drawn"])
    return [*column(head, told.unit(item), parts, total, told.width), ""]


def _order(told: Told, item: str, delivery: dict[str, Any], rows: list[Row], pegs: list[Row]) -> list[str]:
    """What the packs are for, adding up to them."""
    facts = told.items[item]
    dishes = list(_by_dish(pegs).items())
    parts = [(told.name(dish), _total(own)) for dish, own in dishes[:_MOST_DISHES]]
    if len(dishes) > _MOST_DISHES:
        rest = sum(_total(own) for _, own in dishes[_MOST_DISHES:])
        parts.append((counted(len(dishes) - _MOST_DISHES, "other dish", "other dishes"), rest))
    words = _WORDS | {
        "*safety": f"safety, so that it is enough {_level(facts['level'])}",
        "*par": f"kept in the house, par {figure(facts['par'] or 0)} {facts['unit']}",
        "*rounding": "rounding to whole packs and batches",
    }
    for word, label in words.items():
        parts.append((label, sum(number_of(peg["quantity"]) for peg in pegs if peg["dish"] == word)))
    packs = listed([f"{row['packs']} x {row['pack']}" for row in rows])
    total = (f"ordered: {packs}", sum(number_of(row["quantity"]) for row in rows))
    lines = column("What the order is for", told.unit(item), parts, total, told.width)
    if facts.get("why"):
        lines += wrapped(f"Safety: {facts['why']}.", told.width, "  ", "  ")
    return [*lines, ""]


def _level(level: float | None) -> str:
    return f"{100 * (level or 0):.3g} times in 100"


def _nothing(told: Told, item: str, outlook: list[Row]) -> list[str]:
    """Why nothing is to be ordered now."""
    facts = told.items[item]
    lines = title(told, f"{facts['name']}: nothing to order now")
    if facts["is_unknown"]:
        lines += wrapped("It has never been counted; the sum takes it that there is none.", told.width)
    have = amount(facts["opening"], facts["unit"])
    text = f"In the house: {have}."
    for day, quantity in facts["coming"]:
        text += f" On its way: {amount(quantity, facts['unit'])} for {said(date.fromisoformat(day))}."
    if facts.get("first_need"):
        text += f" That lasts until {said(date.fromisoformat(facts['first_need']))}"
        text += f", if it is to be enough {_level(facts['level'])}."
    elif facts["users"]:
        text += " That lasts as far ahead as this run looks."
    else:
        text += " Nothing on the menu uses it in the days this run looks at."
    lines += [*wrapped(text, told.width), ""]
    for delivery in facts["deliveries"][:1]:
        lines += _needed(told, item, delivery)
    if outlook:
        lines += ["Foreseen, not to be placed yet", *(f"  {_packs(told, row)}" for row in outlook[:5]), ""]
    return lines
