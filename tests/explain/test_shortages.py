"""Shortages in words: one row per item and day, its cause, and remedies in order of sense."""

from dataclasses import replace
from datetime import date, timedelta

import houses
import numpy as np
import pytest

from ordering.explain.shortages import shortages
from ordering.records.buying import Buying, Shortfall
from ordering.records.house import MissedCost, Policy, Service
from ordering.records.plan import ItemFlow, Netting, Opening

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


def rows(home, shortfalls=(), unmet=(), chances=None, portions=None, flows=None, stock=None):
    forecast = houses.forecast(home, portions or {"rib-roast": [20.0] * 14, "hake-fillet": [10.0] * 14})
    netting = Netting(flows or {}, {}, (), tuple(shortfalls), {})
    given = (
        chances if chances is not None else houses.chances("butcher", [9, 11]) | houses.chances("quay", [3])
    )
    return shortages(home, netting, Buying((), (), unmet=tuple(unmet)), forecast, given, stock)


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
    assert row.cause == "no time left to age it: it takes 12 days and was due to start on Sat 14 Nov"


def test_no_time_because_what_goes_in_comes_too_late():
    """Ready on day 13 needs a start on day 1, which is still ahead: the rib is what comes too late."""
    (row,) = rows(home_of(), [rib_short(13, 12)])
    assert "what goes into it cannot be here by Tue 24 Nov, 12 days before" in row.cause


def test_some_can_be_served_then_it_is_taken_off():
    (row,) = rows(home_of(), [rib_short(3, 12)])
    assert row.remedy.endswith(
        "Rib roast on Thu 26 Nov: there is enough for 8 portions of 20, then take it off"
    )


@pytest.mark.parametrize(("of", "like"), [("rib-roast", "hake-fillet"), ("hake-fillet", "rib-roast")])
def test_the_dish_put_forward_is_the_one_the_menu_says_is_like_it(of, like):
    home = home_of()
    kin = replace(home.dishes[of], like=like)
    (row,) = rows(replace(home, dishes={**home.dishes, of: kin}), [rib_short(3, 12)])
    assert row.remedy.endswith("then take it off, and push Hake fillet")


def test_two_dishes_like_a_third_stand_in_for_each_other_if_on_the_same_day_and_not_short():
    home = home_of()
    kin = {d: replace(home.dishes[d], like="old-roast") for d in home.dishes}
    (row,) = rows(replace(home, dishes=kin), [rib_short(3, 20)])
    assert row.remedy.endswith("take Rib roast off the menu on Thu 26 Nov, and push Hake fillet")
    short_too = Shortfall("hake", on(3), 2.0, "no-delivery", {("hake-fillet", on(3), "dinner"): 10.0})
    found = rows(replace(home, dishes=kin), [rib_short(3, 20), short_too])
    assert not any("push" in row.remedy for row in found)
    only_rib = rows(replace(home, dishes=kin), [rib_short(3, 20)], portions={"rib-roast": [20.0] * 14})
    assert "push" not in only_rib[0].remedy


def test_a_small_lack_can_be_met_by_smaller_portions():
    (row,) = rows(home_of(), [rib_short(3, 4)])
    assert "enough for 16 portions of 20, or for all with 200 g of Aged rib instead of 250 g" in row.remedy


@pytest.mark.parametrize(("lost", "is_cut"), [(5, True), (6, False)])
def test_no_portion_is_cut_below_three_quarters(lost, is_cut):
    """Of twenty: fifteen at full size are three quarters for all, fourteen less."""
    (row,) = rows(home_of(), [rib_short(3, lost)])
    assert ("or for all with" in row.remedy) == is_cut


def test_a_dish_without_anything_is_taken_off_the_menu():
    (row,) = rows(home_of(), [rib_short(3, 20)])
    assert "take Rib roast off the menu on Thu 26 Nov" in row.remedy


def test_a_hole_of_many_days_is_told_once():
    """Ten days short: ten rows, the first with length, amount and remedy, the others pointing to it."""
    found = rows(home_of(), [rib_short(day, 20) for day in range(3, 13)])
    assert [row.date for row in found] == [on(day) for day in range(3, 13)]
    assert "short on 10 days, Thu 26 Nov to Sat 5 Dec, 50 kg in all" in found[0].cause
    assert "take Rib roast off the menu on Thu 26 Nov to Sat 5 Dec" in found[0].remedy
    assert {row.remedy for row in found[1:]} == {"as for Thu 26 Nov"}


