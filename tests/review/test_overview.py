"""What an owner reads first, each figure by hand."""

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal

import pytest
from houses import books, dish, house, ingredient, offer, recipe, vendor

from ordering.pages.review_overview import headline
from ordering.records.books import Receipt
from ordering.records.review_results import (
    Compared,
    Creep,
    Dearer,
    FoodCost,
    Hits,
    LostPart,
    Overview,
    Pair,
    RanOut,
    Review,
    Week,
)
from ordering.review.overview import compared, hits, money_lost, price_creep
from ordering.reviewing import span_of

FIRST, LAST = date(2026, 10, 29), date(2026, 11, 25)
SPAN = (FIRST, LAST)
FLOUR = offer("mill", "flour", 25.0, "20.00", code="M")
SALT = offer("mill", "salt", 10.0, "5.00", code="S")
HOME = replace(
    house(
        ingredients=[ingredient("flour", offers=(FLOUR,)), ingredient("salt", offers=(SALT,))],
        recipes=[recipe("pie", 10.0, {"flour": 2.0}, unit="each")],
        dishes=[dish("pie-dish", "pie", price="5.00")],
        vendors=[vendor("mill")],
    ),
    currency="GBP",
)


def sat(day, covers):
    return (day.isoformat(), "dinner", covers)


def test_covers_are_held_against_as_long_before_and_the_same_weeks_last_year():
    """28 days: 1 to 28 October before, 30 October to 26 November the year before (the same weekdays)."""
    came = books(
        (),
        [
            sat(date(2025, 10, 20), 5),
            sat(FIRST - timedelta(364), 40),
            sat(FIRST - timedelta(28), 20),
            sat(FIRST - timedelta(1), 30),
            sat(FIRST, 60),
            sat(LAST, 11),
            sat(LAST + timedelta(1), 99),
        ],
    )
    margins = {FIRST: Decimal(100), FIRST - timedelta(1): Decimal(50), FIRST - timedelta(364): Decimal(80)}
    found = compared(came.covers, margins, SPAN)
    assert [(one.name, one.covers, one.margin) for one in found] == [
        ("now", 71.0, Decimal("100.00")),
        ("before", 50.0, Decimal("50.00")),
        ("last year", 40.0, Decimal("80.00")),
    ]
    assert (found[2].first_on, found[2].last_on) == (date(2025, 10, 30), date(2025, 11, 26))


def test_books_that_do_not_reach_back_are_not_compared_with():
    """A week of the month before would make every month look busy."""
    came = books((), [sat(FIRST - timedelta(7), 50), sat(FIRST, 60)])
    assert [one.name for one in compared(came.covers, {}, SPAN)] == ["now"]


def pair(actual, mean, low, high, naive=None, is_remade=False):
    return Pair(FIRST, "dinner", "*", FIRST, actual, mean, low, low, high, high, naive, is_remade=is_remade)


def test_hits_are_counted_inside_above_and_below_the_range():
    """Misses 2, 10 and 6 of 90 covers; on the two with a last week 10 + 6 of 60 against 20 + 10."""
    found = hits(
        [
            pair(30.0, 32.0, 25.0, 38.0),
            pair(40.0, 30.0, 25.0, 35.0, naive=20.0),
            pair(20.0, 26.0, 22.0, 30.0, naive=30.0, is_remade=True),
        ]
    )
    assert (found.n, found.inside, found.above, found.below, found.n_remade) == (3, 1, 1, 1, 1)
    assert found.miss == pytest.approx(18 / 90)
    assert found.naive_miss == pytest.approx(30 / 60)
    assert hits([]) is None


def cost(used=None, wasted="30"):
    first, last = (None, None) if used is None else (Decimal(used), Decimal(0))
    return FoodCost(Decimal(1000), Decimal(250), Decimal(0), Decimal(0), Decimal(wasted), first, last)


def test_what_was_lost_has_parts_and_what_nothing_explains_is_one_of_them():
    """Used 400: dishes 250, consumables 60, thrown 30, overcharged 5; 55 has no reason."""
    missed, charged = (
        RanOut("pie-dish", 1, 2.0, Decimal(8)),
        Dearer("m", "M", "flour", *map(Decimal, (1, 2, 5))),
    )
    parts = money_lost(cost("400"), Decimal(60), [missed], [charged])
    assert [(part.name, part.money) for part in parts] == [
        ("thrown away", Decimal(30)),
        ("86'd", Decimal(8)),
        ("overcharged", Decimal(5)),
        ("unexplained use", Decimal(55)),
    ]
    assert Overview(lost=parts).lost_money == Decimal(98)


def test_less_used_than_there_should_be_is_no_loss_and_no_gain():
    parts = money_lost(cost("300"), Decimal(60), [], [])
    assert parts[3].money == Decimal(-40)
    assert Overview(lost=parts).lost_money == Decimal(30)
    assert money_lost(cost(), Decimal(60), [], [])[3].money is None


def receipt(day, code, price, packs=1.0):
    item, size = ("flour", 25.0) if code == "M" else ("salt", 10.0)
    return Receipt(day, "mill", code, item, packs, packs * size, Decimal(price))


def test_prices_are_held_over_months_and_weighed_by_what_is_bought_now():
    """Flour 20 to 22 and 44.00 bought in November, salt 5 to 4.50 and 9.00: 53.00 that were 50.00 before."""
    found = price_creep(
        HOME,
        [
            receipt(date(2026, 9, 3), "M", "19.50"),
            receipt(date(2026, 9, 10), "M", "20.50"),
            receipt(date(2026, 11, 5), "M", "22.00", 2.0),
            receipt(date(2026, 10, 8), "S", "5.00"),
            receipt(date(2026, 11, 5), "S", "4.50", 2.0),
            receipt(date(2026, 11, 26), "M", "99.00"),
        ],
        LAST,
    )
    assert [(c.vendor, c.first_month, c.last_month, c.n_offers) for c in found] == [
        ("mill", "2026-09", "2026-11", 2)
    ]
    assert found[0].change == pytest.approx(53 / 50 - 1)
    assert found[0].money == Decimal("3.00")
    assert price_creep(HOME, [receipt(date(2026, 11, 5), "M", "22.00")], LAST) == ()


