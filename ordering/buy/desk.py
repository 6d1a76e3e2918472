"""One ingredient laid out for the search of whole-pack plans: offers, days, stretches of need."""

from __future__ import annotations

import itertools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np
from numpy.typing import NDArray

from ordering.buy.choices import Choice, tie
from ordering.buy.curve import NOTHING, Cover, Span
from ordering.records.plan import Array

UNMET = 1e6
"""Money for a unit that nothing brings: no plan is to leave one."""

FAR = 10**6


@dataclass(frozen=True, slots=True)
class Desk:
    """A *pair* is an offer with a delivery due now; P pairs, D days of theirs, S stretches of days.

    days : [D] ascending;  day_of, drop_of : [P], index of the day, of the drop among all drops
    pack, each, tie : [P], item's unit, money for one pack, and factor on it that breaks ties
    steps : by pair, packs from which a price holds and that price, ascending
    to_day : [P, D], quantity a pack brings;  to_drop : [P, drops of this ingredient], 1 where it comes
    choices : by pair and price step, the index of the choice in the decision
    level : [day], cumulative need, the par counted in;  spoilt : [D], need met when goods of that day
        have spoilt
    wanted, price : [S], need of a stretch and money for a unit of it later on
    good : by stretch, which of `days` can serve it, oldest first
    guess : [D, S], `price`, or less where deliveries after that day can still serve
    one_pack : [D], the cheapest pack after that day
    targets : by day, days to which a delivery may be bought to last
    pars : by day, (first of `days`, quantity) that must have been brought from there on
    must : (first, last of the horizon's days, quantity) that deliveries due now must bring
    later_pars : pars that only later deliveries bring about and that `level` does not know, as ([D] 1 where
        goods of that day count, [S] 1 where need left open brings goods that count, quantity, money for a
        unit then)
    base : money, worth of all that is wanted after the days looked at
    """

    days: tuple[int, ...]
    day_of: NDArray[np.int64]
    drop_of: NDArray[np.int64]
    pack: Array
    each: Array
    tie: Array
    steps: tuple[tuple[Array, Array], ...]
    to_day: Array
    to_drop: Array
    choices: tuple[tuple[int, ...], ...]
    level: Array
    spoilt: Array
    wanted: Array
    price: Array
    good: tuple[tuple[int, ...], ...]
    guess: Array
    one_pack: Array
    targets: tuple[tuple[int, ...], ...]
    pars: tuple[tuple[tuple[int, float], ...], ...]
    must: tuple[tuple[int, int, float], ...]
    later_pars: tuple[tuple[Array, Array, float, float], ...]
    base: float

    @property
    def drops(self) -> NDArray[np.int64]:
        """Drops of this ingredient, in the sequence of the columns of `to_drop`."""
        return np.unique(self.drop_of)


def desk(
    cover: Cover,
    own: Sequence[tuple[int, Choice]],
    drop_index: Mapping[tuple[str, date], int],
    worth: float,
) -> Desk:
    """Lay out one ingredient; `own` are its choices with their indices, `worth` money per unit for what
    is wanted after the days looked at."""
    pairs: dict[tuple[str, str, int], list[tuple[int, Choice]]] = {}
    for index, c in own:
        if c.chance.is_now:
            pairs.setdefault((c.offer.vendor, c.offer.code, c.chance.day), []).append((index, c))
    firsts = [steps[0][1] for steps in pairs.values()]
    later = [c for _, c in own if not c.chance.is_now]
    days = tuple(sorted({c.chance.day for c in firsts}))
    day_of = np.array([days.index(c.chance.day) for c in firsts], dtype=np.int64)
    drop_of = np.array([drop_index[c.drop] for c in firsts], dtype=np.int64)
    pack = np.array([c.offer.pack_quantity for c in firsts])
    drops = np.unique(drop_of)
    level = _level(cover)
    keeps = FAR if cover.keeps_days is None else cover.keeps_days
    wanted, price, good, starts = _stretches(cover, days, later, keeps, level, worth)
    must = tuple(s for s in cover.spans if not any(s.first <= c.chance.day <= s.last for c in later))
    return Desk(
        days=days,
        day_of=day_of,
        drop_of=drop_of,
        pack=pack,
        each=np.array([c.each for c in firsts]),
        tie=np.array([tie(c, cover) for c in firsts]),
        steps=tuple(
            (np.array([1.0, *(c.low for _, c in s[1:])]), np.array([c.each for _, c in s]))
            for s in pairs.values()
        ),
        to_day=pack[:, None] * (day_of[:, None] == np.arange(len(days))),
        to_drop=(drop_of[:, None] == drops).astype(float),
        choices=tuple(tuple(index for index, _ in s) for s in pairs.values()),
        level=level,
        spoilt=level[np.minimum(np.array(days) + keeps, len(level) - 1)],
        wanted=wanted,
        price=price,
        good=good,
        guess=_guess(price, good, days, firsts),
        one_pack=np.array([min((c.each for c in firsts if c.chance.day > d), default=UNMET) for d in days]),
        targets=_targets(cover, days, [c.chance.day for c in later], keeps),
        pars=tuple(
            tuple(
                (min(i for i, d in enumerate(days) if d >= s.first), s.quantity)
                for s in must
                if s.is_par and s.first <= day <= s.last
            )
            for day in days
        ),
        must=tuple((s.first, s.last, s.quantity) for s in must),
        later_pars=_later_pars(cover, must, days, later, starts),
        base=worth * (float(level[-1] - level[cover.window]) + _par_left(cover, level)),
    )


