"""Net requirement into batches: cumulative rounding, keeping time, capacity, pars. By ready day.

A par brings what is made back to the amount that is always to lie ready. From the first day on which a
batch can be ready, what lies ready and in date at the end of each day, after its draws, is not below the
par on any path, if a start can make it so: whole batches, `largest`, keeping time and the days on which a
recipe can be started all hold, and no house that is closed is opened for it. It is drawn like anything
else, the oldest first, and what goes past its date is made anew. Guests come before a par: short is what
they do not get. A decided start holds the par as surely as it holds the dishes.

A par waits for what goes into it: on days for which something below would be short by it that is not
short for guests alone, because more cannot be had yet or no more can be made in a day, it is not kept.
Where it could not be kept at all, that is said.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from ordering.net.lots import EPS, Days, Drawn, cohorts, draw, drawn_from, drawn_in_turn
from ordering.net.making import Making
from ordering.records.plan import Array

Cohorts = list[tuple[int, Array]]  # last day index and what is left, [path], first to expire first


def batches(net: Array, terms: Making) -> tuple[Array, Array]:
    """Batches by ready day, and what of the net requirement they leave unmet. Both [day, path].

    What is needed on a day is ready on the day its window says, its own or one before. Rounding is
    cumulative: what a whole batch gives beyond the need serves the next days for as long as it keeps.
    Where more is needed than `most` a day, the rest is made on the latest earlier day that has room and
    from which it still keeps.
    """
    first = min(terms.first_ready, net.shape[0])
    gathered = gather(net, terms.on)
    if is_tight(net, terms):
        return _within_capacity(net, terms)
    short = np.zeros_like(net)
    short[:first] = net[:first]
    if terms.is_rounded:
        made = whole_batches(net, terms)
    else:
        made = gathered / terms.makes
        made[:first] = 0.0
    return made, short


def gather(net: Array, on: Days | None) -> Array:
    """A requirement by the day it is needed as one by the day it is to be ready, [day, path]."""
    if on is None:
        return net
    gathered = np.zeros_like(net)
    if net.shape[0]:
        first = np.flatnonzero(np.diff(on, prepend=-1))
        gathered[on[first]] = np.add.reduceat(net, first, axis=0)
    return gathered


def is_tight(net: Array, terms: Making) -> bool:
    """Whether the limit of a day binds on some path. net : [day, path], by the day it is needed."""
    if not net.size or (terms.most is None and terms.free is None):
        return False
    if terms.free is not None:
        made = whole_batches(net, terms) if terms.is_rounded else gather(net, terms.on) / terms.makes
        before = np.cumsum(made, axis=0)
        begun = before.copy()  # with what is ready on a day, all that is ready less than its time before it
        begun[terms.first_ready :] -= before[: max(0, made.shape[0] - terms.first_ready)]
        if bool((begun[terms.first_ready :].max(axis=1) > terms.free[terms.first_ready :] + EPS).any()):
            return True
    if terms.most is None:
        return False
    peak = float(gather(net, terms.on)[terms.first_ready :].max(initial=0.0)) / terms.makes
    return peak > terms.most * (1 + EPS)


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

    All [day, path].

    Nothing is held ahead: what a day cannot give, its guests go without, and the next day begins anew.
    Batches may be given beyond the day on which nothing limits them.
    """
    room = most if terms.most is None else np.minimum(most, terms.most)
    if terms.is_rounded or terms.free is not None:
        made = whole_batches(net, terms, room)
    else:
        made = np.minimum(gather(net, terms.on) / terms.makes, room)
        made[: terms.first_ready] = 0.0
    unmet, _ = rolled(made * terms.makes, net, terms.last)
    return made, unmet


def _within_capacity(net: Array, terms: Making) -> tuple[Array, Array]:
    """Batches where the limit of a day binds on some path: held ahead, every cohort followed.

    All [day, path].

    A day on which nothing can be started has no room, nor has one on which the house is closed, unless no
    open day before is in time.
    """
    ahead = _held_ahead(net, terms)

    def wanted(today: int, cohorts: Cohorts) -> Array:
        """What has to be ready today beside what lies there, [path]."""
        left = [(last, quantity.copy()) for last, quantity in cohorts]
        need = drawn_from((quantity for _, quantity in left), net[today])
        held = sum((quantity for last, quantity in left if last > today), np.zeros_like(need))
        return np.asarray(need + np.maximum(ahead[today] - held, 0.0))

    return _day_by_day(net, terms, wanted)


