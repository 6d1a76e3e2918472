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
from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from ordering.amounts import EPS, plural
from ordering.net.problem import Problem
from ordering.net.shelf_life import Days, draw_off
from ordering.records.costs import portion_costs, portion_losses, unit_costs, unpriced
from ordering.records.plan import Array

KEPT_A_DAY = 0.05  # of what a thing costs, a day in the house: money bound, room, what goes missing; measured
UNPRICED_LOSS = 19.0  # times its cost: what no dish with a price needs is held 95 times in 100 if it spoils
# A whole batch is begun for what the one before leaves unmet. When its parts are short it is begun with the
# next delivery, and only what would have been eaten of it by then is lost: anything between none and all.
EATEN_OF_LAST = 0.5


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
        """Money lost for a unit missed, mean over those who need it."""
        shares, money = np.array(self.losses).T
        return float(np.diff(shares, prepend=0.0) @ money)

    def why(self, keeps: int | None) -> str:
        """What is weighed, in the house's money."""
        spoils = ""
        if keeps is not None:
            spoils = f" costs {self.cost:,.2f} if it spoils (keeps {plural(keeps, 'day')}) and"
        least, most = self.losses[0][1], self.losses[-1][1]
        saves = f"{least:,.2f}" if len(self.losses) == 1 else f"{least:,.2f} to {most:,.2f}"
        return f"one more{spoils} saves {saves} if it is wanted"

    def lost(self, short: Array, need: Array) -> Array:
        """Money lost where `short` of a `need` is missing, both [path]."""
        shares, money = np.array(self.losses).T
        lost: Array = money[0] * short
        if money.size > 1:
            lost += np.diff(money) @ np.maximum(short - shares[:-1, None] * need, 0.0)
        return lost

    def rate(self, held: Array, need: Array) -> Array:
        """Money that a little more than each amount held saves, mean over paths of a need.

        held : [amount], none and then each need; need : [path], in order
        """
        shares, money = np.array(self.losses).T
        saved: Array = money[0] * (1.0 - np.arange(held.size) / need.size)
        if money.size > 1:
            enough = need.searchsorted(held / (1.0 - shares[:-1, None]) + EPS) / need.size  # share of paths
            saved += np.diff(money) @ (1.0 - enough)
        return saved


@dataclass(frozen=True, slots=True)
class Worth:
    """What too few or too many of each item costs.

    cost : by item, money a unit, of what has a price; stakes : by item; unpriced : items whose cost is not or
    not wholly known; portions : by dish with a price, money lost when a portion is missing; takes : by item
    and dish with a price, units of it in a portion
    """

    cost: Mapping[str, float]
    stakes: Mapping[str, Stake]
    unpriced: frozenset[str]
    portions: Mapping[str, float]
    takes: Mapping[str, Mapping[str, float]]


