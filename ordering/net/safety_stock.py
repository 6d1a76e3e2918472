"""How much is held against the spread of what is wanted: one more while it is likelier to pay than not.

What one run decides is the same for every path of the forecast. It is decided chance by chance: a chance is a
day on which a thing can come or be ready, and what is there then must last until the next one. One more unit

- saves a miss where the need until the next chance is larger than what is held (`Stake.losses`);
- is thrown away where the need of its whole life is smaller (`Stake.cost`);
- else is kept in the house until somebody wants it, later (`Stake.a_day`).

Units are weighed one by one, or as many at a time as come at once: a pack, a whole batch. What a piece brings
is what is eaten of it, never the whole of it because it was begun. What is decided is then drawn, first
expired first out, from the need of every path, and the next chance is decided for what that leaves. Where a
thing is good until the next chance alone, this is the newsvendor's fractile (Snyder & Shen, Fundamentals of
Supply Chain Theory, 2nd ed. 2019, chapter 4); where it lives longer, the myopic rule for perishable stock
that is drawn oldest first (after Nahmias, 1976; from memory). `tests/bench/holding.py` holds it against
sample-average linear programs and against search.
"""

from __future__ import annotations

import bisect
import itertools
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ordering.amounts import EPS, plural
from ordering.net.shelf_life import Days, draw_off
from ordering.records.plan import Array


@dataclass(frozen=True, slots=True)
class Stake:
    """What a unit too few or too many of one item costs.

    losses : (share, money a unit), cheapest first: of a need that is not met in full, the part up to `share`
        of it costs so much a unit, because those whose loss is least go without; the last share is 1
    cost : money a unit that is thrown away
    a_day : money a unit that is kept for a day without being wanted or thrown away
    share : of the losses, what a unit saves by itself where other things that go off are wanted with it, or
        where it goes into whole batches
    """

    losses: tuple[tuple[float, float], ...]
    cost: float
    a_day: float
    share: float = 1.0

    @property
    def loss(self) -> float:
        """Money lost for the first unit missed."""
        return self.losses[0][1]

    def why(self, keeps: int | None) -> str:
        """What is weighed, in the house's money."""
        spoils = ""
        if keeps is not None:
            spoils = f" costs {self.cost:,.2f} if it spoils (keeps {plural(keeps, 'day')}) and"
        dear = "" if len(self.losses) == 1 else f" to {self.losses[-1][1]:,.2f}"
        return f"one more{spoils} saves {self.loss:,.2f}{dear} if it is wanted"

    def lost(self, short: Array, need: Array) -> Array:
        """Money lost where `short` of a `need` is missing, both [path]."""
        money = self.losses[0][1] * short
        for (share, less), (_, more) in itertools.pairwise(self.losses):
            money = money + (more - less) * np.maximum(short - share * need, 0.0)
        return money

    def rate(self, held: Array, need: Array) -> Array:
        """Money that a little more than each amount held saves, mean over paths of a need.

        held : [amount], none and then each need; need : [path], in order
        """
        reached, before = self.losses[0]
        saved: Array = before * (1.0 - np.arange(held.size) / need.size)
        for share, money in self.losses[1:]:
            saved += (money - before) * (1.0 - _share_below(need * (1.0 - reached), held))
            reached, before = share, money
        return saved


@dataclass(frozen=True, slots=True)
class Pieces:
    """How a thing comes.

    size : what comes at once, 0: any amount; is_whole : and nothing in between; least : that comes at all
    """

    size: float = 0.0
    is_whole: bool = False
    least: float = 0.0


@dataclass(frozen=True, slots=True)
class Held:
    """What is decided of items.

    amounts : [item, day], what is there anew; rest : [item, day, path], the need it does not meet; enough :
    [item, day], share of the paths for which nothing is missing until the next chance
    """

    amounts: Array
    rest: Array
    enough: Array


@dataclass(frozen=True, slots=True)
class Room:
    """What of one item can be there anew.

    most : [day], on each day; free : [day], with what came in the `span` days before it; None: any
    """

    most: Array
    free: Array | None = None
    span: int = 0

    def limit(self, amounts: Array, day: int) -> float:
        """The most of a day beside what is decided for days before it; amounts : [day]."""
        if self.free is None:
            return float(self.most[day])
        others = float(amounts[max(0, day - self.span + 1) : day].sum())
        return max(0.0, min(float(self.most[day]), float(self.free[day]) - others))


def held(
    need: Array,
    chances: Sequence[int],
    last: Days,
    stakes: Sequence[Stake],
    pieces: Sequence[Pieces],
    room: Room | None = None,
    first: float | None = None,
) -> Held:
    """What to have anew on each chance, for what each path needs, of items that share their days.

    Parameters
    ----------
    need : [item, day, path], item's unit
    chances : day indices on which more can be there, in order; the last one only ends the stretch decided
    last : [day], last day index on which what is there anew on a day may be used
    stakes, pieces : [item]
    room : most that can be there anew of a single item; None: no limit
    first : what is there anew of it on the first chance on which anything is wanted, decided elsewhere
    """
    n_items, n_days, n_paths = need.shape
    rest, amounts, enough = need.copy(), np.zeros((n_items, n_days)), np.ones((n_items, n_days))
    for at, (day, following) in enumerate(itertools.pairwise(chances)):
        end = int(last[day]) + 1
        until = min(following, end)
        now = rest[:, day:until].sum(axis=1)
        asked = np.flatnonzero(now.max(axis=1, initial=0.0) > EPS)
        if not asked.size:
            continue
        now = now if asked.size == n_items else now[asked]
        amount = np.full(asked.size, first or 0.0)
        if first is None:
            total = np.full((1, 1), np.inf) if end > n_days else now + rest[:, until:end].sum(axis=1)[asked]
            some = asked.tolist()
            theirs = [stakes[n] for n in some], [pieces[n] for n in some]
            amount = worth_holding(now, total, *theirs, following - day)
            for k, n in enumerate(some):
                size = 0.0 if amount[k] else pieces[n].size or pieces[n].least
                if size and _pays_over_its_life(rest[n], chances[at:], last, stakes[n], size):
                    amount[k] = size
        first = None
        if room is not None and (limit := room.limit(amounts[0], day)) < amount[0]:
            amount[0] = _within(limit, pieces[0])
        amounts[asked, day] = amount
        draw_off(rest[:, day:end], amounts[:, day, None])
        enough[asked, day:following] = (
            np.count_nonzero(now <= amount[:, None] + EPS, axis=1)[:, None] / n_paths
        )
    return Held(amounts, rest, enough)


