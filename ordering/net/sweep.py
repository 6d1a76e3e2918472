"""One sweep down the recipe graph: gross requirement, stock, what is started, and the flows it comes to.

Every recipe is planned in turn (`net/recipe_plan.py`), and its starts are what its parts are asked for. What
the house has or has coming is drawn first, first expired first out; what is yet to be started is planned for
the rest, and its leftovers are drawn before the next batch is begun.
"""

from __future__ import annotations

import functools
from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from ordering.amounts import EPS
from ordering.net.batches import Making
from ordering.net.bought import requirements
from ordering.net.date_marks import comes_back, for_marked, marked_draws, oldest_drawn
from ordering.net.problem import Problem, draws_begun, gross_of, parcels_of, terms_of
from ordering.net.recipe_plan import Made, made_later, plan_recipe
from ordering.net.safety_stock import Stake, Worth
from ordering.net.shelf_life import Days, Lots, Parcel, cohorts, draw, left_over
from ordering.net.start_days import sooner
from ordering.records.buying import Delivery
from ordering.records.plan import CONSUMABLES, Array, ItemFlow, Requirement

# By item, earliest last day index drawn on a day, [2, day]: of all that is drawn, where what comes back keeps
# its date; and of what date-marked recipes draw of it, whose date they keep.
Dates = Mapping[str, Days]


@dataclass(slots=True)
class Sweep:
    """What a sweep leaves behind.

    dates : those it was made with; starts : by recipe, batches by start day, [day, path]; made : by recipe;
    shortages : by item, what of its draws nothing can meet (bought too late, no time, no room), [day, path];
    oldest : those that are drawn
    """

    dates: Dates
    starts: dict[str, Array] = field(default_factory=dict)
    made: dict[str, Made] = field(default_factory=dict)
    shortages: dict[str, Array] = field(default_factory=dict)
    oldest: dict[str, Days] = field(default_factory=dict)


def sweep(
    problem: Problem,
    stakes: Mapping[str, Stake],
    before: tuple[Sweep, Collection[str]] | None = None,
) -> Sweep:
    """Every item once; what keeps the date of its parts again until the dates planned with are those drawn.

    before : an earlier sweep, and the recipes of which something changed since; the rest is taken from it
    """
    found = _swept(problem, stakes, {} if before is None else before[0].oldest, before)
    dates: Dates = found.oldest
    while any(not _is_same(found.dates.get(part), oldest) for part, oldest in dates.items()):
        found = _swept(problem, stakes, dates, (found, ()))
        # Only ever earlier, so that there is an end to it: a date may be planned too early, never too late.
        dates = {part: np.minimum(dates[part], oldest) for part, oldest in found.oldest.items()}
    return found


def _swept(
    problem: Problem,
    stakes: Mapping[str, Stake],
    oldest: Dates,
    before: tuple[Sweep, Collection[str]] | None,
) -> Sweep:
    """One sweep with given dates."""
    found = Sweep(oldest)
    touched = set(problem.graph.items)
    if before is not None:
        touched = {*before[1], *_redated(problem, before[0], oldest)}
    for item in problem.graph.items:
        if item in touched:
            _plan(problem, stakes[item], found, item)
        elif before is not None:
            _keep(found, before[0], item)
        if item in found.made:
            found.starts[item] = found.made[item].starts
            if before is not None and not _is_same(found.starts[item], before[0].starts[item]):
                recipe = problem.house.recipes[item]
                touched |= {*(line.item for line in recipe.lines), *(other for other, _ in recipe.also_makes)}
    return found


def _redated(problem: Problem, before: Sweep, dates: Dates) -> set[str]:
    """Parts that are drawn of other dates than in an earlier sweep, and the recipes that draw them."""
    moved = {part for part, oldest in dates.items() if not _is_same(before.dates.get(part), oldest)}
    return moved | {use.recipe for part in moved for use in problem.graph.uses.get(part, ())}


def _is_same(one: Array | Days | None, other: Array | Days | None) -> bool:
    """Whether two of starts, [day, path], or of last days, [day], say the same."""
    return one is other or (one is not None and other is not None and np.array_equal(one, other))


