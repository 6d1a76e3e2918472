"""Explosion against published worked cases. Source beside each.

The kit: a speaker, a worked requirements plan without author (monografias.com, "Speaker Kit"), A = 2 B + 3
C, B = 2 D + 2 E, C = 2 E + 2 F, F = 2 D + G, 50 A due in week 8 (figures for G recomputed). Leontief cases:
a worksheet of the College of the Holy Cross (mathcs.holycross.edu) on input-output models; D. C. Lay,
Linear Algebra and Its Applications, section 2.6, exercise 2 and its worked example (the last from memory,
all recomputed). Dry ageing: Dry aging of beef; Review, J Anim Sci Technol 2016, 58:20, Table 1 (compiling
Meat Science 2008, 80:795-804).
"""

import csv
from pathlib import Path

import houses
import numpy as np
import pytest

from ordering.net.netting import net_all
from ordering.records.books import Lot
from ordering.records.plan import Opening

HERE = Path(__file__).parent / "explosion"
WEEK_8 = 8  # day index 8 stands for week 8, so that releases in week 1 have a day of their own


def rows(name):
    with (HERE / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def kit(leads):
    """The kit as a house: every part a recipe, made any number at a time, from `stuff` at the bottom."""
    parts: dict[str, dict[str, float]] = {}
    for row in rows("kit_parts.csv"):
        parts.setdefault(row["parent"].lower(), {})[row["component"].lower()] = float(
            row["quantity_per_parent"]
        )
    names = [row["item"].lower() for row in rows("kit_plan.csv")]
    made = [
        houses.recipe(
            n, 1, parts.get(n, {"stuff": 1.0}), unit="each", takes_days=leads.get(n, 0), is_whole=True
        )
        for n in names
    ]
    return houses.house([houses.ingredient("stuff", "each")], made, [houses.dish("kit", "a", 1.0)])


def netted(home, lots=(), due=WEEK_8, quantity=50.0):
    sold = np.zeros(due + 1)
    sold[due] = quantity
    return net_all(home, Opening(tuple(lots)), houses.forecast(home, {"kit": sold}), {}, {"stuff": 0})


@pytest.mark.parametrize("row", rows("kit_plan.csv"), ids=lambda r: r["item"])
def test_gross_requirement_of_the_kit(row):
    """Fifty of A ask for 100 B, 150 C, 800 D, 500 E, 300 F, 300 G."""
    flow = netted(kit({})).flows[row["item"].lower()]
    assert flow.gross.sum() == pytest.approx(float(row["gross_for_50_A"]), abs=1e-9)
    assert flow.gross.sum() / 50 == pytest.approx(float(row["total_per_A"]), abs=1e-12)


@pytest.mark.parametrize("row", rows("kit_plan.csv"), ids=lambda r: r["item"])
def test_netted_and_lead_offset_plan_of_the_kit(row):
    """Releases after stock and lead times: 40 A in week 7, 380 D in week 2 and 130 in week 4, ..."""
    plan = rows("kit_plan.csv")
    leads = {r["item"].lower(): int(r["lead_time_weeks"]) for r in plan}
    lots = [Lot(r["item"].lower(), float(r["on_hand"])) for r in plan if float(r["on_hand"])]
    found = netted(kit(leads), lots)
    item = row["item"].lower()
    planned = found.flows[item].planned
    released = {int(t) - leads[item]: float(planned[t]) for t in np.flatnonzero(planned)}
    wanted = {}
    for part in row["net_order_releases"].split(";"):
        quantity, week = part.split(" in week ")
        wanted[int(week)] = float(quantity)
    assert released == pytest.approx(wanted)
    assert not found.shortfalls


def test_two_weeks_too_late_the_kit_is_short():
    """G, F, C and A take seven weeks one after the other: due in week 6, nothing is begun in vain."""
    plan = rows("kit_plan.csv")
    leads = {r["item"].lower(): int(r["lead_time_weeks"]) for r in plan}
    found = netted(kit(leads), due=6)
    assert {s.cause for s in found.shortfalls} == {"no-time"}
    assert sum(sum(s.portions.values()) for s in found.shortfalls if s.item == "g") == pytest.approx(50)
    assert not found.starts


WORKSHEET = [[0.3, 0.4, 0.3], [0.3, 0.1, 0.2], [0.2, 0.2, 0.1]]
LAY_2 = [[0.1, 0.6, 0.6], [0.3, 0.2, 0.0], [0.3, 0.1, 0.1]]
LAY_EXAMPLE = [[0.5, 0.4, 0.2], [0.2, 0.3, 0.1], [0.1, 0.1, 0.3]]
TWO = [[0.2, 0.3], [0.4, 0.1]]
LEONTIEF = [
    # consumption matrix, demand, output x = (I - C)^-1 d, half of the last digit printed
    (WORKSHEET, [100, 100, 30], [377.551020, 276.676385, 178.717201], 5e-6),
    # columns of the inverse, each the output for one of one thing alone
    (WORKSHEET, [1, 0, 0], [2.244897959, 0.9037900875, 0.6997084548], 5e-9),
    (WORKSHEET, [0, 1, 0], [1.224489796, 1.661807580, 0.6413994169], 5e-9),
    (WORKSHEET, [0, 0, 1], [1.020408163, 0.6705539359, 1.486880466], 5e-9),
    (LAY_2, [0, 18, 0], [33.33, 35, 15], 5e-3),
    (LAY_EXAMPLE, [50, 30, 20], [225.93, 118.52, 77.78], 5e-3),
    (TWO, [1, 0], [1.5, 0.6667], 5e-5),
    (TWO, [0, 1], [0.5, 1.3333], 5e-5),
]


def exploded(consumed, demand, layers):
    """Gross requirement [layer, thing] of a cycle unrolled into layers; nothing is made below the last."""
    names = "pqr"[: len(demand)]
    made = []
    for depth in range(layers):
        for j, name in enumerate(names):
            inputs = {f"{n}-{depth + 1}": row[j] for n, row in zip(names, consumed, strict=True) if row[j]}
            made.append(houses.recipe(f"{name}-{depth}", 1, inputs))
    raw = [houses.ingredient(f"{n}-{layers}") for n in names]
    dishes = [houses.dish(f"dish-{n}", f"{n}-0") for n in names]
    home = houses.house(raw, made, dishes)
    sold = {f"dish-{n}": [float(d)] for n, d in zip(names, demand, strict=True)}
    flows = net_all(home, Opening(), houses.forecast(home, sold), {}, {i.id: 0 for i in raw}).flows
    return np.array([[flows[f"{n}-{depth}"].gross.sum() for n in names] for depth in range(layers + 1)])


@pytest.mark.parametrize(("consumed", "demand", "output", "within"), LEONTIEF)
def test_cyclic_requirement_by_the_series_of_explosions(consumed, demand, output, within):
    """I + C + C^2 + ...: each round is an explosion of ours; sums reach the published (I - C)^-1 d.

    Nested recipes are the acyclic case, where the series ends. A cycle is unrolled here into layers.
    """
    assert exploded(consumed, demand, layers=140).sum(axis=0) == pytest.approx(output, abs=within)


def test_what_making_a_hundred_takes():
    """Lay 2.6: one round of C for x = (0, 100, 0) is 60, 20 and 10."""
    assert exploded(LAY_2, [0, 100, 0], layers=1)[1] == pytest.approx([60, 20, 10])


def test_gozinto_totals_are_the_columns_of_the_inverse():
    """Per unit of A, the column of (I - A)^-1: B 2, C 3, D 16, E 10, F 6, G 6 (recomputed)."""
    names = [r["item"].lower() for r in rows("kit_plan.csv")]
    direct = np.zeros((len(names), len(names)))
    for r in rows("kit_parts.csv"):
        pair = names.index(r["component"].lower()), names.index(r["parent"].lower())
        direct[pair] = float(r["quantity_per_parent"])
    per_unit = np.linalg.inv(np.eye(len(names)) - direct)[:, 0]
    found = netted(kit({}), quantity=1.0)
    assert [found.flows[n].gross.sum() for n in names] == pytest.approx(list(per_unit), abs=1e-12)


AGED = {
    (r["cut"], r["treatment"], int(r["days"]), r["component"]): float(r["percent_of_initial_weight"])
    for r in rows("dry_age_beef.csv")
}
CUTS = ("bone-in ribeye roll", "bone-in strip loin", "top sirloin butt")
TRIMS = ("vein_steak", "stew", "lean_trim")  # what is sold beside the steaks
CASES = [(cut, how, days) for cut in CUTS for how in ("dry", "wet") for days in (14, 21, 28, 35)]


def aged(cut, how, days, pounds):
    """Flows when so many pounds of steaks are wanted on the last day, the trims falling out beside them."""
    steaks = AGED[cut, how, days, "steaks"] / 100
    beside = {t: AGED[cut, how, days, t] / 100 for t in TRIMS if (cut, how, days, t) in AGED}
    ageing = houses.recipe(
        "aged-steak",
        1.0,
        [houses.line("primal", 1.0, yield_fraction=steaks)],
        unit="lb",
        takes_days=days,
        also_makes=tuple((trim, share / steaks) for trim, share in beside.items()),
    )
    trims = [houses.ingredient(trim, "lb") for trim in beside]
    home = houses.house(
        [houses.ingredient("primal", "lb"), *trims], [ageing], [houses.dish("steak", "aged-steak", 1.0)]
    )
    demand = houses.forecast(home, {"steak": [0.0] * 40 + [pounds]})
    return net_all(home, Opening(), demand, {}, dict.fromkeys(home.ingredients, 0)).flows


@pytest.mark.parametrize(("cut", "how", "days"), CASES)
def test_aged_steaks_ask_for_so_much_primal_so_long_before(cut, how, days):
    """Table 1, steaks in per cent of the weight put up: what goes in gives back that share, days later."""
    gross = aged(cut, how, days, 30.0)["primal"].gross
    assert list(np.flatnonzero(gross)) == [40 - days]
    assert 100 * 30.0 / gross.sum() == pytest.approx(AGED[cut, how, days, "steaks"])


@pytest.mark.parametrize(("how", "printed"), [("dry", 47.24), ("wet", 36.19)])
def test_thirty_pounds_of_28_day_ribeye(how, printed):
    """30 / 0.635 = 47.24 lb of bone-in ribeye dry-aged, 30 / 0.829 = 36.19 lb wet-aged (recomputed)."""
    assert aged(CUTS[0], how, 28, 30.0)["primal"].gross.sum() == pytest.approx(printed, abs=0.005)


@pytest.mark.parametrize(("cut", "days"), [(c, d) for c in CUTS[:2] for d in (14, 21, 28, 35)])
def test_steaks_and_what_falls_out_beside_them_are_what_can_be_sold(cut, days):
    """Table 1, total saleable of ribeye and strip: steaks, vein steaks, stew and lean trim (none
    of these three for sirloin). Means are printed to a tenth, so their sums are off by a tenth."""
    flows = aged(cut, "dry", days, 30.0)
    put_up = flows["primal"].gross.sum()
    fell_out = sum(flows[trim].by_product.sum() for trim in TRIMS if trim in flows)
    assert fell_out > 0
    assert 100 * (30.0 + fell_out) / put_up == pytest.approx(
        AGED[cut, "dry", days, "total_saleable"], abs=0.11
    )
