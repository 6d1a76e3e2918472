"""Shortages in words: one row per item and day, its cause, and remedies in order of sense."""

from dataclasses import replace
from datetime import date, timedelta

import houses
import numpy as np
import pytest

from ordering.explain.shortages import shortages
from ordering.records.plan import Buying, ItemFlow, Netting, Shortfall, Unmet

MONDAY = houses.MONDAY


def on(n):
    return MONDAY + timedelta(days=n)


def home_of(**rest):
    """Ribs age twelve days; a plate takes 0.25 kg of them; fish is bought and sold the same day."""
    return houses.house(
        [
            houses.ingredient("rib", offers=(houses.offer("butcher", "rib", 5.0, "90.00"),), store="walk-in"),
            houses.ingredient(
                "hake", keeps_days=2, offers=(houses.offer("quay", "hake", 2.0, "30.00"),), store="walk-in"
            ),
        ],
        [
            houses.recipe(
                "aged-rib", 4.0, {"rib": 5.0}, takes_days=12, largest=4.0, hazards=("long-ageing",)
            ),
            houses.recipe("rib-plate", 1.0, {"aged-rib": 0.25}, unit="each"),
            houses.recipe("hake-plate", 1.0, {"hake": 0.2}, unit="each"),
        ],
        [
            houses.dish("rib-roast", "rib-plate", price="30.00"),
            houses.dish("hake-fillet", "hake-plate", price="22.00"),
        ],
        [houses.vendor("butcher", (2, 4)), houses.vendor("quay", (1, 3))],
        **rest,
    )


def rows(home, shortfalls=(), unmet=(), chances=None, portions=None, flows=None, unknown=frozenset()):
    forecast = houses.forecast(home, portions or {"rib-roast": [20.0] * 14, "hake-fillet": [10.0] * 14})
    netting = Netting(flows or {}, {}, (), tuple(shortfalls), {})
    given = (
        chances if chances is not None else houses.chances("butcher", [9, 11]) | houses.chances("quay", [3])
    )
    return shortages(home, netting, Buying((), (), unmet=tuple(unmet)), forecast, given, unknown)


def rib_short(day, number, cause="no-time"):
    return Shortfall(
        "aged-rib", on(day), number * 0.25, cause, {("rib-roast", on(day), "dinner"): float(number)}
    )


def test_a_shortfall_becomes_a_row_with_its_dish_portions_and_day():
    (row,) = rows(home_of(), [rib_short(3, 12)])
    assert (row.date, row.item, row.short, row.unit) == (on(3), "aged-rib", 3.0, "kg")
    assert row.dishes == "Rib roast: 12 portions (Thu 26 Nov)"


def test_no_time_to_age_says_when_it_had_to_be_started():
    (row,) = rows(home_of(), [rib_short(3, 12)])
    assert row.cause == "no time left to age it: it takes 12 days and had to be started on Sat 14 Nov"


def test_no_time_because_what_goes_in_comes_too_late():
    """Ready on day 13 needs a start on day 1, which is still ahead: the rib is what comes too late."""
    (row,) = rows(home_of(), [rib_short(13, 12)])
    assert "what goes into it cannot be here by Tue 24 Nov, 12 days before" in row.cause


def test_some_can_be_served_then_it_is_held_back():
    (row,) = rows(home_of(), [rib_short(3, 12)])
    assert "Rib roast on Thu 26 Nov: there is enough for 8 portions of 20; then hold it back" in row.remedy
    assert "put Hake fillet forward" in row.remedy


def test_a_small_lack_can_be_met_by_smaller_portions():
    (row,) = rows(home_of(), [rib_short(3, 4)])
    assert (
        "enough for 16 portions of 20, or for all with 0.2 kg of Aged rib in place of 0.25 kg" in row.remedy
    )


def test_a_dish_without_anything_is_held_back_whole():
    (row,) = rows(home_of(), [rib_short(3, 20)])
    assert "hold Rib roast back on Thu 26 Nov" in row.remedy


