"""A review put together from the books, the ledger and what was worked out beside them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from decimal import Decimal

import pandas as pd

from ordering.records.books import Allowance, Books, OpenOrder, Receipt
from ordering.records.house import House
from ordering.records.ledger import Expected, Placed, Variance
from ordering.records.money import cents, receipt_money
from ordering.records.review_results import Dearer, FoodCost, Overview, Pair, RanOut, Review, Thrown
from ordering.records.services_held import consumed, services_held
from ordering.review.advice import Findings, shorts, worth_doing, worth_watching
from ordering.review.item_use import ingredient_use, item_uses
from ordering.review.leads import dish_leads
from ordering.review.overview import compared, hits, money_lost, price_creep
from ordering.review.scores import COVERS, Key, actuals, cover_scores, dish_scores, hosted, pairs
from ordering.review.spending import (
    DayMoney,
    dearer,
    delivery_fees,
    ran_out,
    sold_by_dish,
    thrown,
    weeks,
    within,
)
from ordering.review.yields import learnt_yields

FRESHEST = (0, 10_000)


@dataclass(frozen=True, slots=True)
class Known:
    """What a review is drawn from.

    `issued` are forecasts as issued for the stretch; `placed` every order placed; `expected` every order with
    what came of it; `variances` of the counts in the stretch; `costs` money per unit by item,
    `portions` money per portion by dish; `stock` the value of what was there at the start and at the
    end, None where too little was counted; `open_orders` those that stand in the books and no run placed;
    `allowances` what vendors credited with no goods.
    """

    issued: pd.DataFrame
    placed: Sequence[Placed] = ()
    expected: Sequence[Expected] = ()
    variances: Sequence[Variance] = ()
    costs: Mapping[str, float] = field(default_factory=dict)
    portions: Mapping[str, float] = field(default_factory=dict)
    stock: tuple[Decimal | None, Decimal | None] = (None, None)
    open_orders: Sequence[OpenOrder] = ()
    allowances: Sequence[Allowance] = ()


def compose(house: House, books: Books, known: Known, span: tuple[date, date], made_on: date) -> Review:
    """The review of `span` (both days included); the same for the same arguments."""
    first_on, last_on = span
    came, out = actuals(house, books.sales, books.covers)
    sales = within(books.sales, first_on, last_on)
    receipts = [r for r in books.receipts if first_on <= r.delivered_on <= last_on]
    placed = [p for p in known.placed if first_on <= p.deliver_on <= last_on]
    waste = [w for w in books.waste if first_on <= w.date <= last_on]
    out_now = {key for key in out if first_on <= key[0] <= last_on}
    parties = hosted(house)
    freshest = pairs(known.issued, came, FRESHEST, parties=parties)
    wanted: dict[Key, float] = {(p.served_on, p.service, p.dish): p.mean for p in freshest}
    services = [s for s in house.services if s in set(known.issued["service"])]
    cover_scored = cover_scores(known.issued, came, services, parties)
    missing = ran_out(house, out_now, came, wanted, known.portions)
    thrown_away = thrown(house, waste, known.costs)
    by_day = _by_day(books.sales, known.portions)
    sold_for = _by_day(books.sales, {d.id: float(d.price) for d in house.dishes.values() if d.price})
    open_orders = [o for o in known.open_orders if first_on <= o.deliver_on <= last_on]
    credited = [a for a in known.allowances if first_on <= a.credited_on <= last_on]
    fees = delivery_fees(house, placed, receipts)
    day_money = DayMoney(by_day, sold_for, fees)
    by_week = weeks(house, span, (*placed, *open_orders), receipts, credited, day_money)
    beside = _beside_dishes(house, books, span)
    used = ingredient_use(house, sold_by_dish(sales), beside)
    items = item_uses(house, used, (*placed, *open_orders), receipts, waste, known.variances)
    charged = dearer(house, receipts, credited)
    learnt = learnt_yields(house, books.batches, known.costs, span)
    past = (sales, receipts, credited, fees)
    cost = _food_cost(house, known, past, _within(by_day, span), thrown_away)
    cover_pairs = tuple(p for p in freshest if p.dish == COVERS)
    consumables = _of_consumables(known, beside)
    margins = {day: sold_for.get(day, Decimal(0)) - by_day.get(day, Decimal(0)) for day in sold_for}
    findings = Findings(
        ran_out=missing,
        thrown=thrown_away,
        items=items,
        dearer=charged,
        yields=learnt,
    )
    return Review(
        first_on=first_on,
        last_on=last_on,
        made_on=made_on,
        covers=cover_scored,
        dishes=dish_scores(known.issued, came, out, dish_leads(house), parties),
        pairs=cover_pairs,
        ran_out=missing,
        thrown=thrown_away,
        weeks=by_week,
        cost=cost,
        overview=_overview(house, books, margins, span, (cover_pairs, cost, consumables, missing, charged)),
        items=items,
        dearer=charged,
        yields=learnt,
        advice=worth_doing(house, findings),
        notes=(
            *worth_watching(house, cover_scored, shorts(known.expected, first_on, last_on)),
            *_notes(books, known, span, cost),
        ),
    )


def _overview(
    house: House,
    books: Books,
    margins: Mapping[date, Decimal],
    span: tuple[date, date],
    found: tuple[Sequence[Pair], FoodCost, Decimal, Sequence[RanOut], Sequence[Dearer]],
) -> Overview:
    """What an owner reads first; `found` are pairs of covers, cost, consumables, dishes 86'd, prices."""
    cover_pairs, cost, consumables, missing, charged = found
    return Overview(
        compared=compared(books.covers, margins, (span[0], _written_until(house, books.covers, span))),
        hits=hits(cover_pairs),
        lost=money_lost(cost, consumables, missing, charged),
        consumables=consumables,
        creep=price_creep(house, books.receipts, span[1]),
    )


