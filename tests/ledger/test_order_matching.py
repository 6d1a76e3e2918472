"""Which order a delivery answers, each rule alone."""

from dataclasses import replace
from datetime import date, timedelta

from ordering.ledger.merge import LOOK_BACK_DAYS, both, merged
from ordering.ledger.order_matching import LATE_DAYS, expectations, matched
from ordering.net.opening import opening
from ordering.records.books import Batch, Books, CountedLot, OpenOrder, Receipt, Waste
from ordering.records.documents import Booked
from ordering.records.house import House, Ingredient, Recipe, RecipeLine
from ordering.records.ledger import Bookings, Placed

THU = date(2026, 11, 26)
SAT = THU + timedelta(2)
WED = THU + timedelta(6)


def order(code, packs, deliver_on=SAT, item=None, run="r", vendor="v", number="PO-1"):
    return Placed(
        *(number, run, vendor, code, item or code, packs, packs, packs * 5.0, "kg", None, 0),
        deliver_on=deliver_on,
        placed_on=THU,
    )


def came(code, packs, on=SAT, item=None, vendor="v"):
    return Booked(Receipt(on, vendor, code, item or code, packs, packs * 5.0), "kg", "f")


def outcome(orders, receipts):
    """Orders as (code, day, packs, received, settled), arrivals as (code, day answered, substitute)."""
    m = matched(expectations(orders), receipts)
    return (
        [(e.key.code, e.key.deliver_on, e.packs, e.received, e.is_settled) for e in m.expected],
        [(a.code, a.answers.deliver_on if a.answers else None, a.is_substitute) for a in m.arrivals],
    )


def test_orders_are_looked_back_for_as_far_as_eight_late_deliveries_in_a_row_reach():
    """Each can be taken for the order of a week before it; what is read further back is read for nothing."""
    assert 8 * LATE_DAYS <= LOOK_BACK_DAYS <= 10 * LATE_DAYS


def test_two_runs_for_one_delivery_add_up():
    """Each keeps its own number: what comes is shared among them in the sequence of the numbers."""
    two = [order("a", 2), order("a", 3, number="PO-2")]
    assert [e.packs for e in expectations(two)] == [2, 3]
    orders, arrivals = outcome(two, [came("a", 4)])
    assert orders == [("a", SAT, 2, 2, True), ("a", SAT, 3, 2, True)]
    assert len(arrivals) == 2


def test_more_ordered_after_part_has_come_is_still_expected():
    """One pack for Saturday came on Friday; three more are ordered for Saturday then."""
    early = came("a", 1, on=SAT - timedelta(1))
    orders, _ = outcome([order("a", 1), order("a", 3, number="PO-2")], [early])
    assert orders == [("a", SAT, 1, 1, True), ("a", SAT, 3, 0, False)]


def test_what_came_before_an_order_was_placed_does_not_answer_it():
    late = replace(order("a", 3, number="PO-2"), placed_on=SAT)
    orders, arrivals = outcome([late], [came("a", 3, on=SAT - timedelta(1))])
    assert (orders, arrivals) == ([("a", SAT, 3, 0, False)], [("a", None, False)])


def test_a_full_delivery_settles_its_order():
    assert outcome([order("a", 2)], [came("a", 2)]) == ([("a", SAT, 2, 2, True)], [("a", SAT, False)])


def test_a_short_line_is_settled_and_one_not_on_the_delivery_is_still_expected():
    orders, _ = outcome([order("a", 3), order("b", 1)], [came("a", 2)])
    assert orders == [("a", SAT, 3, 2, True), ("b", SAT, 1, 0, False)]


def test_the_rest_of_a_part_delivery_answers_the_same_order():
    orders, arrivals = outcome([order("a", 3)], [came("a", 2), came("a", 1, SAT + timedelta(1))])
    assert orders == [("a", SAT, 3, 3, True)]
    assert arrivals == [("a", SAT, False), ("a", SAT, False)]


def test_rows_of_one_code_on_one_day_are_one_arrival():
    orders, arrivals = outcome([order("a", 2)], [came("a", 1), came("a", 1)])
    assert orders == [("a", SAT, 2, 2, True)]
    assert len(arrivals) == 1


def test_its_own_day_comes_before_what_was_missed():
    orders, _ = outcome([order("a", 1), order("a", 2, WED)], [came("a", 2, WED)])
    assert orders == [("a", SAT, 1, 0, False), ("a", WED, 2, 2, True)]


