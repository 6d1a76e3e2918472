"""What an owner wants to know first: was it a good month, where did money go, whose prices rose."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from datetime import date, timedelta
from decimal import Decimal

import pandas as pd

from ordering.accuracy import wape
from ordering.records.books import Receipt
from ordering.records.house import House
from ordering.records.money import cents, receipt_money
from ordering.records.review_results import Compared, Creep, Dearer, FoodCost, Hits, LostPart, Pair, RanOut
from ordering.review.spending import within

YEAR = timedelta(weeks=52)  # the same weekdays a year before
CREEP_MONTHS = 12
NO_MONEY = Decimal(0)


def compared(
    covers: pd.DataFrame, margins: Mapping[date, Decimal], span: tuple[date, date]
) -> tuple[Compared, ...]:
    """Covers and margin of the days before and of the same weeks last year, where the books have them.

    Parameters
    ----------
    covers : columns date, service, covers
    margins : by day, sales less the ingredients in them at today's prices and costs, in money
    span : first and last day of the review, both included

    Returns
    -------
    The review's own days first, then those that the books know of.
    """
    n_days = timedelta(days=(span[1] - span[0]).days + 1)
    spans = {
        "now": span,
        "before": (span[0] - n_days, span[0] - timedelta(days=1)),
        "last year": (span[0] - YEAR, span[1] - YEAR),
    }
    found = []
    known_from = None if covers.empty else covers["date"].min().date()
    for name, (first, last) in spans.items():
        came = within(covers, first, last)
        if name != "now" and (came.empty or known_from is None or known_from > first):
            continue
        margin = sum((m for day, m in margins.items() if first <= day <= last), NO_MONEY)
        found.append(Compared(name, first, last, float(came["covers"].sum()), cents(margin)))
    return tuple(found)


def hits(pairs: Sequence[Pair]) -> Hits | None:
    """How near the forecast of covers came, each service by the last one made before it; None without any."""
    if not pairs or sum(p.actual for p in pairs) <= 0:
        return None
    known = [p for p in pairs if p.naive is not None]
    actual = pd.Series([p.actual for p in known], dtype=float).to_numpy()
    has_naive = bool(known) and actual.sum() > 0
    return Hits(
        n=len(pairs),
        inside=sum(p.q10 <= p.actual <= p.q90 for p in pairs),
        above=sum(p.actual > p.q90 for p in pairs),
        below=sum(p.actual < p.q10 for p in pairs),
        miss=wape(
            pd.Series([p.actual for p in pairs], dtype=float).to_numpy(),
            pd.Series([p.mean for p in pairs], dtype=float).to_numpy(),
        ),
        naive_miss=wape(actual, pd.Series([p.naive for p in known], dtype=float).to_numpy())
        if has_naive
        else None,
        n_remade=sum(p.is_remade for p in pairs),
    )


def money_lost(
    cost: FoodCost, consumables: Decimal, ran_out: Iterable[RanOut], dearer: Iterable[Dearer]
) -> tuple[LostPart, ...]:
    """The parts of what was lost; their sum is what the house would have more of, had nothing gone wrong.

    Unexplained is what was used beyond what dishes sold, consumables, waste written down and prices above
    those agreed explain; None where too little was counted to know. Below zero nothing is lost there: the
    counts found more than there should be.

    Parameters
    ----------
    consumables : cost of what the services held should have used up beside the dishes
    ran_out : dishes 86'd, with the margin missed
    dearer : what was charged above the prices agreed
    """
    missed = sum((r.money for r in ran_out), NO_MONEY)
    overcharged = sum((d.money for d in dearer), NO_MONEY)
    unexplained = None
    if cost.used is not None:
        unexplained = cost.used - cost.theoretical - consumables - cost.wasted - overcharged
    return (
        LostPart("thrown away", cost.wasted),
        LostPart("86'd", missed),
        LostPart("overcharged", overcharged),
        LostPart("unexplained use", unexplained),
    )


def price_creep(house: House, receipts: Iterable[Receipt], until: date) -> tuple[Creep, ...]:
    """How far each vendor's prices moved over the months of the last year, the costliest first.

    Each offer's mean price of its last month is held against that of its first, weighed by what is spent on
    it in the last; offers bought in one month alone say nothing. Whether a price is agreed does not matter.
    """
    since = until - timedelta(days=CREEP_MONTHS * 31)
    prices: dict[tuple[str, str], dict[str, list[tuple[Decimal, Decimal]]]] = defaultdict(
        lambda: defaultdict(list)
    )
    for receipt in receipts:
        if since <= receipt.delivered_on <= until and receipt.price and receipt.packs > 0:
            month = f"{receipt.delivered_on:%Y-%m}"
            prices[receipt.vendor, receipt.code][month].append((receipt.price, receipt_money(house, receipt)))
    by_vendor: dict[str, list[tuple[str, str, Decimal, Decimal]]] = defaultdict(list)
    for (vendor, _), months in prices.items():
        if len(months) > 1:
            first, last = min(months), max(months)
            then, now = (_mean([price for price, _ in months[m]]) for m in (first, last))
            spent = sum((money for _, money in months[last]), NO_MONEY)
            by_vendor[vendor].append((first, last, spent, spent * then / now))
    found = []
    for vendor, offers in by_vendor.items():
        spent = sum((s for _, _, s, _ in offers), NO_MONEY)
        before = sum((b for _, _, _, b in offers), NO_MONEY)
        if spent > 0 and before > 0:
            first, last = min(f for f, _, _, _ in offers), max(n for _, n, _, _ in offers)
            found.append(
                Creep(vendor, first, last, len(offers), float(spent / before - 1), cents(spent - before))
            )
    return tuple(sorted(found, key=lambda c: (-c.money, c.vendor)))


def _mean(prices: Sequence[Decimal]) -> Decimal:
    return sum(prices, NO_MONEY) / len(prices)
