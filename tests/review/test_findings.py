"""Money, stock, yields and advice of a review, each rule by hand."""

from datetime import date, timedelta
from decimal import Decimal

import pytest
from houses import dish, house, ingredient, offer, recipe, vendor

from ordering.records.books import Allowance, Batch, OpenOrder, Receipt, Waste
from ordering.records.house import Policy, RecipeLine
from ordering.records.ledger import Expected, OrderKey, Placed, Variance
from ordering.records.money import cents, invoiced, quoted_price
from ordering.records.review_results import Dearer, ItemUse, LearntYield, RanOut, Score, Thrown, Week
from ordering.review.advice import Findings, shorts, worth_doing, worth_watching
from ordering.review.item_use import ingredient_use, item_uses
from ordering.review.spending import DayMoney, dearer, delivery_fees, ran_out, thrown, weeks
from ordering.review.yields import learnt_yields, yield_told

THU = date(2026, 11, 5)
DUCK = offer(
    "fowl", "duck", 2.0, "18.00", code="D", is_catch_weight=True, price_per=Decimal("9.00"), per_unit="kg"
)
FLOUR = offer("mill", "flour", 25.0, "20.00", code="M", breaks=((4, Decimal("18.00")),))
HOME = house(
    ingredients=[ingredient("flour", offers=(FLOUR,)), ingredient("duck", offers=(DUCK,))],
    recipes=[recipe("pie", 10.0, {"flour": 2.0, "duck": 3.0}, unit="each")],
    dishes=[dish("duck-pie", "pie", price="18.00"), dish("free-pie", "pie")],
)


# --- prices --------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("amount", "rounded"), [(0.125, "0.13"), (2.675, "2.68"), (-1.005, "-1.01"), (3, "3.00")]
)
def test_half_a_cent_goes_up_as_written(amount, rounded):
    assert cents(amount) == Decimal(rounded)


def test_catch_weight_is_invoiced_by_weight_and_packs_by_the_pack():
    assert invoiced(HOME, DUCK, 2, 4.25, Decimal("9.00")) == Decimal("38.25")
    assert invoiced(HOME, FLOUR, 3, 74.0, Decimal("20.00")) == Decimal("60.00")


def test_the_price_agreed_is_per_weight_for_catch_weight_and_reaches_its_break():
    assert quoted_price(DUCK) == Decimal("9.00")
    assert [quoted_price(FLOUR, n) for n in (3, 4)] == [Decimal("20.00"), Decimal("18.00")]


def test_what_was_charged_above_the_price_agreed_is_added_up_by_offer():
    """4.25 kg at 0.60 more: 40.80 less 38.25 = 2.55; 2 kg at 0.50 more: 1.00. Cheaper is no matter."""
    found = dearer(
        HOME,
        [
            Receipt(THU, "fowl", "D", "duck", 2, 4.25, Decimal("9.60")),
            Receipt(THU + timedelta(1), "fowl", "D", "duck", 1, 2.0, Decimal("9.50")),
            Receipt(THU, "mill", "M", "flour", 1, 25.0, Decimal("19.00")),
            Receipt(THU, "mill", "M", "flour", 1, 25.0, None),
        ],
    )
    assert found == (Dearer("fowl", "D", "duck", Decimal("9.00"), Decimal("9.50"), Decimal("3.55")),)


def test_each_delivery_that_came_costs_its_fee_unless_the_order_was_large_enough():
    """Fee 8.00, none from 50.00. Thursday 20.00 of flour: 8.00. Friday 60.00 ordered of which 40.00
    came: waived, as it was by the order. Saturday a line that never came. Another vendor asks no fee.
    """
    mill = vendor("mill", delivery_fee=Decimal("8.00"), fee_waived_over=Decimal("50.00"))
    home = house(
        ingredients=HOME.ingredients.values(),
        recipes=HOME.recipes.values(),
        dishes=HOME.dishes.values(),
        vendors=[mill, vendor("fowl")],
    )
    friday, saturday = THU + timedelta(1), THU + timedelta(2)
    came = [
        Receipt(THU, "mill", "M", "flour", 1, 25.0, Decimal("20.00")),
        Receipt(friday, "mill", "M", "flour", 1, 25.0, Decimal("20.00")),
        Receipt(friday, "mill", "M", "flour", 1, 25.0, Decimal("20.00")),
        Receipt(saturday, "mill", "M", "flour", 0, 0.0),
        Receipt(THU, "fowl", "D", "duck", 1, 2.0, Decimal("9.00")),
        Receipt(THU, "gone", "G", "duck", 1, 2.0, Decimal("9.00")),
    ]
    found = delivery_fees(home, [placed(friday, "60.00")], came)
    assert found == {THU: Decimal("8.00"), friday: Decimal("0.00")}
    by_what_came = delivery_fees(home, [], came)
    assert by_what_came == {THU: Decimal("8.00"), friday: Decimal("8.00")}, "where no order is known"