def _day_by_day(net: Array, terms: Making, wanted: Callable[[int, Cohorts], Array]) -> tuple[Array, Array]:
    """Batches by ready day, and what of the net requirement they leave unmet. Both [day, path].

    wanted : what to make on a day, [path], item's unit, where these cohorts are left
    """
    made, short = np.zeros_like(net), np.zeros_like(net)
    room, cohorts = terms.room(), Cohorts()
    for t in range(net.shape[0]):
        cohorts = [(last, left) for last, left in cohorts if last >= t and left.max() > EPS]
        if t >= terms.first_ready and room[t] > 0:
            asked = terms.made_up(wanted(t, cohorts) / terms.makes)
            made[t] = np.minimum(asked, terms.limit(made, t, room[t]))
            cohorts = sorted([*cohorts, (int(terms.last[t]), made[t] * terms.makes)], key=lambda c: c[0])
        need = drawn_from((left for _, left in cohorts), net[t])
        short[t] = np.where(need > EPS, need, 0.0)
    return made, short


def _held_ahead(net: Array, terms: Making) -> Array:
    """What must lie ready at the end of each day because later days have no room, [day, path].

    Backward over days: each makes what is due, latest deadline first, up to its limit; what is left
    moves a day earlier, unless it would not keep or could not be ready.
    """
    room = terms.room() * terms.makes
    n_days, n_paths = net.shape
    ahead, used_on = np.zeros_like(net), np.zeros_like(net)
    pending: list[tuple[int, Array]] = []
    for t in range(n_days - 1, terms.first_ready - 1, -1):
        due = [(deadline, left) for deadline, left in pending if terms.last[t] >= deadline]
        if due:
            ahead[t] = sum((left for _, left in due), np.zeros(n_paths))
        pending = [*due, (t, net[t].copy())]
        space = np.full(n_paths, room[t])
        if terms.free is not None:
            others = used_on[t + 1 : t + terms.first_ready].sum(axis=0)
            space = np.maximum(np.minimum(space, terms.free[t] * terms.makes - others), 0.0)
        for _, left in pending:
            used = np.minimum(left, space)
            left -= used
            space -= used
            used_on[t] += used
        pending = [(d, left) for d, left in pending if left.max() > EPS]
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


def planned(drawn: Drawn, terms: Making) -> tuple[Array, Array]:
    """Batches by ready day for what parcels do not meet and for the par, and what is left unmet.

    Both [day, path].
    """
    if not terms.par:
        return batches(drawn.unmet, terms)
    gap = np.maximum(terms.par - drawn.lying(), 0.0)
    gap[: terms.first_ready] = 0.0
    if terms.par_off is not None:
        gap[terms.par_off] = 0.0
    return kept_up(drawn.unmet, gap, terms)


def kept_up(net: Array, gap: Array, terms: Making) -> tuple[Array, Array]:
    """Batches by ready day, and what of the net requirement they leave unmet. Both [day, path].

    Each day makes the least that, with all that later days can make, leaves nothing short for as long as what
    is made keeps.

    net : [day, path]; gap : [day, path], what is to be left of these batches at the end of each day
    """
    return _day_by_day(net, terms, lambda today, cohorts: _wanted(net, gap, terms, cohorts, today))


def _wanted(net: Array, gap: Array, terms: Making, cohorts: Cohorts, today: int) -> Array:
    """The least to make on a day, [path]: what later days cannot make of what will then be short."""
    room = terms.room() * terms.makes
    is_for_par = terms.can is None or bool(terms.can[today])
    left = [(last, quantity.copy()) for last, quantity in cohorts]
    owed, wanted, later = np.zeros(net.shape[1]), np.zeros(net.shape[1]), 0.0
    for t in range(today, min(int(terms.last[today]) + 1, net.shape[0])):
        left = [(last, quantity) for last, quantity in left if last >= t]
        later += room[t] if t > today else 0.0
        if later == np.inf:
            break
        owed += drawn_from((quantity for _, quantity in left), net[t])
        asked = owed
        if is_for_par:
            asked = owed + np.maximum(gap[t] - sum(quantity for _, quantity in left), 0.0)
        np.maximum(wanted, asked - later, out=wanted)
    return wanted
