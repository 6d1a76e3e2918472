"""The decision, stated: arrays of one mixed-integer program.

symbol  name                                              unit    shape
x       packs, by choice; beyond the step at a break      packs   [choice]
s       price step reached                                0 or 1  [choice due now at a break]
l       left after the days looked at and of use then     item's  [item]
z       delivery takes place                              0 or 1  [delivery]
y       its fee is waived                                 0 or 1  [delivery]
r       it is asked for below the minimum order           0 or 1  [delivery]

n = x + low s, the packs bought; whole numbers where due now, any amount of later deliveries

least   sum each n (ties broken) + fee (z - y) + refusal r - worth l

use     sum quantity n >= span                            [span], tightened (`_tight`)
rest    sum quantity n - l >= quantity                    [rest]
step    x <= (high - low) s                               [choice due now at a break]
open    sum quantity n <= most z                          [item and delivery, with fee or minimum]
minimum sum each n + minimum r >= minimum z               [delivery with a minimum]
waiver  sum each n >= waived over y,  y <= z              [delivery with a fee that can be waived]
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import sparse

from ordering.buy.choices import BuyingProblem, Choice
from ordering.buy.program import Program
from ordering.buy.requirements import EPS
from ordering.records.plan import Array

HOLDING = 0.005
"""Part of its price that a unit wanted later loses for each day it is had sooner: money tied up, room taken,
things change; common practice, no source."""
FRESH = 2e-6
"""Part of its price by which a pack a day fresher is better: breaks ties, decides nothing else, as any
smaller part would. To be preferred is worth half a day, and so breaks the ties that are left."""
OFF = 1e-4
"""Part of a pack by which packs may be off: the solver's whole numbers are by a millionth, and one of them
stands for up to a hundred packs, those of a price break."""

Packs = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Columns:
    """First column of each block, and how many there are in all; choices are the first columns."""

    step: Mapping[int, int]
    left: int
    take: int
    waive: int
    ask: int
    count: int


@dataclass(frozen=True, slots=True)
class Model:
    """The decision as a program, and where its columns are."""

    program: Program
    at: Columns

    def packs(self, problem: BuyingProblem, x: Array) -> Packs:
        """Whole packs of each choice due now, parts rounded up; zero for later ones. x : [column]."""
        packs = x[: len(problem.choices)] * [c.delivery.is_now for c in problem.choices]
        for i, step in self.at.step.items():
            packs[i] += problem.choices[i].low * x[step]
        return np.ceil(packs - OFF).astype(np.int64)

    def fullest(self, problem: BuyingProblem) -> Array:
        """An x that always does, however dear: each delivery takes place, with the most of all. [column].

        Without one the solver spends half its time on roundings that its first find has made too dear.
        """
        amounts = sorted((c.high * c.offer.pack_quantity, i) for i, c in enumerate(problem.choices))
        chosen = {(problem.choices[i].item, problem.choices[i].key): i for _, i in amounts}.values()
        steps = [self.at.step[i] for i in chosen if i in self.at.step]
        columns = [*chosen, *steps, *range(self.at.take, self.at.waive), *range(self.at.ask, self.at.count)]
        x = np.zeros(self.at.count)
        x[columns] = self.program.high[columns]
        return x

    def owners(self, problem: BuyingProblem) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
        """Index of the ingredient, and of the delivery, that each column decides; -1: none. Both [column]."""
        items, deliveries = np.full((2, self.at.count), -1)
        items[: len(problem.choices)] = [c.item for c in problem.choices]
        for i, step in self.at.step.items():
            items[step] = problem.choices[i].item
        items[self.at.left : self.at.take] = np.arange(len(problem.items))
        deliveries[self.at.take :] = np.tile(np.arange(len(problem.deliveries)), 3)
        return items, deliveries


class _Rows:
    """Rows of a sparse matrix, gathered one after the other; each is at least `low`."""

    def __init__(self) -> None:
        self.at: list[int] = []
        self.columns: list[int] = []
        self.values: list[float] = []
        self.low: list[float] = []

    def add(self, terms: Sequence[tuple[int, float]], low: float) -> None:
        self.at += [len(self.low)] * len(terms)
        self.columns += [column for column, _ in terms]
        self.values += [value for _, value in terms]
        self.low.append(low)


def build(problem: BuyingProblem) -> Model:
    """Arrays of the whole decision, nothing fixed, nothing relaxed."""
    at = _columns(problem)
    cost, high = np.zeros(at.count), np.full(at.count, np.inf)
    is_whole = np.zeros(at.count, dtype=bool)
    for i, c in enumerate(problem.choices):
        item = problem.items[c.item]
        each = c.each * (1.0 + FRESH * (item.window - c.delivery.day - 0.5 * c.offer.is_preferred))
        cost[i], high[i], is_whole[i] = each, c.high, c.delivery.is_now
        if i in at.step:
            step = at.step[i]
            high[i] -= c.low
            cost[step], high[step], is_whole[step] = c.low * each, 1.0, True
    for i, item in enumerate(problem.items):
        wanted = item.wanted_later
        cost[at.left + i] = -problem.later_prices[i] * max(0.0, 1.0 - HOLDING * wanted.day)
        high[at.left + i] = wanted.quantity
    for i, terms in enumerate(problem.deliveries):
        z, y, r = at.take + i, at.waive + i, at.ask + i
        cost[z], cost[y], cost[r] = terms.fee, -terms.fee, terms.refusal
        high[z], high[r] = 1.0, float(terms.minimum > 0)
        high[y] = float(terms.fee > 0 and terms.waived_over is not None)
        is_whole[[z, y, r]] = True
    rows = _Rows()
    goods = _goods(problem, at)
    _item_rows(rows, problem, at, goods, is_whole)
    _delivery_rows(rows, problem, at, goods)
    matrix = sparse.csr_array((rows.values, (rows.at, rows.columns)), shape=(len(rows.low), at.count))
    low = np.array(rows.low)
    program = Program(cost, matrix, low, np.full(len(low), np.inf), np.zeros(at.count), high, is_whole)
    return Model(program, at)


def _columns(problem: BuyingProblem) -> Columns:
    n, k = len(problem.choices), len(problem.deliveries)
    stepped = [i for i, c in enumerate(problem.choices) if c.delivery.is_now and c.low > 1]
    left = n + len(stepped)
    take = left + len(problem.items)
    return Columns(
        step={i: n + at for at, i in enumerate(stepped)},
        left=left,
        take=take,
        waive=take + k,
        ask=take + 2 * k,
        count=take + 3 * k,
    )


_Goods = Sequence[tuple[int, Choice, float]]


def _goods(problem: BuyingProblem, at: Columns) -> list[tuple[int, Choice, float]]:
    """(column, choice, packs a unit of it brings) of every column that brings goods."""
    goods = []
    for i, c in enumerate(problem.choices):
        goods.append((i, c, 1.0))
        if i in at.step:
            goods.append((at.step[i], c, float(c.low)))
    return goods


def _tight(
    terms: Sequence[tuple[int, float]], quantity: float, is_whole: NDArray[np.bool_]
) -> tuple[list[tuple[int, float]], float]:
    """Terms that must reach a quantity, in the tightest form that the same whole numbers meet.

    is_whole : [column].

    Whole packs with a common measure reach its next multiple; of a pack that holds more than is asked no
    more than that counts (Wolsey, Integer Programming, 1998, chapter 8; from memory). Otherwise parts of
    large packs are counted in, and the bound of the relaxation is ten times as far from the truth.
    """
    if terms and all(is_whole[j] and abs(q * 1000 - round(q * 1000)) < EPS for j, q in terms):
        measure = math.gcd(*(round(q * 1000) for _, q in terms)) / 1000
        quantity = math.ceil(quantity / measure - EPS) * measure
    return [(j, min(q, quantity) if is_whole[j] else q) for j, q in terms], quantity


def _item_rows(
    rows: _Rows, problem: BuyingProblem, at: Columns, goods: _Goods, is_whole: NDArray[np.bool_]
) -> None:
    """The rows by which every need is met; is_whole : [column]."""
    mine: list[list[tuple[int, int, float]]] = [[] for _ in problem.items]
    for column, c, packs in goods:
        mine[c.item].append((column, c.delivery.day, packs * c.offer.pack_quantity))
    for i, item in enumerate(problem.items):
        for span in item.spans:
            terms = [(j, q) for j, day, q in mine[i] if span.first <= day <= span.last]
            rows.add(*_tight(terms, span.quantity, is_whole))
        for first, quantity in item.rest if item.wanted_later.quantity > EPS else ():
            terms = [(j, q) for j, day, q in mine[i] if day >= first]
            rows.add([*terms, (at.left + i, -1.0)], quantity)
    for i, step in at.step.items():
        rows.add([(i, -1.0), (step, problem.choices[i].high - problem.choices[i].low)], 0.0)


def _delivery_rows(rows: _Rows, problem: BuyingProblem, at: Columns, goods: _Goods) -> None:
    inside: dict[object, list[tuple[int, Choice, float]]] = {terms.key: [] for terms in problem.deliveries}
    for column, c, packs in goods:
        inside[c.key].append((column, c, packs))
    for i, terms in enumerate(problem.deliveries):
        z, y, r = at.take + i, at.waive + i, at.ask + i
        spent = [(j, packs * c.each) for j, c, packs in inside[terms.key]]
        if terms.minimum > 0 or terms.fee > 0:
            _open_rows(rows, inside[terms.key], z)
        if terms.minimum > 0:
            rows.add([*spent, (r, terms.minimum), (z, -terms.minimum)], 0.0)
        if terms.fee > 0 and terms.waived_over is not None:
            rows.add([*spent, (y, -terms.waived_over)], 0.0)
            rows.add([(z, 1.0), (y, -1.0)], 0.0)


def _open_rows(rows: _Rows, inside: _Goods, z: int) -> None:
    """Nothing comes with a delivery that does not take place; most of an ingredient that can be of use."""
    by_item: dict[int, list[tuple[int, float]]] = {}
    most: dict[int, float] = {}
    for column, c, packs in inside:
        by_item.setdefault(c.item, []).append((column, -packs * c.offer.pack_quantity))
        most[c.item] = max(most.get(c.item, 0.0), c.high * c.offer.pack_quantity)
    for index, terms in by_item.items():
        rows.add([*terms, (z, most[index])], 0.0)
