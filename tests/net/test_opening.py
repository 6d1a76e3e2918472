"""Counts rolled forward to the morning of a run."""

from dataclasses import replace
from datetime import date, timedelta

import houses
import pytest
from houses import day, dish, ingredient, line, recipe

from ordering.net.opening import open_orders, opening
from ordering.records.books import Batch, CountedLot, OpenOrder, Receipt, Waste
from ordering.records.plan import Opening


def iso(n):
    return day(n).isoformat()


def home():
    """Toast of bread (baked overnight from flour), soup made for the service from onions."""
    return houses.house(
        [ingredient("flour"), ingredient("onion", keeps_days=10), ingredient("milk", "l", keeps_days=4)],
        [
            recipe("bread", 2, {"flour": 1.2}, takes_days=1, keeps_days=3),
            recipe("soup", 1, [line("onion", 0.45, yield_fraction=0.9)], keeps_days=2),
            recipe("glass", 1, {"milk": 1}, unit="l"),
        ],
        [dish("toast", "bread", 0.1), dish("bowl", "soup", 0.4), dish("drink", "glass", 0.25)],
        [houses.vendor("mill")],
    )


def lots(found: Opening, item):
    return [(round(x.quantity, 6), x.use_by, x.ready_on) for x in found.lots if x.item == item]


def test_a_count_of_the_morning_is_taken_as_it_is():
    books = houses.books(
        counts=(CountedLot(day(3), "onion", 5.0, day(6)), CountedLot(day(3), "onion", 2.0, day(9)))
    )
    assert lots(opening(home(), books, day(3)), "onion") == [(5.0, day(6), None), (2.0, day(9), None)]


def test_only_the_latest_count_holds_all_its_rows_and_no_later_one():
    counts = (
        CountedLot(day(0), "onion", 50.0),
        CountedLot(day(2), "onion", 3.0, day(5)),
        CountedLot(day(2), "onion", 4.0, day(8)),
        CountedLot(day(5), "onion", 99.0),
    )
    found = opening(home(), houses.books(counts=counts), day(3))
    assert lots(found, "onion") == [(3.0, day(5), None), (4.0, day(8), None)]


def test_a_count_without_a_date_keeps_at_most_from_the_day_of_the_count():
    found = opening(home(), houses.books(counts=(CountedLot(day(0), "milk", 5.0),)), day(2))
    assert lots(found, "milk") == [(5.0, day(4), None)]


def test_what_is_past_its_last_day_is_not_counted_on_and_is_said():
    found = opening(home(), houses.books(counts=(CountedLot(day(0), "milk", 5.0, day(1)),)), day(2))
    assert lots(found, "milk") == []
    said = "Past its use-by: left out of stock (log it as waste if thrown away): "
    assert f"{said}Milk" in found.doubts


def test_sales_since_the_count_are_used_up_through_same_day_recipes():
    """Ten bowls of 0.4 kg are 4 kg of soup, 2 kg of onion as purchased; the day of the run is to come."""
    sales = [(iso(0), "dinner", "bowl", 4), (iso(1), "dinner", "bowl", 6), (iso(2), "dinner", "bowl", 50)]
    books = houses.books(sales, counts=(CountedLot(day(0), "onion", 5.0, day(8)),))
    assert lots(opening(home(), books, day(2)), "onion") == [(3.0, day(8), None)]


def test_sales_before_the_count_are_in_the_count():
    sales = [(iso(0), "dinner", "bowl", 4), (iso(1), "dinner", "bowl", 6)]
    books = houses.books(sales, counts=(CountedLot(day(1), "onion", 5.0, day(8)),))
    assert lots(opening(home(), books, day(2)), "onion") == [(3.8, day(8), None)]


def test_a_stocked_preparation_is_drawn_before_its_parts():
    """3 kg of soup are there: of the 4 kg sold only one is made new, from half a kilo of onion."""
    books = houses.books(
        [(iso(0), "dinner", "bowl", 10)],
        counts=(CountedLot(day(0), "onion", 5.0, day(8)), CountedLot(day(0), "soup", 3.0, day(1))),
    )
    found = opening(home(), books, day(1))
    assert lots(found, "soup") == []
    assert lots(found, "onion") == [(4.5, day(8), None)]