def _plan(problem: Problem, stake: Stake, found: Sweep, item: str) -> None:
    """Plan one item; bought, only the days before a purchase can be there, unless others keep its date."""
    is_made = item in problem.house.recipes
    is_dated = item in problem.dated or comes_back(problem, item)
    until = None if is_made or is_dated else problem.arrival.get(item)
    gross = gross_of(problem, found.starts, item, until)
    if not (is_made or is_dated or gross.any()):
        return
    parcels = parcels_of(problem, found.starts, item, found.dates.get(item))
    terms, made = None, list[Parcel]()
    if not is_made:  # what is drawn before a purchase can be there
        shortage = np.zeros((problem.n_days, problem.n_paths))
        unmet = draw(parcels, gross).unmet
        shortage[: problem.arrival.get(item)] = unmet[: problem.arrival.get(item)]
    else:
        terms = terms_of(problem, item, found.dates)
        found.made[item], shortage = _made(problem, stake, found, item, terms, parcels, gross)
        made = cohorts(made_later(problem, item, found.made[item].starts), terms.last) if is_dated else []
    if is_dated:
        found.oldest[item] = oldest_drawn(
            problem, found.starts, item, terms, [*parcels, *made], gross, problem.decided_days
        )
    if shortage.max(initial=0.0) > EPS:
        found.shortages[item] = np.where(shortage < EPS, 0.0, shortage)


def _made(
    problem: Problem,
    stake: Stake,
    found: Sweep,
    item: str,
    terms: Making,
    parcels: list[Parcel],
    gross: Array,
) -> tuple[Made, Array]:
    """One recipe, with what is made of it for those that keep its date; and what nothing can meet of it.

    gross, and what nothing can meet : [day, path]
    """
    if item not in problem.together:
        return plan_recipe(problem, stake, item, draw(parcels, gross), terms)
    apart = for_marked(problem, item, marked_draws(problem, found.starts, item), terms)
    rest = terms if terms.most is None else replace(terms, most=terms.most - float(apart.batches.max()))
    drawn = draw([*parcels, *apart.rests], gross - apart.served)
    one, shortage = plan_recipe(problem, stake, item, drawn, rest)
    begun = sooner(apart.batches, terms.first_ready)
    decided = np.where(np.arange(problem.n_days) < problem.decided_days, begun.min(axis=1), 0.0)
    return replace(one, starts=one.starts + begun, decided=one.decided + decided, terms=terms), shortage


def _keep(found: Sweep, before: Sweep, item: str) -> None:
    if item in before.made:
        found.made[item] = before.made[item]
    if item in before.shortages:
        found.shortages[item] = before.shortages[item]
    if item in before.oldest:
        found.oldest[item] = before.oldest[item]


def lots_left(problem: Problem, found: Sweep, item: str) -> Lots:
    """What a sweep leaves of the lots of an item. Of what is bought the days until the last lot tell it."""
    if item in found.made:
        return found.made[item].left
    until = 1 + max(p.last for p in problem.parcels[item] if p.last + 1 < problem.n_days)
    gross = gross_of(problem, found.starts, item, until)
    parcels = parcels_of(problem, found.starts, item, found.dates.get(item))
    return left_over(draw(parcels, gross).taken, problem.n_days)


@dataclass(frozen=True, slots=True)
class Flows:
    """What netting came to, by item.

    flows, left : the expected path, and lots that will likely be past their date before they are used up
    requirements : by bought item
    """

    flows: dict[str, ItemFlow]
    left: dict[str, Lots]
    requirements: dict[str, Requirement]


def flows_of(
    problem: Problem, found: Sweep, value: Worth, deliveries: Mapping[str, tuple[Delivery, ...]]
) -> Flows:
    """What a sweep comes to, item by item; goods that come on the same days together."""
    flows, left = dict[str, ItemFlow](), dict[str, Lots]()
    means = {item: started.mean(axis=1) for item, started in found.starts.items()}
    for item, one in found.made.items():
        made = made_later(problem, item, one.starts)
        parcels = parcels_of(problem, found.starts, item, found.dates.get(item))
        gone = one.short, one.expired, one.thrown
        flows[item], left[item] = _flow(problem, item, parcels, made.mean(axis=1), gone, means), one.left

    def need_of(item: str) -> Array:
        """What must be bought of an item, [day, path]."""
        need, flows[item], left[item] = _bought(problem, found, item, means)
        return need

    bought = [item for item in problem.graph.items if item not in found.made]
    required = requirements(problem, value, deliveries, bought, need_of, flows)
    return Flows(
        {item: flows[item] for item in problem.graph.items},
        {item: left[item] for item in problem.graph.items},
        required,
    )


