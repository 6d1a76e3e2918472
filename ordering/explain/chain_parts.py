"""Paragraphs that several chains share: who comes, what they eat, how it is made, what is short."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date

from ordering.days import said
from ordering.explain.lookup import Row, Told, day_of, number_of
from ordering.explain.telling import amount, counted, figure, listed, wrapped

COVERS = "*"
_MOST_SERVICES = 8
_MOST_STEPS = 3


def title(told: Told, text: str) -> list[str]:
    lines = wrapped(text, told.width)
    return [*lines, "=" * min(max(len(line) for line in lines), told.width)]


def services(told: Told, first: date, last: date) -> list[str]:
    """Covers expected at each service from `first` to `last`, with the range of nine in ten."""
    rows = [row for row in told.rows("forecast", dish=COVERS) if first <= day_of(row["date"]) <= last]
    if not rows:
        return []
    lines = ["Who is expected (nine times in ten it is within the range)"]
    for row in rows[:_MOST_SERVICES]:
        when = f"{said(day_of(row['date']))} {row['service']}"
        lines.append(f"  {when:<28}{_number(row['mean']):>6} covers   {_range(row)}")
    rest = rows[_MOST_SERVICES:]
    if rest:
        total = sum(number_of(row["mean"]) for row in rest)
        until = said(day_of(rest[-1]["date"]))
        lines.append(f"  and {counted(len(rest), 'more service')} to {until:<12}{total:>8.0f} covers")
    return [*lines, ""]


def portions(told: Told, dish: str, days: set[date]) -> float:
    """Portions of a dish expected on those days."""
    rows = told.rows("forecast", dish=dish)
    return sum(number_of(row["mean"]) for row in rows if day_of(row["date"]) in days)


def _number(text: str) -> str:
    return f"{number_of(text):.0f}"


def _range(row: Row) -> str:
    return f"{_number(row['q05'])} to {_number(row['q95'])}"


def content(told: Told, item: str) -> dict[str, float]:
    """Quantity of `item` drawn for one unit of each made item above it, by the run's own recipes."""
    above = told.above()
    found = {item: 1.0}
    for name in _upward(item, above)[1:]:
        facts = told.items[name]
        drawn = sum(line[3] * found.get(line[0], 0.0) for line in facts["lines"] if line[0] != name)
        found[name] = drawn / facts["makes"]
    return found


def _upward(item: str, above: Mapping[str, Sequence[str]]) -> list[str]:
    order: list[str] = []
    seen = {item}
    stack = [(item, iter(above.get(item, ())))]
    while stack:
        name, following = stack[-1]
        parent = next((p for p in following if p not in seen), None)
        if parent is None:
            order.append(name)
            stack.pop()
        else:
            seen.add(parent)
            stack.append((parent, iter(above.get(parent, ()))))
    return order[::-1]


def route(told: Told, dish: str, item: str) -> list[str]:
    """The recipes between a dish and an item, the way with most of the item in it."""
    held = content(told, item)
    way: list[str] = []
    name = str(told.dishes[dish]["recipe"])
    while name != item and name in told.items and name not in way:
        way.append(name)
        lines = [line for line in told.items[name].get("lines", ()) if held.get(line[0], 0.0) > 0]
        if not lines:
            break
        name = str(max(lines, key=lambda line: line[3] * held[line[0]])[0])
    return way


def recipe_steps(told: Told, dishes: Sequence[str], item: str) -> list[str]:
    """How much of the item one portion of each dish takes, and through which recipes."""
    held = content(told, item)
    unit = told.unit(item)
    lines: list[str] = []
    shown: set[str] = set()
    for dish in dishes[:_MOST_STEPS]:
        facts = told.dishes[dish]
        each = facts["portion"] * held.get(facts["recipe"], 0.0)
        lines += wrapped(f"{facts['name']}: {amount(each, unit)} a portion", told.width, "  ", "    ")
        way = route(told, dish, item)
        for at, name in enumerate(way):
            if name not in shown:
                shown.add(name)
                lines += _step(told, name, way[at + 1] if at + 1 < len(way) else item)
    return [f"From the plate back to {told.name(item).lower()}", *lines, ""] if lines else []


def _step(told: Told, name: str, drawn: str) -> list[str]:
    facts = told.items[name]
    unit = told.unit(drawn)
    parts = []
    for line in facts["lines"]:
        if line[0] == drawn:
            part = amount(line[1], unit)
            if line[2] != 1:
                part += f", at a yield of {100 * line[2]:.0f} % {amount(line[3], unit)},"
            parts.append(part)
    takes = f"; takes {counted(facts['takes'], 'day')}" if facts["takes"] else ""
    made = amount(facts["makes"], facts["unit"])
    text = f"{facts['name']}: {made} from {listed(parts)} of {told.name(drawn).lower()}{takes}"
    return wrapped(text.replace(",, ", ", "), told.width, "    ", "      ")


def short(told: Told, item: str) -> list[str]:
    """What the run says is short of this item."""
    lines = []
    for row in told.rows("shortages", item=item):
        text = f"{said(day_of(row['date']))}: {figure(number_of(row['short']))} {row['unit']} short. "
        text += f"{row['cause'][:1].upper()}{row['cause'][1:]}. What can be done: {row['remedy']}."
        lines += wrapped(text, told.width, "  ", "    ")
    return ["What is short", *lines, ""] if lines else []
