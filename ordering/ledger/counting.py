"""A filled count held against what there should be: slips, and variance in quantity and money. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import date
from decimal import Decimal

from ordering.amounts import EPS, FEW, is_piece, shown, with_unit
from ordering.days import format_day
from ordering.faults import Fault
from ordering.ledger.doubting import CONFIRM, KEEPS_LONGER, OLD_DAYS, TIMES_OFF, FileLines, Said
from ordering.records.books import Books, CountedLot, Receipt
from ordering.records.house import House
from ordering.records.ledger import Variance
from ordering.records.money import cents
from ordering.texts import listed
from ordering.units import format_number as number

TIMES_TOO_MUCH = 10.0
KILO = 1000.0
TIMES_THE_USE, TIMES_WHERE_IT_KEEPS = 50.0, 250.0
MOST_NAMED = 6


def totals(lots: Iterable[CountedLot]) -> dict[tuple[date, str], float]:
    """Counted quantity by day and item, all lots together."""
    sums: dict[tuple[date, str], float] = {}
    for lot in lots:
        sums[lot.counted_on, lot.item] = sums.get((lot.counted_on, lot.item), 0.0) + lot.quantity
    return sums


def usual(house: House, books: Books, before: date) -> dict[str, float]:
    """The most of each item that a count before that day found, or its par where that is more."""
    most: dict[str, float] = {}
    for (day, item), quantity in totals(books.counts).items():
        if day < before:
            most[item] = max(most.get(item, 0.0), quantity)
    pars = {i.id: i.par for i in house.ingredients.values()} | {r.id: r.par for r in house.recipes.values()}
    for item, par in pars.items():
        if par:
            most[item] = max(most.get(item, 0.0), par)
    return most


def impossible(lots: Sequence[CountedLot], where: FileLines, on: date) -> list[Fault]:
    """Entries that cannot be: counts of a day to come."""
    right = f"write the day of the count, {on.isoformat()} or before"
    return [
        where.fault(lot, lot.item, (f"counted on {day}, which is still to come", right, "future"))
        for lot in lots
        for day in (lot.counted_on.isoformat(),)
        if lot.counted_on > on
    ]


def implausible(
    house: House,
    lots: Sequence[CountedLot],
    expected: Mapping[str, float],
    most: Mapping[str, float],
    used: Mapping[str, float],
    where: FileLines,
) -> list[Fault]:
    """Entries to ask about before they are booked: five times what there should be or a fifth of it.

    Where nothing should be there, ten times the most there ever was, and far more than four weeks draw; odd
    dates. `expected` is what the books say there is, `most` the most there ever was, `used` what four weeks
    draw, all by item. An item of which none is known cannot be judged. A difference of less than a pack, or
    a batch, is never asked about. The limits are common practice, no source.
    """
    first = {lot.item: lot for lot in reversed(lots)}
    faults = []
    for (_, item), quantity in totals(lots).items():
        due, there = expected.get(item, 0.0), most.get(item, 0.0)
        asked = _asked((house.unit_of(item), _piece(house, item)), quantity, due, there)
        if not (due or there):
            asked = _over_use(house, item, quantity, used.get(item, 0.0))
        faults += [where.fault(first[item], item, asked)] if asked else []
    for lot in lots:
        faults += [where.fault(lot, lot.item, said) for said in _odd_dates(house, lot)]
    return sorted(set(faults))


def counted_with_what_came(
    lots: Sequence[CountedLot], expected: Mapping[str, float], receipts: Iterable[Receipt]
) -> dict[str, float]:
    """By item, what came on the day of a count and looks to be in it, nearer to what there is with it.

    `lots` are of one day. A count is of the morning: what came that day is added, and would be there twice.
    """
    (day,) = {lot.counted_on for lot in lots}
    came: dict[str, float] = {}
    for r in receipts:
        if r.delivered_on == day and r.item in expected:
            came[r.item] = came.get(r.item, 0.0) + r.quantity
    counted = {item: quantity for (_, item), quantity in totals(lots).items()}
    return {
        item: much
        for item, much in came.items()
        if much > 0 and item in counted and counted[item] > expected[item] + much / 2
    }


def with_delivery_told(
    house: House, doubled: Mapping[str, float], lots: Sequence[CountedLot], where: FileLines
) -> list[Fault]:
    """A question about goods that were counted with what came that day, all of them in one."""
    if not doubled:
        return []
    first = next(lot for lot in lots if lot.item in doubled)
    wrong = (
        f"counted with what came that day, which is added to a morning's count: {came_named(house, doubled)}"
    )
    right = (
        "take off what came, or write the next day in the box at the head if it was counted after service; "
        "if it was counted before, book it in with --yes"
    )
    return [where.fault(first, format_day(first.counted_on), (wrong, right, "counted-with-delivery"))]


def came_named(house: House, came: Mapping[str, float]) -> str:
    """`Bread flour (75 kg came) and Yeast (500 g came)`."""
    named = [f"{house.name_of(i)} ({_about(much, house.unit_of(i))} came)" for i, much in came.items()]
    return listed(named, MOST_NAMED)


def _piece(house: House, item: str) -> float:
    """The least of an item that is bought or made at a time: a difference below it is none."""
    if item in house.recipes:
        return house.recipes[item].makes
    return min((offer.pack_quantity for offer in house.ingredients[item].offers), default=0.0)


def _asked(measured: tuple[str, float], quantity: float, due: float, most: float) -> Said | None:
    unit, piece = measured
    counted = f"{_about(quantity, unit)} counted"
    right = f"check number and unit; {CONFIRM}"
    is_off = quantity >= TIMES_OFF * due or quantity * TIMES_OFF <= due
    if 0 < quantity <= due / 100:
        counted = f"{with_unit(number(quantity), unit, quantity)} counted"
        return f"{counted}, there should be {_about(due, unit)}", right, "hundredth"
    if due > 0:
        if not is_off or abs(quantity - due) < piece:
            return None
        meant = (
            f" (is {with_unit(number(quantity / KILO), unit)} meant?)"
            if quantity >= 100 * max(due, most)
            else ""
        )
        return (
            f"{counted}, there should be {_about(due, unit)}{meant}",
            right,
            "far-from-expected",
        )
    if 0 < TIMES_TOO_MUCH * most <= quantity:
        meant = f" (is {with_unit(number(quantity / KILO), unit)} meant?)" if quantity >= 100 * most else ""
        return (
            f"{counted}, the most there was is {_about(most, unit)}{meant}",
            right,
            "ten-times",
        )
    return None


def _over_use(house: House, item: str, quantity: float, used: float, par: float = 0.0) -> Said | None:
    """A year's lot of what keeps for ever may be counted at once, and some of it is next to free."""
    known, unit = max(used, par), house.unit_of(item)
    most = known * (TIMES_WHERE_IT_KEEPS if house.keeps_days(item) is None else TIMES_THE_USE)
    if quantity <= most or not known:
        return None
    how = f"about {known:.3g} {unit} are used in four weeks" if used >= par else f"the par is {par:g} {unit}"
    right = f"check number and unit; {CONFIRM}"
    return f"{with_unit(number(quantity), unit, quantity)} counted, {how}", right, "over-use"


