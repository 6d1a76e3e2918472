"""A date mark goes on: of what comes back, of what comes off a marked batch, of leftovers that are counted.

Nothing is planned with for longer than the mark that was begun when it was prepared (day 1 of 7).
"""

from datetime import date

import houses
import numpy as np
import pytest
import strategies
from houses import day, dish, ingredient, line, recipe
from hypothesis import given, settings
from hypothesis import strategies as st

from ordering.net.netting import net_all
from ordering.net.opening import opening
from ordering.net.problem import gross_of, parcels_of, problem_of
from ordering.net.safety_stock import worth
from ordering.net.shelf_life import cohorts, in_turn
from ordering.net.start_days import later
from ordering.net.sweep import sweep
from ordering.records.books import Batch, Begun, CountedLot, Lot
from ordering.records.plan import Opening

MARK = ("date-mark",)


def poaching(takes=1, at=0, keeps=5, back=2.0, **broth):
    """Fish poached in two litres of a marked broth, which come back; the broth is sold as well."""
    return houses.house(
        [ingredient("bones"), ingredient("fish")],
        [
            recipe("broth", 4, {"bones": 4}, keeps_days=keeps, hazards=MARK, **broth),
            recipe(
                "poached", 1, [line("fish", 1), line("broth", 2, returns=back, at_days=at)], takes_days=takes
            ),
        ],
        [dish("plate", "poached"), dish("bowl", "broth")],
    )


def lots(found, item):
    return [(lot.quantity, lot.use_by) for lot in found.lots if lot.item == item and lot.quantity]


# ------------------------------------------------------------------ what is planned


def test_broth_that_comes_back_is_as_old_as_the_broth_that_was_drawn():
    """Broth good to day 2 poaches on day 0 and is back on day 1: bowls of day 3 need a new one."""
    stock = Opening((Lot("broth", 2.0, day(2)),))
    sold = houses.forecast(poaching(), {"plate": [0, 1.0, 0, 0, 0], "bowl": [0, 0, 0, 2.0, 0]})
    flow = net_all(poaching(), stock, sold, {}, {"fish": 0, "bones": 0}).flows["broth"]
    assert flow.by_product.tolist() == [0, 2, 0, 0, 0]
    assert flow.expired.tolist() == [0, 0, 0, 2, 0]
    assert flow.planned.tolist() == [0, 0, 0, 2, 0]


def test_broth_past_its_mark_when_it_comes_back_is_thrown_away_and_not_planned_with():
    stock = Opening((Lot("broth", 2.0, day(0)),))
    sold = houses.forecast(poaching(), {"plate": [0, 1.0, 0], "bowl": [0, 1.0, 0]})
    flow = net_all(poaching(), stock, sold, {}, {"fish": 0, "bones": 0}).flows["broth"]
    assert flow.expired.tolist() == [0, 2, 0]
    assert flow.planned.tolist() == [0, 1, 0]


@pytest.mark.parametrize("begun_before", [1, 2])
def test_a_batch_under_way_gives_back_what_it_drew_with_its_date(begun_before):
    """Drawn of a broth good to day 1, before the run or on its day; back on day 2 or 1."""
    house = poaching(takes=3, at=1)
    started_on = day(-begun_before)
    counts = (CountedLot(started_on, "broth", 2.0, day(1)), CountedLot(started_on, "poached", 0.0))
    books = houses.books(counts=counts, batches=(Batch(started_on, "poached", 1.0, 1.0),))
    stock = opening(house, books, day(0))
    assert stock.begun == (Begun("poached", started_on, 1.0),)
    sold = houses.forecast(house, {"plate": [0.0] * 5, "bowl": [0, 0, 1.0, 0, 0]})
    flow = net_all(house, stock, sold, {}, {"fish": 0, "bones": 0}).flows["broth"]
    assert flow.by_product.sum() == 2.0
    assert flow.planned.tolist() == [0, 0, 1, 0, 0]