@pytest.mark.parametrize(("days", "n_told"), [((1, 4), 1), ((1, 5), 2), ((1, 4, 7), 1)])
def test_two_closed_days_between_short_ones_are_no_break_and_three_are(days, n_told):
    found = rows(home_of(), [rib_short(day, 20) for day in days])
    assert sum("take Rib roast off" in row.remedy for row in found) == n_told


def test_rows_of_one_item_and_day_are_merged_with_both_causes():
    (row,) = rows(home_of(), [rib_short(3, 12), rib_short(3, 4, "capacity")])
    assert row.short == pytest.approx(4.0)
    assert row.cause.startswith("no time left to age it")
    assert "no room" in row.cause
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
    (row,) = rows(home_of(), unmet=[Shortfall("hake", on(1), 2.0, "no-delivery")], flows=hake_flows())
    assert row.dishes == "Hake fillet: 10 portions (Tue 24 Nov)"
    assert "the next one you can order comes on Thu 26 Nov" in row.cause


def test_a_missed_round_of_the_vendor_is_worth_a_call():
    (row,) = rows(home_of(), unmet=[Shortfall("hake", on(1), 2.0, "no-delivery")], flows=hake_flows())
    first = row.remedy.split("; ")[0]
    assert first.startswith("call Quay: past the cut-off for Tue 24 Nov, but ask for")
    assert first.endswith("1 pack of 2 (quay-hake)")


def test_another_vendor_that_can_still_come_is_asked():
    home = home_of()
    home = replace(home, vendors={**home.vendors, "quay": replace(home.vendors["quay"], deliveries=())})
    coming = houses.chances("butcher", [1, 9])
    (row,) = rows(
        home, unmet=[Shortfall("hake", on(1), 2.0, "no-delivery")], flows=hake_flows(), chances=coming
    )
    assert row.remedy.startswith("ask Butcher if they have any: they still deliver on Tue 24 Nov")


def test_a_vendor_of_other_goods_is_not_asked():
    """Fish and meat lie in one walk-in, most of it from other vendors: a butcher is not asked for hake."""
    home = home_of()
    others = [
        houses.ingredient(name, offers=(houses.offer("grower", name, 1.0, "2.00"),), store="walk-in")
        for name in ("leek", "chard")
    ]
    home = replace(
        home,
        ingredients={**home.ingredients, **{i.id: i for i in others}},
        vendors={**home.vendors, "quay": replace(home.vendors["quay"], deliveries=())},
    )
    coming = houses.chances("butcher", [1, 9])
    short = [Shortfall("hake", on(1), 2.0, "no-delivery")]
    (row,) = rows(home, unmet=short, flows=hake_flows(), chances=coming)
    assert "Butcher" not in row.remedy


def test_with_nobody_to_ask_it_is_fetched():
    home = home_of()
    home = replace(home, vendors={**home.vendors, "quay": replace(home.vendors["quay"], deliveries=())})
    (row,) = rows(home, unmet=[Shortfall("hake", on(1), 2.0, "no-delivery")], flows=hake_flows(), chances={})
    assert row.remedy.startswith("buy 1 pack of 2 locally by Tue 24 Nov")
    assert "none can be ordered in the days this run looks at" in row.cause


def test_a_closed_vendor_is_named_with_its_day():
    home = home_of()
    shut = replace(home.vendors["quay"], closed=frozenset({on(1)}))
    home = replace(home, vendors={**home.vendors, "quay": shut})
    (row,) = rows(home, unmet=[Shortfall("hake", on(1), 2.0, "vendor-closed")], flows=hake_flows())
    assert row.cause == "vendor closed: Quay on Tue 24 Nov"
    assert row.remedy.startswith("Quay is closed on Tue 24 Nov: ask for 1 pack of 2 (quay-hake) before that")


def test_what_only_the_margin_lacks_is_said_to_be_so():
    flows = hake_flows(portions=0.0)
    (row,) = rows(home_of(), unmet=[Shortfall("hake", on(1), 0.4, "no-delivery")], flows=flows)
    assert row.dishes == "none expected, only the margin for a busy night"
    assert row.cause.endswith("enough for what is expected, not for a busy night")


