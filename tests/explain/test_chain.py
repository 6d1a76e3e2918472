"""The chain as text: what a chef reads after `explain`, from covers to packs, at 80 columns."""

import json
import math
from dataclasses import replace

import numpy as np
import plans
import pytest

from ordering.explain.reasons import why
from ordering.explaining import chain
from ordering.faults import Refused
from ordering.pages import tables as pages
from ordering.records.books import Lot
from ordering.records.buying import Buying, Shortfall
from ordering.records.house import Consumable, Dish, House, Ingredient, Recipe, RecipeLine
from ordering.records.plan import Shortage, Start
from ordering.records.vendors import Vendor
from ordering.write.table import csv_bytes

ON = plans.ON


def home():
    return House(
        "Test house",
        ingredients={
            "cheek": Ingredient("cheek", "Ox cheek", "kg"),
            "salt": Ingredient("salt", "Fine salt", "kg", par=2.0),
            "foil": Ingredient("foil", "Foil", "each"),
        },
        recipes={
            "pressed": Recipe(
                "pressed",
                "Pressed cheek",
                "each",
                makes=10.0,
                is_whole=True,
                takes_days=2,
                keeps_days=5,
                largest=40.0,
                lines=(RecipeLine("cheek", 2.0, yield_fraction=0.8), RecipeLine("salt", 0.1, at_days=1)),
            ),
            "plate": Recipe(
                "plate", "Cheek and mash", "each", makes=1.0, lines=(RecipeLine("pressed", 1.0),)
            ),
        },
        dishes={"cheek": Dish("cheek", "Cheek and mash", "plate", 1.0)},
        vendors={"quay": Vendor("quay", "Quay Butchers")},
        consumables=(Consumable("foil", 2.0, "day"),),
    )


def run(margin=0.2, shortages=(), stock=None):
    """A plan of eight days: 12 portions on days 3 and 5, 8 each in the house, orders for days 0 and 3."""
    house = home()
    forecast = plans.forecast_of({"cheek": [0, 0, 0, 12, 0, 12, 0, 0]}, 8)
    netting = plans.netted(house, forecast, stock or {"pressed": 8.0, "salt": 1.0, "foil": 40.0}, margin)
    day = forecast.days
    netting = replace(
        netting,
        starts=(
            Start(day[1], "pressed", 1.0, 10.0, "each", day[3]),
            Start(day[3], "pressed", 1.0, 10.0, "each", day[5]),
        ),
    )
    buying = Buying((plans.line(house, "cheek", 0, 2, 3.0), plans.line(house, "salt", 0, 1, 3.0)), ())
    plan = plans.plan_of(house, forecast, netting, buying, shortages=shortages)
    return house, replace(plan, pegging=plans.pegged(house, netting, buying, forecast))


def told(plan, house):
    """Tables and facts as they come back from a run folder."""
    listings = {
        "forecast": pages.forecast_table(plan.forecast),
        "orders": pages.orders_table(plan.buying.orders),
        "outlook": pages.orders_table(plan.buying.outlook),
        "starts": pages.starts_table(plan.netting.starts),
        "shortages": pages.shortages_table(plan.shortages),
        "projection": pages.projection_table(house, plan),
        "pegging": pages.pegging_table(plan.pegging),
    }
    rows = {}
    for name, listing in listings.items():
        head, *body = csv_bytes(listing.columns, listing.rows).decode().splitlines()
        rows[name] = [dict(zip(head.split(","), line.split(","), strict=True)) for line in body]
    return rows, {"why": json.loads(json.dumps(why(plan, house)))}


def text(item, **given):
    house, plan = run(**given)
    return chain(*told(plan, house), item)


def test_the_reasons_of_a_run_are_compact():
    """A third of everything in the house: no number has more than six decimals."""
    house, plan = run(stock={"pressed": 23 / 3, "salt": 1 / 3, "foil": 121 / 3})
    numbers = []
    json.loads(json.dumps(why(plan, house)), parse_float=numbers.append)
    assert max(len(number.partition(".")[2]) for number in numbers) == 6