# --- 86'd and thrown away ------------------------------------------------------------------------


def test_missed_portions_are_the_forecast_less_what_was_sold_at_the_margin():
    """Forecast 8, sold 5: 3 missed at 18.00 less 4.50 of ingredients."""
    key = (THU, "dinner", "duck-pie")
    found = ran_out(HOME, {key}, {key: 5.0}, {key: 8.0}, {"duck-pie": 4.5})
    assert found == (RanOut("duck-pie", 1, 3.0, Decimal("40.50")),)


def test_without_a_forecast_the_same_weekday_where_it_lasted_stands_in():
    key = (THU, "dinner", "duck-pie")
    week = timedelta(7)
    came = {key: 5.0, **{(THU - n * week, "dinner", "duck-pie"): float(6 + n) for n in (1, 2, 3)}}
    out = {key, (THU - week, "dinner", "duck-pie")}
    missed = ran_out(HOME, out, came, {(THU - week, "dinner", "duck-pie"): 7.0}, {})
    assert missed[0].missed == pytest.approx((8 + 9) / 2 - 5)
    assert missed[0].n_services == 2


def test_what_is_usual_is_the_mean_of_the_eight_weeks_before():
    """1 to 20 portions one to twenty weeks ago: 4.5 on the mean of the last eight."""
    came = {(THU - timedelta(weeks=n), "dinner", "duck-pie"): float(n) for n in range(21)}
    (found,) = ran_out(HOME, {(THU, "dinner", "duck-pie")}, came, {}, {})
    assert found.missed == 4.5


def test_a_forecast_below_what_was_sold_misses_nothing_and_no_price_no_money():
    first, second = (THU, "dinner", "duck-pie"), (THU, "dinner", "free-pie")
    found = ran_out(HOME, {first, second}, {first: 9.0, second: 1.0}, {first: 8.0, second: 3.0}, {})
    assert [(r.dish, r.missed, r.money) for r in found] == [
        ("free-pie", 2.0, Decimal("0.00")),
        ("duck-pie", 0.0, Decimal("0.00")),
    ]


def test_waste_is_added_up_by_item_with_its_reasons_the_heaviest_first():
    waste = [Waste(THU, "duck", 1.0, "late"), Waste(THU, "duck", 2.0, "burnt"), Waste(THU, "flour", 5.0)]
    found = thrown(HOME, waste, {"duck": 9.0, "flour": 0.8})
    assert found == (
        Thrown("duck", 3.0, "kg", Decimal("27.00"), "burnt, late"),
        Thrown("flour", 5.0, "kg", Decimal("4.00"), ""),
    )


# --- weeks ---------------------------------------------------------------------------------------


def placed(day, amount, item="flour", quantity=25.0):
    return Placed(
        *("PO-1", "r", "mill", "M", item, 1, 1, quantity, "kg", None, Decimal(amount)),
        deliver_on=day,
        placed_on=THU,
    )


def test_weeks_are_cut_at_the_ends_and_the_budget_by_days():
    """Thursday to the Monday after next: four days, a week, a day; a budget of 700 a week is 100 a day."""
    home = house(policy=Policy(weekly_budget=Decimal(700)), ingredients=[HOME.ingredients["flour"]])
    monday = THU + timedelta(4)
    receipts = [Receipt(monday, "mill", "M", "flour", 2, 50.0, Decimal("20.50"))]  # of which 1.00 is credited
    found = weeks(
        home,
        (THU, monday + timedelta(7)),
        [placed(THU, "30.00"), placed(monday, "40.00")],
        receipts,
        [Allowance(monday, "mill", "M", Decimal("1.00"), "overcharged")],
        DayMoney(
            theoretical={THU: Decimal("11.111"), monday: Decimal("5")},
            revenue={THU: Decimal("40.004")},
            fees={monday: Decimal("8.00")},
        ),
    )
    assert found == (
        Week(
            THU,
            THU + timedelta(3),
            *(Decimal("30.00"), Decimal("0.00"), Decimal("11.11"), Decimal("400.00"), Decimal("40.00")),
        ),
        Week(
            monday,
            monday + timedelta(6),
            *(Decimal("40.00"), Decimal("40.00"), Decimal("5.00"), Decimal("700.00"), Decimal("0.00")),
            fees=Decimal("8.00"),
        ),
        Week(
            monday + timedelta(7),
            monday + timedelta(7),
            *(Decimal("0.00"), Decimal("0.00"), Decimal("0.00"), Decimal("100.00"), Decimal("0.00")),
        ),
    )


# --- orders against use --------------------------------------------------------------------------