def test_what_comes_off_a_marked_batch_is_as_old_as_the_batch():
    """A ham cooked on day 0 and pressed for two days; its trim is potted. Day 1 is the day of the cooking."""
    house = houses.house(
        [ingredient("leg")],
        [
            recipe("ham", 4, {"leg": 6}, takes_days=2, hazards=MARK, also_makes=(("trim", 1.0),)),
            recipe("trim", 1, {"leg": 1}, hazards=MARK),
        ],
        [dish("slice", "ham"), dish("potted", "trim")],
    )
    books = houses.books(counts=(CountedLot(day(0), "trim", 0.0),), batches=(Batch(day(0), "ham", 6.0, 4.0),))
    assert lots(opening(house, books, day(3)), "trim") == [(1.0, day(6))]
    sold = houses.forecast(house, {"slice": [0, 0, 4.0, *[0.0] * 6], "potted": [0.0] * 7 + [1.0, 0]})
    flow = net_all(house, Opening(), sold, {}, {"leg": 0}).flows["trim"]
    assert flow.by_product[2] == 1.0
    assert flow.expired[7] == 1.0
    assert flow.planned[7] == 1.0


@st.composite
def broths(draw):
    """A poaching kitchen, its broth in stock and twelve days of guests."""
    takes = draw(st.integers(0, 3))
    house = poaching(
        takes=takes,
        at=draw(st.integers(0, takes)),
        keeps=draw(st.integers(0, 6)),
        back=draw(st.sampled_from((0.5, 1.5, 2.0))),
        takes_days=draw(st.integers(0, 2)),
        is_whole=draw(st.booleans()),
    )
    portions = {d: draw(st.lists(st.integers(0, 4), min_size=12, max_size=12)) for d in ("plate", "bowl")}
    there = draw(st.lists(st.tuples(st.integers(1, 12), st.integers(0, 6)), max_size=3))
    begun = draw(st.lists(st.integers(-3, -1), max_size=1)) if takes > 1 else []
    stock = Opening(
        tuple(Lot("broth", float(q), day(n)) for q, n in there),
        begun=tuple(Begun("poached", day(n), 1.0) for n in begun if n + takes > 0),
    )
    return strategies.Case(house, stock, houses.forecast(house, portions), {"fish": 0, "bones": 0})


def marks_drawn(parcels, gross):
    """What is drawn of each day, by hand: (last day planned with, last day of its true mark) of every lot."""
    left = {n: float(np.max(parcel.quantity)) for n, parcel in enumerate(parcels)}
    true = {n: p.last if p.drawn is None or p.drawn < 0 else 99 for n, p in enumerate(parcels)}
    drawn = []
    for today, asked in enumerate(gross):
        taken = []
        for n, parcel in enumerate(parcels):
            given = min(left[n], asked) if parcel.first <= today <= parcel.last else 0.0
            left[n], asked = left[n] - given, asked - given
            taken += [n] if given > 1e-9 else []
        oldest = min((true[n] for n in taken), default=99)
        drawn += [(today, parcels[n].last, true[n]) for n in taken if true[n] < 99]
        true.update({n: oldest for n, p in enumerate(parcels) if p.drawn == today})
    return drawn


@settings(strategies.LAW, max_examples=150)
@given(broths())
def test_no_lot_is_planned_past_the_mark_counted_from_its_preparation(case):
    """Whatever is drawn, however often it came back: the mark of the oldest it was drawn with still runs."""
    problem = problem_of(case.house, case.opening, case.forecast, case.arrival)
    found = sweep(problem, worth(problem).stakes)
    made = found.made["broth"]
    parcels = parcels_of(problem, found.starts, "broth", found.dates["broth"])
    batches = later(made.starts, problem.house.recipes["broth"].takes_days) * 4.0
    drawn = marks_drawn(
        in_turn([*parcels, *cohorts(batches, made.terms.last)]),
        gross_of(problem, found.starts, "broth")[:, 0],
    )
    assert all(today <= last <= true for today, last, true in drawn)