def test_the_chain_of_a_bought_item_from_covers_to_packs():
    """Day 3 takes 12, 8 are in the house, so a batch of 10 for day 3 and another for day 5: 5 kg."""
    assert text("cheek") == [
        "Ox cheek: what to order and why",
        "===============================",
        "  2 packs of 3 kg from Quay Butchers (Q-cheek): order by Thu 26 Nov 15:00 for",
        "    Thu 26 Nov, to last to Thu 3 Dec",
        "",
        "Who is expected (nine times in ten within the range)",
        "  Sun 29 Nov dinner               12 covers   12 to 12",
        "  Tue 1 Dec dinner                12 covers   12 to 12",
        "",
        "What these orders put on plates",
        "  Cheek and mash: 16 of 24 portions, Sun 29 Nov to Tue 1 Dec",
        "",
        "From the plate back to Ox cheek",
        "  Cheek and mash: 250 g a portion",
        "    a plate takes 1 of Pressed cheek",
        "    Pressed cheek: a batch of 10 takes 2.5 kg of Ox cheek (2 kg at a yield of",
        "      80 %), and 2 days",
        "",
        "Need, Thu 26 Nov to Thu 3 Dec                                                 kg",
        "  needed by dishes and recipes                                              5.00",
        "                                                                            ----",
        "  to buy for what is expected                                               5.00",
        "",
        "What the delivery of Thu 26 Nov is for                                        kg",
        "  Cheek and mash                                                            4.00",
        "  surplus from whole batches                                                1.00",
        "  safety stock (enough 95 times in 100)                                     1.00",
        "                                                                            ----",
        "  ordered: 2 packs of 3 kg                                                  6.00",
        "",
        "Safety: house policy.",
        "",
        "There is a dish of that name too: ask for dish:cheek",
    ]


def test_what_is_to_be_known_of_a_line_stands_beside_its_packs_now_and_later():
    house, plan = run()
    note = "1 of 2 not needed by Wed 2 Dec: without it the delivery is below the minimum of 50.00"
    now, *rest = plan.buying.orders
    later = replace(
        plans.line(house, "cheek", 7, 1, 3.0), note="delivery of 9.00, below the minimum of 50.00"
    )
    buying = replace(plan.buying, orders=(replace(now, note=note), *rest), outlook=(later,))
    pegs = plans.pegged(house, plan.netting, buying, plan.forecast)
    plan = plans.plan_of(house, plan.forecast, plan.netting, buying, pegging=pegs)
    tables, facts = told(plan, house)
    said = " ".join(" ".join(chain(tables, facts, "cheek")).split())
    assert f"(Q-cheek): order by Thu 26 Nov 15:00 for Thu 26 Nov, to last to Thu 3 Dec; {note} " in said
    assert (
        "Thu 3 Dec: 1 pack of 3 kg from Quay Butchers; delivery of 9.00, below the minimum of 50.00" in said
    )
    del facts["why"]["items"]["cheek"]["notes"]
    assert "minimum" not in " ".join(chain(tables, facts, "cheek"))


def test_the_chain_of_a_made_item_says_what_to_start_and_why():
    assert text("pressed") == [
        "Pressed cheek: start 20, the first on Fri 27 Nov",
        "================================================",
        "  Fri 27 Nov: 1 batch, 10, ready on Sun 29 Nov",
        "  Sun 29 Nov: 1 batch, 10, ready on Tue 1 Dec",
        "",
        "What it ends in, expected to Thu 3 Dec",
        "  Cheek and mash: 24 portions at 1",
        "",
        "Who draws on it, to Thu 3 Dec",
        "  Cheek and mash: 24",
        "",
        "Need, Thu 26 Nov to Thu 3 Dec                                               each",
        "  needed by dishes and recipes                                             24.00",
        "  in the house on Thu 26 Nov                                               -8.00",
        "  still there after Thu 3 Dec on average                                    4.00",
        "                                                                           -----",
        "  to start                                                                 20.00",
        "  A batch is 10, made whole; it takes 2 days and keeps 5 days; at most 40 in one",
        "  day.",
        "",
        "What goes into it",
        "  Ox cheek: 5 kg (4 kg at a yield of 80 %)",
        "  Fine salt: 200 g, 1 day after the start",
    ]


def test_the_chain_of_a_dish_says_when_it_sells_and_what_it_is_behind():
    lines = text("dish:cheek")
    assert lines[0] == "Cheek and mash"
    assert "  Sun 29 Nov dinner               12 portions   12 to 12" in lines
    assert "  1 Pressed cheek" in lines
    assert "  Ox cheek: 4 kg of 6 kg, Quay Butchers, Thu 26 Nov" in lines