def test_use_in_theory_goes_through_sub_recipes_and_yields_and_leaves_out_what_comes_back():
    """100 pies are 10 batches: each 5 kg of dough (0.8 kg flour a kg), 3/0.75 kg of duck, 1 l of broth."""
    home = house(
        ingredients=[ingredient("flour"), ingredient("duck"), ingredient("broth", "l")],
        recipes=[
            recipe("dough", 10.0, {"flour": 8.0}),
            recipe(
                "pie",
                10.0,
                [
                    RecipeLine("dough", 5.0),
                    RecipeLine("duck", 3.0, yield_fraction=0.75),
                    RecipeLine("broth", 4.0, returns=3.0),
                ],
                unit="each",
            ),
        ],
        dishes=[dish("duck-pie", "pie")],
    )
    assert ingredient_use(home, {"duck-pie": 100.0, "gone": 5.0}, {}) == pytest.approx(
        {"flour": 40.0, "duck": 40.0, "broth": 10.0}
    )


def test_a_recipe_that_feeds_itself_uses_what_one_turn_adds():
    home = house(
        ingredients=[ingredient("flour")],
        recipes=[recipe("levain", 2.0, [RecipeLine("flour", 1.0), RecipeLine("levain", 1.0, returns=1.0)])],
        dishes=[dish("bread", "levain")],
    )
    assert ingredient_use(home, {"bread": 3.0}, {}) == pytest.approx({"flour": 1.5})


def test_consumables_count_as_used_also_what_they_are_made_of():
    home = house(
        ingredients=[ingredient("oak"), ingredient("butter")],
        recipes=[recipe("herb-butter", 2.0, [RecipeLine("butter", 1.5)])],
    )
    assert ingredient_use(home, {}, {"oak": 360.0, "herb-butter": 4.0}) == {"oak": 360.0, "butter": 3.0}


def test_an_item_shows_its_orders_receipts_use_waste_and_variance_side_by_side():
    none = Variance("duck", THU, 2.0, 1.0, "kg", None)
    found = item_uses(
        HOME,
        {"flour": 20.0},
        [placed(THU, "20.00")],
        [Receipt(THU, "mill", "M", "flour", 1, 25.0, Decimal("20.50"))],
        [Waste(THU, "flour", 1.0)],
        [
            Variance("flour", THU, 3.0, 4.0, "kg", Decimal("-0.80")),
            none,
        ],
    )
    assert found == (
        ItemUse("flour", "kg", 25.0, 25.0, 20.0, 1.0, -1.0, Decimal("-0.80"), Decimal("20.50")),
        ItemUse("duck", "kg", 0.0, 0.0, 0.0, 0.0, 1.0, Decimal(0), Decimal(0)),
    )


# --- yields --------------------------------------------------------------------------------------


def batches(*pairs):
    return [Batch(THU + timedelta(n), "pie", drawn, made) for n, (drawn, made) in enumerate(pairs)]


def test_a_learnt_yield_is_the_ratio_of_totals_shrunk_by_five_batches():
    """2 kg of flour make 10: figure 5 a kg. Weighed 8 of 2 and 24 of 6: 32/8 = 4, not the mean of 4 and 4.

    Two batches: (2 x 4 + 5 x 5) / 7 = 33/7.
    """
    found = learnt_yields(HOME, batches((2.0, 8.0), (6.0, 24.0)), {"pie": 2.0}, (THU, THU + timedelta(9)))[0]
    assert (found.figure, found.seen, found.n) == (5.0, 4.0, 2)
    assert found.learnt == pytest.approx(33 / 7)
    assert not found.is_offered, "two batches are too few"
    assert found.money == Decimal("16.00"), "8 kg should have made 40, made 32, at 2.00 each"


def test_a_mean_of_ratios_is_not_what_is_learnt():
    """1 kg made 5, 9 kg made 27: the totals say 3.2 a kg, the mean of 5 and 3 would be 4."""
    found = learnt_yields(HOME, batches((1.0, 5.0), (9.0, 27.0)), {}, (THU, THU))[0]
    assert found.seen == pytest.approx(3.2)


def test_from_three_batches_on_a_yield_far_off_is_offered_in_words():
    """Ten batches at 4.5: (10 x 4.5 + 5 x 5) / 15 = 14/3 a kg; a batch of 2 kg makes 9.333."""
    found = learnt_yields(HOME, batches(*[(2.0, 9.0)] * 10), {}, (THU, THU))[0]
    assert found.is_offered
    assert found.better == pytest.approx(9.333)
    assert yield_told(HOME, found) == (
        "Pie: 10 batches gave 10.0 % less than the recipe says; in recipes.yaml, pie, 'makes: 9.333 each' "
        "would fit better than 10 each"
    )
    assert learnt_yields(HOME, batches(*[(2.0, 8.0)] * 3), {}, (THU, THU))[0].is_offered


