"""The review cut into sections, in the sequence an owner reads it: the first screen, then the detail."""

from __future__ import annotations

from decimal import Decimal

from ordering.amounts import shown
from ordering.days import service_said
from ordering.pages import review_overview as overview
from ordering.pages.parts import long_day, vendor_name
from ordering.pages.section_sheets import Leaf
from ordering.pages.sections import Head, PageContent, Section, money_word
from ordering.pages.short_and_over import about
from ordering.records.house import House
from ordering.records.page import Value
from ordering.records.review_results import Review, Score
from ordering.units import degree_unit, degrees

N_LISTED = 15  # what costs next to nothing further down says no more; so many fit on a page


def review_content(house: House, review: Review) -> PageContent:
    """The sentences of the first screen, its tables in their sequence, and what stands behind them."""
    first, *others = overview.headline(house, review) or ("Nothing is in the books for these days.",)
    return PageContent(
        title=f"{house.name}: review",
        days=f"{long_day(review.first_on)} to {long_day(review.last_on)}",
        made=long_day(review.made_on),
        headline=first,
        others=tuple(others),
        sections=(
            overview.band(review),
            overview.lost_money(house, review),
            overview.covers_compared(review),
            overview.cost_by_week(house, review),
            overview.creep(house, review),
        ),
        detail=(
            advice(house, review),
            food_cost(house, review),
            ran_out(house, review),
            thrown(house, review),
            prices(house, review),
            yields(house, review),
            covers(review),
            dishes(house, review),
            items(house, review),
            *([at_the_door(house, review)] if review.at_the_door else []),
        ),
        is_american=house.is_american,
    )


def review_leaves(content: PageContent) -> tuple[Leaf, ...]:
    """The same sections by sheet of the workbook."""
    came, lost, compared, by_week, creep = content.sections
    worth, cost, out, binned, dearer, learnt, near, by_dish, used, *door = content.detail
    return (
        ("Review", (lost, compared, by_week)),
        ("Forecast", (came,)),
        ("Money", (worth, cost, out, binned, dearer, learnt, creep)),
        ("Detail", (near, by_dish, used)),
        *([("At the door", door)] if door else []),
    )


def advice(house: House, review: Review) -> Section:
    """What is worth doing, by money."""
    return Section(
        "Worth doing",
        "What is worth doing, the most money first",
        (Head(money_word(house), "money"), Head("what")),
        tuple((a.money, a.text) for a in review.advice),
        intro=review.notes,
        empty="Nothing found that money could be saved on.",
    )


def food_cost(house: House, review: Review) -> Section:
    """Food cost beside what the recipes make of it."""
    cost = review.cost
    revenue = cost.revenue

    def row(name: str, amount: Decimal | None) -> tuple[Value, ...]:
        share = float(amount / revenue) if amount is not None and revenue else None
        return (name, amount, share)

    gap = None if cost.used is None else cost.used - cost.theoretical
    return Section(
        "Food cost",
        "Theoretical cost of what was sold, and what was bought and used",
        (Head("what"), Head(money_word(house), "money"), Head("of sales", "percent")),
        (
            row("sales of dishes with a price", revenue),
            row("theoretical cost of what was sold", cost.theoretical),
            row("bought, as invoiced", cost.bought + cost.credited),
            *([row("credited by vendors, no goods back", -cost.credited)] if cost.credited else []),
            row("delivery fees, by the vendors' terms", cost.fees),
            ("stock at the start", cost.stock_first, None),
            ("stock at the end", cost.stock_last, None),
            row("used: start plus bought, less end", cost.used),
            row("used above theory", gap),
            row("of that, consumables, in no dish's cost", review.overview.consumables),
            row("of that, thrown away and logged", cost.wasted),
        ),
        intro=(
            "Goods are as invoiced, delivery fees by the vendors' terms; stock, waste and use at today's "
            "prices.",
        ),
    )


def ran_out(house: House, review: Review) -> Section:
    """Dishes that ran out."""
    named = {d.id: d.name for d in house.dishes.values()}
    rows = tuple(
        (named.get(r.dish, r.dish), r.n_services, round(r.missed, 1), r.money) for r in review.ran_out
    )
    return Section(
        "86'd",
        "Dishes that were 86'd, with the margin missed",
        (
            Head("dish"),
            Head("times", "whole"),
            Head("portions missed", "number"),
            Head("margin", "money"),
        ),
        rows,
        intro=("Missed: the forecast less what was sold; the margin is the price less ingredients.",)
        * bool(rows),
        empty="No dish was marked as sold out.",
    )


def thrown(house: House, review: Review) -> Section:
    """What was thrown away."""
    rows = tuple(
        (house.name_of(t.item), shown(t.quantity, t.unit), t.money, t.reasons)
        for t in review.thrown[:N_LISTED]
    )
    return Section(
        "Thrown away",
        "What was thrown away, at today's cost",
        (
            Head("item"),
            Head("how much"),
            Head("cost", "money"),
            Head("why"),
        ),
        rows,
        intro=_costliest(len(review.thrown)),
        empty="No waste was logged.",
    )