def test_of_services_and_starts_eight_are_listed_and_the_rest_counted():
    """Ten services of 12 portions and ten starts."""
    house, plan = run()
    forecast = plans.forecast_of({"cheek": [12.0] * 10}, 10)
    begun = tuple(replace(plan.netting.starts[0], start_on=day, ready_on=day) for day in forecast.days)
    long = replace(plan, forecast=forecast, netting=replace(plan.netting, starts=begun))
    dish = chain(*told(long, house), "dish:cheek")
    assert sum("12 portions   12 to 12" in line for line in dish) == 8
    assert "  and 2 more services to Sat 5 Dec: 24 portions" in dish
    made = chain(*told(long, house), "pressed")
    assert sum("ready on" in line for line in made) == 8
    assert "  and 2 more starts" in made


@pytest.mark.parametrize(("part", "is_listed"), [(0.05, False), (0.07, True)])
def test_a_part_below_a_hundredth_of_a_line_is_only_counted(part, is_listed):
    """Of six kilos of cheek."""
    house, plan = run()
    peg = next(p for p in plan.pegging if (p.code, p.dish) == ("Q-cheek", "cheek"))
    lines = chain(*told(replace(plan, pegging=(peg._replace(quantity=part),)), house), "dish:cheek")
    assert any("Ox cheek:" in line for line in lines) == is_listed
    assert ("  and a part smaller than one in a hundred of 1 more line" in lines) != is_listed


def test_of_later_deliveries_eight_are_listed_and_the_rest_counted():
    house, plan = run()
    for n_later, last in ((8, "Wed 9 Dec"), (10, "and 2 more lines")):
        outlook = tuple(plans.line(house, "cheek", n + 6, 1, 3.0) for n in range(n_later))
        buying = replace(plan.buying, outlook=outlook)
        lines = chain(*told(replace(plan, buying=buying), house), "cheek")
        later = lines[lines.index("Later (do not order yet)") + 1 :]
        assert last in later[later.index("") - 1]


def test_a_dish_tells_every_shortage_that_hits_it():
    short = Shortage(
        ON, "salt", 0.1, "kg", "Cheek and mash: 10 portions (Thu 26 Nov)", "no offer", "fetch it"
    )
    other = Shortage(ON, "foil", 3.0, "each", "Mash: 1 portion (Thu 26 Nov)", "no offer", "fetch it")
    joined = " ".join(" ".join(text("dish:cheek", shortages=(short, other))).split())
    assert "100 g short of Fine salt. No offer. What can be done: fetch it." in joined
    assert "Foil" not in joined


def test_an_item_that_needs_no_order_says_what_there_is_and_who_uses_it():
    lines = text("foil")
    assert lines[0] == "Foil: nothing to order now"
    assert "In the house: 40. That lasts for all the days this run looks at." in lines
    assert "  the service itself (consumables): 14" in lines


def test_a_par_is_named_in_the_sum():
    assert any("kept in the house, par 2 kg" in line for line in text("salt"))


def test_an_item_never_counted_is_said_to_be_unknown():
    house, plan = run()
    plan = replace(plan, opening=replace(plan.opening, unknown=frozenset({"foil"}), lots=(Lot("foil", 1.0),)))
    assert any(line.startswith("It has never been counted") for line in chain(*told(plan, house), "foil"))


def test_a_shortage_is_told_with_cause_and_remedy():
    short = Shortage(
        ON, "cheek", 2.5, "kg", "Cheek and mash: 10 portions", "no delivery in time", "call Quay"
    )
    joined = " ".join(" ".join(text("cheek", shortages=(short,))).split())
    assert "Thu 26 Nov: 2.5 kg short of Ox cheek. No delivery in time. What can be done: call Quay." in joined


def test_days_that_go_as_one_before_are_listed_with_it():
    """Three days short, the middle one of another dish: each dish hears what can be done, and of its days."""
    dish = "Cheek and mash: 10 portions (Fri 27 Nov)"
    first = Shortage(ON, "cheek", 2.5, "kg", dish, "no delivery", "call Quay; take it off")
    second = replace(
        first, date=plans.days_from(5)[1], short=0.4, dishes="Foil pie: 1 portion", remedy="as for Thu 26 Nov"
    )
    third = replace(second, date=plans.days_from(5)[2], short=1.5, dishes=dish)
    said = joined(text("cheek", shortages=(first, second, third)))
    assert (
        "What can be done: call Quay; take it off. Also on Fri 27 Nov (400 g) and Sat 28 Nov (1.5 kg)."
        in said
    )
    assert "as for" not in said
    of_a_dish = joined(
        text("dish:cheek", shortages=(replace(first, dishes="Foil pie: 1 portion"), second, third))
    )
    assert (
        "Sat 28 Nov: 1.5 kg short of Ox cheek. No delivery. What can be done: call Quay; take it off."
        in of_a_dish
    )
    assert "Fri 27 Nov: " not in of_a_dish