def _level(cover: Cover) -> Array:
    """Cumulative need, raised to what the par asks by its day."""
    level = cover.need.copy()
    first = min((s.first for s in cover.spans), default=0)
    for span in cover.spans:
        if span.is_par and span.first == first:
            level[span.last :] = np.maximum(level[span.last :], span.quantity)
    return level


def _par_left(cover: Cover, level: Array) -> float:
    """Part of the par that is of use after the days looked at."""
    return min(cover.worth, float(level[cover.window] - cover.need[cover.window]))


def _stretches(
    cover: Cover, days: Sequence[int], later: Sequence[Choice], keeps: int, level: Array, worth: float
) -> tuple[Array, Array, tuple[tuple[int, ...], ...], Array]:
    """Need, later price, days that serve, and first day of every stretch of days over which nothing comes,
    spoils or ends."""
    n_days = len(level)
    marks = {0, cover.window + 1, n_days}
    for day in [*days, *(c.chance.day for c in later)]:
        marks |= {day, day + keeps + 1}
    wanted, price, good, starts = [], [], [], []
    for start, end in itertools.pairwise(sorted(m for m in marks if 0 <= m <= n_days)):
        need = float(level[end - 1] - (level[start - 1] if start else 0.0))
        if need <= NOTHING:
            continue
        wanted.append(need)
        starts.append(start)
        good.append(tuple(i for i, day in enumerate(days) if day <= start and end - 1 <= day + keeps))
        in_time = [
            c.each / c.offer.pack_quantity
            for c in later
            if c.chance.day <= start and end - 1 <= c.chance.day + keeps
        ]
        price.append(worth if start > cover.window else min(in_time, default=UNMET))
    return np.array(wanted), np.array(price), tuple(good), np.array(starts)


def _later_pars(
    cover: Cover, must: Sequence[Span], days: Sequence[int], later: Sequence[Choice], starts: Array
) -> tuple[tuple[Array, Array, float, float], ...]:
    first = min((s.first for s in cover.spans), default=0)
    found = []
    for span in cover.spans:
        if span.is_par and span.first > first and span not in must:
            inside = [c for c in later if span.first <= c.chance.day <= span.last]
            price = min(c.each / c.offer.pack_quantity for c in inside)
            since = min(c.chance.day for c in inside)
            found.append(
                (
                    np.array([float(span.first <= day <= span.last) for day in days]),
                    ((starts >= since) & (starts < span.last)).astype(float),
                    span.quantity,
                    price,
                )
            )
    return tuple(found)


def _guess(
    price: Array, good: tuple[tuple[int, ...], ...], days: Sequence[int], firsts: Sequence[Choice]
) -> Array:
    unit = [min(c.each / c.offer.pack_quantity for c in firsts if c.chance.day == day) for day in days]
    guess = np.tile(price, (len(days), 1))
    for i in range(len(days)):
        for s, able in enumerate(good):
            guess[i, s] = min([price[s], *(unit[a] for a in able if a > i)])
    return guess


def _targets(
    cover: Cover, days: Sequence[int], later: Sequence[int], keeps: int
) -> tuple[tuple[int, ...], ...]:
    """Up to the next deliveries due now, up to the later ones, to the end of what is looked at."""
    last = len(cover.need) - 1
    ends = sorted({cover.until - 1, *(d - 1 for d in later if d > cover.until), cover.window})
    found = []
    for i, day in enumerate(days):
        own = [after - 1 for after in days[i + 1 : i + 4]]
        own += [*[e for e in ends if e >= day][:3], cover.window, last]
        found.append(tuple(sorted({min(e, day + keeps, last) for e in own if e >= day})))
    return tuple(found)
