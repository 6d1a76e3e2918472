"""What is in the house on the morning of a day: counts rolled forward by what the books say since."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import replace
from datetime import date, timedelta

from ordering.amounts import EPS
from ordering.days import format_day, service_said
from ordering.explode.graph import recipe_graph
from ordering.net import rolling
from ordering.net.counted_marks import with_marks
from ordering.net.rolling import Roll
from ordering.net.shelf_life import is_marked, use_by
from ordering.records.books import Begun, Books, CountedLot, Lot, OpenOrder, Receipt
from ordering.records.house import House
from ordering.records.plan import Opening
from ordering.texts import told_apart

DOUBTFUL_AFTER_DAYS = 1  # an open order more than a day past its day is not counted on
NAMES_SAID = 12


def opening(house: House, books: Books, on: date) -> Opening:
    """Stock on the morning of `on`, lots in process and open orders included.

    Each item's latest count, all its rows of that day, taken in the morning before deliveries and
    service; then receipts and batches in; theoretical use of what was sold, consumables of the services
    held and waste out, up to the evening before `on`; what came through the door on `on` itself is in.
    Nothing dated later is looked at. What is sold is drawn from a stocked item first; what no count and
    no batch of the books explains was made from its parts, its `takes` days before, and where batches are
    written down at other times, that is said. A batch that is under way has drawn the lines whose days are
    past, whether it was written down or counted in process. An item never counted is unknown: it begins
    with nothing on the day of its first receipt or batch in the books, and is said as doubtful if anything
    asks for it.
    """
    roll = Roll(house, recipe_graph(house), on, latest_counts(with_marks(house, books, on), on))
    came, went_back = less_returns(_not_counted(roll, books.receipts))
    for receipt in came:
        if receipt.quantity > 0:
            day, until = receipt.delivered_on, receipt.use_by
            roll.incoming[receipt.item].append(
                rolling.lot_in(house, receipt.item, receipt.quantity, day, until)
            )
    making = [b for b in books.batches if b.recipe in house.recipes and b.started_on < on]
    making.sort(key=lambda b: (b.started_on, b.recipe, b.made))
    written = [rolling.batch_in(roll, batch) for batch in making]
    counted = rolling.counted_in(roll)
    rolling.set_since(roll)
    for begun in written:
        rolling.draw_begun(roll, begun)
    for begun, counted_on in counted:
        rolling.draw_begun(roll, begun, counted_on)
    today = {r.item: 0.0 for r in went_back}
    for receipt in went_back:
        roll.add_draw(receipt.item, receipt.delivered_on, -receipt.quantity)
        today[receipt.item] -= receipt.quantity if receipt.delivered_on == on else 0.0
    for waste in books.waste:
        roll.add_draw(waste.item, waste.date, waste.quantity)
    rolling.draw_sold(roll, books.sales)
    rolling.draw_consumed(roll, books)
    lots = [
        lot
        for item in roll.graph.items
        for lot in rolling.less(roll, item, rolling.rolled_lots(roll, item), on, today.get(item, 0.0))[0]
    ]
    lots = [rolling.dated_by_parts(roll, lot) for lot in lots]
    scheduled, late = open_orders(house, books, on)
    unknown = _unknown(roll)
    past = [lot for lot in lots if lot.use_by is not None and lot.use_by < on]
    good = [
        replace(lot, ready_on=lot.ready_on if lot.ready_on and lot.ready_on > on else None)
        for lot in lots
        if lot.use_by is None or lot.use_by >= on
    ]
    return Opening(
        lots=tuple(sorted(good, key=rolling.lot_rank)),
        scheduled=scheduled,
        begun=_under_way(roll),
        unknown=unknown,
        doubts=(*_doubts(roll, unknown, past), *late),
        doubtful=frozenset((*roll.beyond, *roll.forgotten)),
        oldest=_oldest_drawn(roll),
        past=tuple(sorted(past, key=rolling.lot_rank)),
    )


def _not_counted(roll: Roll, receipts: Iterable[Receipt]) -> Iterator[Receipt]:
    """What came or went back up to the day of the run and is in no count, taken in the morning, yet."""
    for one in receipts:
        counted = roll.counts.get(one.item)
        if one.delivered_on <= roll.on and (counted is None or one.delivered_on >= counted[0].counted_on):
            yield one


def less_returns(receipts: Iterable[Receipt]) -> tuple[list[Receipt], list[Receipt]]:
    """What came less what went back of it, and what went back of goods that none of these brought.

    Goods go back from the latest deliveries of that code, up to the day they went.
    """
    every = sorted(receipts, key=lambda r: r.delivered_on)
    came = [r for r in every if r.quantity >= 0]
    by_code: dict[tuple[str, str, str], list[int]] = defaultdict(list)
    for n, one in enumerate(came):
        by_code[one.vendor, one.code, one.item].append(n)
    rest = []
    for back in (r for r in every if r.quantity < 0):
        left = -back.quantity
        for n in reversed(by_code[back.vendor, back.code, back.item]):
            one = came[n]
            if one.delivered_on <= back.delivered_on and left > EPS:
                taken = min(left, one.quantity)
                came[n] = replace(one, quantity=one.quantity - taken)
                left -= taken
        if left > EPS:
            rest.append(replace(back, quantity=-left))
    return came, rest


def latest_counts(counts: Iterable[CountedLot], on: date) -> dict[str, tuple[CountedLot, ...]]:
    """By item, every row of its latest count on or before a day."""
    latest: dict[str, list[CountedLot]] = {}
    for row in counts:
        if row.counted_on > on:
            continue
        kept = latest.get(row.item)
        if kept is None or row.counted_on > kept[0].counted_on:
            latest[row.item] = [row]
        elif row.counted_on == kept[0].counted_on:
            kept.append(row)
    return {i: tuple(rows) for i, rows in latest.items()}


def open_orders(house: House, books: Books, on: date) -> tuple[tuple[OpenOrder, ...], tuple[str, ...]]:
    """Orders placed and not received, and what is said of those too late to count on.

    `books.open_orders` are those still to come: what was received is already taken off them, by the one
    rule that knows shorts, late rests and substitutes (`ordering.ledger.order_matching`).
    """
    scheduled: list[OpenOrder] = []
    late: dict[tuple[date, str], list[str]] = defaultdict(list)
    for order in sorted(books.open_orders, key=lambda o: (o.deliver_on, o.vendor, o.code, o.packs)):
        if (on - order.deliver_on).days > DOUBTFUL_AFTER_DAYS:
            late[order.deliver_on, order.vendor].append(house.name_of(order.item))
        elif order.quantity > 0:
            scheduled.append(replace(order, use_by=use_by(house, order.item, max(order.deliver_on, on))))
    doubts = []
    for (due_on, vendor), names in late.items():
        seller = house.vendors[vendor].name if vendor in house.vendors else vendor
        doubts.append(
            f"Ordered from {seller} for {format_day(due_on)}, not booked in: left out of stock (did it "
            f"come?): {told_apart(names)}"
        )
    return tuple(scheduled), tuple(doubts)


def _under_way(roll: Roll) -> tuple[Begun, ...]:
    """Batches that are not ready before the day of the run."""
    takes = {r.id: timedelta(days=r.takes_days) for r in roll.house.recipes.values()}
    found = [b for b in roll.begun if b.started_on + takes[b.recipe] >= roll.on]
    return tuple(sorted(found, key=lambda b: (b.recipe, b.started_on, b.batches)))


def _oldest_drawn(roll: Roll) -> dict[tuple[str, date], date]:
    """Last days of what batches under way drew of what comes back of them with its date mark."""
    found: dict[tuple[str, date], date] = {}
    for begun in _under_way(roll):
        for line in roll.house.recipes[begun.recipe].lines:
            day = begun.started_on + timedelta(days=line.at_days)
            if line.returns and is_marked(roll.house, line.item) and day < roll.on:
                found[line.item, day] = rolling.oldest_on(roll, line.item, day)
    return found


def _unknown(roll: Roll) -> frozenset[str]:
    """Items never counted that a dish, a consumable or a par asks for; not what is made to order."""
    goods, made = roll.house.ingredients, roll.house.recipes
    asked = {d.recipe for d in roll.house.dishes.values()} | {c.item for c in roll.house.consumables}
    asked |= {i for i in roll.graph.items if (goods.get(i) or made[i]).par}
    for item in roll.graph.items:
        if item in asked and item in made:
            asked.update(line.item for line in made[item].lines)
    stocked = {i for i in asked if i in goods or made[i].takes_days or made[i].par}
    return frozenset(stocked - set(roll.counts))


def _doubts(roll: Roll, unknown: frozenset[str], past: list[Lot]) -> tuple[str, ...]:
    """What a chef should look at: one line a kind."""
    doubts: list[str] = []
    if unknown:
        doubts.append(f"Never counted, so taken as none: {_named(roll.house, unknown)}")
    if roll.beyond:
        doubts.append(
            "Sales used more than you had (recount, or log the missing batch or delivery): "
            f"{_named(roll.house, roll.beyond)}"
        )
    if roll.forgotten:
        doubts.append(
            "Sales used more than the batches logged, so the rest is taken as made from its parts (log every "
            f"batch, or recount): {_named(roll.house, roll.forgotten)}"
        )
    if roll.unwritten:
        doubts.append(_unwritten(roll))
    if past:
        doubts.append(
            "Past its use-by: left out of stock (log it as waste if thrown away): "
            f"{_named(roll.house, {x.item for x in past})}"
        )
    return tuple(doubts)


def _unwritten(roll: Roll) -> str:
    """Services of which the books have nothing yet, and what that means for consumables."""
    services = [service_said(s) for s in dict.fromkeys(one.service for one in roll.unwritten)]
    first, last = roll.unwritten[0].day, roll.unwritten[-1].day
    when = f"on {format_day(first)}" if first == last else f"from {format_day(first)} to {format_day(last)}"
    by_cover = [c.item for c in roll.house.consumables if c.per == "cover"]
    without = f"; nothing is taken off for what goes by the cover: {_named(roll.house, by_cover)}"
    return (
        f"No covers and no sales logged yet for {told_apart(services)} {when}, so consumables are counted "
        f"as if every service on the calendar had run{without if by_cover else ''}"
    )


def _named(house: House, items: Iterable[str]) -> str:
    names = sorted(house.name_of(i) for i in items)
    rest = len(names) - NAMES_SAID
    return told_apart(names[:NAMES_SAID]) + (f" and {rest} more" if rest > 0 else "")
