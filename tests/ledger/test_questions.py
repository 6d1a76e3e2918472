"""How much a question about the books names, so that it is read: the first few, and how many more."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal

import houses
import pytest

from ordering.ledger.counting import came_named, first_counts_over_use, variance_told
from ordering.ledger.twice import MadeRun, ordered_twice
from ordering.records.books import Books, CountedLot
from ordering.records.ledger import Bookings, Placed, Variance

ON = date(2026, 11, 26)
HOUSE = houses.house([houses.ingredient(f"i{n}") for n in range(9)], vendors=[houses.vendor("v")])


def placed(n: int, run: str) -> Placed:
    day = ON + timedelta(n)
    money = Decimal(1)
    return Placed(f"PO-{n}", run, "v", "c", "i0", n, n, 1.0 * n, "kg", money, money, day, ON)


def test_orders_that_would_come_twice_are_named_to_three() -> None:
    run = MadeRun("2026-11-26-2", "new", "orders.csv", ON, {}, {"old": "2026-11-26"})
    bookings = Bookings(orders=tuple(placed(n, "old") for n in range(1, 6)))
    (fault,) = ordered_twice(run, [placed(9, "new")], bookings, HOUSE)
    assert [f"PO-{n}" in fault.wrong for n in range(1, 6)] == [True, True, True, False, False]
    assert fault.wrong.endswith("; 2 more")


def test_goods_counted_with_what_came_are_named_to_six() -> None:
    assert came_named(HOUSE, {f"i{n}": 1.0 for n in range(6)}).count("came") == 6
    many = came_named(HOUSE, {f"i{n}": 1.0 for n in range(9)})
    assert many.count("came") == 5
    assert many.endswith(" and 4 more")


def test_pieces_counted_and_expected_differ_by_what_is_printed() -> None:
    """97.5 lemons should be there: that is said as 98, and 95 are 3 fewer, whatever half a lemon costs."""
    home = houses.house([houses.ingredient("lemon", unit="each")])
    _, said = variance_told(home, [Variance("lemon", ON, 95.0, 97.5, "each", Decimal("-0.78"))])
    assert said.strip() == f"{home.name_of('lemon')}: 95 counted, 98 expected (-3, -0.78)"


@pytest.mark.parametrize(
    ("keeps_days", "counted", "is_asked"),
    [(10, 50, False), (10, 51, True), (None, 250, False), (None, 251, True)],
)
def test_a_first_count_may_be_fifty_times_four_weeks_use_and_five_times_that_where_it_keeps(
    keeps_days: int | None, counted: float, is_asked: bool
) -> None:
    home = houses.house([houses.ingredient("salt", keeps_days=keeps_days)])
    books = Books(counts=(CountedLot(ON, "salt", counted),))
    found = first_counts_over_use(home, books, {"salt": 1.0}, ON)
    assert [fault.kind for fault in found] == ["over-use"] * is_asked
