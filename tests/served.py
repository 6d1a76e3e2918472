"""A shop that sells fish, and who of its guests goes without."""

import houses
from houses import MONDAY, day, ingredient, recipe

from ordering.net.netting import net_all
from ordering.records.plan import Opening


def hit(found, item, on=None):
    """Portions hit for want of an item, by dish and day index."""
    hits = {}
    for short in found.shortfalls:
        if short.item == item and (on is None or short.needed_on == day(on)):
            for (name, when, _), portions in short.portions.items():
                key = (name, (when - MONDAY).days)
                hits[key] = hits.get(key, 0.0) + portions
    return hits


def shop(*dishes, lots=(), sold=None, arrival=2, keeps=None, takes=0, **rest):
    """Dishes that each take one fish a portion; fish can be had from day `arrival` on."""
    offers = (houses.offer("sea", "fish", 1, 4),)
    plates = [recipe(f"of-{d.id}", 1, {"fish": 1}, takes_days=takes) for d in dishes]
    home = houses.house(
        [ingredient("fish", keeps_days=keeps, offers=offers)], plates, dishes, [houses.vendor("sea")], **rest
    )
    demand = houses.forecast(home, sold)
    return net_all(home, Opening(tuple(lots)), demand, houses.deliveries("sea", [2, 5]), {"fish": arrival})