def test_first_expired_goes_first():
    books = houses.books(
        [(iso(0), "dinner", "drink", 12)],
        counts=(CountedLot(day(0), "milk", 2.0, day(3)), CountedLot(day(0), "milk", 2.0, day(1))),
    )
    assert lots(opening(home(), books, day(1)), "milk") == [(1.0, day(3), None)]


def test_receipts_from_the_day_of_the_count_on_come_in_with_their_dates():
    receipts = (
        Receipt(day(-1), "mill", "M", "milk", 1, 9.0),
        Receipt(day(0), "mill", "M", "milk", 1, 3.0),
        Receipt(day(1), "mill", "M", "milk", 1, 2.0, use_by=day(9)),
        Receipt(day(3), "mill", "M", "milk", 1, 7.0),
    )
    books = houses.books(counts=(CountedLot(day(0), "milk", 1.0, day(2)),), receipts=receipts)
    found = opening(home(), books, day(2))
    assert lots(found, "milk") == [(1.0, day(2), None), (3.0, day(4), None), (2.0, day(9), None)]


def test_what_came_through_the_door_this_morning_is_there():
    receipts = (Receipt(day(2), "mill", "M", "milk", 1, 3.0),)
    books = houses.books(counts=(CountedLot(day(2), "milk", 1.0, day(3)),), receipts=receipts)
    assert lots(opening(home(), books, day(2)), "milk") == [(1.0, day(3), None), (3.0, day(6), None)]


def test_waste_is_out():
    books = houses.books(
        counts=(CountedLot(day(0), "flour", 9.0),),
        waste=(Waste(day(0), "flour", 2.0, "moths"), Waste(day(1), "flour", 5.0, "today")),
    )
    assert lots(opening(home(), books, day(1)), "flour") == [(7.0, None, None)]


def test_a_batch_draws_its_lines_and_comes_in_when_it_is_ready():
    """Bread begun yesterday from 1.2 kg of flour is ready this morning; today's is not looked at."""
    books = houses.books(
        counts=(CountedLot(day(0), "flour", 9.0), CountedLot(day(0), "bread", 0.5, day(1))),
        batches=(Batch(day(1), "bread", 2.4, 3.9), Batch(day(2), "bread", 1.2, 2.0)),
    )
    found = opening(home(), books, day(2))
    assert lots(found, "flour") == [(6.6, None, None)]
    assert lots(found, "bread") == [(3.9, day(5), None)]


def test_a_batch_under_way_is_a_lot_in_process():
    books = houses.books(
        counts=(CountedLot(day(0), "flour", 9.0), CountedLot(day(0), "bread", 0.5, day(3))),
        batches=(Batch(day(1), "bread", 1.2, 0.0),),
    )
    house = home()
    slow = recipe("bread", 2, {"flour": 1.2}, takes_days=3, keeps_days=3)
    house = houses.house(house.ingredients.values(), [slow], [dish("toast", "bread", 0.1)])
    assert lots(opening(house, books, day(2)), "bread") == [(0.5, day(3), None), (2.0, day(7), day(4))]


def test_a_batch_in_process_that_was_counted_does_not_come_in_twice():
    books = houses.books(
        counts=(CountedLot(day(2), "bread", 2.0, None, day(4)), CountedLot(day(2), "bread", 1.0, day(3))),
        batches=(Batch(day(1), "bread", 1.2, 2.0),),
    )
    house = houses.house(
        [ingredient("flour")],
        [recipe("bread", 2, {"flour": 1.2}, takes_days=3, keeps_days=3)],
        [dish("toast", "bread", 0.1)],
    )
    found = opening(house, books, day(3))
    assert lots(found, "bread") == [(1.0, day(3), None), (2.0, day(7), day(4))]


