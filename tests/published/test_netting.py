"""Netting, lots and safety against published values. Source beside each."""

import csv
from datetime import timedelta
from pathlib import Path

import grids
import houses
import numpy as np
import pytest
from scipy.stats import norm

from ordering.net.netting import net_all
from ordering.net.safety_stock import Pieces, Stake, held, worth_holding
from ordering.records.books import Lot
from ordering.records.house import MissedCost, Policy
from ordering.records.plan import Opening

HERE = Path(__file__).parent / "explosion"


def test_time_phased_record_of_the_seat_subassembly():
    """A seat subassembly, fig. 1.5 of slides without author (scribd.com, document 353225171): lot 230,
    lead 2, on hand 37. The inputs were read there, the answer was worked out by hand.

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
    """Worked by hand, no source: lead 2, on hand 120, demand 41 44 84 ...; releases 49 42 84 86 ..."""
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


ANY = Pieces()


def newsvendor(needs, short, over, pieces=ANY):
    """What is held for one period when one too few costs `short` and one too many `over`. needs : [path]"""
    return worth_holding(needs[None], needs[None], [Stake(((1.0, short),), over, 0.0)], [pieces], 1)[0]


def test_newsvendor_stock():
    """Snyder & Shen, Fundamentals of Supply Chain Theory, 2nd ed. 2019, example 4.1 (= 4.3).

    Holding .18, shortage .70, N(50, 8): S = 56.6039559.
    """
    assert newsvendor(normal_paths(1, 50, 8)[0], 0.70, 0.18) == pytest.approx(56.6039559, abs=2e-3)


def test_newsvendor_of_a_perishable_in_a_house():
    """The same instance as a fish that keeps no day: a portion lost loses .70, one over throws away .18."""
    offer = houses.offer("sea", "fish", 0.001, "0.00018")
    fish = houses.ingredient("fish", "each", keeps_days=0, offers=(offer,))
    home = houses.house(
        [fish],
        [houses.recipe("plate", 1, {"fish": 1}, unit="each")],
        [houses.dish("plate-of-fish", "plate", 1.0, price="0.88")],
        [houses.vendor("sea")],
        policy=Policy(paths=20_001, missed_cost=MissedCost()),
    )
    demand = houses.forecast(home, {"plate-of-fish": normal_paths(1, 50, 8)})
    found = net_all(home, Opening(), demand, houses.deliveries("sea", [0, 2, 4]), {"fish": 0})
    need = found.requirements["fish"]
    assert need.enough[0] == pytest.approx(0.7954545, abs=1e-3)
    assert need.required[0] == pytest.approx(56.6039559, abs=0.04)
    assert "keeps 0 d" in need.why


@pytest.mark.parametrize("last_days", [5, 99])
def test_order_up_to_over_lead_time_and_review(last_days):
    """Same book, example 4.4: lead 4 and review 1 are five periods of N(50, 8): S = 264.7668944. What is over
    is kept, not thrown away: .18 for the period it is over, whether or not it lasts for ever."""
    stake = Stake(((1.0, 0.70),), cost=0.0, a_day=0.18 / 5)
    found = held(normal_paths(5, 50, 8)[None], [0, 5], np.full(5, last_days), [stake], [Pieces()])
    assert found.amounts.sum() == pytest.approx(264.7668944, abs=5e-3)


def test_order_up_to_of_a_stage_of_four_days():
    """The same instance made: four days to ready, the next start tomorrow, so today's brings what is there
    and ageing up to 264.7668944. 200 are there and 30 more in process. What is over is thrown away."""
    offer = houses.offer("farm", "raw", 0.001, "0.00018")
    home = houses.house(
        [houses.ingredient("raw", offers=(offer,))],
        [houses.recipe("part", 1, {"raw": 1}, takes_days=4, keeps_days=0)],
        [houses.dish("plate", "part", 1.0, price="0.88")],
        [houses.vendor("farm")],
        policy=Policy(paths=20_001, missed_cost=MissedCost()),
    )
    demand = houses.forecast(home, {"plate": normal_paths(5, 50, 8)})
    ageing = Lot("part", 30.0, ready_on=houses.MONDAY + timedelta(days=3))
    found = net_all(home, Opening((Lot("part", 200.0), ageing)), demand, {}, {"raw": 0})
    assert [s.start_on for s in found.starts] == [houses.MONDAY]
    assert found.starts[0].quantity + 230 == pytest.approx(264.7668944, abs=2e-2)


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
    ],
)
def test_newsvendor_with_price_and_cost(margin, thrown_away, mean, sd, stock, within):
    """The stock that the fractile of the margin asks for, exactly and through our paths."""
    assert mean + sd * norm.ppf(margin / (margin + thrown_away)) == pytest.approx(stock, abs=within)
    assert newsvendor(normal_paths(1, mean, sd)[0], margin, thrown_away) == pytest.approx(stock, abs=8e-3)


@pytest.mark.parametrize("pieces", [Pieces(), Pieces(1.0, is_whole=True)])
def test_newsvendor_of_whole_numbers(pieces):
    """Same book, problem 4.7(b): holding 500,000, shortage 1,000,000, a distribution of 1 to 8: 5."""
    share = [0.25, 0.05, 0.10, 0.20, 0.15, 0.10, 0.10, 0.05]
    paths = np.repeat(np.arange(1.0, 9.0), [round(100 * p) for p in share])
    assert newsvendor(paths, 1_000_000, 500_000, pieces) == 5


@pytest.mark.parametrize("pieces", [Pieces(), Pieces(1.0, is_whole=True)])
def test_newsvendor_of_a_poisson(pieces):
    """Same book, problem 4.8(a): holding 200, shortage 270, Poisson 18: 19."""
    paths = np.random.default_rng(7).poisson(18, 200_000).astype(float)
    assert newsvendor(paths, 270, 200, pieces) == 19
