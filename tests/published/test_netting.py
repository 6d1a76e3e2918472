"""Netting, lots and safety against published values. Source beside each."""

import csv
from datetime import timedelta
from pathlib import Path

import grids
import houses
import numpy as np
import pytest
from scipy.stats import norm

from ordering.net.decide import cover, quantile
from ordering.net.levels import critical_fractile
from ordering.net.netting import net_all
from ordering.records.books import Lot
from ordering.records.house import Policy
from ordering.records.plan import Opening

HERE = Path(__file__).parent / "explosion"


def test_time_phased_record_of_the_seat_subassembly():
    """Operations management textbook, fig. 1.5: lot 230, lead 2, on hand 37 (inputs read; answer recomputed).

    A batch begun in week t is ready in week t + 2; weeks are days here.
    """
    grids.check("""
        on hand 37, lead time 2 weeks, packs of 230
        week                  1    2    3    4    5    6    7    8
        gross_requirement   150    0    0  120    0  150  120    0
        scheduled_receipt   230    0    0    0    0    0    0    0
        planned_receipt       0    0    0  230    0    0  230    0
        planned_order         0  230    0    0  230    0    0    0
        projected_on_hand   117  117  117  227  227   77  187  187
    """)


def test_the_drawn_record_is_the_published_one():
    with (HERE / "time_phased_record.csv").open(encoding="utf-8", newline="") as file:
        rows = {
            r["row"].split(" (")[0]: [float(r[f"w{w}"]) for w in range(1, 9)] for r in csv.DictReader(file)
        }
    given = {"gross_requirement": "gross_requirements", "scheduled_receipt": "scheduled_receipts"}
    drawn = [f"{ours} {' '.join(map(str, rows[theirs]))}" for ours, theirs in given.items()]
    head = ["on hand 37, lead time 2 weeks, packs of 230", "week 1 2 3 4 5 6 7 8"]
    grid = grids.read("\n".join([*head, *drawn]))
    found = grids.filled_in(grid)
    assert list(found["projected_on_hand"]) == rows["projected_on_hand"]
    assert list(found["planned_receipt"]) == rows["planned_receipts"]
    assert list(found["planned_order"]) == rows["planned_order_releases"]


def test_end_item_lot_for_lot():
    """Textbook problem: lead 2, on hand 120, demand 41 44 84 ...; releases (recomputed) 49 42 84 86 ..."""
    grids.check("""
        on hand 120, lead time 2 weeks
        week                  1    2    3    4    5    6    7    8    9   10
        gross_requirement    41   44   84   42   84   86    7   18   49   30
        planned_order        49   42   84   86    7   18   49   30    0    0
    """)


def normal_paths(n_days, mean, sd, n_paths=20_001):
    """Paths of `n_days` independent normal days whose total takes the exact quantiles of its law."""
    ranks = (np.arange(n_paths) + 0.5) / n_paths
    total = n_days * mean + np.sqrt(n_days) * sd * norm.ppf(ranks)
    return np.tile(total / n_days, (n_days, 1))


def test_newsvendor_stock():
    """Snyder & Shen, Fundamentals of Supply Chain Theory, 2nd ed. 2019, example 4.1 (= 4.3).

    Holding .18, shortage .70, N(50, 8): S = 56.6039559.
    """
    level = critical_fractile(margin=0.70, thrown_away=0.18)
    assert level == pytest.approx(0.7954545, abs=1e-7)
    assert 50 + 8 * norm.ppf(level) == pytest.approx(56.6039559, abs=1e-6)
    decided = cover(normal_paths(1, 50, 8), level, offset=0)
    assert decided[0] == pytest.approx(56.6039559, abs=2e-3)


def test_newsvendor_of_a_perishable_in_a_house():
    """The same instance as a fish that keeps no day: a portion lost loses .70, one over throws away .18."""
    offer = houses.offer("sea", "fish", 0.001, "0.00018")
    fish = houses.ingredient("fish", "each", keeps_days=0, offers=(offer,))
    home = houses.house(
        [fish],
        [houses.recipe("plate", 1, {"fish": 1}, unit="each")],
        [houses.dish("plate-of-fish", "plate", 1.0, price="0.88")],
        [houses.vendor("sea")],
        policy=Policy(0.95, 20_001, 1),
    )
    demand = houses.forecast(home, {"plate-of-fish": normal_paths(1, 50, 8)})
    found = net_all(home, Opening(), demand, houses.chances("sea", [0, 2, 4]), {"fish": 0})
    need = found.requirements["fish"]
    assert need.enough[0] == pytest.approx(0.7954545, abs=1e-3)
    assert need.required[0] == pytest.approx(56.6039559, abs=0.04)
    assert "keeps 0 d" in need.why


