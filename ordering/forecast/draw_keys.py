"""What the random draws of a dish go by: its first sales, which another id does not change."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping

from ordering.records.books import Books
from ordering.records.house import Dish, House

FIRST_SALES = 8


def draw_keys(house: House, books: Books) -> Mapping[tuple[str, str], str]:
    """By (dish, service), the name of its stream of random numbers.

    It goes by the first days the dish was sold at the service and how much of it; where it never was, by
    what it is made of. So a dish renamed in house and books keeps its draws, a dish added changes none of
    the others, and those of one that sells stay the same from day to day. Dishes alike in all of this are
    told apart by the name on the menu.
    """
    first = books.sales.groupby(["dish", "service"], sort=False).head(FIRST_SALES)
    sold: dict[tuple[str, str], list[str]] = defaultdict(list)
    rows = zip(first["dish"], first["service"], first["date"], first["sold"], strict=True)
    for dish, service, day, n in rows:
        sold[str(dish), str(service)].append(f"{day:%Y%m%d} {n:g}")
    alike: dict[tuple[str, str], list[Dish]] = defaultdict(list)
    for one in house.dishes.values():
        for service in one.services:
            seen = "; ".join(sold.get((one.id, service), ()))
            alike[service, seen or f"{one.recipe} {one.portion:g} {one.price} {one.from_on}"].append(one)
    keys = {}
    for (service, what), dishes in alike.items():
        for n, one in enumerate(sorted(dishes, key=lambda d: (d.name, d.id))):
            keys[one.id, service] = f"dish {what} {service} {n}"
    return keys
