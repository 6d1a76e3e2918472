"""What can still be done about what is short, in the order in which a chef would try it."""

from dataclasses import replace

import houses
import pytest
from explain.short_houses import (
    hake_flows,
    home_of,
    of_eggs,
    on,
    rib_short,
    rows,
    trimmed,
)

from ordering.records.books import OpenOrder
from ordering.records.buying import Shortfall
from ordering.records.plan import Opening


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


def test_a_small_shortage_can_be_met_by_smaller_portions():
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


def test_a_missed_round_of_the_vendor_is_worth_a_call():
    (row,) = rows(home_of(), unmet=[Shortfall("hake", on(1), 2.0, "no-delivery")], flows=hake_flows())
    first = row.remedy.split("; ")[0]
    assert first.startswith("call Quay: past the cut-off for Tue 24 Nov, but ask for")
    assert first.endswith("1 pack of 2 (quay-hake)")


def test_another_vendor_that_can_still_come_is_asked():
    home = home_of()
    home = replace(home, vendors={**home.vendors, "quay": replace(home.vendors["quay"], deliveries=())})
    coming = houses.deliveries("butcher", [1, 9])
    (row,) = rows(
        home, unmet=[Shortfall("hake", on(1), 2.0, "no-delivery")], flows=hake_flows(), deliveries=coming
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
    coming = houses.deliveries("butcher", [1, 9])
    short = [Shortfall("hake", on(1), 2.0, "no-delivery")]
    (row,) = rows(home, unmet=short, flows=hake_flows(), deliveries=coming)
    assert "Butcher" not in row.remedy


def test_with_nobody_to_ask_it_is_fetched():
    home = home_of()
    home = replace(home, vendors={**home.vendors, "quay": replace(home.vendors["quay"], deliveries=())})
    (row,) = rows(
        home, unmet=[Shortfall("hake", on(1), 2.0, "no-delivery")], flows=hake_flows(), deliveries={}
    )
    assert row.remedy.startswith("buy 1 pack of 2 locally by Tue 24 Nov")
    assert "none can be ordered in the days this run looks at" in row.cause


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


def test_a_round_too_early_for_the_goods_to_keep_is_no_remedy():
    """Hake keeps two days: the round of Tue 24 Nov helps nobody on Mon 30 Nov, nor a closing of it."""
    home = home_of()
    shut = replace(home.vendors["quay"], closed=frozenset({on(1), on(6)}))
    home = replace(home, vendors={**home.vendors, "quay": shut})
    (row,) = rows(
        home, unmet=[Shortfall("hake", on(7), 2.0, "no-delivery")], flows=hake_flows(), deliveries={}
    )
    assert "Tue 24 Nov" not in row.remedy


@pytest.mark.parametrize(("wanted", "is_called"), [(3, True), (4, False)])
def test_a_round_is_called_for_if_the_goods_keep_until_they_are_wanted(wanted, is_called):
    """Hake of Tue 24 Nov keeps two days: it is good on Thursday and past on Friday."""
    home = home_of()
    quay = replace(home.vendors["quay"], deliveries=home.vendors["quay"].deliveries[:1])
    home = replace(home, vendors={**home.vendors, "quay": quay})
    short = Shortfall("hake", on(wanted), 2.0, "no-delivery", {("hake-fillet", on(wanted), "dinner"): 10.0})
    (row,) = rows(home, [short], deliveries={})
    assert row.remedy.startswith("call Quay: past the cut-off for Tue 24 Nov") == is_called


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
    (row,) = rows(home, [short], portions={"brined-pork": [20.0] * 5}, deliveries={})
    assert row.remedy.endswith(said)


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
    later = Shortfall("hake", on(5), 2.0, "no-delivery", {("hake-fillet", on(5), "dinner"): 10.0})
    (row,) = rows(home_of(), [later], stock=Opening(doubtful=frozenset({"hake"})))
    assert "count it" not in row.remedy, "hake of today keeps two days: by Saturday what is there is gone"


def test_what_goes_into_it_is_asked_for_sooner_where_there_is_time_to_make_it():
    """Ready on day 13 needs a start on day 1, and the first rib comes on day 9."""
    (row,) = rows(home_of(), [rib_short(13, 12)])
    assert row.remedy.startswith("get Rib here by Tue 24 Nov: call the vendor; ")


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
    (row,) = rows(home, [lack], portions={"risotto": [40.0] * 5}, deliveries={})
    assert row.remedy.endswith("or for all in slightly smaller portions")


@pytest.mark.parametrize("cause", ["no-delivery", "vendor-closed"])
def test_what_is_fetched_is_bought_in_packs(cause):
    """Twenty grams of hake are a pack of it: nobody sells less."""
    home = home_of()
    home = replace(home, vendors={**home.vendors, "quay": replace(home.vendors["quay"], deliveries=())})
    short = Shortfall("hake", on(1), 0.02, cause, {("hake-fillet", on(1), "dinner"): 1.0})
    (row,) = rows(home, [short], deliveries={})
    assert row.remedy.startswith("buy 1 pack of 2 locally by Tue 24 Nov")


def test_nothing_is_fetched_for_what_ages():
    home = home_of()
    home = replace(home, vendors={**home.vendors, "butcher": replace(home.vendors["butcher"], deliveries=())})
    raw = Shortfall("rib", on(1), 5.0, "no-delivery", {("rib-roast", on(13), "dinner"): 16.0})
    for short in (raw, rib_short(3, 12)):
        (row,) = rows(home, [short], deliveries={})
        assert "locally" not in row.remedy
        assert "buy" not in row.remedy
        assert "enough for" in row.remedy
        assert row.remedy.startswith("wait for the next delivery") == (short is raw)


@pytest.mark.parametrize(("due_on", "until"), [(4, "Fri 27 Nov"), (1, "Wed 2 Dec")])
def test_what_is_on_order_for_later_is_waited_for_before_what_can_still_be_ordered(due_on, until):
    """What comes on the short day itself is counted on already: it helps no more."""
    home = home_of()
    home = replace(home, vendors={**home.vendors, "butcher": replace(home.vendors["butcher"], deliveries=())})
    raw = Shortfall("rib", on(1), 5.0, "no-delivery", {("rib-roast", on(13), "dinner"): 16.0})
    due = OpenOrder("butcher", "B-1", "rib", 1, 8.0, on(due_on))
    (row,) = rows(home, [raw], deliveries=houses.deliveries("butcher", [9]), stock=Opening(scheduled=(due,)))
    assert f"wait for the next delivery, on {until}" in row.remedy


@pytest.mark.parametrize("weighed", [True, False])
def test_a_portion_the_menu_states_the_weight_of_is_not_made_smaller(weighed):
    home = home_of()
    roast = replace(home.dishes["rib-roast"], name="Rib roast, 14 oz" if weighed else "Rib roast")
    (row,) = rows(replace(home, dishes={**home.dishes, "rib-roast": roast}), [rib_short(3, 4)])
    assert "enough for 16 portions of 20" in row.remedy
    assert ("or for all" in row.remedy) == (not weighed)