def test_order_up_to_over_lead_time_and_review():
    """Same book, example 4.4: lead 4 and review 1 are five periods of N(50, 8): S = 264.7668944."""
    level = critical_fractile(margin=0.70, thrown_away=0.18)
    assert 250 + 8 * np.sqrt(5) * norm.ppf(level) == pytest.approx(264.7668944, abs=1e-6)
    decided = cover(normal_paths(5, 50, 8), level, offset=None)
    assert decided.sum() == pytest.approx(264.7668944, abs=5e-3)


def test_order_up_to_of_a_stage_of_four_days():
    """The same instance made: four days to ready, the next start tomorrow, so today's brings what is there
    and ageing up to 264.7668944. 200 are there and 30 more in process."""
    home = houses.house(
        [houses.ingredient("raw")],
        [houses.recipe("part", 1, {"raw": 1}, takes_days=4)],
        [houses.dish("plate", "part", 1.0)],
        policy=Policy(critical_fractile(0.70, 0.18), 20_001, 1),
    )
    demand = houses.forecast(home, {"plate": normal_paths(5, 50, 8)})
    ageing = Lot("part", 30.0, ready_on=houses.MONDAY + timedelta(days=3))
    found = net_all(home, Opening((Lot("part", 200.0), ageing)), demand, {}, {"raw": 0})
    assert [s.start_on for s in found.starts] == [houses.MONDAY]
    assert found.starts[0].quantity + 230 == pytest.approx(264.7668944, abs=5e-3)


def test_order_up_to_of_a_bought_item_in_a_house():
    """The same instance bought: the cumulative requirement after five days is the order-up-to level."""
    home = houses.house(
        [houses.ingredient("raw")],
        [houses.recipe("part", 1, {"raw": 1})],
        [houses.dish("plate", "part", 1.0)],
        policy=Policy(critical_fractile(0.70, 0.18), 20_001, 1),
    )
    demand = houses.forecast(home, {"plate": normal_paths(5, 50, 8)})
    found = net_all(home, Opening(), demand, {}, {"raw": 0})
    assert found.requirements["raw"].required[4] == pytest.approx(264.7668944, abs=5e-3)


@pytest.mark.parametrize(
    ("margin", "thrown_away", "mean", "sd", "stock", "within"),
    [
        # Porteus, Gallego: CRAN package SCperf, price 4 and cost 1, Q = 120.23 and 113.49
        (3, 1, 100, 30, 120.2347, 1e-4),
        (3, 1, 100, 20, 113.4898, 1e-4),
        # same book, with stockpyl: problem 4.1, holding 43 and shortage 79
        (79, 43, 900, 60, 922.7214038, 1e-6),
        # example 4.2: sold at 1, bought at 0.30, salvaged at 0.12
        (1 - 0.30, 0.30 - 0.12, 50, 8, 56.6039559, 1e-6),
        # problem 4.3(b): sold at 7, bought at 2.5, salvaged at 1.5
        (7 - 2.5, 2.5 - 1.5, 50, 10, 59.0845787, 1e-6),
        # magazines: mean and deviation from slides, the ratio of 0.75 from memory; 14.93, so 15 of them
        (3, 1, 11.73, 4.74, 14.93, 5e-3),
    ],
)
def test_newsvendor_with_price_and_cost(margin, thrown_away, mean, sd, stock, within):
    """The stock that the fractile of the margin asks for, exactly and through our quantile of paths."""
    level = critical_fractile(margin, thrown_away)
    assert mean + sd * norm.ppf(level) == pytest.approx(stock, abs=within)
    assert quantile(normal_paths(1, mean, sd), level)[0] == pytest.approx(stock, abs=8e-3)


def test_newsvendor_of_whole_numbers():
    """Same book, problem 4.7(b): holding 500,000, shortage 1,000,000, a distribution of 1 to 8: 5."""
    share = [0.25, 0.05, 0.10, 0.20, 0.15, 0.10, 0.10, 0.05]
    paths = np.repeat(np.arange(1.0, 9.0), [round(100 * p) for p in share])[None, :]
    assert quantile(paths, critical_fractile(1_000_000, 500_000))[0] == 5


def test_newsvendor_of_a_poisson():
    """Same book, problem 4.8(a): holding 200, shortage 270, Poisson 18: 19."""
    rng = np.random.default_rng(7)
    paths = rng.poisson(18, (1, 200_000)).astype(float)
    assert quantile(paths, critical_fractile(270, 200))[0] == 19


@pytest.mark.parametrize(("margin", "thrown"), [(-1, 1), (1, -1), (0, 0)])
def test_a_fractile_of_nothing_is_refused(margin, thrown):
    with pytest.raises(ValueError, match="must not be negative nor both zero"):
        critical_fractile(margin, thrown)
