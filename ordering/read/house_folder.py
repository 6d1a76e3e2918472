"""A folder of YAML files read as a house: `House` with every reference resolved, or all its faults."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from ordering.cautions import food_law_of
from ordering.faults import Fault, nearest
from ordering.public_holidays import holidays_of, parts_of
from ordering.read.book_shapes import HouseInPart
from ordering.read.book_table import COLUMNS
from ordering.read.draft import Draft, Entries, M, read_draft
from ordering.read.files import bounded, no_folder
from ordering.read.goods import built_ingredients, built_recipes, built_vendors
from ordering.read.menu import built_closures, built_dishes, built_events
from ordering.read.names import ids_by_name
from ordering.read.nodes import read_yaml
from ordering.read.shape import place_at
from ordering.read.yaml_schema import HouseIn
from ordering.records.house import (
    Consumable,
    House,
    Place,
    Policy,
    Service,
)


def read_house(directory: Path, shared: Path | None = None) -> tuple[House | None, list[Fault]]:
    """Read `house.yaml`, `vendors.yaml`, `ingredients.yaml`, `recipes.yaml`, `menu.yaml`, `calendar.yaml`.

    Only `house.yaml` must be there. In a group they are laid over the files in `shared`.
    Quantities leave in their item's own unit, spans in whole days.

    Returns
    -------
    The house and no fault, or None and every fault of every file (at most 200 of each).
    """
    house, faults = read_house_in_part(directory, shared)
    return (house if isinstance(house, House) else None), faults


def read_house_in_part(
    directory: Path, shared: Path | None = None
) -> tuple[House | HouseInPart | None, list[Fault]]:
    """As `read_house`, but of a house with faults what is known of it; None where there is no folder."""
    missing = no_folder(directory, "check --config, or make the folder with a house.yaml in it")
    if missing:
        return None, missing
    draft = read_draft(directory, shared)
    vendors, ingredients, recipes = built_vendors(draft), built_ingredients(draft), built_recipes(draft)
    dishes, closures = built_dishes(draft), built_closures(draft)
    parties, events = built_events(draft)
    house = draft.house
    if house is not None:
        _check_house(draft, house)
        consumables = _consumables(draft, house)
    if house is None or draft.faults:
        sound = House("", ingredients=ingredients, recipes=recipes, places=_places(draft))
        return HouseInPart(sound, _ids(draft), _headers(draft)), bounded(draft.faults)
    services = {key: Service(key, frozenset(one.days)) for key, one in house.services.items()}
    return House(
        name=house.name,
        currency=house.currency,
        order_prefix=house.order_prefix,
        timezone=house.timezone,
        address=house.address,
        email=house.email,
        contact=house.contact,
        phone=house.phone,
        answered=frozenset(house.answered),
        services=services,
        order_weekdays=frozenset(house.order_day),
        policy=Policy(
            house.policy.service_level,
            house.policy.paths,
            house.policy.seed,
            house.budget,
            house.policy.missed_cost,
        ),
        holiday_country=house.holidays.country if house.holidays else "",
        holiday_subdivision=house.holidays.subdivision if house.holidays else "",
        food_law=house.food_law
        or food_law_of(house.holidays.country if house.holidays else "", house.currency),
        consumables=consumables,
        vendors=vendors,
        ingredients=ingredients,
        recipes=recipes,
        dishes=dishes,
        closures=closures,
        parties=parties,
        events=events,
        headers={book: dict(names) for book, names in house.headers.items()},
        dish_names=dict(house.dish_names),
        service_names=dict(house.service_names),
        ignored=tuple(house.ignore),
        piece_words={item: word for item, (word, _) in draft.piece_words.items()},
        places=_places(draft),
        shared=draft.shared.as_posix() if draft.shared else "",
        is_alike=house.alike,
        overrides=tuple(map(str, draft.overrides)),
    ), []


def _ids(draft: Draft) -> dict[str, Mapping[str, str]]:
    """What may be written for the ids of each column of the books, whether their entries are sound or not."""
    found: dict[str, Mapping[str, str]] = {}
    if draft.services is not None:
        renamed = (draft.house_node.keys or {}).get("service_names")
        renames = {theirs: node.text or "" for theirs, node in ((renamed and renamed.keys) or {}).items()}
        found["service"] = ids_by_name(((key, key) for key in draft.services), renames)
    if draft.vendors.is_read:
        found["vendor"] = ids_by_name(_named(draft.vendors))
    if draft.recipes.is_read:
        found["recipe"] = ids_by_name(_named(draft.recipes))
        if draft.ingredients.is_read:
            found["item"] = ids_by_name([*_named(draft.ingredients), *_named(draft.recipes)])
    return found


def _named(entries: Entries[M]) -> list[tuple[str, str]]:
    """(id, name) of each entry."""
    names = ((key, (node.keys or {}).get("name")) for key, node in entries.nodes.items())
    return [(key, (name.text if name is not None else None) or key) for key, name in names]


def _headers(draft: Draft) -> Mapping[str, Mapping[str, str]] | None:
    """The headings of the house's books; None where `house.yaml` has faults, which may be theirs."""
    if draft.house is None or any(fault.place == draft.house_node.place for fault in draft.faults):
        return None
    return draft.house.headers


