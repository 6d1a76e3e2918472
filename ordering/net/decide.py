"""Safety once: what is decided from the paths, each quantile over a cumulative quantity.

Every path of a sweep knows its own demand: it starts and buys exactly what it will need, as late as
it can. A kitchen must decide before it knows. Two rules make one decision of the many paths:

1. *Made items* that take a day or more, on the days before the next run: started by day t is the
   service-level quantile over paths of the batches started by day t. Because the quantile is of the
   cumulative number, a margin once built is not built again the day after.
2. *What is drawn* by a decided start is drawn on every path alike. After the decided days a path goes
   on with its own starts, less the surplus the decision has built on it (`carried_on`). So the parts
   of a decided start carry no margin of their own within the decided days, and afterwards only for
   what the surplus of the level above does not already hold: safety is added once along the way from
   plate to pack, and yet every decided start can be drawn. What is made for the same service is not
   decided ahead and draws what each path needs, so dishes that share an ingredient share its margin.

Where a unit over is likelier to spoil than a unit short to cost a portion, less is decided than the level
asks for: see `spare.py`.

A thing that keeps only k days cannot carry its margin for long. What the paths need in days u to t can be
met by what is decided for days u - k to t and by nothing else, so for few k the quantile of each such need
over the last days bounds the decision as well (`SHORT_DAYS`): with k = 0 it is the quantile of each day. A
thing that keeps longer turns its margin over before it spoils, and the cumulative number alone decides.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from ordering.net.spare import Spare
from ordering.net.stock import DUST, Days
from ordering.records.plan import Array

Asked = Callable[[Days, Array], Array]
"""From days and what each path wants by or for each, [day, path], how much is to be there, [day]."""

SHORT_DAYS = 4  # what keeps no longer is decided over its last days as well
SHORT_UNTIL = 28  # days ahead for which that is worked out; further off only the outlook is drawn


def quantile(values: Array, level: float) -> Array:
    """Smallest value that at least a share `level` of the paths does not exceed. Over the last axis."""
    n_paths = values.shape[-1]
    rank = min(n_paths - 1, max(0, int(np.ceil(level * n_paths - 1e-9)) - 1))
    if n_paths == 1:
        ranked: Array = values[..., 0]
        return ranked
    return np.asarray(np.partition(values, rank, axis=-1)[..., rank])


def cover(
    needs: Array, level: float, offset: int | None, spare: Spare | None = None, n_days: int | None = None
) -> Array:
    """Decided amount of each of the first `n_days`, [day], from what each path needs, [day, path].

    offset : days a thing keeps after the day it is ready or delivered; None: for ever
    spare : what it costs to have too few or too many, for what is not worth the level
    """
    n_days = needs.shape[0] if n_days is None else min(n_days, needs.shape[0])
    later = None if spare is None else spare.wanted_later(needs, n_days)
    needs = needs[:n_days]

    def asked_of(days: Days, wanted: Array) -> Array:
        asked = quantile(wanted, level)
        if spare is None or later is None:
            return asked
        return spare.lowered(asked, wanted, later[days], quantile(wanted, spare.least))

    raised = _risen(needs, asked_of)
    if offset is None or offset > SHORT_DAYS:
        return np.diff(raised, prepend=0.0)
    asked = _recent_needs(needs[:SHORT_UNTIL], asked_of, offset)
    decided: list[float] = []
    before = [0.0]  # total decided before each day
    for t, until_now in enumerate(raised.tolist()):
        wanted = until_now - before[t] if offset else 0.0
        if t < SHORT_UNTIL:
            for days, need in enumerate(asked[: t + 1], start=1):
                wanted = max(wanted, need[t] - before[t] + before[max(0, t - days + 1 - offset)])
        elif not offset:
            wanted = until_now - float(raised[t - 1])
        decided.append(wanted if wanted > DUST else 0.0)
        before.append(before[t] + decided[t])
    return np.array(decided)


def _risen(needs: Array, asked_of: Asked) -> Array:
    """What is asked of the cumulative need up to each day, [day], never falling."""
    raised = np.zeros(needs.shape[0])
    is_asked = needs.any(axis=1)  # on the other days the total stays what it is
    raised[is_asked] = asked_of(np.flatnonzero(is_asked), np.cumsum(needs[is_asked], axis=0))
    return np.maximum.accumulate(raised)


def _recent_needs(needs: Array, asked_of: Asked, offset: int) -> list[list[float]]:
    """What is asked of the need of the last 1, 2, ... offset + 1 days, each [day]."""
    days = np.arange(needs.shape[0])
    recent, found = needs.copy(), [asked_of(days, needs).tolist()]
    for before in range(1, offset + 1):
        recent[before:] += needs[:-before]
        found.append(asked_of(days, recent).tolist())
    return found


def enough(needs: Array, decided: Array) -> Array:
    """Share of the paths on which what is decided up to each day is enough for their need up to it, [day]."""
    until = np.cumsum(decided)
    share: Array = (np.cumsum(needs[: until.size], axis=0) <= until[:, None] + DUST).mean(axis=1)
    return share


def carried_on(needs: Array, decided: Array, days: int, offset: int | None) -> Array:
    """Starts of each path: as decided for the first `days`, then its own less the surplus built.

    needs : [day, path]; decided : [day]. The surplus is what was decided beyond the path's own starts
    within the time it keeps; it stands in for the path's next starts, for as long as it keeps.
    """
    n_days = needs.shape[0]
    days = min(days, n_days)
    if days == 0:
        return needs
    own = needs.copy()
    own[:days] = decided[:days, None]
    since = 0 if offset is None else max(0, days - offset - 1)
    surplus = np.maximum(0.0, (own[since:days] - needs[since:days]).sum(axis=0))
    until = n_days if offset is None else min(n_days, days + offset)
    later = own[days:until]
    left = surplus - np.cumsum(later, axis=0)
    left += later
    later -= np.clip(left, 0.0, later)
    return own
