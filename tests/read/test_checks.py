"""Doubts: what may be right but looks odd, each where it is written."""

from dataclasses import replace
from datetime import date
from decimal import Decimal

import pandas as pd
import pytest

from ordering.read.checks import doubts
from ordering.records.books import Books, CountedLot, LeftOut, OpenOrder, Receipt
from ordering.records.house import Closure, Dish, House, Ingredient, Party, Place, Recipe, RecipeLine, Service
from ordering.records.vendors import DeliveryDay, Offer, Vendor

ON = date(2026, 11, 26)
THU, WED, SUN = 3, 2, 6


def days(*texts):
    return pd.to_datetime(list(texts)).astype("datetime64[ns]")


def sold(dish="soup", on="2026-11-20", service="dinner"):
    return pd.DataFrame(
        {"date": days(on), "service": [service], "dish": [dish], "sold": [9.0], "sold_out": [False]}
    )


HOUSE = House(
    name="Test Kitchen",
    services={"dinner": Service("dinner", frozenset({THU, SUN}))},
    vendors={"farm": Vendor("farm", "Farm", "farm@farm.example", deliveries=(DeliveryDay(THU, WED, None),))},
    ingredients={
        "carrot": Ingredient(
            "carrot",
            "Carrot",
            "kg",
            keeps_days=3,
            offers=(Offer("farm", "C-1", "carrot", "5 kg", 5.0, Decimal(6)),),
        )
    },
    recipes={"soup": Recipe("soup", "Soup", "kg", 4.0, (RecipeLine("carrot", 4.0),))},
    dishes={"soup": Dish("soup", "Soup", "soup", 0.25, Decimal(7), frozenset({"dinner"}))},
    places={
        "ingredients.carrot": Place("config/ingredients.yaml", 12),
        "dishes.soup": Place("config/menu.yaml", 3),
    },
)
BOOKS = Books(
    sales=sold(),
    covers=pd.DataFrame({"date": days("2026-11-20"), "service": ["dinner"], "covers": [30.0]}),
    counts=(CountedLot(ON, "carrot", 3.0),),
    files={"counts": "books/counts.csv"},
)


def kinds(house=HOUSE, books=BOOKS, on=ON):
    return {fault.kind for fault in doubts(house, books, on)}


def changed(part, key, **fields):
    entries = dict(getattr(HOUSE, part))
    entries[key] = replace(entries[key], **fields)
    return replace(HOUSE, **{part: entries})


def test_a_sound_house_raises_no_doubt():
    assert doubts(HOUSE, BOOKS, ON) == []


def test_a_doubt_says_where_its_entry_is_written():
    house = changed("ingredients", "carrot", offers=())
    assert [str(one) for one in doubts(house, BOOKS, ON)] == [
        "config/ingredients.yaml:12: carrot: no vendor offers it; "
        "add an offer; until then it can only run short"
    ]


def test_what_is_only_kept_must_last_until_the_next_delivery():
    """Thursday's delivery must reach Sunday: three days."""
    assert kinds(changed("ingredients", "carrot", keeps_days=2)) == {"short-keeping"}


def test_what_is_made_into_something_that_keeps_need_not_last_itself():
    house = changed("ingredients", "carrot", keeps_days=1)
    recipes = {"soup": replace(HOUSE.recipes["soup"], keeps_days=2)}
    assert kinds(replace(house, recipes=recipes)) == set()
    raw = Recipe("salad", "Salad", "kg", 1.0, (RecipeLine("carrot", 1.0),), par=1.0)
    assert kinds(replace(house, recipes=recipes | {"salad": raw})) == {"short-keeping"}


def test_by_products_need_no_vendor():
    bones = Ingredient("bones", "Bones", "kg")
    stock = Recipe("stock", "Stock", "kg", 1.0, (RecipeLine("bones", 1.0),), par=1.0)
    soup = replace(HOUSE.recipes["soup"], lines=(RecipeLine("carrot", 5.0),), also_makes=(("bones", 1.0),))
    counted = replace(BOOKS, counts=(*BOOKS.counts, CountedLot(ON, "bones", 0.0)))
    house = replace(
        HOUSE, ingredients=HOUSE.ingredients | {"bones": bones}, recipes={"soup": soup, "stock": stock}
    )
    assert kinds(house, counted) == set()