def _within(limit: float, pieces: Pieces) -> float:
    """The most of a thing that a limit lets come."""
    most = np.floor(limit / pieces.size + EPS) * pieces.size if pieces.is_whole else limit
    return float(most) if most >= pieces.least * (1 - EPS) else 0.0


def worth_holding(
    now: Array, total: Array, stakes: Sequence[Stake], pieces: Sequence[Pieces], days: int
) -> Array:
    """The amount of each item beyond which one more piece no longer pays, [item].

    now, total : [item, path], what is wanted before the next chance, and over the whole life, infinite where
    it lives beyond the days looked at; days : to the chance
    """
    total = np.broadcast_to(total, now.shape)
    in_order = np.sort(now, axis=1)
    spoils = total.min(axis=1) <= in_order[:, -1] + EPS
    amounts = np.zeros((now.shape[0], now.shape[1] + 1))
    amounts[:, 1:] = in_order
    gain, spoilt = np.zeros_like(amounts), np.zeros_like(amounts)
    for n, stake in enumerate(stakes):
        if pieces[n].is_whole:
            continue
        gain[n] = stake.share * stake.rate(amounts[n], in_order[n])
        if spoils[n]:
            spoilt[n] = _share_below(np.sort(total[n]), amounts[n])
    cost, a_day = np.array([[stake.cost, stake.a_day * days] for stake in stakes]).T[..., None]
    met = np.arange(amounts.shape[1]) / now.shape[1]
    gain = gain - cost * spoilt - a_day * (met - spoilt)
    found: Array = amounts[np.arange(len(stakes)), np.argmax(gain <= 0.0, axis=1)]
    for n, piece in enumerate(pieces):
        if piece.size or 0.0 < found[n] < piece.least:
            found[n] = _in_pieces(now[n], total[n], stakes[n], piece, float(found[n]), days)
    return found


def _share_below(values: Array, amounts: Array) -> Array:
    """Share of the values, [path], in order, that are no more than each amount, [amount]."""
    share: Array = values.searchsorted(amounts + EPS) / values.size
    return share


def _in_pieces(now: Array, total: Array, stake: Stake, pieces: Pieces, amount: float, days: int) -> float:
    """What pays where it comes in pieces, or all of the least or nothing.

    now, total : as in `worth_holding`, [path]; amount : what would pay of any size
    """
    most = float(now.max()) if pieces.is_whole else amount

    def pays(n: int) -> bool:
        return _gain(now, total, stake, n * pieces.size, pieces.size, days) > 0.0

    if pieces.size:  # each piece brings less than the one before it, and mostly all of them pay
        n_most = int(np.ceil(most / pieces.size - EPS))
        if n_most and not pays(n_most - 1):
            n_most = bisect.bisect_left(range(n_most - 1), True, key=lambda n: not pays(n))
        if pieces.is_whole:
            return n_most * pieces.size
        amount = min(amount, n_most * pieces.size)
    if 0.0 < amount < pieces.least:
        return pieces.least if _gain(now, total, stake, 0.0, pieces.least, days) > 0.0 else 0.0
    return amount


def _gain(now: Array, total: Array, stake: Stake, have: float, size: float, days: int) -> float:
    """Money that one more piece brings, mean over paths. now, total : as in `worth_holding`, [path]."""
    short = np.maximum(now - have, 0.0)
    less = np.maximum(short - size, 0.0)
    saved = stake.lost(short, now) - stake.lost(less, now)
    thrown = size - np.clip(total - have, 0.0, size)
    kept = size - (short - less) - thrown
    return float((saved - stake.cost * thrown - stake.a_day * days * kept).mean())


def _pays_over_its_life(rest: Array, chances: Sequence[int], last: Days, stake: Stake, size: float) -> bool:
    """Whether a first piece that does not pay by what is missed before the next chance is worth having.

    rest : [day, path].

    For all that is eaten of it, where waiting for the next chance would not pay by itself either.
    """
    day, following = chances[0], chances[1]
    if last[day] < following:
        return False
    if not _first_gain(rest, day, int(last[day]) + 1, last, stake, size, following - day) > 0.0:
        return False
    if len(chances) < 3:
        return True
    after = chances[2]
    return not _first_gain(rest, following, after, last, stake, size, after - following) > 0.0


def _first_gain(rest: Array, day: int, until: int, last: Days, stake: Stake, size: float, days: int) -> float:
    """Money that a first piece brings if bought on `day`, mean over paths; rest : [day, path]."""
    end = int(last[day]) + 1
    now = rest[day : min(until, end)].sum(axis=0)
    total = rest[day:end].sum(axis=0) if end <= rest.shape[0] else np.full(now.shape, np.inf)
    return _gain(now, total, stake, 0.0, size, days)
