"""How a recipe can be made: whole or not, how much a day, ready on which days, good until when."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from ordering.net.lots import EPS, Days, Flags, Parcel
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
    of a batch, where `is_whole`; `least` : the least that is made at once, in batches. `free` : [day] batches
    that may be under way at once on the start of what is ready that day, beside those that are; None: any.
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
    least: float = 0.0
    free: Array | None = None

    @property
    def is_to_measure(self) -> bool:
        """Whether what is made is what is needed, no more: any size, nothing to work ahead of or to keep."""
        return not self.is_rounded and self.most is None and self.free is None and not self.par

    @property
    def is_rounded(self) -> bool:
        """Whether what is made can be more than what is needed: whole batches, or a least one."""
        return self.is_whole or self.least > 0

    def made_up(self, batches: Array) -> Array:
        """What is made where so many batches are needed: whole ones, none below the least; any shape."""
        made = whole(batches, self.step) if self.is_whole else np.maximum(batches, 0.0)
        return np.where(made > EPS, np.maximum(made, self.least), 0.0) if self.least else made

    def limit(self, made: Array, day: int, most: Array | float) -> Array | float:
        """Batches that can be ready on a day, [path], beside those made, [day, path], under way with them."""
        room = most
        if self.free is not None:
            others = made[max(0, day - self.first_ready + 1) : day].sum(axis=0)
            room = np.maximum(np.minimum(room, self.free[day] - others), 0.0)
            if self.is_whole:
                room = np.floor(room / self.step + EPS) * self.step
        return np.where(room < self.least * (1 - EPS), 0.0, room) if self.least else room

    def room(self) -> Array:
        """Batches each day allows, [day].

        None on a day that something better serves in time (see `on`), such as the last open day before a
        closed one.
        """
        room = np.full(self.last.size, np.inf if self.most is None else self.most)
        if self.on is not None:
            is_idle = np.ones(room.size, dtype=np.bool_)
            is_idle[self.on] = False
            room[is_idle] = 0.0
        return room


def making(
    recipe: Recipe,
    last: Days,
    window: Window | None = None,
    par_off: Flags | None = None,
    free: Array | None = None,
) -> Making:
    """Terms of a recipe whose batches, by ready day, may be used until `last`, started within a window.

    par_off, free : [day].
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
        least=(recipe.smallest or 0.0) / recipe.makes,
        free=free,
    )


def free_batches(recipe: Recipe, parcels: Iterable[Parcel], n_days: int) -> Array | None:
    """Batches that may be under way at once beside those that are, on the start of each ready day: [day]."""
    if recipe.room is None:
        return None
    starts = np.arange(n_days) - recipe.takes_days
    busy = np.zeros(n_days)
    for parcel in parcels:
        if parcel.kind == "in-process":
            busy += np.where(parcel.first > starts, parcel.quantity, 0.0)
    free: Array = np.maximum(recipe.room - busy, 0.0) / recipe.makes
    return free


def most_batches(recipe: Recipe) -> float | None:
    """Batches a day allows; whole ones where batches are whole, and then one at least. None: no limit."""
    if recipe.largest is None:
        return None
    most = recipe.largest / recipe.makes
    step = recipe.step
    return max(step, float(np.floor(most / step + EPS)) * step) if recipe.is_whole else most


def whole(batches: Array, step: float = 1.0) -> Array:
    """Batches rounded up to a `step`, but not for the dust of binary fractions (63 x 0.1 is 63 tenths).

    Any shape.
    """
    rounded: Array = np.ceil(batches * ((1 - EPS) / step) - EPS) * step
    return np.maximum(rounded, 0.0, out=rounded)