@pytest.mark.parametrize(("portions", "is_margin"), [(1.0, True), (1.5, False)])
def test_less_than_a_twentieth_expected_is_margin_alone(portions, is_margin):
    """Of 5 kg out of reach one portion wants 0.2 kg, one and a half 0.3."""
    short = Shortfall("hake", on(1), 5.0, "no-delivery")
    (row,) = rows(home_of(), unmet=[short], flows=hake_flows(portions))
    assert row.cause.endswith("enough for what is expected, not for a busy night") == is_margin


@pytest.mark.parametrize(("portions", "is_said"), [(7.5, True), (8.5, False)])
def test_where_four_fifths_are_expected_nothing_is_said_of_a_busy_night(portions, is_said):
    short = Shortfall("hake", on(1), 2.0, "no-delivery")
    (row,) = rows(home_of(), unmet=[short], flows=hake_flows(portions))
    assert ("in case it is busy" in row.cause) == is_said


def test_a_lack_of_margin_alone_is_not_told_weeks_ahead():
    flows = hake_flows(portions=0.0, n_days=20)
    portions = {"hake-fillet": [10.0] * 20}
    far, near = Shortfall("hake", on(14), 0.4, "no-offer"), Shortfall("hake", on(13), 0.4, "no-offer")
    found = rows(home_of(), unmet=[far, near], flows=flows, portions=portions)
    assert [row.date for row in found] == [on(13)]


def test_of_two_packs_of_one_vendor_the_fitting_one_is_asked_for():
    home = home_of()
    large = houses.offer("quay", "hake", 10.0, "120.00", code="big")
    hake = replace(home.ingredients["hake"], offers=(large, *home.ingredients["hake"].offers))
    home = replace(home, ingredients={**home.ingredients, "hake": hake})
    (row,) = rows(home, unmet=[Shortfall("hake", on(1), 2.0, "no-delivery")], flows=hake_flows())
    assert "1 pack of 2 (quay-hake)" in row.remedy
    assert "big" not in row.remedy


def test_what_spoils_before_it_is_wanted_is_offered_while_it_is_good():
    """Ageing takes twelve days, so nothing started today helps on Thursday."""
    (row,) = rows(home_of(), [rib_short(3, 20, "expires")])
    first, second, *_ = row.remedy.split("; ")
    assert first == "sell what there is by Wed 25 Nov"
    assert second == "started today it is ready on Sat 5 Dec, too late for Thu 26 Nov"


def test_what_netting_says_is_not_said_again_by_buying():
    short = Shortfall("hake", on(1), 2.0, "no-delivery", {("hake-fillet", on(1), "dinner"): 10.0})
    unmet = Shortfall("hake", on(1), 2.6, "no-delivery")
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
    (row,) = rows(home, unmet=[Shortfall("hake", on(7), 2.0, "no-delivery")], flows=hake_flows(), chances={})
    assert "Tue 24 Nov" not in row.remedy


@pytest.mark.parametrize(("wanted", "is_called"), [(3, True), (4, False)])
def test_a_round_is_called_for_if_the_goods_keep_until_they_are_wanted(wanted, is_called):
    """Hake of Tue 24 Nov keeps two days: it is good on Thursday and past on Friday."""
    home = home_of()
    quay = replace(home.vendors["quay"], deliveries=home.vendors["quay"].deliveries[:1])
    home = replace(home, vendors={**home.vendors, "quay": quay})
    short = Shortfall("hake", on(wanted), 2.0, "no-delivery", {("hake-fillet", on(wanted), "dinner"): 10.0})
    (row,) = rows(home, [short], chances={})
    assert row.remedy.startswith("call Quay: past the cut-off for Tue 24 Nov") == is_called


def test_a_lack_that_is_mostly_margin_says_how_much_is_expected():
    """5 kg out of reach, of which 2 kg are expected to be wanted that day."""
    (row,) = rows(home_of(), unmet=[Shortfall("hake", on(1), 5.0, "no-delivery")], flows=hake_flows())
    assert row.cause.endswith("2 kg of it is expected to be needed, the rest is in case it is busy")
    assert row.dishes == "Hake fillet: 10 portions (Tue 24 Nov)"