def test_who_has_booked_is_told_as_the_least():
    """Nothing is known of walk-ins on Sunday: 12 or more, and no range."""
    house, plan = run()
    (sunday,) = [n for n, slot in enumerate(plan.forecast.slots) if slot.date == plans.days_from(5)[3]]
    plan = replace(plan, forecast=replace(plan.forecast, unknown=frozenset({sunday})))
    lines = chain(*told(plan, house), "cheek")
    assert "  Sun 29 Nov dinner               12 covers   or more" in lines
    assert "  Tue 1 Dec dinner                12 covers   12 to 12" in lines


def given_up(shortages=(), shortfalls=()):
    """12 portions are expected on day 3, and netting has given all of them up."""
    house = home()
    asked = plans.forecast_of({"cheek": [0, 0, 0, 12, 0, 0, 0, 0]}, 8)
    netting = plans.netted(house, plans.forecast_of({"cheek": [0.0] * 8}, 8), {"salt": 9.0, "foil": 40.0})
    netting = replace(netting, shortfalls=tuple(shortfalls))
    plan = plans.plan_of(house, asked, netting, Buying((), ()), shortages=tuple(shortages))
    return told(plan, house)


CHEEK_SHORT = Shortage(
    ON, "cheek", 3.0, "kg", "Cheek and mash: 12 portions (Sun 29 Nov)", "no delivery in time", "call Quay"
)


def joined(lines):
    return " ".join(" ".join(lines).split())


def test_what_is_short_is_not_said_to_be_wanted_by_nobody():
    said = joined(chain(*given_up([CHEEK_SHORT]), "cheek"))
    assert "In the house: 0 kg. Some of it is short: see below." in said
    assert "3 kg short of Ox cheek" in said
    assert "Nothing" not in said.replace("nothing to order now", "")


def test_what_goes_with_something_short_names_it():
    """Salt is there; it is not drawn because the cheek it goes with cannot be had. So the cheek itself."""
    wanting = (
        "Nothing draws on it in the coming days: what it goes into is in the house already, or cannot be "
        "made without Ox cheek."
    )
    assert wanting in joined(chain(*given_up([CHEEK_SHORT]), "salt"))
    assert wanting in joined(chain(*given_up([CHEEK_SHORT]), "pressed"))


def test_what_is_made_already_is_not_said_to_be_off_the_menu():
    said = joined(chain(*given_up(), "salt"))
    assert "Nothing draws on it in the coming days: what it goes into is in the house already." in said


def test_what_no_dish_is_expected_to_need_is_said_to_be_so():
    house = home()
    nobody = plans.forecast_of({"cheek": [0.0] * 8}, 8)
    plan = plans.plan_of(house, nobody, plans.netted(house, nobody, {"salt": 9.0}), Buying((), ()))
    assert "Nothing on the menu uses it in the coming days." in joined(chain(*told(plan, house), "salt"))


def test_what_was_given_up_stands_in_the_sum_as_wanted_and_not_to_be_had():
    """Of 24 portions 4 are given up on day 5: wanted 24, in the house 8, 4 cannot be had."""
    house, plan = run()
    forecast = plans.forecast_of({"cheek": [0, 0, 0, 12, 0, 8, 0, 0]}, 8)
    netting = replace(
        plans.netted(house, forecast, {"pressed": 8.0, "salt": 1.0, "foil": 40.0}),
        starts=plan.netting.starts,
        shortfalls=(Shortfall("pressed", plan.days[5], 4.0, "capacity"),),
    )
    terms = why(replace(plan, netting=netting), house)["items"]["pressed"]["making"]["terms"]
    assert terms == {"gross": 24.0, "stock": -8.0, "left": 8.0, "unserved": -4.0}