def worth(problem: Problem) -> Worth:
    """Cost of every item on the day of the run, and what a missed portion loses carried down to its parts.

    A part that several dishes share runs out for those first whose missing costs least for each unit of it.
    What goes off together is wanted together: one more of the fish alone serves nobody, and one more of all
    that is in a portion saves its loss once. So of what goes off a unit saves its share of the loss, by cost,
    and all parts of a portion are as likely to be enough as the portion pays for. What keeps may wait for
    them. Of what goes into whole batches a unit saves what is eaten of a batch until the next.
    """
    house, on = problem.house, problem.forecast.days[0]
    cost = unit_costs(house, on)
    losses, costs = portion_losses(house, cost), portion_costs(house, cost)
    mean = problem.forecast.mean.sum(axis=1).tolist()
    portions = dict.fromkeys(losses, 0.0) | dict(zip(problem.forecast.dishes, mean, strict=True))
    some = {dish: max(portions[dish], 1e-6) for dish in losses}  # never none, to divide by
    level = house.policy.service_level
    unpriced_loss = UNPRICED_LOSS if level is None else level / (1 - level)
    takes: dict[str, Mapping[str, float]] = {}
    batched: dict[str, float] = {}  # by item, share of it that goes into whole batches made ahead
    stakes: dict[str, Stake] = {}
    for item in problem.graph.items:
        each: dict[str, float] = defaultdict(float)
        by_batch = 0.0
        for dish in problem.graph.dishes.get(item, ()):
            if dish in losses:
                each[dish] = house.dishes[dish].portion
        for use in problem.graph.uses.get(item, ()):
            user = house.recipes[use.recipe]
            drawn = 0.0 if use.is_optional else max(0.0, use.quantity - use.returns) / user.makes
            share = 1.0 if user.is_whole and user.takes_days > 0 else batched[user.id]
            for dish, units in takes[user.id].items() if drawn > 0 else ():
                each[dish] += units * drawn
                by_batch += some[dish] * units * drawn * share
        eaten = sum(some[dish] * units for dish, units in each.items())
        takes[item], batched[item] = each, by_batch / eaten if eaten > 0 else 0.0
        saved = 1.0 - (1.0 - EATEN_OF_LAST) * batched[item]
        if problem.offsets[item] is not None and cost[item]:
            whole = sum(costs[dish] * portions[dish] for dish in each)
            saved *= min(1.0, cost[item] * eaten / whole) if whole > 0 else 1.0
        steps = _steps((losses[dish] / units, some[dish] * units) for dish, units in each.items())
        a_unit = cost[item] if each else cost[item] or 1.0
        stakes[item] = Stake(steps or ((1.0, a_unit * unpriced_loss),), a_unit, KEPT_A_DAY * a_unit, saved)
    return Worth(cost, stakes, unpriced(house, on), losses, takes)


def _steps(worth_of: Iterable[tuple[float, float]]) -> tuple[tuple[float, float], ...]:
    """(share, money a unit), cheapest first, from (money a unit, units) by dish; like worths are one step."""
    steps: list[tuple[float, float]] = []
    for money, units in sorted(worth_of):
        if steps and money <= 1.1 * steps[-1][1]:
            before, known = steps.pop()
            units, money = before + units, (before * known + units * money) / (before + units)
        steps.append((units, money))
    reached = itertools.accumulate(units for units, _ in steps)
    total = sum(units for units, _ in steps)
    return tuple((upto / total, money) for upto, (_, money) in zip(reached, steps, strict=True))


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


def held(
    need: Array,
    chances: Sequence[int],
    last: Days,
    stakes: Sequence[Stake],
    pieces: Sequence[Pieces],
    most: Callable[[Array, int], float] | None = None,
    first: float | None = None,
) -> Held:
    """What to have anew on each chance, for what each path needs, of items that share their days.

    Parameters
    ----------
    need : [item, day, path], item's unit
    chances : day indices on which more can be there, in order; the last one only ends the stretch decided
    last : [item, day], or [day] of one item, last day index on which what is there anew on a day may be used;
        those that go off soonest first, and if before the next chance, all at once
    stakes, pieces : [item]
    most : of a single item, what can be there anew on a day beside what is decided, [day]; None: any amount
    first : what is there anew of it on the first chance on which anything is wanted, decided elsewhere
    """
    n_items, n_days, n_paths = need.shape
    rest, amounts, enough = need.copy(), np.zeros((n_items, n_days)), np.ones((n_items, n_days))
    last = np.atleast_2d(last)
    ends = (last + 1).T.tolist()
    for at, (day, following) in enumerate(itertools.pairwise(chances)):
        until = min(following, ends[day][0])
        now = rest[:, day:until].sum(axis=1)
        asked = np.flatnonzero(now.max(axis=1, initial=0.0) > EPS)
        if not asked.size:
            continue
        total = np.full_like(now, np.inf)
        for end in {end for end in ends[day] if end <= n_days}:
            alike = slice(bisect.bisect_left(ends[day], end), bisect.bisect_right(ends[day], end))
            total[alike] = now[alike] + rest[alike, until:end].sum(axis=1)
        now, total = now[asked], total[asked]
        amount = np.full(asked.size, first or 0.0)
        if first is None:
            some = asked.tolist()
            theirs = [stakes[n] for n in some], [pieces[n] for n in some]
            amount = worth_holding(now, total, *theirs, following - day)
            for k, n in enumerate(some):
                size = 0.0 if amount[k] else pieces[n].size or pieces[n].least
                if size and _pays_over_its_life(rest[n], chances[at:], last[n], stakes[n], size):
                    amount[k] = size
        first = None
        if most is not None:
            amount[0] = min(amount[0], most(amounts[0], day))
        amounts[asked, day] = amount
        draw_off(rest[:, day:], amounts[:, day, None], [end - day for end in ends[day]])
        is_met = np.count_nonzero(now <= amount[:, None] + EPS, axis=1)
        enough[asked, day:following] = is_met[:, None] / n_paths
    return Held(amounts, rest, enough)


