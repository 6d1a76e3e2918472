"""The first screen of the review: was it a good month, in sentences, and the tables behind them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date
from decimal import Decimal

from ordering.amounts import percent, plural
from ordering.days import format_day, service_said, span_said
from ordering.pages.parts import vendor_name
from ordering.pages.sections import Figure, Head, Section, money_word
from ordering.records.house import House
from ordering.records.page import Value
from ordering.records.review_results import Compared, Overview, Pair, Review
from ordering.texts import listed

ORDINARY = 0.02  # a margin within 2 % of that of the weeks it is held against is called ordinary (a guess)
SAME = 0.005  # would be printed as 0 %
AFTERWARDS = "* made afterwards from what was known on that day, as none was saved then."
CREEP_WORTH_SAYING = 0.01
TOO_LITTLE = 0.01  # of sales: used so much less than the recipes ask for is no thrift (a guess)


def headline(house: House, review: Review) -> tuple[str, ...]:
    """What an owner is told first; the first sentence says what kind of month it was."""
    overview = review.overview
    return (
        *_verdict(house, review),
        *_forecast(overview),
        *_food_cost(review),
        *_budget(house, review),
        *_lost(house, overview),
        *_creep(house, overview),
    )


def _verdict(house: House, review: Review) -> Iterator[str]:
    now = review.overview.of("now")
    if now is None or now.covers <= 0:
        return
    n_days = (now.last_on - now.first_on).days + 1
    kind = "month" if 27 <= n_days <= 32 else "week" if n_days == 7 else f"{n_days} days"
    against = review.overview.of("last year") or review.overview.of("before")
    compared = [
        f"{_more(now.covers / other.covers - 1, 'fewer')} {words}"
        for other, words in (
            (review.overview.of("last year"), "the same weeks last year"),
            (review.overview.of("before"), f"the {n_days} days before"),
        )
        if other is not None and other.covers > 0
    ]
    money = f"{_whole(now.margin)} {house.currency}".rstrip()
    yield f"{_called(now, against, kind)}: {now.covers:,.0f} covers{_tail(compared)}."
    if now.last_on < review.last_on:
        yield f"That is to {format_day(now.last_on)}: the covers of the days after are not in the books yet."
    if against is not None and against.margin > 0:
        change = float(now.margin / against.margin - 1)
        then = "last year" if against.name == "last year" else f"the {n_days} days before"
        beside = f"{_more(change)} {then}" if abs(change) >= SAME else f"the same as {then}"
        yield f"Sales less ingredients came to {money}, {beside} (both at today's prices)."


def _called(now: Compared, against: Compared | None, kind: str) -> str:
    if against is None or against.margin <= 0:
        return f"The {kind}"
    change = float(now.margin / against.margin - 1)
    if change > ORDINARY:
        return f"A good {kind}"
    return f"A weak {kind}" if change < -ORDINARY else f"An ordinary {kind}"


def _more(change: float, less: str = "less") -> str:
    if abs(change) < SAME:
        return "as many as in"
    return f"{percent(abs(change))} {'more' if change > 0 else less} than"


def _tail(compared: list[str]) -> str:
    return f", {' and '.join(compared)}" if compared else ""


def _forecast(overview: Overview) -> Iterator[str]:
    hits = overview.hits
    if hits is None:
        return
    beside = ""
    if hits.naive_miss is not None:
        word = "better than" if hits.miss < hits.naive_miss else "no better than"
        beside = f", {word} last week's same day ({percent(hits.naive_miss)} off)"
    outside = [f"{n} {word}" for n, word in ((hits.above, "busier"), (hits.below, "quieter")) if n]
    rest = f", {' and '.join(outside)} than it said" if outside else ""
    yield (
        f"The forecast was {percent(hits.miss)} off{beside}; "
        f"{hits.inside} of {plural(hits.n, 'service')} came within its range{rest}."
    )
    if hits.n_remade:
        which = "These forecasts were" if hits.n_remade == hits.n else f"{hits.n_remade} of them were"
        yield f"{which} made afterwards from what was known on each order day, as none was saved."


def _food_cost(review: Review) -> Iterator[str]:
    cost = review.cost
    if not cost.revenue:
        return
    text = f"Food cost should have been {percent(float(cost.theoretical / cost.revenue))} of sales"
    used = None if cost.used is None else cost.used - review.overview.consumables
    if used is None:
        yield f"{text}; what was really used is not known (count at the start and at the end)."
        return
    rest = ": less than the recipes ask for, so check the counts and the recipes" * bool(
        float((cost.theoretical - used) / cost.revenue) >= TOO_LITTLE
    )
    aside = ", consumables aside" if review.overview.consumables else ""
    yield f"{text}; {percent(float(used / cost.revenue))} was used{aside}{rest}."


def _budget(house: House, review: Review) -> Iterator[str]:
    """What was spent with vendors beside the budget of all the days, where the house has one."""
    if not review.weeks or any(w.budget is None for w in review.weeks):
        return
    budget = sum((w.budget for w in review.weeks if w.budget is not None), Decimal(0))
    spent = sum((w.spent for w in review.weeks), Decimal(0))
    if spent:
        word = "over" if spent > budget else "under"
        money = f"{_whole(spent)} {house.currency}".rstrip()
        what = "Goods bought and their delivery" if any(w.fees for w in review.weeks) else "Goods bought"
        yield f"{what} came to {money}: {_whole(abs(spent - budget))} {word} the budget of {_whole(budget)}."


def _lost(house: House, overview: Overview) -> Iterator[str]:
    lost = [part for part in overview.lost if part.money and part.money > 0]
    whole = _adding_up([part.money or Decimal(0) for part in lost])
    parts = [f"{part.name} {money:,}" for part, money in zip(lost, whole, strict=True) if money]
    money = f"{_whole(overview.lost_money)} {house.currency}".rstrip()
    if parts:
        yield f"Money lost: {money} ({listed(parts)})."
    elif overview.lost:
        yield "On balance no money was lost that the books know of."


def _adding_up(parts: Sequence[Decimal]) -> list[int]:
    """The parts in whole money, so that they add up to their sum in whole money."""
    found = [int(part) for part in parts]
    missing = round(sum(parts, Decimal(0))) - sum(found)
    for n in sorted(range(len(parts)), key=lambda n: found[n] - parts[n])[:missing]:
        found[n] += 1
    return found


def _creep(house: House, overview: Overview) -> Iterator[str]:
    up = [c for c in overview.creep if c.change >= CREEP_WORTH_SAYING]
    if up:
        named = [f"{vendor_name(house, c.vendor)} +{percent(c.change)}" for c in up[:3]]
        yield f"Prices over the months: {listed(named)}."


def _whole(money: Decimal | None) -> str:
    return f"{money or Decimal(0):,.0f}"


def lost_money(house: House, review: Review) -> Section:
    """What was lost as one figure and its parts, with what only looks like it beside."""
    overview = review.overview
    rows: list[tuple[Value, ...]] = [("in all", overview.lost_money, "")]
    why = {
        "thrown away": "waste logged, at today's cost",
        "86'd": "margin of portions that could not be sold",
        "overcharged": "charged above the prices agreed",
        "unexplained use": "nothing logged explains it: portions, spills, theft, waste or batches not logged",
    }
    for part in overview.lost:
        unknown = "not known: count at the start and at the end"
        less = "the counts found more than there should be"
        note = unknown if part.money is None else less if part.money < 0 else why[part.name]
        rows.append((part.name, part.money, note))
    if overview.consumables:
        names = dict.fromkeys(house.name_of(one.item) for one in house.consumables)
        told = f"{listed(list(names), 3)}: in no dish's cost"
        rows.append(("not lost: consumables", overview.consumables, told))
    columns = (Head("money lost"), Head(money_word(house), "money"), Head("what it is"))
    return Section("Money lost", "Money lost, as one figure and its parts", columns, tuple(rows))


def covers_compared(review: Review) -> Section:
    """Covers and margin now, before and a year ago."""
    now = review.overview.of("now")
    n_days = 0 if now is None else (now.last_on - now.first_on).days + 1
    words = {
        "now": "these days",
        "before": f"the {n_days} days before",
        "last year": "same weeks last year",
    }
    rows = tuple(
        (
            words[one.name],
            one.covers,
            None if now is None or one is now or not one.covers else now.covers / one.covers - 1,
            one.margin,
            None if now is None or one is now or not one.margin else float(now.margin / one.margin - 1),
        )
        for one in review.overview.compared
    )
    columns = (
        *(Head("when"), Head("covers", "whole"), Head("covers now", "change")),
        *(Head("sales less ingredients", "money"), Head("margin now", "change")),
    )
    caption = "Covers and margin, and how these days compare (now)"
    return Section("Covers", caption, columns, rows, empty="No covers are in the books for these days.")


def cost_by_week(house: House, review: Review) -> Section:
    """Food cost by week in per cent of sales, and spend against the budget."""
    has_budget = any(w.budget is not None for w in review.weeks)
    has_fees = any(w.fees for w in review.weeks)
    rows = tuple(
        (
            *(span_said(w.first_on, w.last_on), w.revenue, _share(w.theoretical, w.revenue)),
            *(_share(w.bought, w.revenue), w.placed, w.bought, *([w.fees] if has_fees else [])),
            *((w.budget, None if w.budget is None else w.spent - w.budget) if has_budget else ()),
        )
        for w in review.weeks
    )
    budget = (Head("budget", "whole"), Head("over (+) or under", "whole")) if has_budget else ()
    columns = (
        *(Head("week"), Head("sales", "whole"), Head("should be", "percent")),
        *(Head("bought", "percent"), Head("ordered", "whole"), Head("bought for", "whole")),
        *([Head("delivery", "whole")] if has_fees else []),
        *budget,
    )
    figure = Figure(
        "column",
        "Food cost by week, of sales",
        "Columns for each week: cost of the dishes sold and goods bought, in per cent of sales",
        0,
        ((3, "strong"), (2, "plain")),
    )
    caption = "Food cost by week: what it should be by the dishes sold, and what was bought"
    return Section("Food cost by week", caption, columns, rows, figure=figure if rows else None)


def _share(money: Decimal, revenue: Decimal) -> float | None:
    return float(money / revenue) if revenue else None


def _month(text: str) -> str:
    return f"{date.fromisoformat(f'{text}-01'):%b %Y}"


def creep(house: House, review: Review) -> Section:
    """How far the prices of the vendors moved over the months, of those that did not stay."""
    rows = tuple(
        (
            vendor_name(house, c.vendor),
            _month(c.first_month),
            _month(c.last_month),
            c.n_offers,
            c.change,
            c.money,
        )
        for c in review.overview.creep
        if abs(c.change) >= SAME
    )
    columns = (
        *(Head("vendor"), Head("from month"), Head("to month"), Head("lines", "whole")),
        *(Head("prices moved", "change"), Head("cost last month", "money")),
    )
    return Section(
        "Prices over months",
        "How far each vendor's prices moved, weighed by what is bought",
        columns,
        rows,
        empty="No vendor's prices are known to have moved.",
    )


def band(review: Review) -> Section:
    """Every service in turn: the forecast's range and what came."""
    rows = tuple(_band_row(p) for p in sorted(review.pairs, key=lambda p: (p.served_on, p.service)))
    columns = (
        *(Head("day"), Head("service"), Head("came", "whole"), Head("forecast", "number")),
        *(Head("range from", "number"), Head("range width", "number"), Head("made on")),
    )
    figure = Figure(
        "band",
        "Covers: forecast and what came",
        f"Line of forecast covers with its 80 % range, points for what came, {len(rows)} services",
        0,
        ((4, "hidden"), (5, "band"), (3, "strong"), (2, "points")),
        "covers",
    )
    return Section(
        "Forecast and what came",
        "Covers by service: the last forecast before it, and what came",
        columns,
        rows,
        intro=(AFTERWARDS,) if any(p.is_remade for p in review.pairs) else (),
        figure=figure,
        empty="There is no forecast for these days.",
    )


def _band_row(p: Pair) -> tuple[Value, ...]:
    made = f"{format_day(p.issued_on)} *" if p.is_remade else format_day(p.issued_on)
    return (
        format_day(p.served_on),
        service_said(p.service),
        p.actual,
        round(p.mean, 1),
        p.q10,
        p.q90 - p.q10,
        made,
    )