def test_a_hole_of_many_days_is_told_once():
    """Ten days short: ten rows, the first with length, amount and remedy, the others pointing to it."""
    found = rows(home_of(), [rib_short(day, 20) for day in range(3, 13)])
    assert [row.date for row in found] == [on(day) for day in range(3, 13)]
    assert "short on 10 days, Thu 26 Nov to Sat 5 Dec, 50 kg in all" in found[0].cause
    assert "hold Rib roast back on Thu 26 Nov to Sat 5 Dec" in found[0].remedy
    assert {row.remedy for row in found[1:]} == {"as for Thu 26 Nov"}


def test_two_holes_apart_are_told_apart():
    found = rows(home_of(), [rib_short(1, 20), rib_short(9, 20)])
    assert all("hold Rib roast back" in row.remedy for row in found)


def test_rows_of_one_item_and_day_are_merged_with_both_causes():
    (row,) = rows(home_of(), [rib_short(3, 12), rib_short(3, 4, "capacity")])
    assert row.short == pytest.approx(4.0)
    assert row.cause.startswith("no time left to age it")
    assert "capacity" in row.cause
    assert row.dishes == "Rib roast: 16 portions (Thu 26 Nov)"


def test_the_earliest_comes_first_then_the_most_portions():
    hake = Shortfall("hake", on(3), 2.0, "no-delivery", {("hake-fillet", on(3), "dinner"): 10.0})
    later = Shortfall("hake", on(5), 2.0, "no-offer", {("hake-fillet", on(5), "dinner"): 10.0})
    found = rows(home_of(), [later, hake, rib_short(3, 12)])
    assert [(row.date, row.item) for row in found] == [(on(3), "aged-rib"), (on(3), "hake"), (on(5), "hake")]


def flow(item, planned, by_parent):
    planned = np.asarray(planned, float)
    nothing = np.zeros_like(planned)
    gross = sum(by_parent.values(), nothing)
    return ItemFlow(
        item, 0.0, gross, by_parent, nothing, nothing, nothing, planned, nothing, nothing, nothing
    )


def hake_flows(portions=10.0, n_days=14):
    plates = np.full(n_days, portions)
    return {
        "hake": flow("hake", plates * 0.2, {"hake-plate": plates * 0.2}),
        "hake-plate": flow("hake-plate", plates, {"dish:hake-fillet": plates}),
    }


def test_what_buying_cannot_get_is_traced_to_portions():
    """2 kg of hake wanted on day 1 and none can come: 10 portions of 0.2 kg."""
    (row,) = rows(home_of(), unmet=[Unmet("hake", on(1), 2.0, "no-delivery")], flows=hake_flows())
    assert row.dishes == "Hake fillet: 10 portions (Tue 24 Nov)"
    assert "the first that can still be ordered comes on Thu 26 Nov" in row.cause


def test_a_missed_round_of_the_vendor_is_worth_a_call():
    (row,) = rows(home_of(), unmet=[Unmet("hake", on(1), 2.0, "no-delivery")], flows=hake_flows())
    first = row.remedy.split("; ")[0]
    assert first.startswith("ring Quay, which comes on Tue 24 Nov though its cut-off has passed, and ask for")
    assert first.endswith("1 pack of 2 (quay-hake)")


def test_another_vendor_that_can_still_come_is_asked():
    home = home_of()
    home = replace(home, vendors={**home.vendors, "quay": replace(home.vendors["quay"], deliveries=())})
    coming = houses.chances("butcher", [1, 9])
    (row,) = rows(home, unmet=[Unmet("hake", on(1), 2.0, "no-delivery")], flows=hake_flows(), chances=coming)
    assert row.remedy.startswith("ask Butcher, which can still bring on Tue 24 Nov, whether it has any")


def test_with_nobody_to_ask_it_is_fetched():
    home = home_of()
    home = replace(home, vendors={**home.vendors, "quay": replace(home.vendors["quay"], deliveries=())})
    (row,) = rows(home, unmet=[Unmet("hake", on(1), 2.0, "no-delivery")], flows=hake_flows(), chances={})
    assert row.remedy.startswith("fetch 2 kg from a shop or market by Tue 24 Nov")
    assert "none can be ordered as far ahead as this run looks" in row.cause