def first_counts_over_use(house: House, books: Books, used: Mapping[str, float], on: date) -> list[Fault]:
    """Doubts about first counts that stand in the books: far more than four weeks draw or the par keeps.

    `used` by item. Of an item that was counted on an earlier day the count before tells more.
    """
    found: dict[str, list[float]] = {}
    for (day, item), quantity in totals(books.counts).items():
        if day <= on:
            found.setdefault(item, []).append(quantity)
    place = books.files.get("counts", "counts")
    faults = []
    for item, counts in found.items():
        thing = house.recipes.get(item) or house.ingredients[item]
        asked = _over_use(house, item, counts[0], used.get(item, 0.0), thing.par or 0.0)
        if asked and len(counts) == 1:
            faults.append(Fault(place, 0, item, asked[0], "check number and unit", asked[2]))
    return faults


def _odd_dates(house: House, lot: CountedLot) -> Iterator[Said]:
    right = f"check the date; {CONFIRM}"
    if lot.use_by is not None and lot.use_by < lot.counted_on:
        yield f"use by {lot.use_by.isoformat()} had passed when it was counted", right, "use-by-passed"
    keeps = house.keeps_days(lot.item)
    begins = max(lot.counted_on, lot.ready_on or lot.counted_on)
    if keeps and lot.use_by is not None and (lot.use_by - begins).days > KEEPS_LONGER * keeps:
        yield f"use by {lot.use_by.isoformat()}, but it keeps {keeps} days", right, "use-by-far"


