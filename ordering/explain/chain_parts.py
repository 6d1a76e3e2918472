"""Paragraphs that several chains share: who comes, what they eat, how it is made, what is short."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from itertools import pairwise
from typing import Any

from ordering.days import format_day, service_said
from ordering.explain.run_facts import Row, RunFacts, day_of, number_of
from ordering.explain.wording import (
    AS_FOR,
    MOST_LISTED,
    amount,
    as_for,
    counted,
    itemised,
    short_amount,
    wrapped,
)
from ordering.texts import cells_wide, listed, padded

COVERS = "*"
_MOST_STEPS = 3


def title(run: RunFacts, text: str) -> list[str]:
    """A heading, underlined."""
    lines = wrapped(text, run.width)
    return [*lines, "=" * max(cells_wide(line) for line in lines)]


def services(run: RunFacts, first: date, last: date) -> list[str]:
    """Covers expected at each service from `first` to `last`, with the range of nine in ten."""
    rows = [row for row in run.rows("forecast", dish=COVERS) if first <= day_of(row["date"]) <= last]
    rows = [row for row in rows if number_of(row["q95"]) > 0]
    if not rows:
        return []
    return ["Who is expected (nine times in ten within the range)", *expected(run, rows, "covers"), ""]


def expected(run: RunFacts, rows: Sequence[Row], what: str) -> list[str]:
    """Rows of the forecast, a line a service: the mean of `what` and the range of nine in ten."""
    least = {(COVERS, day, service) for day, service in run.why.get("least", ())}
    lines = []
    for row in rows[:MOST_LISTED]:
        when = f"{format_day(day_of(row['date']))} {service_said(row['service'])}"
        between = f"{number_of(row['q05']):.0f} to {number_of(row['q95']):.0f}"
        if (row["dish"], row["date"], row["service"]) in least:
            between = "or more"
        mean = number_of(row["mean"])
        number = f"{mean:.1f}" if mean < 10 and row["dish"] != COVERS else f"{mean:.0f}"
        lines.append(f"  {padded(when, 28)}{number:>6} {what}   {between}")
    rest = rows[MOST_LISTED:]
    if rest:
        total = sum(number_of(row["mean"]) for row in rest)
        until = format_day(day_of(rest[-1]["date"]))
        lines.append(f"  and {counted(len(rest), 'more service')} to {until}: {total:.0f} {what}")
    return lines


def portions(run: RunFacts, dish: str, days: set[date]) -> float:
    """Portions of a dish expected on those days."""
    rows = run.rows("forecast", dish=dish)
    return sum(number_of(row["mean"]) for row in rows if day_of(row["date"]) in days)


def route(run: RunFacts, dish: str, item: str) -> list[str]:
    """The recipes between a dish and an item, the way with most of the item in it."""
    held = run.content(item)
    way: list[str] = []
    name = str(run.dishes[dish]["recipe"])
    while name != item and name in run.items and name not in way:
        way.append(name)
        lines = [line for line in run.items[name].get("lines", ()) if held.get(line[0], 0.0) > 0]
        if not lines:
            break
        name = str(max(lines, key=lambda line: line[3] * held[line[0]])[0])
    return way


def recipe_steps(run: RunFacts, dishes: Sequence[str], item: str) -> list[str]:
    """How much of the item one portion of each dish takes, and through which recipes."""
    held = run.content(item)
    unit = run.unit(item)
    lines: list[str] = []
    shown: set[str] = set()
    for dish in dishes[:_MOST_STEPS]:
        each = run.dishes[dish]["portion"] * held.get(run.dishes[dish]["recipe"], 0.0)
        lines += wrapped(f"{run.dish_name(dish)}: {amount(each, unit)} a portion", run.width, "  ", "    ")
        way = [*route(run, dish, item), item]
        for name, drawn in pairwise(way):
            facts = run.dishes[dish]
            is_plate = name == facts["recipe"] and run.items[name]["makes"] == 1 == facts["portion"]
            if name not in shown:
                shown.add(name)
                lines += _step(run, name, drawn, is_plate)
    return [f"From the plate back to {run.name(item)}", *lines, ""] if lines else []


def _step(run: RunFacts, name: str, drawn: str, is_plate: bool) -> list[str]:
    facts = run.items[name]
    unit = run.unit(drawn)
    parts = [_drawn(line, unit, run.name(drawn)) for line in facts["lines"] if line[0] == drawn]
    takes = f", and {counted(facts['takes'], 'day')}" if facts["takes"] else ""
    batch = amount(facts["makes"], facts["unit"])
    whole = "a plate" if is_plate else f"{facts['name']}: a batch of {batch}"
    text = f"{whole} takes {listed(parts)}{takes}"
    return wrapped(text, run.width, "    ", "      ")


def _drawn(line: Sequence[Any], unit: str, name: str) -> str:
    """A recipe line: what is drawn, and what is left of it after trim where that is less."""
    _, quantity, share, drawn, *_ = line
    if share == 1:
        return f"{amount(drawn, unit)} of {name}"
    return f"{amount(drawn, unit)} of {name} ({amount(quantity, unit)} at a yield of {100 * share:.0f} %)"


def short(run: RunFacts, item: str) -> list[str]:
    """What the run says is short of this item."""
    return short_of(run, run.rows("shortages", item=item))


def short_of(run: RunFacts, rows: Sequence[Row]) -> list[str]:
    """Shortages in full, or nothing where there are none; days that go as one before are listed with it."""
    spells: dict[tuple[str, str], list[Row]] = {}
    for row in rows:
        spells.setdefault((row["item"], _spell_of(row)), []).append(row)
    lines: list[str] = []
    for (item, begun), (first, *others) in spells.items():
        heads = (row["remedy"] for row in run.rows("shortages", item=item) if _own(row) == begun)
        text = f"{format_day(day_of(first['date']))}: {_short_by(first)} short of {run.name(item)}. "
        text += f"{first['cause'][:1].upper()}{first['cause'][1:]}. "
        text += f"What can be done: {next(heads, first['remedy'])}."
        if others:
            days = [f"{format_day(day_of(row['date']))} ({_short_by(row)})" for row in others]
            text += f" Also on {listed(days, MOST_LISTED)}."
        lines += wrapped(text, run.width, "  ", "    ")
    return ["What is short", *lines, ""] if lines else []


def _own(row: Row) -> str:
    """How later days of the same run point to this row."""
    return as_for(day_of(row["date"]))


def _spell_of(row: Row) -> str:
    return row["remedy"] if row["remedy"].startswith(AS_FOR) else _own(row)


def _short_by(row: Row) -> str:
    return short_amount(number_of(row["short"]), row["unit"])


def dishes_of(run: RunFacts, item: str, until: date) -> list[str]:
    """Dishes a made item ends in, with the portions expected up to a day, the most of it first."""
    ends = [
        f"{run.dish_name(dish)}: {counted(number, 'portion')} at {amount(each, run.unit(item))}"
        for dish, number, each in _ends(run, item, until)
    ]
    lines = itemised(ends, run.width, "dish", "dishes")
    return [f"What it ends in, expected to {format_day(until)}", *lines, ""] if lines else []


def _ends(run: RunFacts, item: str, until: date) -> list[tuple[str, float, float]]:
    """(dish, portions expected up to a day, quantity of the item in one), the most of it first."""
    held = run.content(item)
    ends = []
    for dish, facts in run.dishes.items():
        each = facts["portion"] * held.get(facts["recipe"], 0.0)
        rows = run.rows("forecast", dish=dish) if each else []
        number = sum(number_of(row["mean"]) for row in rows if day_of(row["date"]) <= until)
        if number > 0:
            ends.append((-number * each, dish, number, each))
    return [(dish, number, each) for _, dish, number, each in sorted(ends)]


def unmet(run: RunFacts, item: str) -> str:
    """What a sum says of the part that is not met."""
    return "not here in time" + (", see below" if run.rows("shortages", item=item) else "")


def undrawn(run: RunFacts, item: str) -> str:
    """Why nothing draws on an item in the days its sum looks at, though something may end in a dish."""
    if run.rows("shortages", item=item):
        return "Some of it is short: see below."
    ends = _ends(run, item, day_of(run.items[item]["until"]))
    if not ends:
        return "Nothing on the menu uses it in the coming days."
    text = "Nothing draws on it in the coming days: what it goes into is in the house already"
    named = [f"{run.dish_name(dish)}: " for dish, _, _ in ends]
    wanting = {
        run.name(row["item"])
        for row in run.tables.get("shortages", ())
        if any(name in row["dishes"] for name in named)
    }
    return f"{text}, or cannot be made without {listed(sorted(wanting), 4)}." if wanting else f"{text}."


def users(run: RunFacts, item: str) -> list[str]:
    """Who draws an item in the days its sum looks at."""
    facts = run.items[item]
    until = format_day(day_of(facts["until"]))
    if not facts["users"]:
        return [*wrapped(undrawn(run, item), run.width), ""]
    drawn = [f"{run.user_name(by)}: {amount(quantity, facts['unit'])}" for by, quantity in facts["users"]]
    lines = itemised(drawn, run.width, "dish or recipe", "dishes or recipes")
    return [f"Who draws on it, to {until}", *lines, ""]