def test_what_goes_past_its_date_is_told_of_what_was_there_and_of_what_is_made():
    """5 of 8 in the house go past their date and 3 of those made: two terms, of which neither is more
    than there is."""
    house, plan = run()
    flow = plan.netting.flows["pressed"]
    thrown, expired = np.zeros(8), np.zeros(8)
    thrown[6], expired[2] = 3.0, 5.0
    gone = np.cumsum(thrown + expired)
    changed = replace(
        flow, expired=expired + thrown, thrown=thrown, projected=flow.projected + np.cumsum(expired) - gone
    )
    netting = replace(plan.netting, flows={**plan.netting.flows, "pressed": changed})
    lines = chain(*told(replace(plan, netting=netting), house), "pressed")
    assert "  of that, past its use-by before it is needed                              5.00" in lines
    assert "  of what is made, past its use-by before it is needed                      3.00" in lines


@pytest.mark.parametrize("width", [60, 80, 120])
@pytest.mark.parametrize("item", ["cheek", "dish:cheek", "pressed", "salt", "foil", "plate"])
def test_no_line_is_wider_than_asked(item, width):
    house, plan = run()
    assert max(map(len, chain(*told(plan, house), item, width))) <= width


@pytest.mark.parametrize(
    ("word", "first"),
    [
        ("cheek", "Ox cheek: what"),
        ("Q-cheek", "Ox cheek: what"),
        ("q-CHEEK", "Ox cheek: what"),
        ("ox cheek", "Ox cheek: what"),
        ("Pressed cheek", "Pressed cheek: start"),
        (" plate ", "Cheek and mash: nothing"),
        ("dish:cheek", "Cheek and mash"),
        ("Cheek and mash", "Cheek and mash"),
    ],
)
def test_an_item_goes_by_id_name_or_code(word, first):
    assert text(word)[0].startswith(first)


@pytest.mark.parametrize(
    ("word", "right"),
    [("presed", "did you mean 'pressed'?"), ("Q-chek", "did you mean"), ("zzz", "give an item, a dish")],
)
def test_an_unknown_word_is_refused_with_the_nearest(word, right):
    with pytest.raises(Refused) as refused:
        text(word)
    (fault,) = refused.value.faults
    assert fault.kind == "unknown-item"
    assert right in fault.right


def test_a_run_without_reasons_is_refused():
    with pytest.raises(Refused, match="keeps no reasons"):
        chain({}, {}, "cheek")


def test_the_reasons_are_the_same_for_the_same_plan():
    (house, one), (_, two) = run(), run()
    assert json.dumps(why(one, house)) == json.dumps(why(two, house))


def test_the_terms_of_each_sum_add_up():
    """Gross, stock, receipts and the rest add up to what is bought or started, for every item."""
    house, plan = run()
    for facts in why(plan, house)["items"].values():
        for delivery in facts.get("deliveries", ()):
            assert sum(delivery["terms"].values()) == pytest.approx(delivery["drawn"], abs=1e-5)
            parts = [delivery[p] for p in ("drawn", "safety", "par", "rounding")]
            assert sum(parts) == pytest.approx(delivery["quantity"], abs=1e-5)
        if "making" in facts:
            assert sum(facts["making"]["terms"].values()) == pytest.approx(
                facts["making"]["planned"], abs=1e-5
            )


@pytest.mark.parametrize(("n_dishes", "more"), [(8, []), (10, ["and 2 more dishes", "2 other dishes"])])
def test_a_chain_names_eight_dishes_and_counts_the_rest(n_dishes, more):
    house = replace(
        home(), dishes={f"d{n}": Dish(f"d{n}", f"Plate {n}", "plate", 1.0) for n in range(n_dishes)}
    )
    forecast = plans.forecast_of({dish: [0, 0, 0, 2.0, 0, 0, 0, 0] for dish in house.dishes}, 8)
    netting = plans.netted(house, forecast, {"salt": 1.0, "foil": 40.0})
    ready = 10.0 * math.ceil(2 * n_dishes / 10)
    begun = Start(forecast.days[1], "pressed", ready / 10, ready, "each", forecast.days[3])
    netting = replace(netting, starts=(begun,))
    buying = Buying((plans.line(house, "cheek", 0, 2, 3.0),), ())
    plan = plans.plan_of(house, forecast, netting, buying)
    plan = replace(plan, pegging=plans.pegged(house, netting, buying, forecast))
    lines = chain(*told(plan, house), "cheek")
    named = lines[lines.index("What these orders put on plates") + 1 :]
    named = [line for line in named[: named.index("")] if line.startswith("  Plate ")]
    assert len(named) == 8
    assert sum(line.endswith(" a portion") for line in lines) == 3, "of the way back three dishes are enough"
    assert [words for words in ("and 2 more dishes", "2 other dishes") if words in "\n".join(lines)] == more