def timezone_of(directory: Path) -> str:
    """The time zone that `house.yaml` names, unchecked; empty where it names none or cannot be read."""
    zone = _written(directory).get("timezone")
    return zone if isinstance(zone, str) else ""


def is_american(directory: Path) -> bool:
    """Whether the house of these files says days with the month first, as far as they can be read."""
    written = _written(directory)
    holidays, currency = written.get("holidays"), written.get("currency")
    country = holidays.get("country") if isinstance(holidays, dict) else None
    known = [text if isinstance(text, str) else "" for text in (currency, country)]
    return House("", currency=known[0], holiday_country=known[1]).is_american


def _written(directory: Path) -> Mapping[str, object]:
    """`house.yaml` as it stands, unchecked; empty where there is none or it cannot be read."""
    path = directory / "house.yaml"
    node = read_yaml(path)[0] if path.is_file() else None
    plain = node.plain() if node is not None else None
    return plain if isinstance(plain, dict) else {}


def _house_place(draft: Draft, *loc: int | str) -> Place:
    return place_at(draft.house_node, loc)


def _check_house(draft: Draft, house: HouseIn) -> None:
    if not house.order_day:
        said = ("missing-word", "'order_day' names no day", "write a weekday, or take the line out")
        draft.fault(_house_place(draft, "order_day"), "order_day", said)
    for book, names in house.headers.items():
        for theirs, ours in names.items():
            if ours not in COLUMNS[book]:
                place = _house_place(draft, "headers", book, theirs)
                known = COLUMNS[book]
                right = nearest(ours, known) or f"columns of {book}: {', '.join(known)}"
                wrong = f"'{ours}' is not a column of {book}"
                draft.fault(place, "headers", ("unknown-column", wrong, right))
    for theirs, dish in house.dish_names.items():
        draft.check_id(_house_place(draft, "dish_names", theirs), "dish_names", dish, draft.dishes)
    for theirs, service in house.service_names.items():
        draft.check_service(_house_place(draft, "service_names", theirs), "service_names", service)
    if house.holidays is not None:
        _check_holidays(draft, house.holidays.country, house.holidays.subdivision)


def _check_holidays(draft: Draft, country: str, subdivision: str) -> None:
    try:
        holidays_of(country, subdivision, ())
        return
    except LookupError:
        parts = parts_of(country)
    if parts is not None:
        wrong = f"'{subdivision}' is not a part of {country} with holidays of its own"
        some = f"known: {', '.join(parts[:12])}" if parts else "take 'subdivision' out"
        right = nearest(subdivision, parts) or some
        loc: tuple[str, ...] = ("holidays", "subdivision")
    else:
        wrong, loc = f"no public holidays are known for '{country}'", ("holidays", "country")
        right = "write an ISO 3166 code such as GB, or take 'holidays' out"
    draft.fault(_house_place(draft, *loc), "holidays", ("unknown-country", wrong, right))


def _consumables(draft: Draft, house: HouseIn) -> tuple[Consumable, ...]:
    found = []
    for n, one in enumerate(house.consumables):
        place = _house_place(draft, "consumables", n)
        if draft.check_item(place, "consumables", one.item):
            quantity = draft.amount(place, "consumables", one.item, one.quantity)
            found.append(Consumable(one.item, quantity or 0.0, one.per))
    return tuple(found)


def _places(draft: Draft) -> dict[str, Place]:
    """Where every entry is written, and within ingredients and recipes each offer and line."""
    places = {"house": _house_place(draft)}
    groups = {
        "vendors": draft.vendors.at,
        "ingredients": draft.ingredients.at,
        "recipes": draft.recipes.at,
        "dishes": draft.dishes.at,
    }
    for name, entries in groups.items():
        places |= {f"{name}.{key}": place for key, place in entries.items()}
    for key in draft.services or ():
        places[f"services.{key}"] = _house_place(draft, "services", key)
    for n, event in enumerate(draft.calendar.events):
        places[f"events.{event.name}"] = place_at(draft.calendar_node, ("events", n))
    for key, bought in draft.ingredients.sound.items():
        for n in range(len(bought.offers)):
            places[f"ingredients.{key}.offers.{n}"] = draft.place(draft.ingredients, key, "offers", n)
    for key, made in draft.recipes.sound.items():
        for n in range(len(made.from_)):
            places[f"recipes.{key}.from.{n}"] = draft.place(draft.recipes, key, "from", n)
    return places