def review_of(overview, **rest):
    return Review(FIRST, LAST, LAST + timedelta(1), overview=overview, **rest)


def stretch(name, covers, margin):
    return Compared(name, FIRST, LAST, covers, Decimal(margin))


@pytest.mark.parametrize(
    ("margin", "kind"),
    [
        ("1025", "A good month"),
        ("1015", "An ordinary month"),
        ("985", "An ordinary month"),
        ("975", "A weak month"),
    ],
)
def test_a_month_is_called_by_its_margin_beside_last_year(margin, kind):
    now, year = stretch("now", 108.0, margin), stretch("last year", 100.0, "1000")
    said = headline(HOME, review_of(Overview((now, stretch("before", 120.0, "2000"), year))))
    assert said[0] == (
        f"{kind}: 108 covers, 8 % more than the same weeks last year and 10 % fewer than the 28 days before."
    )


@pytest.mark.parametrize(("covers", "said"), [(1004.0, "as many as in"), (1006.0, "1 % more than")])
def test_covers_that_would_differ_by_0_per_cent_are_as_many(covers, said):
    found = headline(HOME, review_of(Overview((stretch("now", covers, "9"), stretch("before", 1000.0, "9")))))
    assert found[0] == f"An ordinary month: {covers:,.0f} covers, {said} the 28 days before."


@pytest.mark.parametrize(("used", "is_asked"), [("241", False), ("239", True)])
def test_less_used_than_the_recipes_ask_for_is_no_thrift(used, is_asked):
    """Of 1,000 sold 250 should have been used: a hundredth of the sales less is asked about."""
    (_, said, *_) = headline(HOME, review_of(Overview((stretch("now", 9.0, "9"),)), cost=cost(used)))
    assert ("check the counts and the recipes" in said) is is_asked


@pytest.mark.parametrize(("change", "is_said"), [(0.012, True), (0.008, False)])
def test_prices_that_rose_by_a_hundredth_are_said(change, is_said):
    rise = Creep("mill", "2026-10", "2026-11", 2, change, Decimal(3))
    assert bool(headline(HOME, review_of(Overview(creep=(rise,))))) is is_said


def test_without_a_past_no_month_is_called_good():
    said = headline(HOME, review_of(Overview((stretch("now", 108.0, "900"),))))
    assert said[0] == "The month: 108 covers."


def test_goods_bought_are_held_against_the_budget_of_the_days():
    weeks = tuple(
        Week(FIRST, LAST, Decimal(0), Decimal(bought), Decimal(0), Decimal(100)) for bought in ("90", "130")
    )
    said = headline(HOME, review_of(Overview(), weeks=weeks))
    assert said == ("Goods bought came to 220 GBP: 20 over the budget of 200.",)
    assert headline(HOME, review_of(Overview(), weeks=(replace(weeks[0], budget=None),))) == ()
    with_fees = tuple(replace(week, fees=Decimal(8)) for week in weeks)
    said = headline(HOME, review_of(Overview(), weeks=with_fees))
    assert said == ("Goods bought and their delivery came to 236 GBP: 36 over the budget of 200.",)


def test_each_matter_has_its_sentence():
    overview = Overview(
        compared=(stretch("now", 108.0, "900"),),
        hits=Hits(36, 30, 4, 2, 0.12, 0.24, 36),
        lost=(LostPart("thrown away", Decimal(126)), LostPart("unexplained use", Decimal(345))),
        consumables=Decimal(50),
        creep=(Creep("mill", "2026-10", "2026-11", 2, 0.06, Decimal(3)),),
    )
    said = headline(HOME, review_of(overview, cost=cost("400")))
    assert said[1:] == (
        "The forecast was 12 % off, better than last week's same day (24 % off); 30 of 36 services came "
        "within its range, 4 busier and 2 quieter than it said.",
        "These forecasts were made afterwards from what was known on each order day, as none was saved.",
        "Food cost should have been 25 % of sales; 35 % was used, consumables aside.",
        "Money lost: 471 GBP (thrown away 126 and unexplained use 345).",
        "Prices over the months: Mill +6 %.",
    )


def test_the_parts_of_a_loss_add_up_as_they_are_printed():
    overview = Overview(
        compared=(stretch("now", 108.0, "900"),),
        lost=(LostPart("thrown away", Decimal("25.50")), LostPart("86'd", Decimal("13.50"))),
    )
    lost = next(text for text in headline(HOME, review_of(overview)) if text.startswith("Money lost"))
    assert lost == "Money lost: 39 GBP (thrown away 26 and 86'd 13)."


def test_without_dates_a_review_is_of_the_four_weeks_up_to_yesterday():
    assert span_of(date(2026, 11, 26), None, None) == (date(2026, 10, 29), date(2026, 11, 25))
    assert span_of(date(2026, 11, 26), None, date(2026, 11, 7)) == (date(2026, 10, 11), date(2026, 11, 7))


@pytest.mark.parametrize(("first_on", "n_found"), [(date(2025, 12, 3), 1), (date(2025, 10, 29), 0)])
def test_prices_are_held_over_a_year_and_no_further_back(first_on, n_found):
    bought = [receipt(first_on, "M", "20.00"), receipt(date(2026, 11, 5), "M", "22.00")]
    assert len(price_creep(HOME, bought, LAST)) == n_found
