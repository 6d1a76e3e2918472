"""The chain behind a made item (what to start, when, why) and behind a dish (what it needs)."""

from __future__ import annotations

from ordering.amounts import shown
from ordering.days import format_day
from ordering.explain.chain_parts import (
    at_yield,
    dishes_of,
    expected,
    in_the_house,
    need,
    short,
    title,
    users,
)
from ordering.explain.run_facts import Row, RunFacts, day_of, number_of
from ordering.explain.wording import amount, counted, figure, itemised, often_enough, wrapped

_SMALL = 0.01


def made(run: RunFacts, item: str) -> list[str]:
    """When to start a recipe, how much, for whom, and what goes into it."""
    facts = run.items[item]
    starts = run.rows("starts", recipe=item)
    head = "nothing to start now"
    if starts:
        total = amount(sum(number_of(start["quantity"]) for start in starts), facts["unit"])
        head = f"start {total}, the first on {format_day(day_of(starts[0]['start_on']))}"
    lines = title(run, f"{facts['name']}: {head}")
    lines += itemised([_start(start) for start in starts], run.width, "start")
    lines += [*([""] if starts else []), *dishes_of(run, item), *users(run, item)]
    if facts.get("making"):
        lines += _sum(run, item)
    else:
        lines += [*wrapped(f"{in_the_house(run, item)} {_rules(run, item)}", run.width), ""]
    return [*lines, *_into(run, item, starts), *short(run, run.rows("shortages", item=item))]


def dish(run: RunFacts, name: str) -> list[str]:
    """When a dish is expected to sell, what a portion takes, and which order lines it is behind."""
    facts = run.dishes[name]
    rows = run.rows("forecast", dish=name)
    lines = title(run, str(facts["name"]))
    if not rows:
        lines += wrapped("It is not expected to sell in the days this run looks at.", run.width)
        return lines
    lines += ["How many are expected (nine times in ten within the range)", *expected(run, rows, "portions")]
    if facts.get("lost"):
        lines.append(
            f"  a portion missed loses {facts['lost']:,.2f}: that is what safety stock is weighed by"
        )
    lines += ["", *_portion(run, name), *_behind(run, name)]
    return [*lines, *short(run, run.rows_naming("shortages", "dishes", f"{facts['name']}: "))]


def _start(start: Row) -> str:
    number = number_of(start["batches"])
    batches = f"{figure(number)} of a batch" if number % 1 else counted(number, "batch", "batches")
    much = amount(number_of(start["quantity"]), start["unit"])
    begun, ready = format_day(day_of(start["start_on"])), format_day(day_of(start["ready_on"]))
    return f"{begun}: {batches}, {much}, ready on {ready}"


def _sum(run: RunFacts, item: str) -> list[str]:
    facts = run.items[item]
    making = facts["making"]
    more = f"safety stock (enough {often_enough(facts['level'])})"
    more += ", with the surplus from whole batches" if facts["is_whole"] else ""
    if not facts["takes"] and not facts["par"]:
        more = "made on the day where more is wanted"
    rest = [(more, making["started"] - making["planned"]), ("to start", making["started"])]
    lines = need(run, item, (day_of(run.why["on"]), day_of(facts["until"])), making["terms"], rest)
    return [*lines, *wrapped(_rules(run, item), run.width, "  ", "  "), ""]


def _rules(run: RunFacts, item: str) -> str:
    facts = run.items[item]
    scaled = "made whole or by half" if "step" in facts else "made whole"
    text = f"A batch is {amount(facts['makes'], facts['unit'])}, "
    text += scaled if facts["is_whole"] else "or any part of one"
    if facts.get("smallest"):
        text += f", never less than {amount(facts['smallest'], facts['unit'])}"
    text += f"; it takes {counted(facts['takes'], 'day')}" if facts["takes"] else "; it is made on the day"
    if facts["keeps"] is not None:
        text += f" and keeps {counted(facts['keeps'], 'day')}" if facts["keeps"] else " for that day only"
    for limit, span in (("largest", "in one day"), ("room", "under way at one time")):
        if facts.get(limit) is not None:
            text += f"; at most {amount(facts[limit], facts['unit'])} {span}"
    return text + "."


def _into(run: RunFacts, item: str, starts: list[Row]) -> list[str]:
    """What the starts draw, or one batch where nothing is started."""
    facts = run.items[item]
    batches = sum(number_of(start["batches"]) for start in starts) or 1.0
    lines = ["What goes into it" if starts else "What goes into one batch"]
    for line in facts["lines"]:
        name, _, _, drawn, at, returns = line
        unit = run.unit(name)
        text = f"{run.name(name)}: {amount(drawn * batches, unit)}{at_yield(line, unit, batches)}"
        if at:
            text += f", {counted(at, 'day')} after the start"
        if returns:
            text += f"; {amount(returns * batches, unit)} come back"
        lines += wrapped(text, run.width, "  ", "    ")
    for name, quantity in facts["also_makes"]:
        given = amount(quantity * batches, run.unit(name))
        lines.append(f"  and gives {given} of {run.name(name)}")
    return [*lines, ""]


def _portion(run: RunFacts, name: str) -> list[str]:
    """What one portion takes of each line of its recipe."""
    facts = run.dishes[name]
    recipe = run.items.get(facts["recipe"])
    if recipe is None:
        return []
    lines = [f"What one portion takes: {amount(facts['portion'], facts['unit'])} of {recipe['name']}"]
    for line in recipe["lines"]:
        quantity = line[3] / recipe["makes"] * facts["portion"]
        lines.append(f"  {shown(quantity, run.unit(line[0]))} {run.name(line[0])}")
    return [*lines, ""]


def _behind(run: RunFacts, name: str) -> list[str]:
    """Order lines the dish has a part in."""
    share: dict[tuple[str, str, str], float] = {}
    for peg in run.rows("pegging", dish=name):
        key = (peg["vendor"], peg["code"], peg["deliver_on"])
        share[key] = share.get(key, 0.0) + number_of(peg["quantity"])
    lines: list[str] = []
    small = 0
    for row in run.rows("orders"):
        part = share.get((row["vendor"], row["code"], row["deliver_on"]), 0.0)
        of = number_of(row["quantity"])
        small += 0 < part < _SMALL * of
        if part >= _SMALL * of:
            text = (
                f"{row['description']}: {shown(part, row['unit'])} of {amount(of, row['unit'])}, "
                f"{run.vendor(row['vendor'])}, {format_day(day_of(row['deliver_on']))}"
            )
            lines += wrapped(text, run.width, "  ", "    ")
    if small:
        lines.append(f"  and a part smaller than one in a hundred of {counted(small, 'more line')}")
    return ["Its part in the orders to place now", *lines, ""] if lines else []