def test_a_closed_vendor_is_named_with_its_day():
    home = home_of()
    shut = replace(home.vendors["quay"], closed=frozenset({on(1)}))
    home = replace(home, vendors={**home.vendors, "quay": shut})
    (row,) = rows(home, unmet=[Unmet("hake", on(1), 2.0, "vendor-closed")], flows=hake_flows())
    assert row.cause == "vendor closed: Quay on Tue 24 Nov"
    assert row.remedy.startswith(
        "Quay is closed on Tue 24 Nov: ask for an earlier drop of 1 pack of 2 (quay-hake)"
    )


def test_what_only_the_margin_lacks_is_said_to_be_so():
    flows = hake_flows(portions=0.0)
    (row,) = rows(home_of(), unmet=[Unmet("hake", on(1), 0.4, "no-delivery")], flows=flows)
    assert row.dishes == "none that is expected; only the margin for a busy day"
    assert row.cause.endswith("what is expected is met, the margin is not")


def test_a_lack_of_margin_alone_is_not_told_weeks_ahead():
    flows = hake_flows(portions=0.0, n_days=20)
    portions = {"hake-fillet": [10.0] * 20}
    far, near = Unmet("hake", on(14), 0.4, "no-offer"), Unmet("hake", on(13), 0.4, "no-offer")
    found = rows(home_of(), unmet=[far, near], flows=flows, portions=portions)
    assert [row.date for row in found] == [on(13)]


def test_of_two_packs_of_one_vendor_the_fitting_one_is_asked_for():
    home = home_of()
    large = houses.offer("quay", "hake", 10.0, "120.00", code="big")
    hake = replace(home.ingredients["hake"], offers=(large, *home.ingredients["hake"].offers))
    home = replace(home, ingredients={**home.ingredients, "hake": hake})
    (row,) = rows(home, unmet=[Unmet("hake", on(1), 2.0, "no-delivery")], flows=hake_flows())
    assert "1 pack of 2 (quay-hake)" in row.remedy
    assert "big" not in row.remedy


def test_what_spoils_before_it_is_wanted_is_to_be_sold_sooner():
    """Ageing takes twelve days, so nothing started today helps on Thursday."""
    (row,) = rows(home_of(), [rib_short(3, 20, "expires")])
    assert row.remedy.startswith(
        "sell more of it by Wed 25 Nov, while there is; started today it is ready on"
    )


def test_what_netting_says_is_not_said_again_by_buying():
    short = Shortfall("hake", on(1), 2.0, "no-delivery", {("hake-fillet", on(1), "dinner"): 10.0})
    unmet = Unmet("hake", on(1), 2.6, "no-delivery")
    (row,) = rows(home_of(), [short], [unmet], flows=hake_flows())
    assert row.short == 2.0


BOUGHT = ("no-delivery", "expires", "vendor-closed", "no-offer", "no-time")
MADE = ("no-time", "expires", "capacity", "no-batch")


@pytest.mark.parametrize(
    ("item", "cause"), [*(("rib", cause) for cause in BOUGHT), *(("aged-rib", cause) for cause in MADE)]
)
def test_every_cause_has_words_and_something_to_do(item, cause):
    short = Shortfall(item, on(3), 50.0, cause, {("rib-roast", on(3), "dinner"): 4.0})
    (row,) = rows(home_of(), [short])
    assert cause not in row.cause.split()
    assert len(row.remedy.split("; ")) >= 2


def test_nothing_short_gives_no_row():
    assert rows(home_of()) == ()


def test_the_dates_are_real_dates():
    (row,) = rows(home_of(), [rib_short(3, 12)])
    assert isinstance(row.date, date)


def test_a_round_too_early_for_the_goods_to_keep_is_no_remedy():
    """Hake keeps two days: the round of Tue 24 Nov helps nobody on Mon 30 Nov, nor a closing of it."""
    home = home_of()
    shut = replace(home.vendors["quay"], closed=frozenset({on(1), on(6)}))
    home = replace(home, vendors={**home.vendors, "quay": shut})
    (row,) = rows(home, unmet=[Unmet("hake", on(7), 2.0, "no-delivery")], flows=hake_flows(), chances={})
    assert "Tue 24 Nov" not in row.remedy


