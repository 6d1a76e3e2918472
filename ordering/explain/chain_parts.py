"""Paragraphs that several chains share: who comes, who eats it, how it is made, what is needed and short."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from datetime import date
from itertools import pairwise
from typing import Any

from ordering.days import format_day, service_said, span_said
from ordering.explain.run_facts import CONSUMED, Row, RunFacts, day_of, number_of
from ordering.explain.wording import (
    AS_FOR,
    MOST_LISTED,
    amount,
    as_for,
    column,
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


def portions(run: RunFacts, dish: str, is_meant: Callable[[date], bool]) -> float:
    """Portions of a dish expected on the days that are meant."""
    rows = run.rows("forecast", dish=dish)
    return sum(number_of(row["mean"]) for row in rows if is_meant(day_of(row["date"])))


def recipe_steps(run: RunFacts, dishes: Sequence[str], item: str) -> list[str]:
    """How much of the item one portion of each dish takes, and through which recipes."""
    recipes = run.contents
    held, each = recipes.of(item), recipes.per_portion(item)
    lines: list[str] = []
    shown: set[str] = set()
    for dish in dishes[:_MOST_STEPS]:
        much = amount(each.get(dish, 0.0), run.unit(item))
        lines += wrapped(f"{run.dish_name(dish)}: {much} a portion", run.width, "  ", "    ")
        facts = run.dishes[dish]
        for name, drawn in pairwise([*_route(run, str(facts["recipe"]), item, held), item]):
            is_plate = name == facts["recipe"] and run.items[name]["makes"] == 1 == facts["portion"]
            if name not in shown:
                shown.add(name)
                lines += _step(run, name, drawn, is_plate)
    return [f"From the plate back to {run.name(item)}", *lines, ""] if lines else []


def _route(run: RunFacts, name: str, item: str, held: Mapping[str, float]) -> list[str]:
    """The recipes from one down to an item, the way with most of the item in it."""
    way: list[str] = []
    while name != item and name in run.items and name not in way:
        way.append(name)
        lines = [line for line in run.items[name].get("lines", ()) if held.get(line[0], 0.0) > 0]
        if not lines:
            break
        name = str(max(lines, key=lambda line: line[3] * held[line[0]])[0])
    return way


def _step(run: RunFacts, name: str, drawn: str, is_plate: bool) -> list[str]:
    facts = run.items[name]
    unit = run.unit(drawn)
    parts = [
        f"{amount(line[3], unit)} of {run.name(drawn)}{at_yield(line, unit)}"
        for line in facts["lines"]
        if line[0] == drawn
    ]
    takes = f", and {counted(facts['takes'], 'day')}" if facts["takes"] else ""
    whole = "a plate" if is_plate else f"{facts['name']}: a batch of {amount(facts['makes'], facts['unit'])}"
    return wrapped(f"{whole} takes {listed(parts)}{takes}", run.width, "    ", "      ")


def at_yield(line: Sequence[Any], unit: str, batches: float = 1.0) -> str:
    """What is left after trim of what a recipe's line draws, where that is less."""
    _, quantity, share, *_ = line
    return "" if share == 1 else f" ({amount(quantity * batches, unit)} at a yield of {100 * share:.0f} %)"


def in_the_house(run: RunFacts, item: str) -> str:
    """What there is of an item and what is on its way."""
    facts = run.items[item]
    coming = "In process" if facts["is_made"] else "On its way"
    text = f"In the house: {amount(facts['opening'], facts['unit'])}."
    for day, quantity in facts["coming"]:
        text += f" {coming}: {amount(quantity, facts['unit'])} for {format_day(day_of(day))}."
    return text


def need(
    run: RunFacts,
    item: str,
    days: tuple[date, date],
    terms: Mapping[str, float],
    rest: Sequence[tuple[str, float]],
) -> list[str]:
    """The sum from what is needed in these days down to what is bought or started for it.

    rest : what comes on top, and the total last
    """
    facts, (first, until) = run.items[item], days
    is_made = facts["is_made"]
    kept = f" (par {amount(facts['par'], facts['unit'])})" if is_made and facts.get("par") else ""
    see_below = ", see below" if run.rows("shortages", item=item) else ""
    words = {
        "gross": "needed by dishes and recipes",
        "consumables": f"needed by {CONSUMED}",
        "stock": f"in the house on {format_day(first)}" + ("" if is_made else ", before deliveries"),
        "receipts": "in process, ready in that time" if is_made else "already on its way",
        "by_products": "comes off other recipes",
        "expired": "of that, past its use-by before it is needed",
        "thrown": "of what is made, past its use-by before it is needed",
        "left": f"still there after {format_day(until)} on average{kept}",
        "unserved": f"not here in time{see_below}",
        "out_of_reach": "no delivery in time, see below",
        "earlier": "still there from the delivery before",
        "later": "left to other deliveries",
    }
    parts = [(label, terms.get(term, 0.0)) for term, label in words.items()]
    head = f"Need, {span_said(first, until)}"
    return column(head, facts["unit"], [*parts, *rest[:-1]], rest[-1], run.width)


def short(run: RunFacts, rows: Sequence[Row]) -> list[str]:
    """Shortages in full, or nothing where there are none; days that go as one before are listed with it."""
    spells: dict[tuple[str, str], list[Row]] = {}
    for row in rows:
        begun = row["remedy"] if row["remedy"].startswith(AS_FOR) else _own(row)
        spells.setdefault((row["item"], begun), []).append(row)
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


def _short_by(row: Row) -> str:
    return short_amount(number_of(row["short"]), row["unit"])


def dishes_of(run: RunFacts, item: str) -> list[str]:
    """Dishes a made item ends in, with the portions expected in its days, the most of it first."""
    ends = [
        f"{run.dish_name(dish)}: {counted(number, 'portion')} at {amount(each, run.unit(item))}"
        for dish, number, each in _ends(run, item)
    ]
    lines = itemised(ends, run.width, "dish", "dishes")
    until = format_day(day_of(run.items[item]["until"]))
    return [f"What it ends in, expected to {until}", *lines, ""] if lines else []


def _ends(run: RunFacts, item: str) -> list[tuple[str, float, float]]:
    """(dish, portions expected in the item's days, quantity of it in one), the most of it first."""
    until = day_of(run.items[item]["until"])
    ends = [
        (dish, portions(run, dish, until.__ge__), each)
        for dish, each in run.contents.per_portion(item).items()
    ]
    return sorted((end for end in ends if end[1] > 0), key=lambda end: (-end[1] * end[2], end[0]))


def undrawn(run: RunFacts, item: str) -> str:
    """Why nothing draws on an item in the days its sum looks at, though something may end in a dish."""
    if run.rows("shortages", item=item):
        return "Some of it is short: see below."
    ends = _ends(run, item)
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
    if not facts["users"]:
        return [*wrapped(undrawn(run, item), run.width), ""]
    drawn = [f"{run.user_name(by)}: {amount(quantity, facts['unit'])}" for by, quantity in facts["users"]]
    lines = itemised(drawn, run.width, "dish or recipe", "dishes or recipes")
    return [f"Who draws on it, to {format_day(day_of(facts['until']))}", *lines, ""]