def old_counts(lots: Iterable[CountedLot], on: date) -> tuple[str, ...]:
    """A word about counts that are more than a month old."""
    days = sorted({lot.counted_on for lot in lots if (on - lot.counted_on).days > OLD_DAYS})
    return tuple(f"check: this count is of {day.isoformat()}, {(on - day).days} days ago" for day in days)


def variances(
    house: House,
    lots: Iterable[CountedLot],
    expected: Mapping[date, Mapping[str, float]],
    costs: Mapping[str, float],
) -> tuple[Variance, ...]:
    """Count against theory by item, the costliest difference first; items never counted before left out.

    `expected` by day of count and item, `costs` is money per unit by item.
    """
    found = []
    for (day, item), counted in totals(lots).items():
        due = expected.get(day, {}).get(item)
        if due is None:
            continue
        cost = costs.get(item, 0.0)
        money = cents((counted - due) * cost) if cost else None
        found.append(Variance(item, day, counted, due, house.unit_of(item), money))
    return tuple(sorted(found, key=lambda v: (-abs(v.money or Decimal(0)), v.counted_on, v.item)))


def variance_told(house: House, found: Sequence[Variance], n_most: int = 10) -> tuple[str, ...]:
    """The variance in words: what it comes to, then the items that cost most."""
    if not found:
        return ("first count of these items: nothing to compare it with",)
    net = sum((v.money or Decimal(0) for v in found), Decimal(0))
    less = -sum((v.money for v in found if v.money is not None and v.money < 0), Decimal(0))
    currency = f" {house.currency}" if house.currency else ""
    total = f"{cents(net):+}{currency} over all, {cents(less)}{currency} of it missing"
    lines = [f"against what there should be: {total}"]
    off = [v for v in found if _about(v.counted, v.unit) != _about(v.expected, v.unit)]
    for v in off[:n_most]:
        money = "no price" if v.money is None else f"{v.money:+}{currency}"
        due_exactly = _in_whole(v.expected) if is_piece(v.unit) else v.expected
        less_or_more = abs(v.counted - due_exactly)  # of what is printed, so that it can be taken off by hand
        counted, due, off_by = (_about(q, v.unit) for q in (v.counted, due_exactly, less_or_more))
        lines.append(
            f"  {house.name_of(v.item)}: {counted} counted, {due} expected "
            f"({'-' if v.quantity < 0 else '+'}{off_by}, {money})"
        )
    if len(off) > n_most:
        lines.append(f"  and {len(off) - n_most} more")
    return tuple(lines)


def _in_whole(pieces: float) -> float:
    """Pieces as they can be counted: from four on whole ones, below to a quarter."""
    return float(round(pieces)) if pieces >= FEW else round(4 * pieces) / 4


def _about(quantity: float, unit: str) -> str:
    """A quantity as a count sheet has it: pieces as a cook says them, all else to a hundredth."""
    return shown(quantity, unit) if is_piece(unit) else with_unit(number(round(quantity, 2)), unit, quantity)


def recount_told(house: House, old: Iterable[CountedLot], new: Iterable[CountedLot]) -> tuple[str, ...]:
    """What a count changes of an earlier count of the same day and item."""
    before, after = totals(old), totals(new)
    return tuple(
        f"corrected: {house.name_of(item)} on {format_day(day)}: was {number(before[day, item])}, "
        f"now {with_unit(number(after[day, item]), house.unit_of(item), after[day, item])}"
        for day, item in sorted(before.keys() & after.keys())
        if abs(before[day, item] - after[day, item]) > EPS
    )
