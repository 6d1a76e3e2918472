"""What is held of things that go off: one more only while it is likelier to pay than to be thrown away.

A unit held for a day may save a portion on that day, or be wanted while it is still good, or spoil. It is
worth having as long as margin x P(short without it) is no less than cost x P(not wanted while good). Where a
thing is good for one day alone the two chances add up to one, and this is the newsvendor's fractile (Snyder &
Shen, Fundamentals of Supply Chain Theory, 2nd ed. 2019, chapter 4). That what spoils is what the demand of
its whole life leaves is the usual approximation for perishable stock (after Nahmias, 1976; from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ordering.net.starts import whole
from ordering.net.stock import Days
from ordering.records.plan import Array

LEAST = 1e-6  # of an item's unit: the piece looked at where any amount can be had
LEVEL = 0.75  # held whatever it wastes: what is on the menu is to be had three times in four; measured
HALVINGS = 8  # of the way between the least and the service level


@dataclass(frozen=True, slots=True)
class Spare:
    """What it means to have a unit too few or too many.

    margin, thrown : money lost for want of a unit, and for one thrown away
    good_until : [day] last day index of what is held for the need up to each day; it may lie past the horizon
    piece : how much comes at once: the smallest pack, a batch; 0: any amount
    is_whole : needs are counted in whole batches, and so is what is held
    promised : a service level that is kept whatever it wastes
    """

    margin: float
    thrown: float
    good_until: Days
    piece: float = 0.0
    is_whole: bool = False
    promised: float = 0.0

    @property
    def least(self) -> float:
        """The level held whatever it wastes: what a dish promises, and three in four of whatever is sold."""
        return max(self.promised, LEVEL)

    def wanted_later(self, needs: Array, n_days: int) -> Array:
        """What each path wants after each of the first days, while what is over is good. [day, path]

        needs : [day, path], to the horizon. Infinite where what is over is good to the horizon or longer.
        """
        until = self.good_until[:n_days]
        total = np.cumsum(needs, axis=0)
        later = np.full((n_days, needs.shape[1]), np.inf)
        is_seen = until < needs.shape[0]
        later[is_seen] = total[until[is_seen]] - total[:n_days][is_seen]
        return later

    def lowered(self, asked: Array, now: Array, later: Array, least: Array) -> Array:
        """As much of `asked`, [day], as is worth having, and `least`, [day], at the least.

        now, later : [day, path], what is wanted of it by each day, and after it while it is good
        """
        held = asked.copy()
        rows = np.flatnonzero((asked > 0) & (self._gain(asked, now, later) < 0))
        now, later = now[rows], later[rows]
        high = asked[rows]
        low = np.minimum(high, least[rows])
        for _ in range(HALVINGS if rows.size else 0):
            middle = (low + high) / 2
            pays = self._gain(middle, now, later) >= 0
            low, high = np.where(pays, middle, low), np.where(pays, high, middle)
        held[rows] = self._settled(low, high, now)
        return held

    def _settled(self, low: Array, high: Array, now: Array) -> Array:
        """Whole batches, or exactly what some path wants, where that lies within what halving has left."""
        if self.is_whole:
            return whole(low)
        wanted = np.where(now >= low[:, None], now, np.inf).min(axis=1)
        return np.where(wanted <= high, wanted, low)

    def _gain(self, held: Array, now: Array, later: Array) -> Array:
        """Money that one piece beyond `held` brings, [day], mean over paths; the more is held, the less."""
        piece = max(self.piece, LEAST)
        lacking = now - held[:, None]
        saved = np.clip(lacking, 0.0, piece).mean(axis=1)
        used = np.clip(lacking + later, 0.0, piece).mean(axis=1)
        gain: Array = self.margin * saved - self.thrown * (piece - used)
        return gain
