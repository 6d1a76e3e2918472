"""One recipe: what is started before the next run, the same on every path, and what each path makes after it.

What is decided is drawn from its parts on every path: what is listed is what is drawn is what is planned.
After the days decided each path goes on with what it needs itself, and with the margin that the decision has
built.

What is made for the same service can be made again while the service runs, so no margin is built of it: as
much is listed as is likelier to be wanted than not, and a path that needs more makes more.

A par is what lies ready and in date at the end of each day, after its draws, on every path from the first day
on which a batch can be ready, as far as whole batches, `largest`, keeping time and open days allow. Guests
come before it: short is what they do not get. It waits for what goes into it: on days for which something
below would be short by it alone it is not kept, and where it could not be kept at all, that is said.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ordering.amounts import EPS
from ordering.net.batches import Making, batches, gather, is_tight, limited, rolled, whole_batches
from ordering.net.problem import Problem
from ordering.net.safety_stock import Pieces, Stake, held, worth_holding
from ordering.net.shelf_life import Days, Drawn, Lots, draw, draw_off, left_over, median
from ordering.net.start_days import later, sooner
from ordering.records.plan import Array


@dataclass(frozen=True, slots=True)
class Made:
    """One recipe as planned.

    starts : batches by start day, [day, path]; decided : those of the days decided, the same on every path,
    [day]; short, expired, thrown : [day], means: what is missing of its draws, what goes past its date, and
    what of that was planned; left : lots likely left over; terms : how it may be made; enough : share of the
    paths for which what is decided is enough
    """

    starts: Array
    decided: Array
    short: Array
    expired: Array
    thrown: Array
    left: Lots
    terms: Making
    enough: float


def plan_recipe(problem: Problem, stake: Stake, item: str, drawn: Drawn, terms: Making) -> tuple[Made, Array]:
    """One recipe planned for what parcels do not give of it, and what no start can meet of that.

    What no start can meet: [day, path].
    """
    recipe = problem.house.recipes[item]
    wanted, shortage = _wanted(problem, item, drawn, terms)
    until = min(problem.decided_days + terms.first_ready, problem.n_days)
    if not is_listed(problem, item) or not wanted.any():
        amounts, others, enough = np.zeros(problem.n_days), _own(wanted, terms), 1.0
    elif recipe.takes_days or terms.par:
        amounts, others, enough = _ahead(drawn, wanted, terms, stake, until)
    else:
        amounts, others, enough = _same_day(wanted, terms, until)
    decided = amounts / terms.makes
    if item in problem.limits:
        decided = terms.at_least(np.minimum(decided, later(problem.limits[item], terms.first_ready)))
    ready = decided[:, None] + others
    short, thrown = shortage, np.zeros(problem.n_days)
    if not terms.is_to_measure or decided.any() or item in problem.limits:
        # else each path makes what it needs and has nothing over
        short, thrown = rolled(ready * terms.makes, drawn.unmet, terms.last)
    made = Made(
        starts=_with_early(problem, item, sooner(ready, recipe.takes_days)),
        decided=_with_early(problem, item, sooner(decided, recipe.takes_days)),
        short=np.where((mean := short.mean(axis=1)) < EPS, 0.0, mean),
        expired=drawn.expired + thrown,
        thrown=thrown + _planned_left(drawn),
        left=left_over(drawn.taken, problem.n_days),
        terms=terms,
        enough=enough,
    )
    return made, shortage


def _planned_left(drawn: Drawn) -> Array:
    """What is left of planned batches that are parcels here, [day], mean, on the day after its last."""
    left = np.zeros(drawn.gross.shape[0])
    for taken in drawn.taken:
        if taken.parcel.kind in ("early", "rest") and taken.parcel.last + 1 < left.size:
            left[taken.parcel.last + 1] += taken.left.mean()
    return left


def _wanted(problem: Problem, item: str, drawn: Drawn, terms: Making) -> tuple[Array, Array]:
    """What each path wants of a recipe by the day it is to be ready, in its unit, and what no start can meet.

    Both [day, path]. Where the limit of a day binds, or a par is to be kept, it is what the path makes, held
    ahead where it keeps. What the parts that can be there are not enough for is short, on that day.
    """
    net, lost = drawn.unmet, np.zeros_like(drawn.unmet)
    limit = problem.limits.get(item)
    if limit is not None:
        room = np.broadcast_to(later(limit, terms.first_ready)[:, None], net.shape).copy()
        room[: terms.first_ready] = 0.0
        _, lost = limited(net, terms, room)
        lost[: terms.first_ready] = 0.0
        net = net - lost
    if terms.par or is_tight(net, terms):
        made, shortage = batches(net, terms, for_par(drawn, terms))
        return made * terms.makes, shortage + lost
    shortage = lost
    shortage[: terms.first_ready] = net[: terms.first_ready]
    wanted = gather(net, terms.on).copy()
    wanted[: terms.first_ready] = 0.0
    return wanted, shortage


def for_par(drawn: Drawn, terms: Making) -> Array | None:
    """What is to lie ready of batches every evening beside parcels, [day, path]; None: there is no par."""
    if not terms.par:
        return None
    lying = np.maximum(terms.par - drawn.lying(), 0.0)
    lying[: terms.first_ready] = 0.0
    if terms.par_off is not None:
        lying[terms.par_off] = 0.0
    return lying


def _own(wanted: Array, terms: Making) -> Array:
    """Batches by ready day that each path makes for itself, [day, path]."""
    if not terms.is_rounded:
        return wanted / terms.makes
    return whole_batches(wanted, terms, is_gathered=True)


def _ahead(
    drawn: Drawn, wanted: Array, terms: Making, stake: Stake, until: int
) -> tuple[Array, Array, float]:
    """What is decided of a recipe, by ready day below `until`, and what each path makes after that.

    wanted and what each path makes: [day, path].

    A path goes on with what stock and the decision left it, and makes what it needs beyond. The margin
    against the spread is held on: what a path has used up of it is made anew, as the next runs will. Of
    whole batches what is over of the last one is margin enough.
    """
    chances = _chances(terms, until, wanted.shape[0])
    room = terms.room()

    def most(amounts: Array, day: int) -> float:
        """The most of a day beside what is decided, [day]."""
        return float(terms.limit(amounts / terms.makes, day, room[day])) * terms.makes

    one = held(wanted[None], chances, terms.last, [stake], [pieces_of(terms)], most)
    others = np.zeros_like(wanted)
    if until < wanted.shape[0] and len(chances) > 1:
        need = others[until:]
        need += wanted[until:]
        if not terms.par:  # what lies ready for a par is not there to be drawn sooner
            need += gather(_given(drawn, until), terms.on)[until:]
        left = (need - one.rest[0, until:]).sum(axis=0)
        if not terms.is_rounded:
            margin = _margin(drawn.gross, chances[-2:], terms.last, stake)
            if one.amounts.any():  # else stock is enough, and the next runs begin nothing for a margin either
                need[0] += min(max(margin, 0.0), float(left.mean()))
            left += max(-margin, 0.0)  # less is held than is wanted on the mean
        draw_off(need, left)
    enough = float(one.enough[0, terms.first_ready : until].min(initial=1.0))
    return one.amounts[0], _own(others, terms), enough


def _given(drawn: Drawn, until: int) -> Array:
    """What of the stock there is before a day is drawn from that day on, [day, path]."""
    old = [one.parcel for one in drawn.taken if one.parcel.first < until <= one.parcel.last]
    given = np.zeros_like(drawn.gross)
    if old:
        given[until:] = (drawn.gross - draw(old, drawn.gross).unmet)[until:]
    return given


def _margin(gross: Array, chance: list[int], last: Days, stake: Stake) -> float:
    """What is held beyond the mean of all that is drawn from today to the end of what a chance must serve.

    gross : [day, path].
    """
    day, following = chance
    now = gross[:following].sum(axis=0)
    total = np.full_like(now, np.inf)
    if last[day] < gross.shape[0]:
        total = gross[: int(last[day]) + 1].sum(axis=0)
    worth = worth_holding(now[None], total[None], [stake], [Pieces()], following - day)
    return float(worth[0] - now.mean())


def _same_day(wanted: Array, terms: Making, until: int) -> tuple[Array, Array, float]:
    """What is listed of a recipe made for the service itself, as likely to be wanted as not.

    And what each path makes beyond it, [day, path].
    """
    rest, amounts, room = wanted.copy(), np.zeros(wanted.shape[0]), terms.room() * terms.makes
    for day in _chances(terms, until, wanted.shape[0])[:-1]:
        amount = median(rest[day])
        amount = float(terms.made_up(np.array([amount / terms.makes]))[0]) * terms.makes
        amounts[day] = min(amount, room[day])
        draw_off(rest[day : int(terms.last[day]) + 1], amounts[day])
    return amounts, _own(rest, terms), 1.0


def _chances(terms: Making, until: int, n_days: int) -> list[int]:
    """Ready days below `until` on which a batch can be made, and the first one after."""
    can = [t for t, room in enumerate(terms.room().tolist()) if room > 0.0 and t >= terms.first_ready]
    return [*(t for t in can if t < until), next((t for t in can if t >= until), n_days)]


def pieces_of(terms: Making) -> Pieces:
    """How batches come."""
    if terms.is_whole:
        return Pieces(terms.makes * terms.step, is_whole=True, least=terms.makes * terms.least)
    return Pieces(least=terms.makes * terms.least)


def made_later(problem: Problem, item: str, starts: Array) -> Array:
    """What starts make of a recipe, by ready day, without what was begun sooner, which parcels have.

    starts and what they make : [day, path], batches and the recipe's unit
    """
    recipe = problem.house.recipes[item]
    return later(_with_early(problem, item, starts, -1.0), recipe.takes_days) * recipe.makes


def _with_early(problem: Problem, item: str, own: Array, times: float = 1.0) -> Array:
    """Batches by start day, [day] or [day, path], with so many times those begun sooner, never below none."""
    begun = [one for one in problem.early.get(item, ()) if one.day < own.shape[0]]
    started = own.copy() if begun else own
    for one in begun:
        started[one.day] = np.maximum(started[one.day] + times * one.batches, 0.0)
    return started


def is_listed(problem: Problem, item: str) -> bool:
    """Whether the start of a recipe is written on a list.

    It takes a day, comes in whole batches, has a par, keeps, or goes into other recipes. A plate does none of
    these.
    """
    recipe, keeps = problem.house.recipes[item], problem.offsets[item]
    if recipe.takes_days or recipe.is_whole or recipe.smallest or recipe.par or problem.graph.uses.get(item):
        return True
    return keeps is not None and keeps > 0