# ------------------------------------------------------------------ what the books say


def test_what_came_back_by_the_books_is_as_old_as_what_was_drawn():
    books = houses.books(
        counts=(CountedLot(day(0), "broth", 3.0, day(4)), CountedLot(day(0), "poached", 0.0)),
        batches=(Batch(day(1), "poached", 1.0, 1.0),),
    )
    assert lots(opening(poaching(), books, day(3)), "broth") == [(1.0, day(4)), (2.0, day(4))]


def test_broth_carried_from_batch_to_batch_keeps_the_first_mark():
    """Made on day 0 and back from a poaching every day: past its mark on day 6, for all that."""
    batches = [Batch(day(0), "broth", 4.0, 4.0), *(Batch(day(n), "poached", 1.0, 1.0) for n in range(1, 5))]
    books = houses.books(counts=(CountedLot(day(0), "poached", 0.0),), batches=tuple(batches))
    assert {until for _, until in lots(opening(poaching(), books, day(5)), "broth")} == {day(5)}
    assert lots(opening(poaching(), books, day(6)), "broth") == []


def test_leftovers_counted_without_a_date_keep_the_mark_of_the_batches_in_the_books():
    """The oldest went first: of five litres four are of the last batch and one is of the one before."""
    batches = (Batch(day(0), "broth", 4.0, 4.0), Batch(day(2), "broth", 4.0, 4.0))
    books = houses.books(counts=(CountedLot(day(4), "broth", 5.0),), batches=batches)
    assert lots(opening(poaching(), books, day(4)), "broth") == [(1.0, day(5)), (4.0, day(7))]


def stock_and_jus():
    """Stock for bowls and for a jus made of three litres of it; both keep five days."""
    return houses.house(
        [ingredient("hens")],
        [
            recipe("stock", 8, {"hens": 5}, is_whole=True, keeps_days=5, hazards=MARK),
            recipe("jus", 2, {"stock": 3}, is_whole=True, keeps_days=5, hazards=MARK),
        ],
        [dish("soup", "stock"), dish("duck", "jus")],
    )


STOCKS = (Batch(day(0), "stock", 5.0, 8.0), Batch(day(3), "stock", 5.0, 8.0))


@pytest.mark.parametrize(
    ("jus", "left"),
    [
        ([3], [(3.0, day(5)), (5.0, day(8))]),  # of the second stock
        ([1], [(8.0, day(8))]),  # of the first, before there was another
        ([1, 3], [(3.0, day(5)), (5.0, day(8))]),
        ([], [(8.0, day(5))]),  # none written down: it may have been any
    ],
)
def test_leftovers_of_what_a_jus_took_the_freshest_of_are_older(jus, left):
    """Two stocks of eight litres, 8 l counted on day 4: the guests took the oldest, the jus the freshest."""
    batches = (*STOCKS, *(Batch(day(n), "jus", 3.0, 2.0) for n in jus))
    books = houses.books(counts=(CountedLot(day(4), "stock", 8.0),), batches=batches)
    assert lots(opening(stock_and_jus(), books, day(4)), "stock") == left


@pytest.mark.parametrize(
    ("stock_on", "last"), [((0,), 5), ((0, 3), 8), ((0, 4), 9), ((0, 5), 5), ((-5,), 9), ((), 9)], ids=str
)
def test_a_jus_counted_without_a_label_is_good_no_longer_than_the_freshest_stock_there_was(stock_on, last):
    """Two litres begun on day 4; the stock of a later day is not in it. Of no stock nothing is known."""
    batches = (
        *(Batch(day(n), "stock", 5.0, 8.0) for n in stock_on),
        Batch(day(4), "jus", 3.0, 2.0),
    )
    books = houses.books(counts=(CountedLot(day(5), "jus", 2.0),), batches=batches)
    assert lots(opening(stock_and_jus(), books, day(5)), "jus") == [(2.0, day(last))]