@pytest.mark.parametrize(
    ("lost", "said"),
    [
        (2.0, "there is enough for 18 portions of 20, or for all at 90 % of a portion"),
        (0.4, "there is enough for 19 portions of 20, or for all at 98 % of a portion"),
        (0.2, "there is enough for 19 portions of 20, or for all in slightly smaller portions"),
    ],
)
def test_what_is_not_portioned_itself_gives_smaller_portions_in_hundredths(lost, said):
    """Salt in a brine is not cut smaller on the plate; the portion is, by no less than can be told apart."""
    home = houses.house(
        [houses.ingredient("salt", offers=(houses.offer("shop", "salt"),))],
        [
            houses.recipe("brined", 1.0, {"salt": 0.05}),
            houses.recipe("plate", 1.0, {"brined": 0.2}, unit="each"),
        ],
        [houses.dish("brined-pork", "plate")],
        [houses.vendor("shop")],
    )
    short = Shortfall("salt", on(2), lost / 100, "no-delivery", {("brined-pork", on(2), "dinner"): lost})
    (row,) = rows(home, [short], portions={"brined-pork": [20.0] * 5}, chances={})
    assert row.remedy.endswith(said)


@pytest.mark.parametrize(
    ("n_dishes", "rest", "same"),
    [
        (6, "Plate 5: 1 portion (Wed 25 Nov)", "the same for Plate 3, Plate 4 and Plate 5"),
        (7, "1 more dish: 1 portion", "the same for Plate 3, Plate 4, Plate 5 and Plate 6"),
        (8, "2 more dishes: 2 portions", "the same for Plate 3, Plate 4, Plate 5 and 2 more"),
    ],
)
def test_of_many_dishes_the_first_are_told_and_the_rest_counted(n_dishes, rest, same):
    names = [f"plate-{n}" for n in range(n_dishes)]
    home = houses.house(
        [houses.ingredient("cream")],
        [houses.recipe(name, 1.0, {"cream": 0.1}, unit="each") for name in names],
        [houses.dish(name, name) for name in names],
    )
    short = Shortfall("cream", on(2), 1.0, "no-delivery", {(name, on(2), "dinner"): 1.0 for name in names})
    (row,) = rows(home, [short], portions={name: [20.0] * 5 for name in names}, chances={})
    assert row.dishes.endswith(rest)
    assert row.remedy.endswith(same)


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
    return rows(home, lacks, portions={"buns": [20.0] * 5}, chances={}, stock=Opening(unknown=unknown))


def test_no_part_of_an_egg_is_fetched():
    assert of_eggs(22.24)[0].remedy.startswith("buy 23 locally by Mon 23 Nov;")


def test_the_first_day_is_fetched_for_and_the_days_after_it_are_told():
    remedy = of_eggs(10.0, 10.0, 10.0)[0].remedy
    assert remedy.startswith("buy 10 locally by Mon 23 Nov, 30 in all by Wed 25 Nov;")


def test_what_nobody_sells_wants_a_vendor_first():
    first, second, *_ = of_eggs(10.0, cause="no-offer")[0].remedy.split("; ")
    assert first == "find a vendor for it and write its offer into ingredients.yaml"
    assert second.startswith("until then buy 10 locally")


def test_no_earlier_drop_is_asked_for_where_no_day_is_left_before():
    shut = houses.vendor("farm", (0,), closed=frozenset({on(0)}))
    remedy = of_eggs(10.0, cause="vendor-closed", vendors=(shut,))[0].remedy
    assert "before that" not in remedy
    assert remedy.startswith("buy 1 pack of 30 locally by Mon 23 Nov")


def test_what_is_bought_and_spoils_is_got_afresh():
    """Buying less is no remedy for plates that want it: the vendor is called, or it is bought locally."""
    short = Shortfall("hake", on(1), 2.0, "expires", {("hake-fillet", on(1), "dinner"): 10.0})
    (row,) = rows(home_of(), [short])
    assert row.remedy.startswith("call Quay: past the cut-off for Tue 24 Nov")


def test_what_was_never_counted_is_counted_first():
    egg = of_eggs(10.0, cause="no-offer", unknown=frozenset({"egg"}))[0]
    first, second, *_ = egg.remedy.split("; ")
    assert first == "count it: it has never been counted, so it is taken as none"
    assert second == "find a vendor for it and write its offer into ingredients.yaml"
    assert "locally" not in egg.remedy


