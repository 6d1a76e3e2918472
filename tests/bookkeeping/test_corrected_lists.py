"""A list that corrects takes the place of every row of the one before; lists that overlap are asked about."""

import pytest
from kitchens import BATCHES, SAT, WASTE, book, refused

from ordering.records.documents import Meant

WED, THU, FRI = "2026-11-25", "2026-11-26", "2026-11-27"


def wasted(kitchen):
    return sorted((w.date.isoformat(), w.item, w.quantity) for w in kitchen.seen().waste)


def made(kitchen):
    return sorted((b.started_on.isoformat(), b.recipe, b.made) for b in kitchen.seen().batches)


def came(kitchen):
    receipts = kitchen.seen().receipts
    return sorted((r.delivered_on.isoformat(), r.vendor, r.code, r.packs) for r in receipts)


def counted(kitchen):
    return sorted((c.counted_on.isoformat(), c.item, c.quantity) for c in kitchen.seen().counts)


WASTED, BATCHED = (WASTE, wasted, "W-1"), (BATCHES, made, "B-1")
MENDED = {
    "waste, day": (*WASTED, f"{THU},duck,2,kg,late\n", [(THU, "duck", 2.0), (FRI, "flour", 5.0)]),
    "waste, item": (*WASTED, f"{WED},yeast,200,g,late\n", [(WED, "yeast", 200.0), (FRI, "flour", 5.0)]),
    "waste, quantity": (*WASTED, f"{WED},duck,1,kg,late\n", [(WED, "duck", 1.0), (FRI, "flour", 5.0)]),
    "waste, row gone": (*WASTED, "", [(FRI, "flour", 5.0)]),
    "batch, day": (*BATCHED, f"{THU},confit,4,1.6,kg\n", [(THU, "confit", 1.6), (FRI, "confit", 2.0)]),
    "batch, recipe": (*BATCHED, f"{WED},pie,,10,each\n", [(WED, "pie", 10.0), (FRI, "confit", 2.0)]),
    "batch, quantity": (*BATCHED, f"{WED},confit,4,1.8,kg\n", [(WED, "confit", 1.8), (FRI, "confit", 2.0)]),
    "batch, row gone": (*BATCHED, "", [(FRI, "confit", 2.0)]),
}
FIRST = {
    WASTE: (f"{WED},duck,2,kg,late\n", f"{FRI},flour,5,kg,wet\n"),
    BATCHES: (f"{WED},confit,4,1.6,kg\n", f"{FRI},confit,4,2,kg\n"),
}


@pytest.mark.parametrize("what", MENDED)
def test_a_corrected_list_takes_back_every_row_it_no_longer_has(kitchen, what):
    heads, standing, number, row, stands = MENDED[what]
    wrong, rest = FIRST[heads]
    book(kitchen, heads + wrong + rest, "week.csv")
    book(kitchen, heads + row + rest, "mended.csv", meant=Meant(corrects=number))
    assert standing(kitchen) == stands


CAME = {
    "code": ("2026-11-28,miller,M-9,3\n", ("2026-11-28", "miller", "M-9", 3.0)),
    "vendor's rows gone": ("", None),
}


@pytest.mark.parametrize("what", CAME)
def test_a_corrected_delivery_takes_back_every_row_it_no_longer_has(kitchen, what):
    row, stands = CAME[what]
    rest = "2026-11-28,poulterer,077,5,10,kg\n"
    kitchen.receive("2026-11-28,miller,M-1,3\n" + rest, yes=True)
    kitchen.receive(row + rest, name="mended.csv", corrects="D-1", yes=True)
    expected = [("2026-11-28", "poulterer", "077", 5.0), *([stands] if stands else [])]
    assert came(kitchen) == sorted(expected)


def test_a_corrected_count_takes_back_the_item_that_was_mended(kitchen):
    kitchen.count(f"{THU},yeast,380,g,\n{THU},duck,3,kg,\n", yes=True)
    kitchen.count(f"{THU},flour,29,kg,\n{THU},duck,3,kg,\n", name="mended.csv", corrects="C-1", yes=True)
    assert [row for row in counted(kitchen) if row[0] == THU] == [(THU, "duck", 3.0), (THU, "flour", 29.0)]


LISTS = {
    "waste": (WASTE, f"{WED},duck,1,kg,soft\n", f"{FRI},duck,2,kg,soft\n", wasted, "W-1"),
    "batches": (BATCHES, f"{WED},confit,4,1.6,kg\n", f"{FRI},confit,4,2,kg\n", made, "B-1"),
}


@pytest.mark.parametrize("kind", LISTS)
@pytest.mark.parametrize("name", ["monday.csv", "week.csv"])
def test_a_week_s_list_that_holds_monday_s_again_is_asked_about_and_nothing_is_booked(kitchen, kind, name):
    """Whatever the two files are called: the second says the same waste, or the same batch, once more."""
    heads, monday, later, standing, number = LISTS[kind]
    book(kitchen, heads + monday, "monday.csv")
    before = standing(kitchen)
    caught = refused(lambda: book(kitchen, heads + monday + later, name))
    assert [fault.kind for fault in caught.faults] == ["looks-alike"]
    assert number in str(caught)
    assert standing(kitchen) == before


@pytest.mark.parametrize("kind", LISTS)
def test_a_week_s_list_in_the_place_of_monday_s_counts_monday_once(kitchen, kind):
    heads, monday, later, standing, number = LISTS[kind]
    book(kitchen, heads + monday, "monday.csv")
    book(kitchen, heads + monday + later, "week.csv", meant=Meant(corrects=number))
    assert [day for day, *_ in standing(kitchen)] == [WED, FRI]


@pytest.mark.parametrize("kind", LISTS)
def test_a_second_list_of_the_same_file_name_replaces_nothing(kitchen, kind):
    """`waste.csv` every evening: each is a list of its own."""
    heads, monday, later, standing, _ = LISTS[kind]
    book(kitchen, heads + monday, "list.csv")
    book(kitchen, heads + later, "list.csv", on=SAT)
    assert [day for day, *_ in standing(kitchen)] == [WED, FRI]


@pytest.mark.parametrize("kind", LISTS)
def test_two_lists_of_the_same_goods_add_up_where_both_are_meant(kitchen, kind):
    """Lunch and dinner of one day."""
    heads, monday, _, standing, _ = LISTS[kind]
    book(kitchen, heads + monday, "lunch.csv")
    book(
        kitchen,
        heads + monday.replace(",soft", ",burnt").replace("4,1.6", "4,1.7"),
        "dinner.csv",
        meant=Meant(is_further=True),
    )
    assert [day for day, *_ in standing(kitchen)] == [WED, WED]