@pytest.mark.parametrize(
    ("fields", "expected"),
    [
        ({"makes": 4.0}, set()),
        ({"makes": 4.07}, set()),
        ({"makes": 4.1}, {"weight-gain"}),
        ({"makes": 4.1, "reason": "takes up water"}, set()),
        ({"makes": 4.0, "also_makes": (("carrot", 1.0),)}, {"weight-gain"}),
        ({"lines": (RecipeLine("carrot", 4.0, returns=1.0),)}, {"weight-gain"}),
        ({"lines": (RecipeLine("carrot", 4.0, 0.8),), "makes": 4.9}, set()),
        ({"unit": "l", "makes": 9.0}, set()),
    ],
)
def test_more_weight_out_than_in_wants_a_reason(fields, expected):
    """Where weights are known; as purchased counts as in, so that trim can be a by-product."""
    assert kinds(changed("recipes", "soup", **fields)) == expected


def test_a_yield_over_one_is_doubted_once_where_it_is_written():
    bought = changed("ingredients", "carrot", yield_fraction=2.0)
    line = replace(HOUSE.recipes["soup"], lines=(RecipeLine("carrot", 4.0, 2.0),))
    found = doubts(replace(bought, recipes={"soup": line}), BOOKS, ON)
    assert [(one.kind, one.subject) for one in found] == [("yield-over-one", "carrot")]
    assert kinds(replace(HOUSE, recipes={"soup": line})) == {"yield-over-one"}


def test_an_offer_that_has_ended_is_no_offer():
    ended = replace(HOUSE.ingredients["carrot"].offers[0], until=date(2026, 11, 25))
    assert kinds(changed("ingredients", "carrot", offers=(ended,))) == {"no-offer"}
    assert kinds(changed("ingredients", "carrot", offers=(replace(ended, until=ON),))) == set()


def test_counts_older_than_the_last_delivery():
    receipt = Receipt(date(2026, 11, 25), "farm", "C-1", "carrot", 1.0, 5.0)
    before = replace(BOOKS, counts=(CountedLot(date(2026, 11, 24), "carrot", 3.0),), receipts=(receipt,))
    assert [str(one) for one in doubts(HOUSE, before, ON)] == [
        "books/counts.csv: counted on 2026-11-24, before the last delivery: carrot; "
        "what there is now is worked out from the books; count them again to be sure"
    ]
    assert kinds(books=replace(before, receipts=(replace(receipt, delivered_on=ON),))) == set()


def test_an_order_a_day_late_is_not_yet_doubtful():
    order = OpenOrder("farm", "C-1", "carrot", 1.0, 5.0, date(2026, 11, 25))
    assert kinds(books=replace(BOOKS, open_orders=(order,))) == set()
    late = replace(order, deliver_on=date(2026, 11, 24))
    assert kinds(books=replace(BOOKS, open_orders=(late,))) == {"late-order"}


def test_only_sales_before_the_day_count_as_history():
    assert kinds(on=date(2026, 11, 20)) == {"no-sales", "no-covers", "later-count"}
    assert kinds(books=replace(BOOKS, sales=sold(on="2026-11-01"))) == {"old-sales"}


def test_what_a_service_without_covers_rests_on_is_said():
    """Sales stand in for covers; a service without either has its booked guests and its parties alone."""
    (one,) = doubts(HOUSE, replace(BOOKS, covers=BOOKS.covers.iloc[:0]), ON)
    assert one.right.endswith("until then its forecast is made from sales alone")
    found = {f.kind: f.right for f in doubts(HOUSE, BOOKS, date(2026, 11, 20))}
    assert found["no-covers"].endswith("until then no walk-ins are forecast")
    assert "planned for parties and booked covers only" in found["no-sales"]