def test_a_label_settles_which_batch_is_left():
    counts = (CountedLot(day(4), "stock", 8.0, day(8)),)
    found = opening(stock_and_jus(), houses.books(counts=counts, batches=STOCKS), day(4))
    assert lots(found, "stock") == [(8.0, day(8))]


def test_no_more_is_dated_of_a_batch_than_it_gave_on_all_shelves_together():
    """Broth in two rooms, in one of them labelled: the batch of day 2 gave four litres in all."""
    batches = (Batch(day(0), "broth", 4.0, 4.0), Batch(day(2), "broth", 4.0, 0.0))
    counts = (CountedLot(day(4), "broth", 2.0), CountedLot(day(4), "broth", 3.0, day(7)))
    found = lots(opening(poaching(), houses.books(counts=counts, batches=batches), day(4)), "broth")
    assert found == [(1.0, day(5)), (1.0, day(7)), (3.0, day(7))]
    counts = (CountedLot(day(4), "broth", 3.0), CountedLot(day(4), "broth", 3.0))
    found = lots(opening(poaching(), houses.books(counts=counts, batches=batches), day(4)), "broth")
    assert found == [(2.0, day(5)), (1.0, day(7)), (3.0, day(7))]


def test_leftovers_counted_twice_keep_the_date_of_the_first_count():
    counts = (CountedLot(day(0), "broth", 4.0, day(3)), CountedLot(day(2), "broth", 1.0))
    assert lots(opening(poaching(), houses.books(counts=counts), day(2)), "broth") == [(1.0, day(3))]
    counts += (CountedLot(day(3), "broth", 0.5),)
    assert lots(opening(poaching(), houses.books(counts=counts), day(3)), "broth") == [(0.5, day(3))]


def test_leftovers_of_a_batch_that_is_past_its_mark_are_past_it():
    counts = (CountedLot(day(8), "broth", 1.0),)
    batches = (Batch(day(0), "broth", 4.0, 4.0),)
    found = opening(poaching(), houses.books(counts=counts, batches=batches), day(8))
    assert lots(found, "broth") == []
    assert any(doubt.startswith("Past its use-by") for doubt in found.doubts)


def test_leftovers_that_no_batch_of_the_books_explains_are_as_if_made_that_day():
    """Nobody knows when they were made: six litres of which the books have four."""
    counts = (CountedLot(day(2), "broth", 6.0),)
    found = opening(
        poaching(), houses.books(counts=counts, batches=(Batch(day(1), "broth", 4.0, 4.0),)), day(2)
    )
    assert lots(found, "broth") == [(4.0, day(6)), (2.0, day(7))]


def test_what_carries_no_mark_is_dated_as_before():
    house = houses.house([ingredient("milk", keeps_days=4)])
    counts = (
        CountedLot(date(2026, 6, 1), "milk", 2.0, date(2026, 6, 3)),
        CountedLot(date(2026, 6, 2), "milk", 1.0),
    )
    found = opening(house, houses.books(counts=counts), date(2026, 6, 2))
    assert lots(found, "milk") == [(1.0, date(2026, 6, 6))]


COUNTED = st.dictionaries(st.integers(0, 29), st.integers(0, 8), min_size=1)
MADE = st.dictionaries(st.integers(0, 29), st.integers(1, 6))


@given(COUNTED, MADE)
@settings(max_examples=40, deadline=None)
def test_counts_of_which_nothing_can_be_good_any_more_need_not_be_followed(rows, made):
    """Years of counts give what all of them would: the same lots good today, with the same last days."""
    books = houses.books(
        counts=tuple(CountedLot(day(n), "broth", q) for n, q in rows.items()),
        batches=tuple(Batch(day(n), "broth", 0.0, q) for n, q in made.items()),
    )
    with pytest.MonkeyPatch.context() as every:
        every.setattr("ordering.net.counted_marks._lately", lambda house, rows: rows)
        expected = lots(opening(poaching(), books, day(30)), "broth")
    assert lots(opening(poaching(), books, day(30)), "broth") == expected
