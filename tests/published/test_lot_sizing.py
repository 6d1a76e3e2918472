"""Lot sizing from the textbooks, through the buying decision itself.

A period is a day with a vendor of its own; the set-up cost is that vendor's delivery fee, and holding a
unit from day to day is a price that much higher a day earlier. What is bought costs then the textbook's
cost plus a known constant. Values and sources in lot_sizing.csv beside this file.
"""

import csv
from datetime import date, datetime
from decimal import Decimal
from pathlib import Path

import pytest
from buy.needs import bought, money, need, packs
from houses import house, ingredient, offer

from ordering.records.vendors import DeliveryDay, Vendor

MONDAY_MORNING = datetime(2026, 11, 23)
NEVER = date(2027, 6, 1)
BASE = Decimal(20)

TABLE = Path(__file__).with_name("lot_sizing.csv").read_text("utf-8")
ROWS = {row["case"]: row for row in csv.DictReader(TABLE.splitlines())}


def numbers(text):
    return [Decimal(part) for part in text.split()]


def market(setup, unit, holding):
    """A vendor for each day, which comes every day but sells on its own day only."""
    every_day = tuple(DeliveryDay(d, d, datetime(2026, 11, 23, 12).time()) for d in range(7))
    offers, vendors = [], []
    for day, fee in enumerate(setup):
        on = date.fromordinal(MONDAY_MORNING.toordinal() + day)
        price = BASE + unit[day] - holding * day
        offers.append(offer(f"day-{day:02d}", "rice", 1, price, code=f"day-{day:02d}", from_on=on, until=on))
        vendors.append(Vendor(f"day-{day:02d}", "", deliveries=every_day, delivery_fee=fee))
    return house([ingredient("rice", offers=tuple(offers))], vendors=vendors)


def planned(case, n=None):
    """Cost in the textbook's terms and quantity by period."""
    row = ROWS[case]
    demand, setup = numbers(row["demand"])[:n], numbers(row["setup"])[:n]
    unit = numbers(row["unit_cost"]) if row["unit_cost"] != "0" else [Decimal(0)] * len(demand)
    return decided(demand, setup, unit, Decimal(row["holding"]))


def decided(demand, setup, unit, holding):
    """Cost in the textbook's terms and quantity by period."""
    wanted = need("rice", {t: float(d) for t, d in enumerate(demand)}, len(demand))
    buying = bought(market(setup, unit, holding), wanted, now=MONDAY_MORNING, next_run=NEVER)
    constant = BASE * sum(demand) - holding * sum(t * d for t, d in enumerate(demand))
    quantity = [0] * len(demand)
    for _, day, n_packs in packs(buying.orders):
        quantity[day] += n_packs
    return money(buying) - constant, quantity


@pytest.mark.parametrize("case", [case for case, row in ROWS.items() if row["cost"]])
def test_the_published_optimum_is_found(case):
    cost, quantity = planned(case)
    assert cost == pytest.approx(Decimal(ROWS[case]["cost"]))
    assert quantity == [int(q) for q in numbers(ROWS[case]["orders"])]


@pytest.mark.parametrize(
    ("n", "cost"),
    list(enumerate((85, 114, 186, 277, 348, 400, 469, 555, 600, 710, 789, 864), start=1)),
)
def test_the_optimum_of_each_prefix_of_wagner_and_whitin(n, cost):
    """Wagner and Whitin 1958, table of the forward algorithm; quoted in public material, recomputed."""
    assert planned("Wagner-Whitin 1958", n)[0] == cost


def test_of_two_optima_the_later_deliveries_are_taken():
    """10 0 0 0 and 5 0 5 0 cost 4.8 both (Hillier and Lieberman); fresher goods win the tie, every time."""
    assert [planned("airplanes")[1] for _ in range(3)] == [[5, 0, 5, 0]] * 3


@pytest.mark.parametrize(
    ("case", "rule", "printed"),
    [
        ("FoSCT example 3.9", "Silver-Meal", 1560),
        ("Silver-Peterson", "Silver-Meal", Decimal("501.2")),
    ],
)
def test_never_dearer_than_a_rule_of_thumb(case, rule, printed):
    """Printed costs of the rule: Snyder and Shen 2019 by stockpyl 1.0.2, Silver and Peterson."""
    assert planned(case)[0] <= printed + Decimal("1e-9"), rule


@pytest.mark.parametrize(
    ("setup", "holding", "demand", "periods", "eoq", "cost"),
    [
        # Snyder and Shen, Fundamentals of Supply Chain Theory, 2nd ed. 2019 (FoSCT)
        # example 3.1: K = 8, h = 0.225 and D = 1300 a year, in weeks; all money times a hundred
        (800, "22.5", 25, 52, 304.0467800, 6841.05255),
        # Hillier and Lieberman: K = 12000, h = 0.3 and D = 8000 a month, in halves of a month
        (12000, "0.3", 4000, 2, 25298.22, 7589.47),
    ],
)
def test_a_steady_demand_is_ordered_in_economic_quantities(setup, holding, demand, periods, eoq, cost):
    """Economic order quantity sqrt(2 K D / h) at a cost of sqrt(2 K D h): FoSCT recomputed with stockpyl, the
    other in the documentation of the CRAN package SCperf.

    Looked at for as long as two such orders last, two are placed, each the quantity in whole periods. Stock
    that falls all through a period, as in the textbook, is half a period's demand more than at its end.
    """
    n = round(eoq / demand)
    a_period = Decimal(holding) / periods
    steady = [Decimal(demand)] * 2 * n
    spent, quantity = decided(steady, [Decimal(setup)] * 2 * n, [Decimal(0)] * 2 * n, a_period)
    assert quantity == ([n * demand] + [0] * (n - 1)) * 2
    per_unit_of_time = float(spent + a_period * demand / 2 * 2 * n) * periods / (2 * n)
    assert per_unit_of_time == pytest.approx(cost, rel=1.5e-3)