def test_a_batch_ready_on_the_morning_of_the_count_is_in_it():
    books = houses.books(
        counts=(CountedLot(day(2), "bread", 2.0, day(5)),), batches=(Batch(day(1), "bread", 1.2, 2.0),)
    )
    assert lots(opening(home(), books, day(2)), "bread") == [(2.0, day(5), None)]


def test_where_no_batches_are_written_down_what_was_sold_was_made_in_time():
    """Bread sold on day 2 beyond what was counted was begun on day 1, and its flour drawn then."""
    books = houses.books(
        [(iso(2), "dinner", "toast", 20)],
        counts=(CountedLot(day(0), "flour", 9.0), CountedLot(day(2), "bread", 1.0, day(4))),
    )
    assert lots(opening(home(), books, day(3)), "flour") == [(8.4, None, None)]


def test_where_batches_are_written_down_flour_is_drawn_by_them_alone():
    books = houses.books(
        [(iso(2), "dinner", "toast", 20)],
        counts=(CountedLot(day(0), "flour", 9.0), CountedLot(day(0), "bread", 0.0, day(4))),
        batches=(Batch(day(1), "bread", 1.2, 2.0),),
    )
    found = opening(home(), books, day(3))
    assert lots(found, "flour") == [(7.8, None, None)]
    assert lots(found, "bread") == []


def test_more_gone_than_was_there_is_said():
    books = houses.books([(iso(0), "dinner", "drink", 40)], counts=(CountedLot(day(0), "milk", 2.0, day(3)),))
    found = opening(home(), books, day(1))
    said = "Sales used more than you had (recount, or log the missing batch or delivery): "
    assert f"{said}Milk" in found.doubts
    assert found.doubtful == {"milk"}


def test_never_counted_is_none_and_said():
    found = opening(home(), houses.books(counts=(CountedLot(day(0), "flour", 9.0),)), day(0))
    assert found.unknown == {"onion", "milk", "bread"}
    assert found.doubts == ("Never counted, so taken as none: Bread, Milk, Onion",)
    assert not found.doubtful


def test_names_that_hold_a_comma_are_told_apart():
    house = home()
    milk = replace(house.ingredients["milk"], name="Milk, whole")
    house = replace(house, ingredients={**house.ingredients, "milk": milk})
    found = opening(house, houses.books(counts=(CountedLot(day(0), "flour", 9.0),)), day(0))
    assert found.doubts == ("Never counted, so taken as none: Bread; Milk, whole; Onion",)


@pytest.mark.parametrize(("n_goods", "ends"), [(12, "Spice 11, Spice 12"), (14, "Spice 12 and 2 more")])
def test_twelve_names_fit_on_a_line_and_the_rest_is_a_number(n_goods, ends):
    spices = [f"spice-{n:02d}" for n in range(1, n_goods + 1)]
    house = houses.house(
        [ingredient(i) for i in spices],
        [recipe("rub", 1, dict.fromkeys(spices, 0.01))],
        [dish("dip", "rub")],
        [],
    )
    (said,) = opening(house, houses.books(), day(0)).doubts
    assert said.startswith("Never counted, so taken as none: Spice 01, ")
    assert said.endswith(ends)


def test_an_item_never_counted_begins_with_its_first_receipt():
    books = houses.books(
        [(iso(1), "dinner", "drink", 4)], receipts=(Receipt(day(0), "mill", "M", "milk", 1, 3.0),)
    )
    found = opening(home(), books, day(2))
    assert lots(found, "milk") == [(2.0, day(4), None)]
    assert "milk" in found.unknown


def test_by_products_of_written_batches_come_in():
    house = houses.house(
        [ingredient("rib"), ingredient("trim", keeps_days=5)],
        [recipe("aged", 1, {"rib": 2}, takes_days=1, also_makes=(("trim", 0.3),))],
        [dish("steak", "aged", 0.3)],
    )
    books = houses.books(
        counts=(CountedLot(day(0), "trim", 0.1, day(3)), CountedLot(day(0), "rib", 10.0)),
        batches=(Batch(day(0), "aged", 4.0, 2.0),),
    )
    found = opening(house, books, day(2))
    assert lots(found, "trim") == [(0.1, day(3), None), (0.6, day(6), None)]
    assert lots(found, "rib") == [(6.0, None, None)]


