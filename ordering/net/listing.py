"""The starts as a list for the kitchen: what to put up, when, how much."""

from __future__ import annotations

from datetime import timedelta

from ordering.net.flows import Decision
from ordering.net.frame import Frame
from ordering.records.house import Recipe
from ordering.records.plan import Start

DAYS_SHOWN_AFTER = 7  # starts of the week after the next run are shown as planned


def listed_starts(frame: Frame, decision: Decision) -> tuple[Start, ...]:
    """Starts in order of day and recipe.

    Those before the next run are decided; a week more is listed as planned, for stages that take a
    day or more. What is made for the same service is listed when it is made in whole batches, keeps
    to the next day, or goes into other recipes; a plate is not.
    """
    listed: list[Start] = []
    first = frame.forecast.days[0]
    for item, decided in decision.decided.items():
        recipe = frame.house.recipes[item]
        if not _is_listed(frame, recipe):
            continue
        shown = frame.decided_days + (DAYS_SHOWN_AFTER if recipe.takes_days else 0)
        for day, batches in enumerate(decided[:shown].tolist()):
            if batches * recipe.makes < 1e-6:
                continue
            on = first + timedelta(days=day)
            listed.append(
                Start(
                    start_on=on,
                    recipe=item,
                    batches=batches,
                    quantity=batches * recipe.makes,
                    unit=recipe.unit,
                    ready_on=on + timedelta(days=recipe.takes_days),
                    hazards=recipe.hazards,
                )
            )
    return tuple(sorted(listed, key=lambda s: (s.start_on, s.recipe)))


def _is_listed(frame: Frame, recipe: Recipe) -> bool:
    keeps = frame.offsets[recipe.id]
    if recipe.takes_days or recipe.is_whole or frame.graph.uses.get(recipe.id):
        return True
    return keeps is not None and keeps > 0
