"""What is offered and when the house is open: dishes, closures, parties, named events."""

from __future__ import annotations

from functools import partial

from ordering.read.draft import Draft
from ordering.read.goods import days_of
from ordering.read.shape import place_at
from ordering.read.yaml_schema import EVERY, DishIn, EventIn
from ordering.records.house import Closure, Dish, NamedEvent, Party, Place


def built_dishes(draft: Draft) -> dict[str, Dish]:
    """Dishes as records, each portion in the unit of its recipe."""
    dishes = {}
    for key, written in draft.dishes.sound.items():
        dish = _dish(draft, key, written)
        if dish is not None:
            dishes[key] = dish
    _check_like(draft)
    return dishes


def _dish(draft: Draft, key: str, written: DishIn) -> Dish | None:
    at = partial(draft.place, draft.dishes, key)
    services = draft.services or () if written.services == [EVERY] else tuple(written.services)
    for n, service in enumerate(services):
        draft.check_service(at("services", n), key, service)
    if written.from_ and written.until and written.until < written.from_:
        wrong = f"until {written.until} is before from {written.from_}"
        draft.fault(at("until"), key, ("bad-range", wrong, "swap or correct them"))
    if written.recipe in draft.ingredients.nodes and written.recipe not in draft.recipes.nodes:
        right = f"write a recipe that makes the plate from {written.recipe}"
        said = ("unknown-recipe", f"'{written.recipe}' is an ingredient, not a recipe", right)
        draft.fault(at("recipe"), key, said)
        return None
    if not draft.check_id(at("recipe"), key, written.recipe, draft.recipes):
        return None
    portion = draft.amount(at("portion"), key, written.recipe, written.portion)
    return Dish(
        id=key,
        name=written.name or key.replace("-", " "),
        recipe=written.recipe,
        portion=portion or 0.0,
        price=written.price,
        services=frozenset(services),
        from_on=written.from_,
        until_on=written.until,
        like=written.like,
        service_level=written.service_level,
        missed_cost=written.missed_cost,
    )


def _check_like(draft: Draft) -> None:
    """`like` must lead to another dish and never back to where it began."""
    sound = draft.dishes.sound
    for key, written in sound.items():
        if written.like is None:
            continue
        place = draft.place(draft.dishes, key, "like")
        draft.check_id(place, key, written.like, draft.dishes)
        seen, here = [key], written.like
        while here in sound and here not in seen:
            seen.append(here)
            here = sound[here].like or ""
        if here == key and key == min(seen):
            way = " -> ".join((*seen, key))
            said = ("like-loop", f"'like' leads back to itself: {way}", "take 'like' out of one of them")
            draft.fault(place, key, said)


def _place(draft: Draft, *loc: int | str) -> Place:
    return place_at(draft.calendar_node, loc)


def _services(draft: Draft, words: list[str], part: str, n: int) -> frozenset[str]:
    for word in words:
        draft.check_service(_place(draft, part, n, "services"), part, word)
    return frozenset(words)


def built_closures(draft: Draft) -> tuple[Closure, ...]:
    """Closures as records, in order of their first day."""
    closures = []
    for n, one in enumerate(draft.calendar.closures):
        services = _services(draft, one.services, "closures", n)
        for first, last in one.ranges():
            if last < first:
                said = ("bad-range", f"until {last} is before from {first}", "swap or correct them")
                draft.fault(_place(draft, "closures", n), "closures", said)
            closures.append(Closure(first, last, services, one.why))
    return tuple(sorted(closures, key=lambda c: (c.first_on, c.last_on, sorted(c.services), c.why)))


def built_events(draft: Draft) -> tuple[tuple[Party, ...], tuple[NamedEvent, ...]]:
    """Private parties, and events whose effect is learnt, in order of date and name."""
    parties: list[Party] = []
    events: list[NamedEvent] = []
    for n, one in enumerate(draft.calendar.events):
        party = _party(draft, n, one)
        if party is not None:
            parties.append(party)
        else:
            services = _services(draft, one.services, "events", n)
            events.append(NamedEvent(one.name, tuple(sorted(days_of(one.dates))), services))
    return (
        tuple(sorted(parties, key=lambda p: (p.date, p.service, p.name))),
        tuple(sorted(events, key=lambda e: (e.dates[:1], e.name))),
    )


def _party(draft: Draft, n: int, written: EventIn) -> Party | None:
    if written.date is None or written.service is None or written.covers is None:
        return None
    draft.check_service(_place(draft, "events", n, "service"), written.name, written.service)
    for dish in written.menu:
        draft.check_id(_place(draft, "events", n, "menu", dish), written.name, dish, draft.dishes)
    menu = dict(sorted(written.menu.items()))
    return Party(written.name, written.date, written.service, written.covers, menu, written.instead)
