"""Inventory models with printed answers, where a function of the buying stage is what they describe."""

import math
from datetime import date, datetime
from decimal import Decimal

import numpy as np
import pytest
from buy.needs import bought, packs
from houses import MONDAY, house, ingredient, offer
from scipy.stats import norm

from ordering.buy.deliveries import open_deliveries
from ordering.buy.pars import par_advice
from ordering.days import span
from ordering.records.money import price_at
from ordering.records.plan import Requirement
from ordering.records.vendors import DeliveryDay, Vendor

MIDNIGHT = datetime(2026, 11, 23)


def daily_vendor(name, lead_days):
    """Comes every day; told at one minute past midnight, `lead_days` before."""
    early = datetime(2026, 11, 23, 0, 1).time()
    weeks, days = divmod(lead_days, 7)
    return Vendor(
        name, name, deliveries=tuple(DeliveryDay(d, (d - days) % 7, early, weeks) for d in range(7))
    )


def spread(n, mean, deviation, z, stock=0.0, first=0):
    """Requirement of independent periods: mean t + z s sqrt(t), less the stock, from `first` on."""
    t = np.arange(1, n + 1)
    expected = np.maximum(mean * t - stock, 0.0)
    required = np.maximum(mean * t + z * deviation * np.sqrt(t) - stock, 0.0)
    left = np.maximum(stock - mean * (t - 1), 0.0)
    required[:first], expected[:first] = 0.0, 0.0
    return Requirement("rice", required, expected, left, 0.95)


@pytest.mark.parametrize(
    ("mean", "deviation", "lead", "review", "z", "stock", "printed"),
    [
        (10, 3, 14, 30, 2.0537, 150, 331),
        (18, 5, 2, 4, 1.28, 0, 124),
        (20, 0, 3, 10, 0, 0, 260),
    ],
)
def test_an_order_covers_lead_time_and_review_period(mean, deviation, lead, review, z, stock, printed):
    """q = d (T + L) + z s sqrt(T + L) - I: E. A. Silver, D. F. Pyke and R. Peterson, Inventory Management and
    Production Planning and Scheduling, 3rd ed., Wiley 1998, (R, S) systems; from memory. The answers are
    worked out by hand: 331 (d = 10, s = 3, T = 30, L = 14, 98 %, I = 150), 124 (18 a week, s = 5, T = 4,
    L = 2, z = 1.28) and 260 without any spread (20 a day, every 10 days, lead 3)."""
    n = lead + review + 14
    home = house([ingredient("rice", offers=(offer("mill", "rice"),))], vendors=[daily_vendor("mill", lead)])
    wanted = spread(n, mean, deviation, z, stock, first=lead)
    next_run = date.fromordinal(MONDAY.toordinal() + review)
    buying = bought(home, wanted, now=MIDNIGHT, next_run=next_run)
    assert sum(count for _, _, count in packs(buying.orders)) == printed
    assert max(day for _, day, _ in packs(buying.orders)) == lead + review - 1


def test_a_par_is_the_order_up_to_level_of_its_interval():
    """Snyder and Shen, Fundamentals of Supply Chain Theory, 2nd ed. 2019, example 4.4: N(50, 8) a period,
    five periods, h = 0.18, p = 0.70; S = 264.7668944 (recomputed with stockpyl). A delivery once in five days
    is such an interval.
    """
    z = norm.ppf(0.70 / (0.18 + 0.70))
    wanted = spread(35, 50.0, 8.0, z)
    wanted = Requirement("rice", wanted.required, wanted.expected, np.zeros(35), 0.795)
    days = span(MONDAY, 35)
    home = house(
        [ingredient("rice", par=300.0, offers=(offer("mill", "rice"),))], vendors=[daily_vendor("mill", 0)]
    )
    every_day = open_deliveries(home, MIDNIGHT, date(2026, 11, 30), days)["mill"]
    advice = par_advice(home, {"rice": wanted}, {"mill": every_day[::5]}, days)[0]
    assert sorted(advice.justified) == [0, 1, 3, 4, 5, 6]
    assert list(advice.justified.values()) == pytest.approx([264.7668944] * 6, abs=1e-6)
    assert advice.flag == ""


@pytest.mark.parametrize(
    ("setup", "share", "demand", "breaks", "quantity", "cost"),
    [
        (8, 0.30, 1300, ((0, "0.75"), (400, "0.72"), (800, "0.68")), 800, 978.60),
        (2250, 0.25, 182500, ((0, "1490"), (1200, "1220"), (2400, "1100")), 2400, 201251093.75),
    ],
)
def test_all_units_discounts(setup, share, demand, breaks, quantity, cost):
    """Snyder and Shen, Fundamentals of Supply Chain Theory, 2nd ed., Wiley 2019, example 3.5 and
    problem 3.12 (recomputed with stockpyl 1.0.2): every unit of the order costs the price of the step it
    reaches, so that the best order sits on a step."""
    sold = offer(
        "mill", "rice", 1, breaks[0][1], breaks=tuple((n, Decimal(price)) for n, price in breaks[1:])
    )

    def yearly(order):
        price = float(price_at(sold, order))
        return setup * demand / order + price * demand + share * price * order / 2

    candidates = [n for n, _ in breaks[1:]]
    candidates += [round(math.sqrt(2 * setup * demand / (share * float(price)))) for _, price in breaks]
    best = min(candidates, key=yearly)
    assert best == quantity
    assert yearly(best) == pytest.approx(cost)