def test_a_date_marked_batch_keeps_the_date_of_the_burgers_in_it():
    house = houses.house(
        [ingredient("beef")],
        [
            recipe("burger", 1, {"beef": 1}, keeps_days=7, hazards=("date-mark",)),
            recipe("chili", 1, {"burger": 1}, keeps_days=7, hazards=("date-mark",)),
        ],
        [dish("bowl", "chili", 0.5)],
    )
    june = date(2026, 6, 1)
    books = houses.books(
        counts=(CountedLot(june, "burger", 5.0, june + timedelta(days=6)),),
        batches=(Batch(june + timedelta(days=2), "chili", 3.0, 3.0),),
    )
    found = opening(house, books, june + timedelta(days=4))
    assert lots(found, "chili") == [(3.0, date(2026, 6, 7), None)]


OPEN = OpenOrder("mill", "M", "milk", 2, 6.0, day(4))


@pytest.mark.parametrize(
    ("on", "is_coming", "is_doubtful"),
    [(3, True, False), (4, True, False), (5, True, False), (6, False, True)],
)
def test_an_open_order_counts_until_a_day_past_its_day(on, is_coming, is_doubtful):
    scheduled, late = open_orders(home(), houses.books(open_orders=(OPEN,)), day(on))
    assert bool(scheduled) == is_coming
    assert bool(late) == is_doubtful


def test_nothing_in_the_books_is_nothing_in_the_house():
    found = opening(home(), houses.books(), day(0))
    assert found.lots == ()
    assert found.scheduled == ()


def pie_house():
    """Pie of filling (two kilos a batch, ready the next day, keeps three) of beef."""
    return houses.house(
        [ingredient("beef", keeps_days=14)],
        [
            recipe("pie", 1, {"filling": 0.2}),
            recipe("filling", 2, {"beef": 2.0}, takes_days=1, keeps_days=3),
        ],
        [dish("plate", "pie", 1)],
    )


def pies(*sold):
    """Pies sold on days 0, 1, ..."""
    return [(iso(n), "dinner", "plate", number) for n, number in enumerate(sold)]


def test_an_old_batch_does_not_switch_off_what_recipes_use():
    """One filling written down in the summer; since the count on day 0 ten pies a day, none written down."""
    counts = (CountedLot(day(0), "beef", 40.0), CountedLot(day(0), "filling", 0.0))
    without = opening(pie_house(), houses.books(pies(10, 10, 10), counts=counts), day(3))
    summer = (Batch(day(-170), "filling", 2.0, 2.0),)
    with_it = opening(pie_house(), houses.books(pies(10, 10, 10), counts=counts, batches=summer), day(3))
    assert lots(without, "beef") == lots(with_it, "beef") == [(36.0, day(14), None)]


def test_batches_forgotten_on_some_days_are_inferred_from_what_was_sold_and_said():
    """30 pies on days 1 to 3 ate 6 kg of filling. 2 kg are written down; the rest took beef all the same."""
    books = houses.books(
        pies(0, 10, 10, 10),
        counts=(CountedLot(day(0), "beef", 40.0), CountedLot(day(0), "filling", 0.0)),
        batches=(Batch(day(1), "filling", 2.0, 2.0),),
    )
    found = opening(pie_house(), books, day(4))
    assert lots(found, "beef") == [(34.0, day(14), None)]
    assert found.doubts == (
        "Sales used more than the batches logged, so the rest is taken as made from its parts "
        "(log every batch, or recount): Filling",
    )
    assert found.doubtful == {"filling"}


