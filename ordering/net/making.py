"""How a recipe can be made: whole or not, how much a day, ready on which days, good until when."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ordering.net.lots import EPS, Days, Flags
from ordering.net.start_days import Window
from ordering.records.house import Recipe
from ordering.records.plan import Array


@dataclass(frozen=True, slots=True)
class Making:
    """How a recipe may be made, in its unit.

    `last` : [day] last day index on which what is ready that day may be used.
    `first_ready` : no batch can be ready before this day index. `most` : batches in one day.
    `on` : [day] when what is needed on each day is to be ready, never later and never decreasing; None: on
    the day itself. `can` : [day] ready days for which the material is there and the house open;
    None: all. `par` : what is to lie ready every evening, but for days `par_off`. `step` : the least part
    of a batch, where `is_whole`.
    """

    makes: float
    is_whole: bool
    first_ready: int
    last: Days
    most: float | None = None
    on: Days | None = None
    can: Flags | None = None
    par: float = 0.0
    par_off: Flags | None = None
    step: float = 1.0

    @property
    def is_to_measure(self) -> bool:
        """Whether what is made is what is needed, no more: any size, nothing to work ahead of or to keep."""
        return not self.is_whole and self.most is None and not self.par

    def room(self) -> Array:
        """Batches each day allows, [day].

        None on a day that something better serves in time (see `on`), such as the last open day before a
        closed one.
        """
        room = np.full(self.last.size, np.inf if self.most is None else self.most)
        if self.on is not None:
            room[np.setdiff1d(np.arange(room.size), self.on)] = 0.0
        return room


def making(recipe: Recipe, last: Days, window: Window | None = None, par_off: Flags | None = None) -> Making:
    """Terms of a recipe whose batches, by ready day, may be used until `last`, started within a window.

    par_off : [day].
    """
    on, can = (None, None) if window is None else window.ready_days(recipe.takes_days, last)
    return Making(
        makes=recipe.makes,
        is_whole=recipe.is_whole,
        first_ready=recipe.takes_days,
        last=last,
        most=most_batches(recipe),
        on=on,
        can=can,
        par=recipe.par or 0.0,
        par_off=par_off,
        step=recipe.step,
    )


def most_batches(recipe: Recipe) -> float | None:
    """Batches a day allows; whole ones where batches are whole, and then one at least. None: no limit."""
    if recipe.largest is None:
        return None
    most = recipe.largest / recipe.makes
    step = recipe.step
    return max(step, float(np.floor(most / step + EPS)) * step) if recipe.is_whole else most
