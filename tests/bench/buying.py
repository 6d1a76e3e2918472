"""How fast and how near to the least cost the buying decision is, on random kitchens. Run by hand:

python tests/bench/buying.py near      distance from a long reference solve
python tests/bench/buying.py near 1    the same with ordinary minimums alone (near 3: with harsh ones alone)
python tests/bench/buying.py growth    seconds by size of the house

All end with 1 when a least of theirs is not reached: `REGRET`, `TOLD`, `SECONDS`, `WORK`. The smallest size
runs with the tests, in `tests/buy/test_solve.py`.
"""

from __future__ import annotations

import resource
import statistics
import sys
import time
from collections.abc import Sequence
from pathlib import Path
from typing import Any
from unittest import mock

sys.path.insert(0, str(Path(__file__).parents[1]))
sys.path.insert(0, str(Path(__file__).parents[2]))  # this tree, whatever is installed
from buy.kitchens import kitchen

from ordering.buy import solve
from ordering.buy.choices import BuyingProblem, problem
from ordering.buy.deliveries import item_deliveries
from ordering.buy.model import build
from ordering.buy.orders import choose_orders
from ordering.buy.program import Answer, Program, solved
from ordering.buy.requirements import delivery_constraints
from ordering.records.buying import Delivery
from ordering.records.house import House
from ordering.records.plan import Requirement

SIZES = ((60, 5), (125, 8), (250, 15), (500, 30), (1000, 60))
SEEDS = range(1, 6)
REFERENCE = (1e-4, 300)
"""Gap and branchings of the long solve: half a minute each, the same on every machine however busy."""
REGRET = {1.0: (0.1, 0.1), 3.0: (0.1, 0.1)}
"""By the scale of the minimums: most per cent of the day's spend above the reference, mean and worst."""
TOLD = {1.0: 0.3, 3.0: 1.2}
"""Most per cent that the decision itself may leave unproved."""
SECONDS = 4.5
"""Most processor seconds of a decision with ordinary minimums, whatever the seed. Four would be liked: on all
but one it is no more."""
WORK = 16_800
"""Most columns handed to the solver for one, mean of the seeds: the same on every machine however busy."""


def asked(
    house: House, requirements: dict[str, Requirement], deliveries: dict[str, tuple[Delivery, ...]]
) -> BuyingProblem:
    """The decision as `choose_orders` puts it."""
    items = [
        delivery_constraints(house.ingredients[i], item_deliveries(house, i, deliveries), r)
        for i, r in requirements.items()
    ]
    return problem(house, [i for i in items if i is not None and i.pairs])


def near(scales: Sequence[float] = tuple(REGRET)) -> bool:
    """Whether the cost is near enough to that of a long solve; prints by how much it is above.

    `bound`: above what the long solve proves that no order undercuts, so that it is no less than the regret.
    """
    is_enough = True
    print("250 ingredients, 15 vendors; per cent of the day's order value above the reference")
    print(f"{'minimums':>9} {'seed':>5} {'ours':>7} {'bound':>7} {'told':>7} {'seconds':>8}")
    for harsh in scales:
        found = [_beside_reference(harsh, seed) for seed in SEEDS]
        ours, _, told, took, columns = zip(*found, strict=True)
        work = statistics.mean(columns)
        print(f"{harsh:9.0f}  mean {statistics.mean(ours):7.2f} {work:32,.0f} columns")
        mean, worst = REGRET[harsh]
        is_enough &= statistics.mean(ours) <= mean and max(ours) <= worst and max(told) <= TOLD[harsh]
        is_enough &= harsh > 1 or (max(took) <= SECONDS and work <= WORK)
    return is_enough


def _beside_reference(harsh: float, seed: int) -> tuple[float, ...]:
    """Ours above the reference and above its bound, the gap told, in per cent; seconds; columns solved."""
    house, requirements, deliveries, _ = kitchen(250, 15, seed, harsh)
    question = asked(house, requirements, deliveries)
    columns: list[int] = []

    def counted(program: Program, *limits: Any) -> Answer | None:
        columns.append(len(program.cost))
        return solved(program, *limits)

    start = time.process_time()
    with mock.patch.object(solve, "solved", counted):
        decision = solve.decide(question)
    took = time.process_time() - start
    best = solved(build(question).program, *REFERENCE)
    if best is None:
        raise RuntimeError("the long solve found nothing")
    spent = solve.today(question, decision.packs)
    ours = 100 * (decision.cost - best.cost) / spent
    over, told = 100 * (decision.cost - best.bound) / spent, 100 * decision.gap
    print(f"{harsh:9.0f} {seed:5d} {ours:7.2f} {over:7.2f} {told:7.2f} {took:8.2f}", flush=True)
    return ours, over, told, took, sum(columns)


def growth() -> bool:
    """Whether it is quick enough; prints processor seconds of the whole buying stage, median of three."""
    is_enough = True
    print("ingredients  vendors  seconds     MB  gap told, %")
    for n_items, n_vendors in SIZES:
        took, gap = [], 0.0
        for seed in SEEDS[:3]:
            house, requirements, deliveries, days = kitchen(n_items, n_vendors, seed)
            start = time.process_time()
            buying = choose_orders(house, requirements, deliveries, days)
            took.append(time.process_time() - start)
            gap = max(gap, 100 * buying.bound_gap)
        peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        print(
            f"{n_items:11d} {n_vendors:8d} {statistics.median(took):8.2f} {peak:6.0f} {gap:12.2f}", flush=True
        )
        is_enough &= n_items > 250 or (gap <= TOLD[1.0] and max(took) <= SECONDS)
    return is_enough


if __name__ == "__main__":
    what, *scales = sys.argv[1:] or ["growth"]
    is_enough = near(tuple(map(float, scales)) or tuple(REGRET)) if what == "near" else growth()
    sys.exit(not is_enough)