def test_where_every_batch_is_written_down_nothing_is_counted_twice():
    """The beef was counted on day 0, the filling on day 3: between them the batches alone drew beef.

    They took a tenth more than the recipe says.
    """
    books = houses.books(
        pies(10, 10, 10, 10),
        counts=(CountedLot(day(0), "beef", 40.0), CountedLot(day(3), "filling", 2.0, day(5))),
        batches=tuple(Batch(day(n), "filling", 2.2, 2.0) for n in (-1, 0, 1, 2)),
    )
    found = opening(pie_house(), books, day(4))
    assert lots(found, "beef") == [(40.0 - 3 * 2.2, day(14), None)]
    assert lots(found, "filling") == []
    assert found.doubts == ()


def test_what_was_made_before_the_beef_was_counted_is_not_made_again():
    """4 kg of filling ready on day 0, before the beef of day 1: they feed the pies of days 0 and 1."""
    books = houses.books(
        pies(10, 10),
        counts=(CountedLot(day(1), "beef", 40.0), CountedLot(day(2), "filling", 0.0)),
        batches=(Batch(day(-1), "filling", 4.0, 4.0),),
    )
    assert lots(opening(pie_house(), books, day(2)), "beef") == [(40.0, day(15), None)]


def test_what_only_a_par_asks_for_is_unknown_until_it_is_counted():
    house = houses.house([ingredient("fruit")], [recipe("jam", 1, {"fruit": 1}, par=2.0)])
    assert opening(house, houses.books(), day(0)).unknown == {"fruit", "jam"}
    counted = houses.books(counts=(CountedLot(day(0), "jam", 0.0), CountedLot(day(0), "fruit", 1.0)))
    assert opening(house, counted, day(0)).unknown == set()


def smokehouse():
    oak, paper = ("oak", 180.0, "day"), ("paper", 1.0, "cover")
    return houses.house([ingredient("oak"), ingredient("paper", "each")], consumables=[oak, paper])


def counted(*counts):
    return tuple(CountedLot(day(n), item, quantity) for n, item, quantity in counts)


def test_consumables_are_drawn_by_the_services_held_since_the_count():
    """The fire of three days, the paper of three hundred guests; what was used before the count is in it."""
    covers = [(iso(n), "dinner", 100) for n in range(4)]
    counts = counted((1, "oak", 2600.0), (1, "paper", 1700.0))
    found = opening(smokehouse(), houses.books((), covers, counts=counts), day(4))
    assert lots(found, "oak") == [(2060.0, None, None)]
    assert lots(found, "paper") == [(1400.0, None, None)]
    assert found.doubts == ()


def test_consumables_of_services_not_yet_in_the_books_go_by_the_calendar_and_that_is_said():
    counts = counted((0, "oak", 2600.0), (0, "paper", 1700.0))
    found = opening(smokehouse(), houses.books((), [(iso(0), "dinner", 100)], counts=counts), day(3))
    assert lots(found, "oak") == [(2060.0, None, None)]
    assert lots(found, "paper") == [(1600.0, None, None)]
    assert found.doubts == (
        "No covers and no sales logged yet for dinner from Tue 24 Nov to Wed 25 Nov, so consumables are "
        "counted as if every service on the calendar had run; nothing is taken off for what goes by "
        "the cover: Paper",
    )


def test_more_consumables_used_up_than_were_counted_is_said():
    covers = [(iso(n), "dinner", 100) for n in range(3)]
    books = houses.books((), covers, counts=counted((0, "oak", 200.0), (0, "paper", 1700.0)))
    found = opening(smokehouse(), books, day(3))
    assert lots(found, "oak") == []
    assert found.doubtful == {"oak"}


@pytest.mark.parametrize(("counted", "is_doubtful"), [(2.26, False), (2.24, True)])
def test_up_to_a_tenth_more_gone_than_was_there_is_a_generous_hand(counted, is_doubtful):
    """Ten drinks of a quarter of a litre."""
    count = (CountedLot(day(0), "milk", counted, day(3)),)
    found = opening(home(), houses.books([(iso(0), "dinner", "drink", 10)], counts=count), day(1))
    assert ("milk" in found.doubtful) == is_doubtful
