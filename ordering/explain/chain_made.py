"""The chain behind a made item (what to start, when, why) and behind a dish (what it needs)."""

from __future__ import annotations

from datetime import date

from ordering.amounts import shown
from ordering.days import format_day, span_said
from ordering.explain.chain_parts import dishes_of, expected, short, short_of, title, unmet, users
from ordering.explain.run_facts import Facts, Row, RunFacts, day_of, number_of
from ordering.explain.wording import (
    amount,
    column,
    counted,
    figure,
    itemised,
    often_enough,
    wrapped,
)

_SMALL = 0.01
_WHOLE = ", with the surplus from whole batches"


def made(run: RunFacts, item: str) -> list[str]:
    """When to start a recipe, how much, for whom, and what goes into it."""
    facts = run.items[item]
    starts = run.rows("starts", recipe=item)
    lines = title(run, f"{facts['name']}: {_batches(starts) if starts else 'nothing to start now'}")
    lines += itemised([_start(start) for start in starts], run.width, "start")
    lines += [*([""] if starts else []), *dishes_of(run, item, day_of(facts["until"])), *users(run, item)]
    making = facts.get("making")
    if making:
        lines += _sum(run, item)
    else:
        lines += [*wrapped(_stock(run, item), run.width), ""]
    lines += _into(run, item, starts)
    lines += short(run, item)
    return lines


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
    return [*lines, *short_of(run, run.rows_naming("shortages", "dishes", f"{facts['name']}: "))]


def _batches(starts: list[Row]) -> str:
    total = sum(number_of(start["quantity"]) for start in starts)
    first = starts[0]
    return f"start {amount(total, first['unit'])}, the first on {format_day(day_of(first['start_on']))}"


def _start(start: Row) -> str:
    batches = counted(number_of(start["batches"]), "batch", "batches")
    if number_of(start["batches"]) % 1:
        batches = f"{figure(number_of(start['batches']))} of a batch"
    much = amount(number_of(start["quantity"]), start["unit"])
    begun, ready = format_day(day_of(start["start_on"])), format_day(day_of(start["ready_on"]))
    return f"{begun}: {batches}, {much}, ready on {ready}"


def _sum(run: RunFacts, item: str) -> list[str]:
    facts = run.items[item]
    making = facts["making"]
    terms = making["terms"]
    first, until = date.fromisoformat(run.why["on"]), date.fromisoformat(facts["until"])
    words = {
        "gross": f"needed {span_said(first, until)}",
        "consumables": "used by the service itself (consumables)",
        "stock": f"in the house on {format_day(first)}",
        "receipts": "in process, ready in that time",
        "by_products": "comes off other recipes",
        "expired": "of that, past its use-by before it is needed",
        "thrown": "of what is made, past its use-by before it is needed",
        "left": f"still there after {format_day(until)} on average{_kept(facts)}",
        "unserved": unmet(run, item),
    }
    parts = [
        *((label, terms.get(term, 0.0)) for term, label in words.items()),
        (
            f"safety stock (enough {often_enough(facts['level'])})" + (_WHOLE if facts["is_whole"] else ""),
            making["started"] - making["planned"],
        ),
    ]
    total = ("to start", making["started"])
    lines = column("Why so much", run.unit(item), parts, total, run.width)
    return [*lines, *wrapped(_rules(run, item), run.width, "  ", "  "), ""]


def _kept(facts: Facts) -> str:
    return f" (par {amount(facts['par'], facts['unit'])})" if facts.get("par") else ""


def _rules(run: RunFacts, item: str) -> str:
    facts = run.items[item]
    size = amount(facts["makes"], facts["unit"])
    scaled = (
        ("made whole or by half" if "step" in facts else "made whole")
        if facts["is_whole"]
        else "or any part of one"
    )
    text = f"A batch is {size}, {scaled}"
    if facts.get("smallest"):
        text += f", never less than {amount(facts['smallest'], facts['unit'])}"
    text += f"; it takes {counted(facts['takes'], 'day')}" if facts["takes"] else "; it is made on the day"
    if facts["keeps"] is not None:
        text += f" and keeps {counted(facts['keeps'], 'day')}" if facts["keeps"] else " for that day only"
    if facts["largest"] is not None:
        text += f"; at most {amount(facts['largest'], facts['unit'])} in one day"
    if facts.get("room"):
        text += f"; at most {amount(facts['room'], facts['unit'])} under way at one time"
    return text + "."


def _stock(run: RunFacts, item: str) -> str:
    facts = run.items[item]
    text = f"In the house: {amount(facts['opening'], facts['unit'])}."
    for day, quantity in facts["coming"]:
        text += f" Ready on {format_day(date.fromisoformat(day))}: {amount(quantity, facts['unit'])}."
    return f"{text} {_rules(run, item)}"


def _into(run: RunFacts, item: str, starts: list[Row]) -> list[str]:
    """What the starts draw, or one batch where nothing is started."""
    facts = run.items[item]
    batches = sum(number_of(start["batches"]) for start in starts) or 1.0
    head = "What goes into it" if starts else "What goes into one batch"
    lines = [head]
    for name, quantity, share, drawn, at, returns in facts["lines"]:
        unit = run.unit(name)
        text = f"{run.name(name)}: {amount(drawn * batches, unit)}"
        if share != 1:
            text += f" ({amount(quantity * batches, unit)} at a yield of {100 * share:.0f} %)"
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
    """The bought items in one portion, the largest amounts first, straight through the recipes."""
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