def test_a_house_without_dishes_needs_no_sales():
    assert kinds(replace(HOUSE, dishes={}), replace(BOOKS, sales=sold().iloc[:0])) <= {"unused-recipe"}


def test_a_count_after_the_day_is_said_once_and_no_item_is_called_uncounted():
    found = [fault for fault in doubts(HOUSE, BOOKS, date(2026, 11, 25)) if "count" in fault.kind]
    assert [fault.kind for fault in found] == ["later-count"]
    assert "the count of 2026-11-26 is later than the day asked for, 2026-11-25: 1 item" in found[0].wrong


def test_a_new_dish_wants_one_to_lean_on():
    pie = Dish("pie", "Pie", "soup", 0.25, Decimal(7), frozenset({"dinner"}))
    house = replace(HOUSE, dishes=HOUSE.dishes | {"pie": pie})
    assert kinds(house) == {"no-history"}
    for fields in ({"like": "soup"}, {"services": frozenset()}, {"until_on": date(2026, 11, 1)}):
        assert kinds(replace(house, dishes=HOUSE.dishes | {"pie": replace(pie, **fields)})) == set(), fields


def test_parties_gone_by_are_not_doubted():
    party = Party("Wedding", date(2026, 11, 29), "dinner", 40)
    closed = replace(HOUSE, parties=(party,), closures=(Closure(party.date, party.date),))
    assert kinds(closed) == {"no-menu", "party-closed"}
    assert kinds(closed, on=date(2026, 11, 30)) == set()


def test_many_unknown_dishes_are_summed_up():
    left = tuple(LeftOut(f"stew {n}", 2.0, 1, "books/sales.csv", n + 2) for n in range(23))
    found = doubts(HOUSE, replace(BOOKS, left_out=left), ON)
    assert len(found) == 21
    assert any("3 more unknown dishes with 6 sold" in one.wrong for one in found)


@pytest.mark.parametrize(("n_unused", "n_said"), [(12, 12), (13, 1), (40, 1)])
def test_a_whole_price_list_that_no_recipe_uses_is_one_line(n_unused, n_said):
    """A dozen is looked through one by one, a price list is not."""
    carrot = HOUSE.ingredients["carrot"]
    listed = {f"item-{n}": replace(carrot, id=f"item-{n}", name=f"Item {n}") for n in range(n_unused)}
    house = replace(HOUSE, ingredients={**HOUSE.ingredients, **listed})
    found = [fault for fault in doubts(house, BOOKS, ON) if fault.kind == "unused-ingredient"]
    assert len(found) == n_said
    assert n_said > 1 or f"or {n_unused - 1} other ingredients" in found[0].wrong


@pytest.mark.parametrize(("times", "is_asked"), [(8, False), (12, True), (1 / 8, False), (1 / 12, True)])
def test_a_unit_price_is_asked_from_the_slip_of_a_decimal_point_on(times, is_asked):
    """Small packs of fine goods cost several times as much a unit as sacks do."""
    dear = Offer("farm", "C-2", "carrot", "1 kg", 1.0, Decimal("1.20") * Decimal(times))
    offers = (*HOUSE.ingredients["carrot"].offers, dear)
    assert ("unit-price" in kinds(changed("ingredients", "carrot", offers=offers))) == is_asked


@pytest.mark.parametrize(
    ("covers", "usual", "is_asked"),
    [(9_900, 30, False), (10_100, 30, True), (15_000, 3_100, False), (15_000, 2_900, True)],
)
def test_more_covers_than_a_hall_holds_are_asked_about_where_they_are_not_usual(covers, usual, is_asked):
    """Ten thousand in one service; a stadium has that every week."""
    dates = days("2026-11-01", "2026-11-08", "2026-11-15", "2026-11-20")
    book = pd.DataFrame({"date": dates, "service": "dinner", "covers": [usual, usual, usual, covers * 1.0]})
    assert ("large-number" in kinds(books=replace(BOOKS, covers=book))) == is_asked