def test_a_day_early_is_that_order_and_two_days_early_is_not():
    assert outcome([order("a", 1)], [came("a", 1, SAT - timedelta(1))])[1] == [("a", SAT, False)]
    assert outcome([order("a", 1)], [came("a", 1, SAT - timedelta(2))])[1] == [("a", None, False)]


def test_a_week_late_is_that_order_and_longer_is_not():
    assert outcome([order("a", 1)], [came("a", 1, SAT + timedelta(7))])[1] == [("a", SAT, False)]
    assert outcome([order("a", 1)], [came("a", 1, SAT + timedelta(8))])[1] == [("a", None, False)]


def test_more_than_ordered_still_answers_the_order():
    assert outcome([order("a", 1)], [came("a", 3)]) == ([("a", SAT, 1, 3, True)], [("a", SAT, False)])


def test_another_code_of_the_item_is_a_substitute_for_the_one_that_is_missing():
    orders, arrivals = outcome([order("a", 2, item="flour")], [came("b", 2, item="flour")])
    assert orders == [("a", SAT, 2, 2, True)]
    assert arrivals == [("b", SAT, True)]


def test_another_code_beside_the_ordered_one_was_ordered_by_nobody():
    _, arrivals = outcome(
        [order("a", 2, item="flour")], [came("a", 2, item="flour"), came("b", 1, item="flour")]
    )
    assert arrivals == [("a", SAT, False), ("b", None, False)]


def test_another_vendor_s_delivery_answers_nothing():
    assert outcome([order("a", 1)], [came("a", 1, vendor="w")])[1] == [("a", None, False)]


def test_a_struck_out_line_is_expected_by_nobody():
    assert expectations([order("a", 0)]) == ()


# --- the books with the ledger over them ---------------------------------------------------------

FLOUR = Ingredient("flour", "Flour", "kg", density_kg_per_l=0.5)
HOUSE = House(
    "Tiny",
    ingredients={"flour": FLOUR},
    recipes={"dough": Recipe("dough", "Dough", "kg", 1.0, (RecipeLine("flour", 1.0),))},
)


def merge(bookings, books=None, on=THU):
    return merged(books or Books(), HOUSE, bookings, on)


def test_what_came_is_no_longer_open_and_what_did_not_is():
    bookings = Bookings(
        orders=(order("a", 2, item="flour"), order("b", 1, item="flour")),
        receipts=(came("a", 1, item="flour"),),
    )
    books, doubts = merge(bookings, on=SAT)
    assert books.open_orders == (OpenOrder("v", "b", "flour", 1, 5.0, SAT),)
    assert books.receipts == (came("a", 1, item="flour").record,)
    assert doubts == ()


def test_friday_s_bread_does_not_close_saturday_s():
    """A vendor that comes daily with the same code: only the day that came is closed."""
    bookings = Bookings(
        orders=(order("a", 2, SAT - timedelta(1), "flour"), order("a", 3, SAT, "flour")),
        receipts=(came("a", 2, SAT - timedelta(1), "flour"),),
    )
    books = replace(merge(bookings, on=SAT)[0], counts=(CountedLot(THU, "flour", 1.0),))
    due = opening(HOUSE, books, SAT)
    assert [(s.item, s.quantity, s.deliver_on) for s in due.scheduled] == [("flour", 15.0, SAT)]
    assert sum(lot.quantity for lot in due.lots) == 11.0


def test_an_order_that_never_came_is_forgotten_after_a_week():
    bookings = Bookings(orders=(order("a", 2, item="flour"),))
    assert [o.code for o in merge(bookings, on=SAT + timedelta(7))[0].open_orders] == ["a"]
    assert merge(bookings, on=SAT + timedelta(8))[0].open_orders == ()


def test_nothing_after_the_day_is_looked_at():
    bookings = Bookings(
        orders=(order("a", 2, item="flour"),),
        receipts=(came("a", 2, item="flour"),),
        counts=(Booked(CountedLot(SAT, "flour", 1.0), "kg", "f"),),
    )
    before = merge(bookings, on=THU)[0]
    assert (before.receipts, before.counts) == ((), ())
    assert [o.code for o in before.open_orders] == ["a"]
    assert merge(bookings, on=THU - timedelta(1))[0].open_orders == ()


