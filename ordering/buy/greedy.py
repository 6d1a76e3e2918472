"""A transparent greedy: the first incumbent of the decision, and what stands in for it.

Item by item the cheapest effective price, from the latest delivery that is in time; then each delivery
below its vendor's minimum is topped up with what will be needed soonest.
"""

from __future__ import annotations

import numpy as np

from ordering.buy.choices import BuyingProblem
from ordering.buy.model import Packs
from ordering.buy.pack_prices import packs_needed
from ordering.buy.requirements import EPS, DeliveryConstraints
from ordering.records.buying import DeliveryKey


def greedy(problem: BuyingProblem) -> Packs:
    """Whole packs of every choice due now, shape [choice]; later choices are left at zero."""
    packs = np.zeros(len(problem.choices), dtype=np.int64)
    of_item: list[list[int]] = [[] for _ in problem.items]
    later: list[list[int]] = [[] for _ in problem.items]
    for i, choice in enumerate(problem.choices):
        if choice.delivery.is_now:
            of_item[choice.item].append(i)
        else:
            later[choice.item].append(choice.delivery.day)
    for index, item in enumerate(problem.items):
        _fill(packs, item, problem, of_item[index], later[index])
    _top_up(packs, problem, of_item)
    return packs


def brought(packs: Packs, problem: BuyingProblem, mine: list[int], first: int, last: int) -> float:
    """Quantity that chosen packs bring on days `first` to `last`, item's unit."""
    return float(
        sum(
            packs[i] * problem.choices[i].offer.pack_quantity
            for i in mine
            if first <= problem.choices[i].delivery.day <= last
        )
    )


def _fill(
    packs: Packs, item: DeliveryConstraints, problem: BuyingProblem, mine: list[int], later: list[int]
) -> None:
    for span in sorted(item.spans, key=lambda s: (s.last, -s.first)):
        if any(span.first <= day <= span.last for day in later):
            continue
        short = span.quantity - brought(packs, problem, mine, span.first, span.last)
        open_to = [i for i in mine if span.first <= problem.choices[i].delivery.day <= span.last]
        if short > EPS and open_to:
            for i, n in _cheapest_mix(short, item, problem, open_to):
                packs[i] += n


def _cheapest_mix(
    short: float, item: DeliveryConstraints, problem: BuyingProblem, open_to: list[int]
) -> list[tuple[int, int]]:
    """Packs of one choice, or whole ones of it and another for what is left over."""
    mixes: list[tuple[float, int, bool, int, list[tuple[int, int]]]] = []

    def consider(parts: list[tuple[int, int]]) -> None:
        chosen = [(problem.choices[i], n) for i, n in parts]
        if any(n < c.low for c, n in chosen):
            return
        first = min(c.delivery.day for c, _ in chosen)
        useful = max(min(sum(n * c.offer.pack_quantity for c, n in chosen), item.useful(first)), short)
        price = sum(n * c.each for c, n in chosen) / useful
        is_preferred = any(c.offer.is_preferred for c, _ in chosen)
        mixes.append((round(price, 9), -first, not is_preferred, parts[0][0], parts))

    for i in open_to:
        choice = problem.choices[i]
        n = max(packs_needed(short, choice.offer.pack_quantity), choice.low)
        consider([(i, n)])
        left = short - (n - 1) * choice.offer.pack_quantity
        if n > 1 and left > EPS:
            for j in open_to:
                if j != i:
                    consider(
                        [(i, n - 1), (j, max(1, packs_needed(left, problem.choices[j].offer.pack_quantity)))]
                    )
    return min(mixes)[-1]


def _top_up(packs: Packs, problem: BuyingProblem, of_item: list[list[int]]) -> None:
    inside: dict[DeliveryKey, list[int]] = {terms.key: [] for terms in problem.deliveries}
    for mine in of_item:
        for i in mine:
            inside[problem.choices[i].key].append(i)
    for terms in problem.deliveries:
        key, minimum = terms.key, terms.minimum
        spent = sum(float(packs[i]) * problem.choices[i].each for i in inside[key])
        if not 0 < spent < minimum:
            continue
        before = packs.copy()
        wanted = {i: _wanted(packs, problem, i, of_item[problem.choices[i].item]) for i in inside[key]}
        for i in sorted(inside[key], key=lambda j: (wanted[j][0], j)):
            if spent >= minimum - EPS:
                break
            choice = problem.choices[i]
            n = min(
                int((wanted[i][1] + EPS) // choice.offer.pack_quantity),
                packs_needed(minimum - spent, choice.each),
            )
            if n > 0 and choice.low <= packs[i] + n <= choice.high:
                packs[i] += n
                spent += n * choice.each
        if spent < minimum - EPS:
            packs[:] = before


def _wanted(packs: Packs, problem: BuyingProblem, i: int, mine: list[int]) -> tuple[int, float]:
    """First day on which what is bought no longer lasts, and what more is wanted before it spoils."""
    choice = problem.choices[i]
    item = problem.items[choice.item]
    have = brought(packs, problem, mine, 0, len(item.need))
    last = len(item.need) - 1
    if item.keeps_days is not None:
        last = min(last, choice.delivery.day + item.keeps_days)
    return int(np.searchsorted(item.need, have + EPS, side="right")), float(item.need[last]) - have