@pytest.mark.parametrize(("made", "is_offered"), [(9.54, True), (9.56, False)])
def test_what_is_learnt_is_offered_when_it_is_three_per_cent_off(made, is_offered):
    """(10 x 4.77 + 5 x 5) / 15 is 3.07 % below 5, (10 x 4.78 + 5 x 5) / 15 2.93 %."""
    found = learnt_yields(HOME, batches(*[(2.0, made)] * 10), {}, (THU, THU))[0]
    assert found.is_offered is is_offered


def test_money_of_a_yield_is_that_of_the_stretch_alone():
    found = learnt_yields(HOME, batches((2.0, 8.0), (2.0, 8.0)), {"pie": 1.0}, (THU, THU))[0]
    assert found.money == Decimal("2.00")


# --- advice --------------------------------------------------------------------------------------


def scored(bias, n=4, name="dinner"):
    return Score(name, "0 to 7 days", n, 100.0, 100.0 * (1 + bias), bias, 0.1, None, None, None, None)


def test_the_five_things_with_the_most_money_come_first():
    out = tuple(RanOut("duck-pie", n, float(n), Decimal(n)) for n in range(1, 8))
    assert [a.money for a in worth_doing(HOME, Findings(ran_out=out))] == [
        Decimal(n) for n in (7, 6, 5, 4, 3)
    ]


def test_nothing_without_money_is_advice():
    found = Findings(ran_out=(RanOut("duck-pie", 1, 0.0, Decimal(0)),))
    assert worth_doing(HOME, found) == ()


def test_each_kind_of_finding_has_its_words_and_money():
    burnt = Thrown("duck", 3.0, "kg", Decimal(27), "burnt")
    cases = {
        "86'd twice, about 3 portions": Findings(ran_out=(RanOut("duck-pie", 2, 3.0, Decimal(40)),)),
        "3 kg of Duck thrown away (burnt)": Findings(thrown=(burnt,)),
        "counts found 2 kg of Flour less": Findings(
            items=(ItemUse("flour", "kg", 0, 0, 0, 0, -2.0, Decimal("-1.60"), Decimal(0)),)
        ),
        "fowl charged 9.60 for D Duck, not the 9.00 agreed": Findings(
            dearer=(Dearer("fowl", "D", "duck", Decimal("9.00"), Decimal("9.60"), Decimal("2.55")),)
        ),
        "pie, 'makes: 9 each' would fit": Findings(
            yields=(LearntYield("pie", 5, 5.0, 4.0, 4.5, 10.0, 9.0, "each", Decimal(8), True),)
        ),
    }
    money = {words: worth_doing(HOME, found)[0] for words, found in cases.items()}
    for words, advice in money.items():
        assert words in advice.text
    assert [str(a.money) for a in money.values()] == ["40", "27", "1.60", "2.55", "8"]


def test_a_forecast_that_leans_is_worth_watching_and_costs_no_sum():
    """Guests who came beyond the forecast were served: |forecast - actual| x cost is no loss."""
    assert worth_watching(HOME, (scored(0.06), scored(-0.2, name="lunch")), ()) == (
        "Dinner: 6 % too many covers forecast over 4 services. Look for an event or a closure that is "
        "not in calendar.yaml.",
        "Lunch: 20 % too few covers forecast over 4 services. Look for an event or a closure that is "
        "not in calendar.yaml.",
    )
    assert worth_watching(HOME, (scored(0.04), scored(0.3, n=3, name="lunch")), ()) == ()


def test_what_a_vendor_did_not_bring_was_not_paid_for():
    short = Expected(OrderKey("mill", "M", THU), "flour", 3.0, 75.0, "kg", Decimal("20.00"), 2.0, 50.0, True)
    assert worth_watching(HOME, (), (short, short)) == (
        "Came short: mill (2 lines). Talk to them, or name a second vendor.",
    )


def test_orders_of_the_books_count_as_ordered():
    """33.96 ordered and 78.08 come looks like a fraud where 44.12 of it stood in open_orders."""
    order = OpenOrder("mill", "M", "flour", 4.0, 100.0, THU)
    found = weeks(HOME, (THU, THU), [placed(THU, "20.00"), order], [], [], DayMoney({}, {}))
    assert found[0].placed == Decimal("92.00"), "20.00 and four packs at the break of 18.00"
    assert item_uses(HOME, {}, [placed(THU, "20.00"), order], [], [], [])[0].placed == 125.0


def test_only_what_came_and_came_short_within_the_days_is_a_short():
    def order(packs, received, settled, day=THU):
        return Expected(OrderKey("mill", "M", day), "flour", packs, 0.0, "kg", None, received, 0.0, settled)

    kept = order(3, 2, True)
    others = (order(3, 3, True), order(3, 0, False), order(3, 2, True, THU - timedelta(1)))
    assert shorts((kept, *others), THU, THU) == (kept,)
