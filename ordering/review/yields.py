"""Yields learnt from batches, offered as a change to the configuration and never applied."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date

from ordering.amounts import percent
from ordering.records.books import Batch
from ordering.records.house import House
from ordering.records.money import cents
from ordering.records.review_results import LearntYield

PRIOR_BATCHES = 5
LEAST_BATCHES = 3
WORTH_SAYING = 0.03


def learnt_yields(
    house: House, batches: Iterable[Batch], costs: Mapping[str, float], span: tuple[date, date]
) -> tuple[LearntYield, ...]:
    """What each recipe's batches gave per unit of main ingredient, the costliest difference first.

    Seen is the ratio of totals, made over drawn: what purchasing needs, since a mean of ratios is not a ratio
    of totals. Learnt is (n seen + k figure) / (n + k), as if k = 5 earlier batches had given the figure
    (common practice, no source). It is offered from three batches on, when it is 3 % off.
    The money is that of the batches within `span`, at the recipe's unit cost.
    """
    by_recipe: dict[str, list[Batch]] = {}
    for batch in batches:
        if batch.drawn > 0 and batch.recipe in house.recipes and house.recipes[batch.recipe].lines:
            by_recipe.setdefault(batch.recipe, []).append(batch)
    found = [_learnt(house, recipe, made, costs, span) for recipe, made in by_recipe.items()]
    return tuple(sorted(found, key=lambda y: (not y.is_offered, -y.money, y.recipe)))


def _learnt(
    house: House, recipe_id: str, batches: list[Batch], costs: Mapping[str, float], span: tuple[date, date]
) -> LearntYield:
    recipe = house.recipes[recipe_id]
    main = recipe.lines[0].drawn
    figure = recipe.makes / main
    seen = sum(b.made for b in batches) / sum(b.drawn for b in batches)
    n = len(batches)
    learnt = (n * seen + PRIOR_BATCHES * figure) / (n + PRIOR_BATCHES)
    lost = sum(b.drawn * figure - b.made for b in batches if span[0] <= b.started_on <= span[1])
    return LearntYield(
        recipe=recipe_id,
        n=n,
        figure=figure,
        seen=seen,
        learnt=learnt,
        makes=recipe.makes,
        better=round(learnt * main, 3),
        unit=recipe.unit,
        money=cents(lost * costs.get(recipe_id, 0.0)),
        is_offered=n >= LEAST_BATCHES and abs(learnt / figure - 1) >= WORTH_SAYING,
    )


def yield_told(house: House, learnt: LearntYield) -> str:
    """The offer in words, with the line to write."""
    recipe = house.recipes[learnt.recipe]
    share = learnt.seen / learnt.figure - 1
    off = f"{percent(abs(share), 1)} {'more' if share > 0 else 'less'}"
    return (
        f"{recipe.name}: {learnt.n} batches gave {off} than the recipe says; "
        f"in recipes.yaml, {learnt.recipe}, 'makes: {learnt.better:g} {learnt.unit}' would fit better than "
        f"{learnt.makes:g} {learnt.unit}"
    )
