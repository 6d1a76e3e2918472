"""What the sales of four weeks drew, by a sum anybody can do."""

from datetime import date, timedelta

import pandas as pd
import pytest
from houses import dish, house, ingredient, line, recipe

from ordering.explode.drawn import used_in
from ordering.records.books import Books

ON = date(2026, 11, 26)
HOUSE = house(
    [ingredient("flour"), ingredient("stock")],
    recipes=[
        recipe("dough", 4.0, [line("flour", 8.0, yield_fraction=0.8)]),
        recipe("pie", 10.0, [line("dough", 1.0), line("stock", 3.0, returns=2.0)], unit="each"),
    ],
    dishes=[dish("pie", "pie")],
)


def sales(**by_days_ago):
    days = [pd.Timestamp(ON - timedelta(days=int(n[1:]))) for n in by_days_ago]
    return pd.DataFrame({"date": days, "dish": "pie", "sold": list(by_days_ago.values())})


def test_portions_are_taken_down_to_what_was_drawn():
    """20 pies are 2 batches: 2 of dough, so half a batch of it, 5 of flour as purchased; 2 of stock."""
    used = used_in(HOUSE, sales(d28=15.0, d1=5.0, d29=999.0, d0=999.0), ON)
    assert used == pytest.approx({"pie": 20.0, "dough": 2.0, "stock": 2.0, "flour": 5.0})


def test_books_that_begin_later_are_taken_for_four_weeks():
    assert used_in(HOUSE, sales(d14=10.0, d1=10.0), ON)["pie"] == pytest.approx(40.0)


def test_less_than_a_week_says_nothing():
    assert used_in(HOUSE, sales(d7=10.0), ON)["pie"] == pytest.approx(40.0)
    assert used_in(HOUSE, sales(d6=10.0), ON) == {}
    assert used_in(HOUSE, Books().sales, ON) == {}
