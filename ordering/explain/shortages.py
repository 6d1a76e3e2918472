"""What cannot be served, with its cause and what can be done, in words."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import groupby

from ordering.amounts import shown
from ordering.days import format_day
from ordering.explain.content import parents, per_portion
from ordering.explain.hit import Hole, expected_portions, holes
from ordering.explain.lack import Known, Run, next_arrival
from ordering.explain.making import falls_out_of
from ordering.explain.remedies import closed_days, remedies
from ordering.explain.telling import amount, as_for, counted, days_said, lacking
from ordering.explain.trace import Trace
from ordering.records.buying import Buying, Delivery
from ordering.records.costs import portion_losses, unit_costs
from ordering.records.house import House
from ordering.records.plan import Forecast, Netting, Opening, Shortage
from ordering.texts import listed

_LONGEST_GAP = 3
_MOST_DISHES = 6
_MOSTLY = 0.8
_MARGIN_DAYS = 14


def shortages(
    house: House,
    netting: Netting,
    buying: Buying,
    forecast: Forecast,
    chances: Mapping[str, Sequence[Delivery]],
    stock: Opening | None = None,
    traced: Trace | None = None,
) -> tuple[Shortage, ...]:
    """Rows of shortages.csv: one per item and day, the earliest first, then the most portions hit.

    Each says what money and how many portions it loses: pages tell them by that.

    Holes of one item and one cause on days that follow one another are one run: its first row says
    how long it lasts and what can be done; the others point to it. A hole in the margin alone is told
    when it is less than two weeks away; until then later runs will look again. `stock`: where it knows
    an item's stock to be a guess, to count it is the first thing to do. `traced`: the trace of the netting,
    where known.
    """
    today = forecast.days[0]
    every = holes(house, netting, buying, forecast, traced)
    found = [hole for hole in every if not hole.is_margin or (hole.on - today).days < _MARGIN_DAYS]
    expected = expected_portions(forecast)
    hit = frozenset(dish for hole in found for dish, _, _ in hole.portions)
    above = parents(house)
    stock = stock or Opening()
    worth = _worth(house, today)
    rows: dict[tuple[str, date], Shortage] = {}
    for group in _runs(found):
        content = per_portion(house, group[0].item, above)
        known = Known(group[0].item not in stock.unknown, group[0].item not in stock.doubtful)
        run = Run(house, group, expected, hit, chances, content, today, known)
        rows |= {(hole.item, hole.on): row for hole, row in zip(group, _rows(run, worth), strict=True)}
    return tuple(rows[(hole.item, hole.on)] for hole in found)


def _runs(found: Sequence[Hole]) -> list[tuple[Hole, ...]]:
    """Holes of one item and cause; a gap of up to two days between them (closed days) is no break."""
    runs: list[tuple[Hole, ...]] = []
    ranked = sorted(found, key=lambda hole: (hole.item, hole.causes[0], hole.on))
    for _, group in groupby(ranked, key=lambda hole: (hole.item, hole.causes[0])):
        run: list[Hole] = []
        for hole in group:
            if run and (hole.on - run[-1].on).days > _LONGEST_GAP:
                runs.append(tuple(run))
                run = []
            run.append(hole)
        runs.append(tuple(run))
    return runs


@dataclass(frozen=True, slots=True)
class _Worth:
    """Money lost: `portions` by dish for want of one, `batches` by recipe for want of what one needs."""

    portions: Mapping[str, float]
    batches: Mapping[str, float]

    def of(self, hole: Hole) -> float:
        served = sum(self.portions.get(dish, 0.0) * n for (dish, _, _), n in hole.portions.items())
        return served + sum(self.batches.get(recipe, 0.0) for recipe in hole.under_way)


def _worth(house: House, today: date) -> _Worth:
    """A dish without a price is worth what the others are on the mean; where none has one, all are alike."""
    costs = unit_costs(house, today)
    known = portion_losses(house, costs)
    usual = sum(known.values()) / len(known) if known else 1.0
    return _Worth(
        {dish: known.get(dish, usual) for dish in house.dishes},
        {recipe.id: costs[recipe.id] * recipe.makes for recipe in house.recipes.values()},
    )


def _rows(run: Run, worth: _Worth) -> list[Shortage]:
    house, unit = run.house, run.house.unit_of(run.item)
    out = []
    for n, hole in enumerate(run.holes):
        cause = listed([_cause(run, hole, word) for word in hole.causes])
        if n == 0 and len(run.holes) > 1:
            days = days_said([hole.on, run.holes[-1].on])
            cause += f"; short on {len(run.holes)} days, {days}, {lacking(run.short, unit)} in all"
        remedy = "; ".join(remedies(run)) if n == 0 else as_for(run.first)
        what = (hole.on, hole.item, hole.short, unit, _dishes(house, hole), cause, remedy)
        out.append(Shortage(*what, hole.n_portions(), worth.of(hole), hole.is_optional))
    return out


def _dishes(house: House, hole: Hole) -> str:
    """`Braised cheek: 12 portions (Fri 27 Nov)`, the most hit first."""
    if not hole.portions and hole.under_way:
        return listed([f"{house.name_of(recipe)}, under way" for recipe in hole.under_way])
    if hole.is_optional and not hole.is_margin:
        return listed([f"{house.name_of(recipe)} can go without" for recipe in hole.users], 3)
    if not hole.portions:
        return "none expected; only the margin for a busy night" if hole.is_margin else ""
    by_dish: dict[str, dict[date, float]] = {}
    for (dish, on, _), number in hole.portions.items():
        days = by_dish.setdefault(dish, {})
        days[on] = days.get(on, 0.0) + number
    ranked = sorted(by_dish, key=lambda dish: (-sum(by_dish[dish].values()), dish))
    said_of = [_dish(house, dish, by_dish[dish]) for dish in ranked[:_MOST_DISHES]]
    if len(ranked) > _MOST_DISHES:
        rest = sum(sum(by_dish[dish].values()) for dish in ranked[_MOST_DISHES:])
        said_of.append(f"{len(ranked) - _MOST_DISHES} more dishes: {counted(rest, 'portion')}")
    return "; ".join(said_of)


def _dish(house: House, dish: str, days: Mapping[date, float]) -> str:
    name = house.dishes[dish].name if dish in house.dishes else dish
    return f"{name}: {counted(sum(days.values()), 'portion')} ({days_said(sorted(days))})"


def _cause(run: Run, hole: Hole, word: str) -> str:
    """The cause in plain words."""
    said_by = {
        "no-delivery": _no_delivery,
        "no-time": _no_time,
        "capacity": _capacity,
        "expires": _expires,
        "vendor-closed": _closed,
        "no-offer": _no_offer,
        "no-batch": _no_batch,
    }
    text = said_by[word](run, hole) if word in said_by else word
    if hole.is_margin:
        return f"{text}; enough for what is expected, not for a busy night"
    if hole.expected < _MOSTLY * hole.short:
        wanted = amount(hole.expected, run.house.unit_of(run.item))
        return f"{text}; {wanted} of it is expected to be needed, the rest is in case it is busy"
    return text


def _no_delivery(run: Run, hole: Hole) -> str:
    coming = next_arrival(run, run.item)
    if coming is None:
        return "no delivery in time: none can be ordered in the days this run looks at"
    return f"no delivery in time: the next one you can order comes on {format_day(coming.deliver_on)}"


def _no_time(run: Run, hole: Hole) -> str:
    recipe = run.house.recipes.get(run.item)
    if recipe is None:
        return "no time left: what it goes into has to be started before it can come"
    start = hole.on - timedelta(days=recipe.takes_days)
    does = "age" if "long-ageing" in recipe.hazards else "make"
    days = counted(recipe.takes_days, "day")
    if start >= run.today:
        return (
            f"no time left to {does} it: what goes into it cannot be here by "
            f"{format_day(start)}, {days} before"
        )
    return f"no time left to {does} it: it takes {days} and was due to start on {format_day(start)}"


def _capacity(run: Run, hole: Hole) -> str:
    recipe = run.house.recipes.get(run.item)
    if recipe is None or recipe.largest is None:
        return "no room: more is needed than can be made"
    return f"no room: only {shown(recipe.largest, recipe.unit)} can be started in one day"


def _expires(run: Run, hole: Hole) -> str:
    keeps = run.house.keeps_days(run.item)
    long = f"; it keeps {counted(keeps, 'day')}" if keeps is not None else ""
    return f"past its use-by on {format_day(hole.on)}{long}"


def _closed(run: Run, hole: Hole) -> str:
    vendors = {offer.vendor for offer in run.house.ingredients[run.item].offers} if _bought(run) else set()
    keeps = run.house.keeps_days(run.item)
    first = run.today if keeps is None else max(run.today, hole.on - timedelta(days=keeps))
    shut = [
        f"{run.house.vendors[vendor].name} on {listed([format_day(day) for day in days])}"
        for vendor in sorted(vendors)
        if (days := closed_days(run.house.vendors[vendor], first, hole.on))
    ]
    if not shut:
        return "the vendor is closed on its delivery day"
    early = ""
    if keeps is not None and first > run.today:
        early = f"; what comes before keeps only {counted(keeps, 'day')}"
    return f"vendor closed: {listed(shut)}{early}"


def _no_offer(run: Run, hole: Hole) -> str:
    has_any = _bought(run) and run.house.ingredients[run.item].offers
    text = "not on offer on those days" if has_any else "no vendor sells it"
    sources = [run.house.recipes[recipe].name for recipe in falls_out_of(run)]
    return f"{text}; it comes off {listed(sources, 3)}, and there is too little of it" if sources else text


def _no_batch(run: Run, hole: Hole) -> str:
    return "no earlier batch to carry over from"


def _bought(run: Run) -> bool:
    return run.item in run.house.ingredients
