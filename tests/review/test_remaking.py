"""Forecasts nobody issued are made from what was known then, and only where none was issued."""

from datetime import date, timedelta

import pandas as pd
from houses import books, dish, house, ingredient, recipe

from ordering.records.ledger import ISSUED_COLUMNS
from ordering.remaking import as_known, with_remade
from ordering.review.scores import REMADE, pairs

FIRST, LAST = date(2026, 10, 29), date(2026, 11, 11)  # a Thursday and the Wednesday a fortnight later
THURSDAYS = [date(2026, 10, 8), date(2026, 10, 15), date(2026, 10, 22), FIRST, date(2026, 11, 5)]
HOME = house(
    ingredients=[ingredient("flour")],
    recipes=[recipe("pie", 10.0, {"flour": 2.0}, unit="each")],
    dishes=[dish("pie-dish", "pie", price="5.00")],
    order_weekdays=frozenset({3}),
)
EVENINGS = [LAST - timedelta(n) for n in range(120)]
PAST = books(
    [(day.isoformat(), "dinner", "pie-dish", 10 + day.weekday()) for day in EVENINGS],
    [(day.isoformat(), "dinner", 20 + day.weekday()) for day in EVENINGS],
)


def issued(*days):
    rows = [("run", day, FIRST, "dinner", "*", *(25.0,) * 8) for day in days]
    table = pd.DataFrame(rows, columns=list(ISSUED_COLUMNS))
    for column in ("issued_on", "date"):
        table[column] = pd.to_datetime(table[column]).astype("datetime64[ns]")
    return table


def test_a_forecast_is_made_of_every_order_day_in_whose_week_none_was_issued():
    """One was issued on Friday 23 October: the Thursday before it stays without."""
    found = with_remade(HOME, PAST, issued(date(2026, 10, 23)), (FIRST, LAST))
    made = found[found["run"] == REMADE]
    days = sorted({stamp.date() for stamp in made["issued_on"]})
    assert days == [day for day in THURSDAYS if day != date(2026, 10, 22)]
    assert made["date"].min().date() == FIRST
    assert made["date"].max().date() == LAST
    assert len(found[found["run"] == "run"]) == 1


def test_where_every_week_has_one_nothing_is_made():
    table = issued(*THURSDAYS)
    assert with_remade(HOME, PAST, table, (FIRST, LAST)).equals(table)


def test_what_came_later_is_not_known():
    """The same forecast whatever happens from its day on."""
    later = books(
        [(d.isoformat(), "dinner", "pie-dish", 10 + d.weekday() if d < FIRST else 99) for d in EVENINGS],
        [(d.isoformat(), "dinner", 20 + d.weekday() if d < FIRST else 99) for d in EVENINGS],
    )
    one, other = (with_remade(HOME, past, issued(), (FIRST, FIRST)) for past in (PAST, later))
    assert one.equals(other)
    known = as_known(PAST, FIRST)
    assert known.sales["date"].max() < pd.Timestamp(FIRST)
    assert known.covers["date"].max() < pd.Timestamp(FIRST)


def test_such_pairs_are_marked():
    found = with_remade(HOME, PAST, issued(), (FIRST, FIRST))
    came = {(FIRST, "dinner", "*"): 23.0}
    assert [pair.is_remade for pair in pairs(found, came, (0, 99))] == [True]
