"""A review put together from the books, the ledger and what was worked out beside them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from decimal import Decimal

import pandas as pd

from ordering.records.books import Books
from ordering.records.held import consumed, services_held
from ordering.records.house import House
from ordering.records.ledger import Expected, Placed, Variance
from ordering.records.money import cents
from ordering.records.review import FoodCost, Review
from ordering.review.advice import Findings, shorts, worth_doing
from ordering.review.leads import dish_leads
from ordering.review.money import (
    dearer,
    delivery_fees,
    ran_out,
    receipt_money,
    sold_by_dish,
    thrown,
    weeks,
    within,
)
from ordering.review.scores import COVERS, Key, actuals, cover_scores, dish_scores, hosted, pairs
from ordering.review.stock import ingredient_use, item_uses
from ordering.review.yields import learnt_yields

FRESHEST = (0, 10_000)


@dataclass(frozen=True, slots=True)
class Known:
    """What a review is drawn from.

    `issued` are forecasts as issued for the stretch; `placed` every order placed; `expected` every order with
    what came of it; `variances` of the counts in the stretch; `costs` money per unit by item,
    `portions` money per portion by dish; `stock` the value of what was there at the start and at the
    end, None where too little was counted.
    """

    issued: pd.DataFrame
    placed: Sequence[Placed] = ()
    expected: Sequence[Expected] = ()
    variances: Sequence[Variance] = ()
    costs: Mapping[str, float] = field(default_factory=dict)
    portions: Mapping[str, float] = field(default_factory=dict)
    stock: tuple[Decimal | None, Decimal | None] = (None, None)


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
    by_day = _theoretical(sales, known.portions)
    by_week = weeks(house, span, placed, receipts, by_day)
    beside = _beside_dishes(house, books, span)
    used = ingredient_use(house, sold_by_dish(sales), beside)
    items = item_uses(house, used, placed, receipts, waste, known.variances)
    charged = dearer(house, receipts)
    learnt = learnt_yields(house, books.batches, known.costs, span)
    cost = FoodCost(
        revenue=_revenue(house, sales),
        theoretical=cents(sum(by_day.values(), Decimal(0))),
        bought=cents(sum((receipt_money(house, r) for r in receipts), Decimal(0))),
        fees=delivery_fees(house, placed, receipts),
        wasted=cents(sum((t.money for t in thrown_away), Decimal(0))),
        stock_first=known.stock[0],
        stock_last=known.stock[1],
    )
    n_covers = sum(n for (day, _, dish), n in came.items() if dish == COVERS and first_on <= day <= last_on)
    findings = Findings(
        covers=cover_scored,
        cost_per_cover=float(cost.theoretical) / n_covers if n_covers else 0.0,
        ran_out=missing,
        thrown=thrown_away,
        items=items,
        dearer=charged,
        shorts=shorts(known.expected, first_on, last_on),
        yields=learnt,
        weeks=by_week,
    )
    return Review(
        first_on=first_on,
        last_on=last_on,
        made_on=made_on,
        covers=cover_scored,
        dishes=dish_scores(known.issued, came, out, dish_leads(house), parties),
        pairs=tuple(p for p in freshest if p.dish == COVERS),
        ran_out=missing,
        thrown=thrown_away,
        weeks=by_week,
        cost=cost,
        items=items,
        dearer=charged,
        yields=learnt,
        advice=worth_doing(house, findings),
        notes=(*_notes(books, known, span, cost), *_of_consumables(known, beside)),
    )


def _theoretical(sales: pd.DataFrame, portions: Mapping[str, float]) -> dict[date, Decimal]:
    """Ingredient money in what was sold, by day, not yet rounded."""
    money = sales["sold"] * sales["dish"].map(dict(portions)).astype("float64").fillna(0.0)
    by_day = money.groupby(sales["date"]).sum()
    return {pd.Timestamp(str(day)).date(): Decimal(repr(float(m))) for day, m in by_day.items()}


def _beside_dishes(house: House, books: Books, span: tuple[date, date]) -> dict[str, float]:
    """What consumables the services that the books know of used up in the stretch, by item, in its unit."""
    first_on, last_on = span
    held = services_held(house, books, first_on, last_on + timedelta(days=1))
    past = [one for one in held if one.covers is not None]
    return {item: sum(days.values()) for item, days in consumed(house, past).items()}


def _of_consumables(known: Known, beside: Mapping[str, float]) -> Iterator[str]:
    money = cents(Decimal(repr(sum(n * known.costs.get(item, 0.0) for item, n in beside.items()))))
    if money:
        yield (
            f"Consumables that the services held should have used up come to {money:,.2f}: no part of the "
            "theoretical cost of what was sold, though they are bought and lie in stock."
        )


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
            "No forecast was issued for these days ('ordering order' keeps each one), so there is nothing to "
            "hold what came against."
        )
    if within(books.sales, first_on, last_on).empty:
        yield "No sales are in the books for these days."
    elif within(books.covers, first_on, last_on).empty:
        yield "No covers are in the books for these days, so the forecast of covers cannot be judged."
    if not any(first_on <= r.delivered_on <= last_on for r in books.receipts):
        yield "No delivery was booked in ('ordering receive'), so nothing is known of what was bought."
    if not known.placed:
        yield "No order was placed ('ordering place'), so orders cannot be held against use."
    if not known.variances:
        yield "No second count of any item falls in these days, so stock cannot be held against theory."
    if cost.used is None:
        yield "Nothing was counted at the start or at the end, so what was used is known only in theory."
    if not any(first_on <= w.date <= last_on for w in books.waste):
        yield "No waste was written down, which rarely means that there was none."
    if books.left_out:
        named = ", ".join(
            f"{left.dish} ({left.sold:g})"
            for left in sorted(books.left_out, key=lambda s: (-s.sold, s.dish))[:8]
        )
        yield f"Sold under names that menu.yaml does not know, left out: {named}."
    yield (
        "Goods bought are as invoiced, delivery fees by the vendors' terms on a line of their own; stock, "
        "waste and use at today's prices."
    )