@functools.cache
def _nothing(n_days: int) -> Array:
    """One row, [day], for whatever does not come or go, so that a large house has not a million of them."""
    nothing = np.zeros(n_days)
    nothing.flags.writeable = False
    return nothing


def _bought(
    problem: Problem, found: Sweep, item: str, means: Mapping[str, Array]
) -> tuple[Array, ItemFlow, Lots]:
    """What must be bought of an item, [day, path], its expected path, and lots left over."""
    parcels = parcels_of(problem, found.starts, item, found.dates.get(item))
    drawn = draw(parcels, gross_of(problem, found.starts, item))
    need, short, nothing = drawn.unmet, _nothing(problem.n_days), _nothing(problem.n_days)
    soon = need[: problem.arrival.get(item)]  # before a purchase can be there
    if soon.any():
        short = short.copy()
        short[: len(soon)] = np.where(soon < EPS, 0.0, soon).mean(axis=1)
        soon[:] = 0.0
    flow = _flow(problem, item, parcels, need.mean(axis=1), (short, drawn.expired, nothing), means)
    return need, flow, left_over(drawn.taken, problem.n_days)


def _by_parent(problem: Problem, means: Mapping[str, Array], item: str) -> dict[str, Array]:
    """Mean draw of each parent by day; only parents that draw anything. means : by recipe, [day]."""
    n_days = problem.n_days
    parents: dict[str, Array] = {}
    for dish in problem.graph.dishes.get(item, ()):
        eaten = problem.to_days @ problem.portions(dish).mean(axis=1)
        parents[f"dish:{dish}"] = eaten * problem.house.dishes[dish].portion
    for use in problem.graph.uses.get(item, ()):
        drawn = draws_begun(problem, use)
        if use.recipe in means:
            drawn[use.at_days :] += means[use.recipe][: max(0, n_days - use.at_days)] * use.quantity
        parents[use.recipe] = parents.get(use.recipe, 0.0) + drawn
    if item in problem.consumables:
        parents[CONSUMABLES] = problem.consumables[item].mean(axis=1)
    return {p: a for p, a in parents.items() if a.any()}


def _flow(
    problem: Problem,
    item: str,
    parcels: Iterable[Parcel],
    made: Array,
    gone: tuple[Array, Array, Array],
    means: Mapping[str, Array],
) -> ItemFlow:
    """The expected path of one item.

    made : what is made or bought; gone : what is missing, what goes past its date, and what of that was
    planned; means : by recipe, batches by start day. All means, [day].
    """
    came = defaultdict(lambda: _nothing(problem.n_days), _received(parcels, problem.n_days))
    parents = _by_parent(problem, means, item)
    short, expired, thrown = gone
    gross = sum(parents.values(), np.zeros(made.size))
    opening, planned = float(came["opening"].sum()), made + came["early"]
    coming = came["scheduled"] + came["in-process"] + came["by-product"]
    projected = opening + np.cumsum(coming + planned - expired - gross + short)
    projected[np.abs(projected) < EPS] = 0.0
    return ItemFlow(
        item=item,
        opening=opening,
        gross=gross,
        by_parent=parents,
        scheduled=came["scheduled"],
        in_process=came["in-process"],
        by_product=came["by-product"],
        planned=planned,
        expired=expired,
        projected=projected,
        short=short,
        thrown=thrown,
    )


def _received(parcels: Iterable[Parcel], n_days: int) -> dict[str, Array]:
    """By kind, mean over paths of what parcels bring by day, [day]; no kind of which none comes."""
    came: dict[str, Array] = defaultdict(lambda: np.zeros(n_days))
    for parcel in parcels:
        if parcel.first < n_days:
            came[parcel.kind][parcel.first] += parcel.mean
    return came