def items(house: House, review: Review) -> Section:
    """Counted against what there should have been, by item."""
    columns = (
        Head("item"),
        Head("unit"),
        Head("ordered", "number"),
        Head("came", "number"),
        Head("use in theory", "number"),
        Head("thrown away", "number"),
        Head("over (+) or short", "number"),
        Head("of that in money", "money"),
        Head("bought for", "money"),
    )
    rows = tuple(
        (
            *(house.name_of(u.item), u.unit, u.placed, u.received),
            *(None if v is None else about(v, 3) for v in (u.used, u.wasted, u.variance)),
            *(None if u.variance is None else u.variance_money, u.money),
        )
        for u in review.items[:N_LISTED]
    )
    return Section(
        "Orders and use",
        "Orders against use by item, the most costly first",
        columns,
        rows,
        intro=(
            *_costliest(len(review.items)),
            "Use in theory is what the dishes sold should have taken, as purchased. Over or short adds up "
            "the counts of these days: below zero, there was less than there should have been.",
        ),
    )


def prices(house: House, review: Review) -> Section:
    """Invoiced prices that differ from the house's files."""
    rows = tuple(
        (
            *(house.name_of(d.item), d.code, d.agreed, d.charged, float(d.charged / d.agreed - 1), d.money),
            vendor_name(house, d.vendor),
        )
        for d in review.dearer[:N_LISTED]
    )
    return Section(
        "Prices",
        "Prices charged above those agreed",
        (
            *(Head("item"), Head("code"), Head("agreed", "money"), Head("last charged", "money")),
            *(Head("change", "change"), Head("paid more", "money"), Head("vendor")),
        ),
        rows,
        intro=_costliest(len(review.dearer)),
        empty="No price above the one agreed.",
    )


def yields(house: House, review: Review) -> Section:
    """Yields measured beside those written."""
    rows = tuple(
        (
            *(house.recipes[y.recipe].name, y.unit, y.n, y.seen / y.figure - 1, y.makes, y.better),
            y.money,
            "worth changing" if y.is_offered else "",
        )
        for y in [y for y in review.yields if abs(y.seen / y.figure - 1) >= overview.SAME][:N_LISTED]
    )
    return Section(
        "Yields",
        "What batches really gave",
        (
            *(Head("recipe"), Head("unit"), Head("batches", "whole"), Head("gave", "change")),
            *(Head("makes", "number"), Head("better", "number")),
            *(Head("cost", "money"), Head("remark")),
        ),
        rows,
        intro=(
            "Gave: more (+) or less than the recipe says. Better: what a batch makes by its own past, near "
            "the recipe's figure while batches are few. Nothing is changed by itself: put 'better' into "
            "recipes.yaml where you agree.",
        )
        * bool(rows),
        empty="Every batch weighed gave what its recipe says." if review.yields else "No batch was weighed.",
    )


def _costliest(n: int) -> tuple[str, ...]:
    """What is said where not everything is listed."""
    return (f"The {N_LISTED} that cost most, of {n}.",) if n > N_LISTED else ()


SCORE_COLUMNS = (
    Head("ahead"),
    Head("services", "whole"),
    Head("came", "whole"),
    Head("forecast", "whole"),
    Head("leans", "change"),
    Head("off by", "percent"),
    Head("in range", "percent"),
    Head("last week off by", "percent"),
)
HOW_TO_READ = (
    "Leans: how much more (+) or less was forecast than came, in all. Off by: the misses added up, as a "
    "share of what came. In range: the share of services within the forecast's 80 % range; the "
    "nearer to 80 %, the better. Last week off by: how far the same day's figure of the week before would "
    "have been off."
)


def _score_row(score: Score) -> tuple[Value, ...]:
    return (
        *(score.lead, score.n, score.actual, score.forecast, score.bias, score.wape),
        *(score.inside_80, score.naive_wape),
    )


def covers(review: Review) -> Section:
    """The section on covers."""
    return Section(
        "How near the forecast came",
        "Covers: how near the forecast came, by service and by days ahead",
        (Head("service"), *SCORE_COLUMNS),
        tuple((service_said(s.name), *_score_row(s)) for s in review.covers),
        intro=(HOW_TO_READ,),
        empty="No saved forecast covers services of these days whose covers are known.",
    )


def dishes(house: House, review: Review) -> Section:
    """The section on dishes."""
    named = {d.id: d.name for d in house.dishes.values()}
    rows = tuple((named.get(s.name, s.name), *_score_row(s)) for s in review.dishes[:N_LISTED])
    return Section(
        "Dishes",
        "Dishes: how near the forecast came, in time for each dish's longest preparation",
        (Head("dish"), *SCORE_COLUMNS),
        rows,
        intro=(
            "For each dish the last forecast that was still in time to order and start everything for it. "
            "Services at which it was 86'd are left out, as they show no more than a lower bound.",
        ),
        empty="No saved forecast covers dishes sold in these days.",
    )


def at_the_door(house: House, review: Review) -> Section:
    """Temperatures, conditions and tags by day, with where they are booked and the dishes they went into."""
    rows = tuple(
        (
            *(one.delivered_on, house.name_of(one.item), one.document),
            None if one.celsius is None else degrees(one.celsius, house.is_american),
            one.condition or ("" if one.celsius is not None else "nothing written down"),
            "; ".join(one.dishes),
        )
        for one in review.at_the_door
    )
    return Section(
        "At the door",
        "Temperatures, conditions and tags written down as goods came",
        (
            *(Head("came on", "day"), Head("item"), Head("booked in as")),
            *(Head(degree_unit(house.is_american), "number"), Head("condition, tag")),
            Head("dishes it can have gone into"),
        ),
        rows,
        intro=(
            "What goods went to which guest nobody writes down: they were there from the day they came until "
            "they were used up or past their date. How long a tag is kept stands on the sheet at the door.",
        )
        * bool(rows),
        empty="No temperature, condition or tag was written down.",
    )
