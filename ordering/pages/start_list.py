"""The start list for the wall: by day and station, in the order of work, to be ticked with wet hands.

Letters are of 10 points or more, read at arm's length, but for the sources of the cautions. These stand under
the list, and on a sheet of its own, for the back, what the house wrote about how a thing is made.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import timedelta
from itertools import zip_longest

from ordering.amounts import shown
from ordering.days import format_day
from ordering.pages.food_safety import caution_block, caution_parts, work_cautions
from ordering.pages.parts import (
    Block,
    amount_cell,
    filled,
    heads,
    line_said,
    paper,
    said_all,
    stacked,
    titled,
    workbook,
)
from ordering.records.house import Dish, House, Recipe
from ordering.records.page import Cell, Row, Sheet, Workbook
from ordering.records.plan import Plan, Start, TakenForStart

COLUMNS = ("done", "make", "how much", "ready", "take")
WIDTHS = (5.3, 24.5, 10.0, 10.8, 42.5)
GAP_POINTS = 5.0  # of the empty row before the cautions
LETTER_IS_WIDER = 3.0  # digits of column width than A4
N_DAYS = 7
ANY_STATION = "Kitchen"
STATION = "strong rule shade"  # of the heading of a day and station


def coming_starts(plan: Plan, n_days: int = N_DAYS) -> tuple[Start, ...]:
    """What is to be started from the day of the run on, by day; the longest first within a day."""
    end = plan.on + timedelta(days=n_days)
    found = [start for start in plan.netting.starts if plan.on <= start.start_on < end]
    return tuple(sorted(found, key=lambda s: (s.start_on, s.start_on - s.ready_on, s.recipe)))


def _served(house: House, plan: Plan, n_days: int = N_DAYS) -> list[Dish]:
    """Dishes expected to sell in the days of the list, in the order of the menu."""
    coming, end = plan.forecast, plan.on + timedelta(days=n_days)
    slots = [n for n, slot in enumerate(coming.slots) if slot.date < end]
    sells = {dish for dish, mean in zip(coming.dishes, coming.mean, strict=True) if mean[slots].any()}
    return [dish for dish in house.dishes.values() if dish.id in sells]


def by_station(house: House, starts: Sequence[Start]) -> dict[str, list[Start]]:
    """Starts by station, stations in the sequence of the recipes, each in the order of work.

    What takes longest is started first, and a thing that goes into another of the same day before it.
    """
    names = dict.fromkeys(recipe.station for recipe in house.recipes.values() if recipe.station)
    found: dict[str, list[Start]] = {name: [] for name in (*names, "")}
    for start in sorted(starts, key=lambda s: (s.start_on - s.ready_on, _depth(house, s, starts), s.recipe)):
        found[_station(house, start)].append(start)
    return {name or ANY_STATION: mine for name, mine in found.items() if mine}


def _station(house: House, start: Start) -> str:
    recipe = house.recipes.get(start.recipe)
    return recipe.station if recipe is not None else ""


def _depth(house: House, start: Start, starts: Sequence[Start]) -> int:
    """How many steps of the same day lie below a start: 0 where nothing it takes is made that day."""
    today = {s.recipe for s in starts if s.start_on == start.start_on}

    def below(recipe: str, seen: frozenset[str]) -> int:
        made = house.recipes.get(recipe)
        parts = [line.item for line in made.lines if line.item in today - seen] if made else []
        return 1 + max((below(part, seen | {part}) for part in parts), default=-1)

    return below(start.recipe, frozenset({start.recipe}))


def start_list(house: House, plan: Plan) -> Workbook:
    """The start list, to be printed and hung up; how things are made on the back, if written."""
    starts = coming_starts(plan)
    back = _method_sheet(house, starts)
    sheets = (_starts_sheet(house, plan, starts), *([back] if back else []))
    return workbook(house, f"Start list of {house.name}", plan.now, *sheets)


def _starts_sheet(house: House, plan: Plan, starts: Sequence[Start]) -> Sheet:
    """The coming week's starts, a heading a day and station."""
    until = plan.on + timedelta(days=N_DAYS - 1)
    top = titled(f"Start list, {format_day(plan.on)} to {format_day(until)}", house.name)
    listing = Block((heads(COLUMNS), *_rows(house, starts)), "starts by day and station")
    if not starts:
        listing = said_all(["Nothing to start in these days."])
    minded = work_cautions(house, starts, _served(house, plan))
    laid, tables = stacked([top, listing, *caution_block(minded, len(COLUMNS))])
    head = len(top.rows)
    headings = tuple(_headings(laid, head + 1)) if starts else ()
    cautions = caution_parts(len(laid), minded)
    return Sheet(
        title="Starts",
        rows=laid,
        widths=(*WIDTHS[:-1], WIDTHS[-1] + LETTER_IS_WIDER * (paper(house) == "letter")),
        repeat=(head, head) if starts else None,
        freeze=head + 1 if starts else 0,
        footer=f"{house.name}: start list, made {plan.on.isoformat()}",
        tables=tables,
        parts=(*headings, *cautions) if starts else (),
        headings=headings,
        heights=dict.fromkeys(cautions[:1], GAP_POINTS),
        row_height=14.2,
    )


