"""Explosion against published worked cases. Source beside each.

The kit: a published worked requirements plan, A = 2 B + 3 C, B = 2 D + 2 E, C = 2 E + 2 F, F = 2 D + G,
50 A due in week 8 (figures for G recomputed). Leontief cases: a college worksheet on input-output models;
Lay, Linear Algebra and Its Applications, section 2.6, example 2. Dry ageing: Dry aging of beef; Review,
J Anim Sci Technol 2016, 58:20, Table 1 (compiling Meat Science 2008, 80:795-804).
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


LEONTIEF = [
    # consumption matrix, demand, output x = (I - C)^-1 d
    (
        [[0.3, 0.4, 0.3], [0.3, 0.1, 0.2], [0.2, 0.2, 0.1]],
        [100, 100, 30],
        [377.551020, 276.676385, 178.717201],
    ),
    ([[0.1, 0.6, 0.6], [0.3, 0.2, 0.0], [0.3, 0.1, 0.1]], [0, 18, 0], [33.333333, 35.0, 15.0]),
]


@pytest.mark.parametrize(("consumed", "demand", "output"), LEONTIEF)
def test_cyclic_requirement_by_the_series_of_explosions(consumed, demand, output):
    """I + C + C^2 + ...: each round is an explosion of ours; sums reach the published (I - C)^-1 d.

    Nested recipes are the acyclic case, where the series ends. A cycle is unrolled here into layers.
    """
    layers = 140
    names = "pqr"
    made = []
    for depth in range(layers):
        for j, name in enumerate(names):
            inputs = {f"{names[i]}-{depth + 1}": consumed[i][j] for i in range(3) if consumed[i][j]}
            made.append(houses.recipe(f"{name}-{depth}", 1, inputs))
    raw = [houses.ingredient(f"{n}-{layers}") for n in names]
    dishes = [houses.dish(f"dish-{n}", f"{n}-0") for n in names]
    home = houses.house(raw, made, dishes)
    sold = {f"dish-{n}": [float(d)] for n, d in zip(names, demand, strict=True)}
    found = net_all(home, Opening(), houses.forecast(home, sold), {}, {i.id: 0 for i in raw})
    for j, name in enumerate(names):
        total = sum(found.flows[f"{name}-{d}"].gross.sum() for d in range(layers + 1))
        assert total == pytest.approx(output[j], abs=5e-6)


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


def saleable(treatment, days):
    return next(
        float(r["percent_of_initial_weight"])
        for r in rows("dry_age_beef.csv")
        if (r["cut"], r["treatment"], r["days"], r["component"])
        == ("bone-in ribeye roll", treatment, str(days), "steaks" if treatment == "dry" else "total_saleable")
    )


def test_dry_aged_steaks_ask_for_so_much_rib_so_long_before():
    """30 lb of 28-day steaks at 63.5 % need 30 / 0.635 = 47.24 lb of rib, put up 28 days before."""
    share = saleable("dry", 28) / 100
    assert share == pytest.approx(0.635)
    ageing = houses.recipe(
        "aged-steak", 1.0, [houses.line("rib", 1.0, yield_fraction=share)], unit="lb", takes_days=28
    )
    home = houses.house([houses.ingredient("rib", "lb")], [ageing], [houses.dish("kit", "aged-steak", 1.0)])
    found = net_all(home, Opening(), houses.forecast(home, {"kit": [0.0] * 40 + [30.0]}), {}, {"rib": 0})
    gross = found.flows["rib"].gross
    assert gross.sum() == pytest.approx(47.24, abs=0.005)
    assert list(np.flatnonzero(gross)) == [40 - 28]


def test_wet_aged_ribs_ask_for_less():
    """The same 30 lb wet-aged at 82.9 % of steaks: 36.19 lb. 82.9 is the table's steaks, not all saleable."""
    rib = houses.line("rib", 30.0, yield_fraction=0.829)
    assert rib.drawn == pytest.approx(36.19, abs=0.005)