def test_what_went_out_without_being_written_down_is_counted_first():
    """A shelf that sales say is empty may be full: the batches were not written down, or a delivery."""
    made = rows(home_of(), [rib_short(3, 20)], stock=Opening(doubtful=frozenset({"aged-rib"})))[
        0
    ].remedy.split("; ")
    assert made[0] == "count it, or log the batches made: sales used more than you had"
    assert made[1] == "started today it is ready on Sat 5 Dec, too late for Thu 26 Nov"
    short = Shortfall("hake", on(1), 2.0, "no-delivery", {("hake-fillet", on(1), "dinner"): 10.0})
    bought = rows(home_of(), [short], stock=Opening(doubtful=frozenset({"hake"})))[0].remedy
    assert bought.startswith("count it, or book in what was delivered: sales used more")
    assert "count it" not in rows(home_of(), [short], stock=Opening(doubtful=frozenset({"rib"})))[0].remedy


def test_what_goes_into_it_is_asked_for_sooner_where_there_is_time_to_make_it():
    """Ready on day 13 needs a start on day 1, and the first rib comes on day 9."""
    (row,) = rows(home_of(), [rib_short(13, 12)])
    assert row.remedy.startswith("get Rib here by Tue 24 Nov: call the vendor; ")


def trimmed(*lacks, keeps=None, is_whole=False, largest=None, takes=1, weekdays=(0, 1, 2, 3)):
    """Beans take 0.5 kg of trim a pot. A brisket of 10 kg, a day in the smoke, drops 2 kg of it.

    `lacks` : kg of trim short on the days from Monday on
    """
    home = houses.house(
        [houses.ingredient("brisket"), houses.ingredient("trim", keeps_days=keeps)],
        [
            replace(
                houses.recipe("smoked", 10.0, {"brisket": 15.0}, takes_days=takes, largest=largest),
                also_makes=(("trim", 2.0),),
                is_whole=is_whole,
            ),
            houses.recipe("pot", 1.0, {"trim": 0.5}, unit="each"),
        ],
        [houses.dish("beans", "pot")],
        services={"dinner": Service("dinner", frozenset(weekdays))},
    )
    found = [
        Shortfall("trim", on(n), lack, "no-offer", {("beans", on(n), "dinner"): lack * 2})
        for n, lack in enumerate(lacks)
        if lack
    ]
    return rows(home, found, portions={"beans": [20.0] * 7}, chances={})[0]


def test_what_falls_out_of_a_recipe_is_made_by_starting_that():
    """1.5 kg of trim lack on Wednesday: 7.5 kg of brisket in the smoke on Tuesday drop it."""
    row = trimmed(0, 0, 1.5)
    first, second, *_ = row.remedy.split("; ")
    assert first == "start 7.5 kg more of Smoked on Tue 24 Nov: 1.5 kg comes off it for Wed 25 Nov"
    assert second.startswith("until then buy 1.5 kg locally")
    assert row.remedy.split("; ")[2] == "find a vendor for it and write its offer into ingredients.yaml"
    assert row.cause == "no vendor sells it; it comes off Smoked, and there is too little of it"


def test_whole_batches_are_started_whole_and_no_more_than_there_is_room_for():
    assert "start 10 kg more of Smoked" in trimmed(0, 0, 1.5, is_whole=True).remedy
    assert (
        "start 5 kg more of Smoked on Tue 24 Nov: 1 kg comes off it" in trimmed(0, 0, 1.5, largest=5.0).remedy
    )
    assert "start 20 kg more of Smoked" in trimmed(0, 0, 9.0, is_whole=True, largest=25.0).remedy


def test_the_first_day_that_can_still_be_ready_for_is_named():
    """Monday is too late to mend; today's start is there on Tuesday, and Wednesday goes the same way."""
    row = trimmed(1.0, 1.5, 1.5)
    assert row.remedy.startswith(
        "start 7.5 kg more of Smoked today: 1.5 kg comes off it for Tue 24 Nov, "
        "and the same for the days after; "
    )


def test_no_batch_is_started_that_comes_too_late_or_that_would_be_past_its_date():
    """Two days in the smoke are too long for Tuesday. On Sunday nobody is in; what keeps no day helps not."""
    assert "start" not in trimmed(0, 1.5, takes=2).remedy
    lacks_on_monday = (0, 0, 0, 0, 0, 0, 0, 1.5)
    assert "Smoked on Sat 28 Nov" in trimmed(*lacks_on_monday, keeps=2, weekdays=(0, 5)).remedy
    assert "start" not in trimmed(*lacks_on_monday, keeps=0, weekdays=(0, 5)).remedy