def test_an_open_order_of_the_books_is_closed_by_a_receipt_and_stands_beside_what_is_placed():
    """Two packs of `b` in the books and three placed for the same day are five."""
    books = Books(
        open_orders=(
            OpenOrder("v", "a", "flour", 2, 10.0, SAT),
            OpenOrder("v", "b", "flour", 2, 10.0, SAT),
        )
    )
    bookings = Bookings(orders=(order("b", 3, item="flour"),), receipts=(came("a", 2, item="flour"),))
    assert merge(bookings, books, SAT)[0].open_orders == (
        OpenOrder("v", "b", "flour", 2, 10.0, SAT),
        OpenOrder("v", "b", "flour", 3, 15.0, SAT),
    )


def test_a_count_in_the_ledger_takes_the_place_of_the_same_count_in_the_books():
    books = Books(counts=(CountedLot(THU, "flour", 9.0), CountedLot(THU - timedelta(7), "flour", 8.0)))
    bookings = Bookings(counts=(Booked(CountedLot(THU, "flour", 3.0), "kg", "f"),))
    counts = merge(bookings, books)[0].counts
    assert [(c.counted_on, c.quantity) for c in counts] == [(THU - timedelta(7), 8.0), (THU, 3.0)]


def test_waste_and_batches_that_both_name_count_once():
    waste, batch = Waste(THU, "flour", 2.0, "wet"), Batch(THU, "dough", 1.0, 0.9)
    bookings = Bookings(
        waste=(Booked(waste, "kg", "f"), Booked(waste, "kg", "f")),
        batches=(Booked(batch, "kg", "f"),),
    )
    books = merge(bookings, Books(waste=(waste,), batches=(batch,)))[0]
    assert books.waste == (waste, waste)
    assert books.batches == (batch,)


def test_both_keeps_each_entry_as_often_as_the_fuller_source():
    assert sorted(both("aab", "abbc")) == ["a", "a", "b", "b", "c"]


def test_a_quantity_in_another_unit_is_converted_or_said():
    bookings = Bookings(
        counts=(
            Booked(CountedLot(THU, "flour", 2000.0), "g", "f"),
            Booked(CountedLot(THU, "flour", 2.0), "l", "f"),
            Booked(CountedLot(THU, "flour", 2.0), "each", "f"),
            Booked(CountedLot(THU, "gone", 2.0), "kg", "f"),
        )
    )
    books, doubts = merge(bookings)
    assert [c.quantity for c in books.counts] == [2.0, 1.0]
    assert [d.kind for d in doubts] == ["unit-changed", "unknown-item"]


def booked(drawn, item="flour", unit="kg"):
    """A batch of dough that gave 0.9 kg, booked when its first line was `item`, counted in `unit`."""
    return Booked(Batch(THU, "dough", drawn, 0.9, item, unit), "kg", "f")


def test_what_a_batch_drew_is_converted_with_the_unit_of_its_main_ingredient():
    """A kilo drawn is a kilo, whether flour was counted in grams then or in kilos."""
    books, doubts = merge(Bookings(batches=(booked(1000.0, unit="g"), booked(2.0))))
    assert books.batches == (Batch(THU, "dough", 1.0, 0.9), Batch(THU, "dough", 2.0, 0.9))
    assert doubts == ()


def test_what_a_batch_drew_of_something_else_is_not_taken_for_its_main_ingredient():
    books, _ = merge(Bookings(batches=(booked(5.0, item="yeast"),)))
    assert books.batches == (Batch(THU, "dough", 0.0, 0.9),)


def test_what_a_batch_drew_in_a_unit_that_means_nothing_now_is_left_out_and_said():
    books, doubts = merge(Bookings(batches=(booked(5.0, unit="each"),)))
    assert books.batches == (Batch(THU, "dough", 0.0, 0.9),)
    assert [d.kind for d in doubts] == ["unit-changed"]


def test_a_batch_booked_before_the_unit_was_kept_is_read_as_it_stands():
    books, _ = merge(Bookings(batches=(Booked(Batch(THU, "dough", 1.0, 0.9), "kg", "f"),)))
    assert books.batches == (Batch(THU, "dough", 1.0, 0.9),)


def test_an_order_for_a_code_no_longer_offered_is_kept_while_its_item_is_known():
    books, doubts = merge(Bookings(orders=(order("old", 2, item="flour"), order("x", 1, item="gone"))))
    assert [o.code for o in books.open_orders] == ["old"]
    assert [d.subject for d in doubts] == ["gone"]