def worth_holding(
    now: Array, total: Array, stakes: Sequence[Stake], pieces: Sequence[Pieces], days: int
) -> Array:
    """The amount of each item beyond which one more piece no longer pays, [item].

    now, total : [item, path], what is wanted before the next chance, and over the whole life, infinite where
    it lives beyond the days looked at; days : to the chance
    """
    found = np.zeros(len(stakes))
    if not all(piece.is_whole for piece in pieces):
        found = _of_any_size(now, total, stakes, days)
    for n, piece in enumerate(pieces):
        if piece.size or 0.0 < found[n] < piece.least:
            found[n] = _in_pieces(now[n], total[n], stakes[n], piece, float(found[n]), days)
    return found


def _of_any_size(now: Array, total: Array, stakes: Sequence[Stake], days: int) -> Array:
    """What pays of each item where any amount can be had, [item]. now, total : [item, path]."""
    amounts = np.zeros((now.shape[0], now.shape[1] + 1))
    amounts[:, 1:] = np.sort(now, axis=1)
    spoils = total.min(axis=1) <= amounts[:, -1] + EPS
    gain, spoilt = np.empty_like(amounts), np.zeros_like(amounts)
    for n, stake in enumerate(stakes):
        gain[n] = stake.share * stake.rate(amounts[n], amounts[n, 1:])
        if spoils[n]:
            spoilt[n] = np.sort(total[n]).searchsorted(amounts[n] + EPS) / total.shape[1]
    cost, a_day = np.array([[stake.cost, stake.a_day * days] for stake in stakes]).T[..., None]
    met = np.arange(amounts.shape[1]) / now.shape[1]
    gain -= cost * spoilt + a_day * (met - spoilt)
    return np.asarray(amounts[np.arange(len(stakes)), np.argmax(gain <= 0.0, axis=1)])


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
    thrown = size - np.minimum(np.maximum(total - have, 0.0), size)
    kept = size - (short - less) - thrown
    gain = saved - stake.cost * thrown - stake.a_day * days * kept
    return float(gain.sum()) / gain.size


def _pays_over_its_life(rest: Array, chances: Sequence[int], last: Days, stake: Stake, size: float) -> bool:
    """Whether a first piece that does not pay by what is missed before the next chance is worth having.

    For all that is eaten of it, where waiting for a later chance would not pay by itself. rest : [day, path]
    """
    end = int(last[chances[0]]) + 1

    def gain(day: int, until: int, days: int) -> float:
        over = int(last[day]) + 1
        now, total = rest[day : min(until, over)].sum(axis=0), rest[day:over].sum(axis=0)
        return _gain(now, total if over <= len(rest) else np.full(now.shape, np.inf), stake, 0.0, size, days)

    waits = [(day, following) for day, following in itertools.pairwise(chances[1:]) if day < end]
    is_worth_it = chances[1] < end and gain(chances[0], end, chances[1] - chances[0]) > 0.0
    return is_worth_it and not any(gain(day, following, following - day) > 0.0 for day, following in waits)
