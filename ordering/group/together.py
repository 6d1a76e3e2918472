"""Vendors whose minimum and price breaks are for what all houses order together.

One integer program a vendor and day: which packs that the houses foresee for later are best brought forward,
so that the delivery reaches its minimum, or a price break, at least money. A pack foreseen is paid for sooner
or later, so bringing it forward costs only what breaks change in the price, and a little for paying sooner.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal

import numpy as np
from scipy import sparse

from ordering.buy.program import Program, solved
from ordering.records.group import GroupLine, HouseRun, JointOrder, JointTerms
from ordering.records.money import cents
from ordering.records.plan import Array

# Of the money of a pack, for having it sooner than needed: what a week of it costs at five per cent a year.
# Of two ways to reach the minimum the one with fewer goods is taken, and a price break has to pay for it.
SOONER = 0.001
HALF_LIFE = 2  # a pack may lose this part of its keeping time by coming sooner: common practice, no source


@dataclass(frozen=True, slots=True)
class _Code:
    """One code's packs ordered, packs that may be added by line, and its prices from so many packs on."""

    ordered: int
    lines: tuple[GroupLine, ...]
    prices: tuple[tuple[int, float], ...]

    @property
    def most(self) -> int:
        return self.ordered + sum(line.packs for line in self.lines)


def joint_orders(runs: Iterable[HouseRun]) -> tuple[JointOrder, ...]:
    """What the houses order of each vendor that takes them together, for each delivery day.

    The minimum and the breaks are those of the first house, by id, that has the vendor.
    """
    runs = tuple(runs)
    terms: dict[str, JointTerms] = {}
    for run in runs:
        for one in run.joint_terms:
            terms.setdefault(one.vendor, one)
    found = []
    for vendor in sorted(terms):
        lines = [line for run in runs for line in run.lines if line.vendor == vendor]
        later = [line for line in lines if not line.is_now]
        for day in sorted({line.deliver_on for line in lines if line.is_now}):
            now = [line for line in lines if line.is_now and line.deliver_on == day]
            joint = _joint(terms[vendor], day, now, later)
            later = _without(later, joint.added)
            found.append(joint)
    return tuple(found)


def _joint(terms: JointTerms, day: date, now: Sequence[GroupLine], later: Sequence[GroupLine]) -> JointOrder:
    codes = _codes(terms, now, [line for line in later if _may_come(line, day)])
    most = sum(_money(code, code.most) for code in codes.values())
    is_in_reach = most >= float(terms.minimum) - 0.005
    packs = _packs(codes, float(terms.minimum) if is_in_reach else 0.0)
    amount = cents(sum(_money(code, packs[name].sum() + code.ordered) for name, code in codes.items()))
    added = tuple(
        replace(line, deliver_on=day, packs=int(n), amount=cents((line.price or Decimal(0)) * int(n)))
        for name, code in codes.items()
        for line, n in zip(code.lines, packs[name], strict=True)
        if n
    )
    lacking = cents(max(Decimal(0), terms.minimum - amount))
    return JointOrder(terms.vendor, terms.name, day, terms.minimum, amount, tuple(now), added, lacking)


def _codes(terms: JointTerms, now: Sequence[GroupLine], later: Sequence[GroupLine]) -> dict[str, _Code]:
    by_code: dict[str, list[GroupLine]] = defaultdict(list)
    for line in (*now, *later):
        by_code[line.code].append(line)
    found = {}
    for code, lines in sorted(by_code.items()):
        price = max((line.price for line in lines if line.price is not None), default=Decimal(0))
        prices = ((0, float(price)), *((least, float(p)) for least, p in terms.breaks.get(code, ())))
        ordered = sum(line.packs for line in lines if line.is_now)
        found[code] = _Code(ordered, tuple(line for line in lines if not line.is_now), prices)
    return found


def _may_come(line: GroupLine, day: date) -> bool:
    sooner = (line.deliver_on - day).days
    return sooner > 0 and (line.keeps_days is None or sooner * HALF_LIFE <= line.keeps_days)


def _money(code: _Code, packs: float) -> float:
    """What so many packs come to: the best break reached holds for all of them."""
    return float(packs) * min(price for least, price in code.prices if packs >= least)


def _packs(codes: Mapping[str, _Code], minimum: float) -> dict[str, Array]:
    """Packs to add by code and line, at least money.

    Columns: for each code its lines x[line], then for each of its prices the packs q[price] bought at it and
    whether it holds y[price]. Rows: sum of q less sum of x is what is ordered; one price holds; q lies
    between the break and the most where y is 1; money reaches the minimum.
    """
    cost: list[float] = []
    whole: list[bool] = []
    high: list[float] = []
    rows: list[dict[int, float]] = []
    low: list[float] = []
    up: list[float] = []
    money: dict[int, float] = {}
    at: dict[str, int] = {}
    for name, code in codes.items():
        at[name] = begin = len(cost)
        plain = code.prices[0][1]
        n_x, n_p = len(code.lines), len(code.prices)
        cost += [(SOONER - 1) * plain] * n_x + [price for _, price in code.prices] + [0.0] * n_p
        whole += [True] * n_x + [False] * n_p + [True] * n_p
        high += [float(line.packs) for line in code.lines] + [float(code.most)] * n_p + [1.0] * n_p
        q, y = begin + n_x, begin + n_x + n_p
        balance = dict.fromkeys(range(begin, q), -1.0) | dict.fromkeys(range(q, y), 1.0)
        rows += [balance, dict.fromkeys(range(y, y + n_p), 1.0)]
        low += [float(code.ordered), 1.0]
        up += [float(code.ordered), 1.0]
        for n, (least, price) in enumerate(code.prices):
            rows += [{q + n: 1.0, y + n: -float(least)}, {q + n: -1.0, y + n: float(code.most)}]
            low += [0.0, 0.0]
            up += [np.inf, np.inf]
            money[q + n] = price
    rows, low, up = [*rows, money], [*low, minimum], [*up, np.inf]
    indices = [(r, c, v) for r, row in enumerate(rows) for c, v in row.items()]
    r, c, v = (np.array(part) for part in zip(*indices, strict=True))
    matrix = sparse.csr_array((v, (r, c)), shape=(len(rows), len(cost)))
    bounds = np.array(low), np.array(up), np.zeros(len(cost)), np.array(high)
    answer = solved(Program(np.array(cost), matrix, *bounds, np.array(whole)))
    x = np.zeros(len(cost)) if answer is None else np.round(answer.x)
    return {name: x[at[name] : at[name] + len(code.lines)] for name, code in codes.items()}


def _without(later: Sequence[GroupLine], added: Sequence[GroupLine]) -> list[GroupLine]:
    """What is still foreseen once some packs come sooner, each taken once."""
    taken: dict[tuple[str, str], int] = defaultdict(int)
    for line in added:
        taken[line.house, line.code] += line.packs
    left = []
    for line in sorted(later, key=lambda one: one.deliver_on):
        gone = min(taken[line.house, line.code], line.packs)
        taken[line.house, line.code] -= gone
        if line.packs > gone:
            left.append(replace(line, packs=line.packs - gone))
    return left