def _headings(rows: Sequence[Row], first: int) -> Iterator[int]:
    """Where a day's work at a station begins: no heading is left alone at the foot of a page."""
    return (n for n, row in enumerate(rows) if n >= first and row and row[0].style == STATION)


def _rows(house: House, starts: Sequence[Start]) -> Iterator[Row]:
    for day in sorted({start.start_on for start in starts}):
        mine = [start for start in starts if start.start_on == day]
        for station, work in by_station(house, mine).items():
            name = f"{format_day(day)}: {station}"
            yield filled((Cell(name, STATION),), len(COLUMNS), "rule shade")
            long = [start for start in work if start.ready_on > day or start.note]
            yield from (_row(house, start) for start in long)
            yield from _pairs(house, [start for start in work if start not in long])


def _row(house: House, start: Start) -> Row:
    """A start that takes a day or more, with what goes in; or one made the same day that has a note."""
    taken = _taken(house, start) if start.ready_on > start.start_on else []
    notes = [start.note] if start.note else []
    return (
        Cell(None, "tick"),
        Cell(house.name_of(start.recipe), "strong wrap line inset"),
        amount_cell(start.quantity, start.unit, "strong line"),
        Cell(start.ready_on, "day line"),
        Cell("; ".join([*taken, *notes]), "wrap line"),
    )


def _pairs(house: House, starts: Sequence[Start]) -> Iterator[Row]:
    """What is made and served the same day, two to a line: everybody knows what goes in, how much is news.

    The second stands where a line above has what goes in: it says that it is to be made as well.
    """
    half = (len(starts) + 1) // 2
    for left, right in zip_longest(starts[:half], starts[half:]):
        row = (
            Cell(None, "tick"),
            Cell(house.name_of(left.recipe), "strong wrap line inset"),
            amount_cell(left.quantity, left.unit, "strong line"),
        )
        much = f"{house.name_of(right.recipe)}, {shown(right.quantity, right.unit)}" if right else ""
        other = f"also make {much}" if right else None
        yield (*row, Cell(None, "tick" if right else "line"), Cell(other, "strong wrap line inset"))


def _taken(house: House, start: Start) -> list[str]:
    """What goes in, in the units of the recipe; from which parcels, where there is a choice."""
    recipe = house.recipes.get(start.recipe)
    if recipe is None or not start.from_lots:
        lines = recipe.lines if recipe is not None else ()
        return [line_said(house, line, line.drawn * start.batches) for line in lines]
    found: dict[tuple[str, str], list[TakenForStart]] = {}
    for one in sorted(start.from_lots, key=lambda one: _place(recipe, one)):
        found.setdefault((one.line.item, one.line.unit), []).append(one)
    return [
        line_said(house, mine[0].line, sum(one.quantity for one in mine)) + _parcels(start, mine)
        for mine in found.values()
    ]


def _place(recipe: Recipe, one: TakenForStart) -> int:
    """Where the recipe names what is taken; what a part made the same day takes stands behind."""
    items = [line.item for line in recipe.lines]
    return items.index(one.line.item) if one.line.item in items else len(items)


def _parcels(start: Start, mine: Sequence[TakenForStart]) -> str:
    """Which of several parcels to take, and what is not there before the day of the start."""
    coming = [one.comes_on for one in mine if one.comes_on is not None and one.comes_on >= start.start_on]
    first = mine[0]
    if coming:
        return f", {'some ' if len(mine) > 1 else ''}coming {format_day(coming[0])}"
    if len(mine) > 1:
        return ", freshest first" if first.is_freshest else ", oldest first"
    return f", use by {format_day(first.use_by)}" if first.use_by is not None and not first.is_only else ""


def _method_sheet(house: House, starts: Sequence[Start]) -> Sheet | None:
    """What the house wrote about making what is started, a block each; None where it wrote nothing."""
    names = dict.fromkeys(start.recipe for start in starts if start.recipe in house.recipes)
    written = [
        (house.recipes[name].name, house.recipes[name].notes) for name in names if house.recipes[name].notes
    ]
    if not written:
        return None
    rows: list[Row] = list(titled("How it is made", house.name).rows)
    for name, notes in written:
        rows += [(Cell(name, "large strong"),), (Cell(notes, "wrap"),), ()]
    return Sheet(
        title="Method", rows=tuple(rows), widths=(94.0,), footer=f"{house.name}: method", row_height=15.0
    )