def test_a_lack_that_is_mostly_margin_says_how_much_is_expected():
    """5 kg out of reach, of which 2 kg are expected to be wanted that day."""
    (row,) = rows(home_of(), unmet=[Unmet("hake", on(1), 5.0, "no-delivery")], flows=hake_flows())
    assert row.cause.endswith("2 kg of it is expected to be wanted, the rest is the margin")
    assert row.dishes == "Hake fillet: 10 portions (Tue 24 Nov)"


def test_what_is_not_portioned_itself_gives_smaller_portions_in_hundredths():
    """Salt in a brine is not cut smaller on the plate; the portion is."""
    home = houses.house(
        [houses.ingredient("salt", offers=(houses.offer("shop", "salt"),))],
        [
            houses.recipe("brined", 1.0, {"salt": 0.05}),
            houses.recipe("plate", 1.0, {"brined": 0.2}, unit="each"),
        ],
        [houses.dish("brined-pork", "plate")],
        [houses.vendor("shop")],
    )
    short = Shortfall("salt", on(2), 0.02, "no-delivery", {("brined-pork", on(2), "dinner"): 2.0})
    (row,) = rows(home, [short], portions={"brined-pork": [20.0] * 5}, chances={})
    assert row.remedy.endswith("there is enough for 18 portions of 20, or for all at 90 % of a portion")


def of_eggs(*shorts, cause="no-delivery", vendors=(), unknown=frozenset()):
    """Eggs, counted each, short on the days from Monday on."""
    home = houses.house(
        [houses.ingredient("egg", "each", offers=tuple(houses.offer(v.id, "egg", 30.0) for v in vendors))],
        [houses.recipe("bun", 1.0, {"egg": 2.0}, unit="each")],
        [houses.dish("buns", "bun")],
        vendors,
    )
    lacks = [
        Shortfall("egg", on(n), short, cause, {("buns", on(n), "dinner"): short / 2})
        for n, short in enumerate(shorts)
    ]
    return rows(home, lacks, portions={"buns": [20.0] * 5}, chances={}, unknown=unknown)


def test_no_part_of_an_egg_is_fetched():
    assert of_eggs(22.24)[0].remedy.startswith("fetch 23 each from a shop or market by Mon 23 Nov;")


def test_the_first_day_is_fetched_for_and_the_days_after_it_are_told():
    remedy = of_eggs(10.0, 10.0, 10.0)[0].remedy
    assert remedy.startswith(
        "fetch 10 each from a shop or market by Mon 23 Nov, 30 each in all by Wed 25 Nov;"
    )


def test_what_nobody_sells_wants_a_vendor_first():
    first, second, *_ = of_eggs(10.0, cause="no-offer")[0].remedy.split("; ")
    assert first == "find a vendor for it and write its offer into ingredients.yaml"
    assert second.startswith("until then fetch 10 each")


def test_no_earlier_drop_is_asked_for_where_no_day_is_left_before():
    shut = houses.vendor("farm", (0,), closed=frozenset({on(0)}))
    remedy = of_eggs(10.0, cause="vendor-closed", vendors=(shut,))[0].remedy
    assert "earlier drop" not in remedy
    assert remedy.startswith("fetch 10 each from a shop or market by Mon 23 Nov")


def test_what_is_bought_and_spoils_is_got_afresh():
    """Buying less is no remedy for plates that want it: the vendor is rung, or it is fetched."""
    short = Shortfall("hake", on(1), 2.0, "expires", {("hake-fillet", on(1), "dinner"): 10.0})
    (row,) = rows(home_of(), [short])
    assert row.remedy.startswith("ring Quay, which comes on Tue 24 Nov")


def test_what_was_never_counted_is_counted_first():
    egg = of_eggs(10.0, cause="no-offer", unknown=frozenset({"egg"}))[0]
    first, second, *_ = egg.remedy.split("; ")
    assert first == "count it: it never was, so the sum takes it that there is none"
    assert second == "find a vendor for it and write its offer into ingredients.yaml"
    assert "fetch" not in egg.remedy
