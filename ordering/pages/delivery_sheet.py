"""Sheets for the van: what comes in on a day, to be filled in at the door; what goes out to other houses."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date
from itertools import groupby

from ordering.amounts import packs_said, plural, shown
from ordering.days import format_day
from ordering.pages.food_safety import door_rows
from ordering.pages.parts import WRITING_POINTS, heads, long_day, number_row, workbook
from ordering.records.group import HouseDemand
from ordering.records.house import House
from ordering.records.ledger import Expected
from ordering.records.money import offer_of, per, price_at, quoted_of
from ordering.records.page import Cell, Document, Entry, Row, Sheet, Table, Workbook
from ordering.records.plan import Plan
from ordering.texts import listed
from ordering.units import degree_unit

# All but `what`, `ordered` and `of` are columns of a delivery: with the vendor that stands above the lines
# and the day at the head it reads back.
COLUMNS = ("code", "what", "ordered", "packs", "quantity", "unit", "price", "of", "use by", "instead of")
WIDTHS = (11.5, 20.0, 15.5, 6.5, 9.0, 5.5, 8.5, 5.5, 13.3, 7.5)
DOOR_WIDTHS = (7.5, 12.5)
QUANTITY, PRICE, USE_BY = 4, 6, 8
DAY_ROW = 2
N_EMPTY_LINES = 3
HOW = (
    "Write the packs that came, ok where it came as ordered, 0 where nothing did; what is left empty is not "
    "booked in. Where all came as ordered, tick the box above. Write the weight into quantity where it is "
    "weighed; without it the packs' own is taken. Change the price where the invoice has another. For a "
    "substitute write its code in an empty line, and the code it replaces under 'instead of'. For what goes "
    "back write the packs below 0, -1, and why under 'condition'."
)


@dataclass(frozen=True, slots=True)
class Door:
    """What the sheet asks of goods as they come: `has_cold` where any of them carries a hazard."""

    has_cold: bool
    is_american: bool

    @property
    def columns(self) -> tuple[str, ...]:
        """Heads of its columns, degrees as the house measures them."""
        return (
            (f"temp {degree_unit(self.is_american)}", "condition, tag") if self.has_cold else ("condition",)
        )

    @property
    def widths(self) -> tuple[float, ...]:
        """Widths of its columns."""
        return DOOR_WIDTHS[-len(self.columns) :]

    def boxes(self, is_asked: bool) -> Row:
        """Boxes for a line; for a temperature only where the goods carry a hazard."""
        box = Cell(None, "text wrap box", is_open=True)
        cold = box if is_asked else Cell(None, "line", is_open=True)
        return (cold, box) if self.has_cold else (box,)


def delivery_sheet(house: House, due: Sequence[Expected], on: date, number: str) -> Workbook:
    """What is still to come by `on`, a line each under its vendor; only filled lines are booked.

    Parameters
    ----------
    due : orders not settled, of that day or overdue
    """
    door = Door(any(_has_hazard(house, one.item) for one in due), house.is_american)
    columns = (*COLUMNS, *door.columns)
    top: list[Row] = [
        (Cell(f"Delivery, {long_day(on)}", "title"),),
        number_row(number),
        (Cell("delivered on", "quiet"), Cell(on, "date box", is_open=True)),
        (Cell("all as ordered", "quiet"), Cell(None, "text box", is_open=True)),
        (Cell(f"{house.name}. {HOW}", "quiet wrap", span=len(columns)),),
        *door_rows(house, sorted({one.item for one in due}), len(columns)),
        (),
    ]
    head = len(top)
    rows, parts = list[Row](), list[int]()
    for part in _parts(house, due, on, door):
        parts.append(head + 1 + len(rows))
        rows += part
    first, last = head + 1, head + len(rows)
    sheet = Sheet(
        title="Delivery",
        rows=(*top, heads(columns, ("packs", "quantity", "price")), *rows),
        widths=(*WIDTHS, *door.widths),
        repeat=(head, head),
        freeze=head + 1,
        is_landscape=True,
        is_protected=True,
        footer=f"{house.name}: delivery of {on.isoformat()}, {number}",
        tables=(Table("delivery", head, last, 0, len(columns) - 1),),
        parts=tuple(parts),
        has_whole_parts=True,
        row_height=WRITING_POINTS,
        entries=(
            Entry("date", 1, DAY_ROW, DAY_ROW, "Write the day of the delivery."),
            Entry("number", QUANTITY, first, last, "Write a number, in the unit beside it."),
            Entry("number", PRICE, first, last, "Write an amount, without a sign."),
            Entry("date", USE_BY, first, last, "Write a date."),
        ),
    )
    return workbook(house, f"Delivery of {on.isoformat()}", on, sheet)


def _has_hazard(house: House, item: str) -> bool:
    return item in house.ingredients and bool(house.ingredients[item].hazards)


def _parts(house: House, due: Sequence[Expected], on: date, door: Door) -> Iterator[list[Row]]:
    """Each vendor with what it owes, an empty line for what else it brought; then any other vendor.

    A code stands once, whatever orders it is on: what came of it is shared among them when it is booked in.
    """
    ranked = sorted(due, key=lambda e: (e.key.vendor, e.key.deliver_on, e.key.number, e.item, e.key.code))
    for _, group in groupby(ranked, key=lambda e: e.key.vendor):
        lines = list(group)
        codes: dict[str, Expected] = {}
        for one in lines:
            other = codes.get(one.key.code)
            codes[one.key.code] = one if other is None else _added(other, one)
        rows = [_line(house, one, door) for one in codes.values()]
        yield [_vendor_row(house, lines, on, door), *rows, _empty_row(door)]
    box = Cell(None, "text box", is_open=True)
    label = Cell("from anybody else: write the name of the vendor in the box", "quiet")
    yield [(Cell("vendor", "quiet"), box, label), *(_empty_row(door) for _ in range(N_EMPTY_LINES))]


def _added(one: Expected, other: Expected) -> Expected:
    return replace(one, packs=one.packs + other.packs, quantity=one.quantity + other.quantity)


def _vendor_row(house: House, lines: Sequence[Expected], on: date, door: Door) -> Row:
    """The vendor, the numbers of its orders, the day one was due if that is another, whom to ring."""
    vendor = house.vendors.get(lines[0].key.vendor)
    names = Counter(other.name.casefold() for other in house.vendors.values())
    is_sure = vendor is not None and names[vendor.name.casefold()] == 1
    orders = dict.fromkeys((one.key.number, one.key.deliver_on) for one in lines)
    numbers = [f"{number} due {format_day(day)}" if day != on else number for number, day in orders if number]
    said = [
        f"{'order' if len(numbers) == 1 else 'orders'} {listed(numbers)}" if numbers else "",
        f"tel. {vendor.phone}" if vendor is not None and vendor.phone else "",
    ]
    rest = len(COLUMNS) + len(door.columns) - 3
    return (
        Cell("vendor", "quiet rule"),
        Cell(vendor.name if vendor is not None and is_sure else lines[0].key.vendor, "strong wrap rule"),
        Cell("; ".join(part for part in said if part), "strong rule"),
        *(Cell(None, "rule") for _ in range(rest)),
    )


def _line(house: House, one: Expected, door: Door) -> Row:
    offer = offer_of(house, one.item, one.key.vendor, one.key.code)
    ordered = packs_said(round(one.packs), offer.pack) if offer else shown(one.quantity, one.unit)
    price = one.price if offer is None else quoted_of(offer, one.price or price_at(offer, one.packs))
    box = Cell(None, "number large box", is_open=True)
    return (
        Cell(one.key.code, "text small wrap line"),
        Cell(house.name_of(one.item), "strong wrap line"),
        Cell(ordered, "small wrap line"),
        *(box, box),
        Cell(one.unit, "text box", is_open=True),
        Cell(price, "money box", is_open=True),
        Cell(per(offer).removeprefix("per ").removeprefix("a "), "small line"),
        Cell(None, "date small box", is_open=True),
        Cell(None, "text box", is_open=True),
        *door.boxes(_has_hazard(house, one.item)),
    )


def _empty_row(door: Door) -> Row:
    """Room for what nobody ordered."""
    box = Cell(None, "text box", is_open=True)
    number = Cell(None, "number large box", is_open=True)
    return (
        *(box, Cell("anything else", "quiet line"), Cell(None, "line"), number, number, box),
        Cell(None, "money box", is_open=True),
        Cell(None, "line"),
        Cell(None, "date small box", is_open=True),
        box,
        *door.boxes(is_asked=True),
    )


SUPPLY_COLUMNS = ("day", "what", "pack", "ordered", "likely in all", "packed")
SUPPLY_WIDTHS = (20.0, 34.0, 16.0, 11.0, 14.0, 11.0)


def supply_files(house: House, plan: Plan, demands: Sequence[HouseDemand]) -> dict[str, Document]:
    """`deliveries/HOUSE.xlsx` for each house that takes something; nothing where none does."""
    houses = sorted({demand.house for demand in demands})
    return {
        f"deliveries/{one}.xlsx": _supply(house, plan, [d for d in demands if d.house == one])
        for one in houses
    }


def _supply(house: House, plan: Plan, demands: Sequence[HouseDemand]) -> Workbook:
    name = demands[0].name
    top: list[Row] = [
        (Cell(f"For {name}", "title"),),
        (Cell(f"{house.name}, run of {long_day(plan.on)}. Ordered: placed or ordered today.", "quiet"),),
        (),
    ]
    rows = [*_supply_rows(house, plan, demands)] or [(Cell("Nothing in the coming days", "quiet"),)]
    head = len(top)
    sheet = Sheet(
        title="Deliveries",
        rows=(*top, heads(SUPPLY_COLUMNS, ("ordered", "likely in all", "packed")), *rows),
        widths=SUPPLY_WIDTHS,
        repeat=(head, head),
        freeze=head + 1,
        footer=f"{house.name}: for {name}",
        tables=(Table("deliveries", head, head + len(rows), 0, len(SUPPLY_COLUMNS) - 1),),
    )
    return workbook(house, f"Deliveries to {name}", plan.on, sheet)


def _supply_rows(house: House, plan: Plan, demands: Sequence[HouseDemand]) -> Iterator[Row]:
    """What goes out on each day to the next run and a week beyond it, the days in order."""
    last = (plan.next_run - plan.on).days + 7
    for day, on in enumerate(plan.days[:last]):
        for demand in demands:
            if day >= len(demand.packs) or not demand.packs[day].any():
                continue
            likely = float(demand.packs[day].mean())
            yield (
                Cell(long_day(on), "line"),
                Cell(house.name_of(demand.item), "strong wrap line"),
                Cell(demand.pack, "line"),
                Cell(plural(int(demand.placed[day]), "pack") if demand.placed[day] else None, "right line"),
                Cell(round(likely), "whole line"),
                Cell(None, "box"),
            )
