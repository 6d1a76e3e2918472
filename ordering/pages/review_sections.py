"""The review cut into sections: one table and one figure each, for workbook and page alike."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from decimal import Decimal

from ordering.days import said
from ordering.records.house import House
from ordering.records.page import Value
from ordering.records.review import Pair, Review, Score


@dataclass(frozen=True, slots=True)
class Column:
    """`kind` is one of text, day, whole, number, money, percent, change (a percentage with its sign)."""

    name: str
    kind: str = "text"


@dataclass(frozen=True, slots=True)
class Figure:
    """A chart of the section's own rows: `across` is the column along the axis.

    `kind` is `band`, `column` or `bar`; `series` are (column, style) with the styles of a chart.
    """

    kind: str
    title: str
    description: str
    across: int
    series: tuple[tuple[int, str], ...]
    y_axis: str = ""
    n_rows: int = 0


@dataclass(frozen=True, slots=True)
class Section:
    """`caption` says what the table is; `empty` stands in its place where there are no rows."""

    title: str
    caption: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[Value, ...], ...]
    intro: tuple[str, ...] = ()
    empty: str = "Nothing to show."
    figure: Figure | None = None


N_DISHES = 60
N_ITEMS = 80
N_BARS = 12

SCORE_COLUMNS = (
    Column("issued"),
    Column("services", "whole"),
    Column("actual", "whole"),
    Column("forecast", "whole"),
    Column("bias", "change"),
    Column("WAPE", "percent"),
    Column("inside 80 %", "percent"),
    Column("inside 90 %", "percent"),
    Column("naive WAPE", "percent"),
    Column("gain on naive", "change"),
)
HOW_TO_READ = (
    "Bias: forecast less actual over actual; above nought, too much was forecast. WAPE: the sum of the "
    "misses over the sum of the actuals. Inside 80 % and 90 %: the share of services within that interval; "
    "the nearer to 80 and 90, the better. Naive: the same weekday's last value known when the forecast was "
    "issued; gain: how much smaller the forecast's WAPE is."
)


def sections(house: House, review: Review) -> tuple[Section, ...]:
    """Everything a review shows, in the sequence an owner reads it."""
    return (
        _advice(house, review),
        _money(house, review),
        _weeks(house, review),
        _covers(review),
        *_by_service(house, review),
        _dishes(house, review),
        _ran_out(house, review),
        _thrown(house, review),
        _items(house, review),
        _prices(house, review),
        _yields(house, review),
    )


def money_word(house: House) -> str:
    return house.currency or "money"


def _advice(house: House, review: Review) -> Section:
    return Section(
        "Worth doing",
        "What is worth doing, the most money first",
        (Column("what"), Column(money_word(house), "money")),
        tuple((a.text, a.money) for a in review.advice),
        intro=review.notes,
        empty="Nothing found that money could be saved on.",
    )


def _money(house: House, review: Review) -> Section:
    cost = review.cost
    revenue = cost.revenue

    def row(name: str, amount: Decimal | None) -> tuple[Value, ...]:
        share = float(amount / revenue) if amount is not None and revenue else None
        return (name, amount, share)

    gap = None if cost.used is None else cost.used - cost.theoretical
    return Section(
        "Food cost",
        "Theoretical cost of what was sold, and what was bought and used",
        (Column("what"), Column(money_word(house), "money"), Column("of sales", "percent")),
        (
            row("sales of dishes with a price", revenue),
            row("theoretical cost of what was sold", cost.theoretical),
            row("bought, as invoiced", cost.bought),
            row("stock at the start", cost.stock_first),
            row("stock at the end", cost.stock_last),
            row("used: start and bought less end", cost.used),
            row("used above theory", gap),
            row("of it thrown away and written down", cost.wasted),
        ),
    )


def _weeks(house: House, review: Review) -> Section:
    columns = (
        Column("week from", "day"),
        Column("to", "day"),
        Column("ordered for it", "money"),
        Column("bought", "money"),
        Column("theoretical cost", "money"),
        Column("budget", "money"),
        Column("over (+) or under", "money"),
    )
    rows = tuple(
        (
            *(w.first_on, w.last_on, w.placed, w.bought, w.theoretical, w.budget),
            None if w.budget is None else w.bought - w.budget,
        )
        for w in review.weeks
    )
    has_budget = any(w.budget is not None for w in review.weeks)
    series = ((3, "strong"), (4, "plain"), *(((5, "dashed"),) if has_budget else ()))
    figure = Figure(
        "column",
        "Spend by week",
        f"Columns for each week: bought, theoretical cost of what was sold{', budget' if has_budget else ''}",
        0,
        series,
        money_word(house),
    )
    return Section("Spend", "Spend by week against budget", columns, rows, figure=figure)


def _score_row(score: Score) -> tuple[Value, ...]:
    return (
        *(score.lead, score.n, score.actual, score.forecast, score.bias, score.wape),
        *(score.inside_80, score.inside_90, score.naive_wape, score.gain),
    )


def _covers(review: Review) -> Section:
    return Section(
        "Covers",
        "Covers: forecast as issued against actual, by service and days ahead",
        (Column("service"), *SCORE_COLUMNS),
        tuple((s.name, *_score_row(s)) for s in review.covers),
        intro=(HOW_TO_READ,),
        empty="No forecast as issued meets covers in these days.",
    )


def _by_service(house: House, review: Review) -> Iterator[Section]:
    """Each service day by day, by the last forecast issued before it."""
    for service in house.services:
        pairs = [p for p in review.pairs if p.service == service]
        if pairs:
            yield _service(service, pairs)


def _service(service: str, pairs: Iterable[Pair]) -> Section:
    rows = tuple(
        (said(p.served_on), p.actual, p.mean, p.q10, p.q90 - p.q10, p.naive, p.lead_days) for p in pairs
    )
    columns = (
        Column("day"),
        Column("actual", "whole"),
        Column("forecast", "number"),
        Column("80 % from", "number"),
        Column("80 % wide", "number"),
        Column("naive", "whole"),
        Column("days ahead", "whole"),
    )
    figure = Figure(
        "band",
        f"Covers at {service}: forecast and actual",
        f"Line of forecast covers with its 80 % band, points for the covers that came, {len(rows)} services",
        0,
        ((3, "hidden"), (4, "band"), (2, "strong"), (1, "points")),
        "covers",
    )
    caption = f"Covers at {service}, day by day, by the last forecast issued before"
    return Section(f"Covers {service}", caption, columns, rows, figure=figure)


def _dishes(house: House, review: Review) -> Section:
    named = {d.id: d.name for d in house.dishes.values()}
    rows = tuple((named.get(s.name, s.name), *_score_row(s)) for s in review.dishes[:N_DISHES])
    return Section(
        "Dishes",
        "Dishes: forecast as issued against sold, in time for each dish's longest preparation",
        (Column("dish"), *SCORE_COLUMNS),
        rows,
        intro=(
            "For each dish the last forecast that was still in time to order and start everything for it. "
            "Services at which it was 86'd are left out, as they show no more than a lower bound.",
        ),
        empty="No forecast as issued meets dishes sold in these days.",
    )


def _ran_out(house: House, review: Review) -> Section:
    named = {d.id: d.name for d in house.dishes.values()}
    rows = tuple((named.get(r.dish, r.dish), r.n_services, r.missed, r.money) for r in review.ran_out)
    figure = Figure(
        "bar",
        "Margin missed on 86'd dishes",
        "A bar for each dish that was 86'd",
        0,
        ((3, "strong"),),
        "",
        N_BARS,
    )
    return Section(
        "86'd",
        "Dishes that were 86'd, with the margin missed",
        (
            Column("dish"),
            Column("times", "whole"),
            Column("portions missed", "number"),
            Column("margin", "money"),
        ),
        rows,
        intro=("Missed: the forecast less what was sold; the margin is the price less ingredients.",),
        empty="No dish was marked as sold out.",
        figure=figure,
    )


def _thrown(house: House, review: Review) -> Section:
    rows = tuple((house.name_of(t.item), t.quantity, t.unit, t.money, t.reasons) for t in review.thrown)
    figure = Figure(
        "bar",
        "Thrown away",
        "A bar for each item thrown away, the dearest first",
        0,
        ((3, "strong"),),
        "",
        N_BARS,
    )
    return Section(
        "Thrown away",
        "What was thrown away, at today's cost",
        (
            Column("item"),
            Column("quantity", "number"),
            Column("unit"),
            Column("cost", "money"),
            Column("why"),
        ),
        rows,
        empty="No waste was written down.",
        figure=figure,
    )


def _items(house: House, review: Review) -> Section:
    columns = (
        Column("item"),
        Column("unit"),
        Column("ordered", "number"),
        Column("came", "number"),
        Column("use in theory", "number"),
        Column("thrown away", "number"),
        Column("count less theory", "number"),
        Column("of that in money", "money"),
        Column("bought for", "money"),
    )
    rows = tuple(
        (
            *(house.name_of(u.item), u.unit, u.placed, u.received, u.used, u.wasted, u.variance),
            *(None if u.variance is None else u.variance_money, u.money),
        )
        for u in review.items[:N_ITEMS]
    )
    return Section(
        "Orders and use",
        "Orders against use by item, the dearest first",
        columns,
        rows,
        intro=(
            "Use in theory is what the dishes sold should have taken, as purchased. Count less theory adds "
            "up the counts in these days: below nought, less was there than should have been.",
        ),
    )


def _prices(house: House, review: Review) -> Section:
    rows = tuple(
        (
            house.vendors[d.vendor].name if d.vendor in house.vendors else d.vendor,
            *(d.code, house.name_of(d.item), d.agreed, d.charged, float(d.charged / d.agreed - 1), d.money),
        )
        for d in review.dearer
    )
    return Section(
        "Prices",
        "Prices charged above those agreed",
        (
            *(Column("vendor"), Column("code"), Column("item"), Column("agreed", "money")),
            *(Column("last charged", "money"), Column("change", "change"), Column("paid more", "money")),
        ),
        rows,
        empty="No price above the one agreed.",
    )


def _yields(house: House, review: Review) -> Section:
    rows = tuple(
        (
            *(house.recipes[y.recipe].name, y.n, y.figure, y.seen, y.learnt, y.makes, y.better, y.unit),
            y.money,
            "worth changing" if y.is_offered else "",
        )
        for y in review.yields
    )
    return Section(
        "Yields",
        "What batches really gave, per unit of the main ingredient",
        (
            *(Column("recipe"), Column("batches", "whole"), Column("recipe says", "number")),
            *(Column("weighed", "number"), Column("learnt", "number"), Column("makes", "number")),
            *(Column("better", "number"), Column("unit"), Column("cost", "money"), Column("")),
        ),
        rows,
        intro=(
            "Learnt leans to the recipe's figure while batches are few. Nothing is changed by itself: put "
            "'better' into recipes.yaml where you agree.",
        ),
        empty="No batch was weighed.",
    )