def test_portions_hardly_smaller_are_told_without_a_number():
    """A tenth of a portion of 40 lacks: nobody weighs out 0.00998 g of saffron in place of 0.01 g."""
    home = houses.house(
        [houses.ingredient("saffron")],
        [houses.recipe("rice", 1.0, {"saffron": 0.00001}, unit="each")],
        [houses.dish("risotto", "rice")],
    )
    lack = Shortfall("saffron", on(2), 0.00001, "no-delivery", {("risotto", on(2), "dinner"): 0.1})
    (row,) = rows(home, [lack], portions={"risotto": [40.0] * 5}, chances={})
    assert row.remedy.endswith("or for all in slightly smaller portions")


def test_no_part_of_a_piece_lacks_in_words():
    """4.24 eggs and 5.24: 10 in all are to be got; the table keeps what the sum came to."""
    found = of_eggs(4.24, 5.24)
    assert found[0].cause.endswith("short on 2 days, Mon 23 Nov and Tue 24 Nov, 10 in all")
    assert [row.short for row in found] == [4.24, 5.24]


def test_each_row_says_what_it_loses_in_money_and_in_guests():
    """Hake at 22.00 with 3.00 of fish: a margin of 19.00, and what the house says a missed guest costs."""
    home = home_of(policy=Policy(paths=1, missed_cost=MissedCost(times=0.0)))
    hake = Shortfall("hake", on(3), 2.0, "no-delivery", {("hake-fillet", on(3), "dinner"): 10.0})
    (row,) = rows(home, [hake])
    assert (row.portions, row.money) == (10.0, pytest.approx(190.0))


def test_a_dish_without_a_price_is_worth_what_the_others_are():
    home = home_of(policy=Policy(paths=1, missed_cost=MissedCost(times=0.0)))
    free = replace(home.dishes["rib-roast"], price=None)
    (row,) = rows(replace(home, dishes={**home.dishes, "rib-roast": free}), [rib_short(3, 10)])
    assert row.money == pytest.approx(190.0)


def test_what_a_dish_can_go_without_says_so_and_hits_no_portion():
    home = home_of()
    lines = (*home.recipes["hake-plate"].lines, houses.line("rib", 0.1, is_optional=True))
    plate = replace(home.recipes["hake-plate"], lines=lines)
    home = replace(home, recipes={**home.recipes, "hake-plate": plate})
    flows = {"rib": flow("rib", [0, 0, 0, 1.0] + [0] * 10, {"hake-plate": np.eye(14)[3]})}
    flows |= {"hake-plate": flow("hake-plate", [10.0] * 14, {"hake-fillet": np.full(14, 10.0)})}
    (row,) = rows(home, unmet=[Shortfall("rib", on(3), 1.0, "no-delivery")], flows=flows)
    assert row.is_optional
    assert (row.portions, row.money) == (0.0, 0.0)
    assert row.dishes == "Hake plate can go without"


@pytest.mark.parametrize("cause", ["no-delivery", "vendor-closed"])
def test_what_is_fetched_is_bought_in_packs(cause):
    """Twenty grams of hake are a pack of it: nobody sells less."""
    home = home_of()
    home = replace(home, vendors={**home.vendors, "quay": replace(home.vendors["quay"], deliveries=())})
    short = Shortfall("hake", on(1), 0.02, cause, {("hake-fillet", on(1), "dinner"): 1.0})
    (row,) = rows(home, [short], chances={})
    assert row.remedy.startswith("buy 1 pack of 2 locally by Tue 24 Nov")


def test_nothing_is_fetched_for_what_ages():
    home = home_of()
    home = replace(home, vendors={**home.vendors, "butcher": replace(home.vendors["butcher"], deliveries=())})
    raw = Shortfall("rib", on(1), 5.0, "no-delivery", {("rib-roast", on(13), "dinner"): 16.0})
    for short in (raw, rib_short(3, 12)):
        (row,) = rows(home, [short], chances={})
        assert "locally" not in row.remedy
        assert "buy" not in row.remedy
        assert "enough for" in row.remedy
        assert row.remedy.startswith("wait for the next delivery") == (short is raw)


@pytest.mark.parametrize("weighed", [True, False])
def test_a_portion_the_menu_states_the_weight_of_is_not_made_smaller(weighed):
    home = home_of()
    roast = replace(home.dishes["rib-roast"], name="Rib roast, 14 oz" if weighed else "Rib roast")
    (row,) = rows(replace(home, dishes={**home.dishes, "rib-roast": roast}), [rib_short(3, 4)])
    assert "enough for 16 portions of 20" in row.remedy
    assert ("or for all" in row.remedy) == (not weighed)
