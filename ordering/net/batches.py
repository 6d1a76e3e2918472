"""How a recipe can be made, and its net requirement into batches, by ready day.

Cumulative rounding, keeping time, what a day and the room allow.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from ordering.amounts import EPS
from ordering.net.shelf_life import Days, Flags, Parcel, cohorts, draw, drawn_from, drawn_in_turn
from ordering.records.house import Recipe
from ordering.records.plan import Array

LITTLE = 0.05  # of a whole batch that its parts may be short by (common practice, no source)
Cohorts = list[tuple[int, Array]]  # last day index and what is left, [path], first to expire first


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
            free = np.maximum(self.free[day] - others, 0.0)
            if self.is_whole:
                free = np.floor(free / self.step + EPS) * self.step
            room = np.minimum(room, free)
        return self.at_least(room) if self.least else room

    def at_least(self, batches: Array | float) -> Array:
        """Batches, none where they are fewer than the least by more than a little; any shape."""
        return np.where(batches < self.least * (1 - LITTLE), 0.0, batches)

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


def whole(batches: Array, step: float = 1.0) -> Array:
    """Batches rounded up to a `step`, but not for the dust of binary fractions (63 x 0.1 is 63 tenths).

    Any shape.
    """
    rounded: Array = np.ceil(batches * ((1 - EPS) / step) - EPS) * step
    return np.maximum(rounded, 0.0, out=rounded)


def held_back(short: Array, step: float = 1.0) -> Array:
    """Batches, by the step, that are not begun where parts for so many are short; any shape.

    A cook begins a whole one whose parts are a little less than it takes, and it makes what they allow: less
    than `LITTLE` of it is what catch weights, scales and amounts as they are shown vary by.
    """
    up = whole(short, step)
    return np.asarray(np.where(up - short >= (1 - LITTLE) * step, short, up))


def gather(net: Array, on: Days | None) -> Array:
    """A requirement by the day it is needed as one by the day it is to be ready, [day, path]."""
    if on is None:
        return net
    gathered = np.zeros_like(net)
    for day, need in zip(on.tolist(), net, strict=True):
        gathered[day] += need
    return gathered


def is_tight(net: Array, terms: Making) -> bool:
    """Whether the limit of a day, or of what is under way at once, binds on some path.

    net : [day, path], by the day it is needed
    """
    if not net.size or (terms.most is None and terms.free is None):
        return False
    wanted, first = gather(net, terms.on) / terms.makes, terms.first_ready
    if terms.most is not None and wanted[first:].max(initial=0.0) > terms.most * (1 + EPS):
        return True
    if terms.free is None:
        return False
    made = np.cumsum(whole_batches(net, terms) if terms.is_rounded else wanted, axis=0)
    under_way = made[first:] - made[: max(0, len(made) - first)]
    return bool((under_way.max(axis=1) > terms.free[first:] + EPS).any())


def whole_batches(net: Array, terms: Making, most: Array | None = None, is_gathered: bool = False) -> Array:
    """Whole batches, each day at most `most`, [day, path]: one opens when the last is used or past.

    is_gathered : whether the requirement is by the day it is to be ready, not by the day it is needed
    """
    made, needs = np.zeros_like(net), net / terms.makes
    left = np.zeros(net.shape[1])
    until = np.zeros(net.shape[1], dtype=np.int64)
    for t in np.flatnonzero(net.max(axis=1, initial=0.0) > EPS).tolist():
        if t < terms.first_ready:
            continue
        left *= until >= t
        need = needs[t] - left
        opened = terms.made_up(need)
        day = t if terms.on is None or is_gathered else terms.on[t]
        if most is not None:
            np.minimum(opened, terms.limit(made, day, most[day]) - made[day], out=opened)
        made[day] += opened
        left = np.maximum(opened - need, 0.0)
        np.copyto(until, terms.last[day], where=opened > 0)
    return made


def limited(net: Array, terms: Making, most: Array) -> tuple[Array, Array]:
    """Batches by ready day where each day of each path has its own limit, and what they leave unmet.

    All [day, path]. Nothing is held ahead: what a day cannot give, its guests go without, and the next day
    begins anew. Batches may be given beyond the day on which nothing limits them.
    """
    room = most if terms.most is None else np.minimum(most, terms.most)
    if terms.is_rounded or terms.free is not None:
        made = whole_batches(net, terms, room)
    else:
        made = np.minimum(gather(net, terms.on) / terms.makes, room)
        made[: terms.first_ready] = 0.0
    unmet, _ = rolled(made * terms.makes, net, terms.last)
    return made, unmet


def batches(net: Array, terms: Making, lying: Array | None = None) -> tuple[Array, Array]:
    """Batches by ready day, and what of the net requirement they leave unmet. Both [day, path].

    Rounding is cumulative: what a whole batch gives beyond the need serves the next days for as long as it
    keeps. Where more is needed than a day allows, the rest is made on the latest earlier day that has room
    and from which it still keeps.

    net : [day, path]; lying : [day, path], what is to lie ready of these batches every evening; None: nothing
    """
    made, short = np.zeros_like(net), np.zeros_like(net)
    ahead, room, cohorts = _due_later(net, terms), terms.room(), Cohorts()
    for t in range(net.shape[0]):
        cohorts = [(last, left) for last, left in cohorts if last >= t and left.max() > EPS]
        if t >= terms.first_ready and room[t] > 0:
            is_for_par = lying is not None and (terms.can is None or bool(terms.can[t]))
            least = _least_today(net, ahead, lying if is_for_par else None, terms, cohorts, t)
            made[t] = np.minimum(terms.made_up(least / terms.makes), terms.limit(made, t, room[t]))
            cohorts = sorted([*cohorts, (int(terms.last[t]), made[t] * terms.makes)], key=lambda c: c[0])
        need = drawn_from((left for _, left in cohorts), net[t])
        short[t] = np.where(need > EPS, need, 0.0)
    return made, short


def _least_today(
    net: Array, ahead: Array, lying: Array | None, terms: Making, cohorts: Cohorts, today: int
) -> Array:
    """The least to make on a day, [path]: what is due then, and for a par what later days have no room for.

    net, ahead, lying : [day, path], what is wanted, and what is to be good after, or on, the evening
    """
    room, later = terms.room() * terms.makes, 0.0
    left = [(last, quantity.copy()) for last, quantity in cohorts]
    owed, wanted = np.zeros(net.shape[1]), np.zeros(net.shape[1])
    for t in range(today, 1 + (today if lying is None else min(int(terms.last[today]), net.shape[0] - 1))):
        left = [(last, quantity) for last, quantity in left if last >= t]
        later += room[t] if t > today else 0.0
        if later == np.inf:
            break
        owed += drawn_from((quantity for _, quantity in left), net[t])
        more = ahead[t] - sum(quantity for last, quantity in left if last > t)
        if lying is not None:
            more = np.maximum(more, lying[t] - sum(quantity for _, quantity in left))
        np.maximum(wanted, owed + np.maximum(more, 0.0) - later, out=wanted)
    return wanted


def _due_later(net: Array, terms: Making) -> Array:
    """What must be good after the evening of each day because later days have no room for it, [day, path].

    Backward over days: each makes what is due up to its limit, the rest moves a day earlier, unless it would
    not keep.
    """
    room, sums = terms.room() * terms.makes, np.cumsum(net, axis=0)
    ahead, made, due = np.zeros_like(net), np.zeros_like(net), np.zeros(net.shape[1])
    for t in range(net.shape[0] - 1, terms.first_ready - 1, -1):
        ahead[t] = np.minimum(due, sums[min(int(terms.last[t]), net.shape[0] - 1)] - sums[t])
        due = ahead[t] + net[t]
        space: Array | float = room[t]
        if terms.free is not None:
            others = made[t + 1 : t + terms.first_ready].sum(axis=0)
            space = np.maximum(np.minimum(space, terms.free[t] * terms.makes - others), 0.0)
        made[t] = np.minimum(due, space)
        due = due - made[t]
    return ahead


def rolled(made: Array, need: Array, last: Days) -> tuple[Array, Array]:
    """What given batches leave unmet, [day, path], and throw away, [day], mean, the day after its last.

    Where what is made later is good longer, totals tell it all. Where dates of parts have it otherwise, every
    batch is followed.

    made : [day, path], item's unit, by ready day; need : [day, path]; last : [day]
    """
    days = np.flatnonzero(made.max(axis=1, initial=0.0) > 0)
    ends = last[days]
    if np.any(np.diff(ends) < 0):
        drawn = draw(cohorts(made, last), need)
        return drawn.unmet, drawn.expired
    unmet, stale = need.copy(), np.zeros(need.shape[0])
    if days.size:
        left = drawn_in_turn(made[days], days, ends, unmet).mean(axis=1)
        goes = (ends + 1 < stale.size) & (left > EPS)
        np.add.at(stale, ends[goes] + 1, left[goes])
    return unmet, stale