def _written_until(house: House, covers: pd.DataFrame, span: tuple[date, date]) -> date:
    """The last day that the books can be held to: their own last where a service after it is not written."""
    held = within(covers, *span)
    last = span[0] if held.empty else held["date"].max().date()
    after = (last + timedelta(days=n) for n in range(1, (span[1] - last).days + 1))
    is_behind = any(house.is_open(day, service) for day in after for service in house.services)
    return last if is_behind and not held.empty else span[1]


def _food_cost(
    house: House,
    known: Known,
    past: tuple[pd.DataFrame, Sequence[Receipt], Sequence[Allowance], Mapping[date, Decimal]],
    theoretical: Decimal,
    thrown_away: Sequence[Thrown],
) -> FoodCost:
    """Money of the whole stretch; `past` is what was sold, delivered and credited, and the fees."""
    sales, receipts, allowances, fees = past
    credited = sum((a.money for a in allowances), Decimal(0))
    return FoodCost(
        revenue=_revenue(house, sales),
        theoretical=cents(theoretical),
        bought=cents(sum((receipt_money(house, r) for r in receipts), -credited)),
        credited=cents(credited),
        fees=cents(sum(fees.values(), Decimal(0))),
        wasted=cents(sum((t.money for t in thrown_away), Decimal(0))),
        stock_first=known.stock[0],
        stock_last=known.stock[1],
    )


def _by_day(sales: pd.DataFrame, each: Mapping[str, float]) -> dict[date, Decimal]:
    """Money in what was sold, so much for each portion of a dish, by day, not yet rounded."""
    money = sales["sold"] * sales["dish"].map(dict(each)).astype("float64").fillna(0.0)
    by_day = money.groupby(sales["date"]).sum()
    return {pd.Timestamp(str(day)).date(): Decimal(repr(float(m))) for day, m in by_day.items()}


def _beside_dishes(house: House, books: Books, span: tuple[date, date]) -> dict[str, float]:
    """What consumables the services that the books know of used up in the stretch, by item, in its unit."""
    first_on, last_on = span
    held = services_held(house, books, first_on, last_on + timedelta(days=1))
    past = [one for one in held if one.covers is not None]
    return {item: sum(days.values()) for item, days in consumed(house, past).items()}


def _within(by_day: Mapping[date, Decimal], span: tuple[date, date]) -> Decimal:
    return sum((m for day, m in by_day.items() if span[0] <= day <= span[1]), Decimal(0))


def _of_consumables(known: Known, beside: Mapping[str, float]) -> Decimal:
    """Cost of what the services held should have used up beside the dishes: bought, and in no dish's cost."""
    return cents(sum(n * known.costs.get(item, 0.0) for item, n in beside.items()))


def _revenue(house: House, sales: pd.DataFrame) -> Decimal:
    total = Decimal(0)
    for dish, sold in sold_by_dish(sales).items():
        known = house.dishes.get(dish)
        if known is not None and known.price is not None:
            total += Decimal(repr(sold)) * known.price
    return cents(total)


def _notes(books: Books, known: Known, span: tuple[date, date], cost: FoodCost) -> Iterator[str]:
    """What this review cannot know, and what was left out of it."""
    first_on, last_on = span
    if known.issued.empty:
        yield (
            "No saved forecast to compare with ('ordering order' keeps each one), and too little past to "
            "make one from."
        )
    if within(books.sales, first_on, last_on).empty:
        yield "No sales are in the books for these days."
    elif within(books.covers, first_on, last_on).empty:
        yield "No covers are in the books for these days, so the forecast of covers cannot be judged."
    if not any(first_on <= r.delivered_on <= last_on for r in books.receipts):
        yield "No delivery was booked in ('ordering receive'), so nothing is known of what was bought."
    if not known.placed:
        yield "No order was placed ('ordering place'), so orders cannot be compared with use."
    if not known.variances:
        yield "Nothing was counted twice in these days, so stock cannot be compared with the books."
    if cost.used is None and not cost.revenue:  # beside sales it is said of the food cost
        yield "Nothing was counted at the start or at the end, so what was really used is not known."
    if not any(first_on <= w.date <= last_on for w in books.waste):
        yield "No waste was logged, which rarely means that there was none."
    if books.left_out:
        named = ", ".join(
            f"{left.dish} ({left.sold:g})"
            for left in sorted(books.left_out, key=lambda s: (-s.sold, s.dish))[:8]
        )
        yield f"Sold under names that menu.yaml does not know, left out: {named}."
