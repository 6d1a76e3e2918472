"""The worth of a by-product is taken off its batch and charged once: used, thrown away or in stock."""

from decimal import Decimal

import houses
import pytest
from houses import day, dish, ingredient, offer, recipe

from ordering.records.books import Waste
from ordering.records.costs import portion_costs, unit_costs
from ordering.review.spending import thrown

PAID = 100  # ten kilos of rib at 10.00: eight hang as steaks, two are trim


def home(trim):
    return houses.house(
        [
            ingredient("rib", offers=(offer("butcher", "rib", 1, "10.00"),)),
            ingredient("chuck", offers=(offer("butcher", "chuck", 1, "7.00"),)),
            *([trim] if not hasattr(trim, "lines") else []),
        ],
        [
            recipe("steak", 8, {"rib": 10}, takes_days=7, also_makes=(("trim", 2.0),)),
            recipe("burger", 1, {"trim": 1}),
            *([trim] if hasattr(trim, "lines") else []),
        ],
        [dish("steak", "steak", 1.0), dish("burger", "burger", 1.0)],
    )


TRIMS = {
    "sold by a butcher": ingredient("trim", offers=(offer("butcher", "trim", 1, "6.00"),)),
    "sold by nobody": ingredient("trim"),
    "minced from chuck": recipe("trim", 1, {"chuck": 1.1}),
}


@pytest.mark.parametrize("trim", TRIMS.values(), ids=TRIMS)
@pytest.mark.parametrize("burgers", [0, 1, 2])
def test_what_was_sold_and_what_was_thrown_away_come_to_what_was_paid(trim, burgers):
    """Thrown away unrecorded, the trim would be use that nobody can explain; thrown away and written down, it
    is waste at the worth that the steaks were spared, and no more."""
    house = home(trim)
    costs = unit_costs(house)
    portions = portion_costs(house, costs)
    binned = [Waste(day(8), "trim", 2.0 - burgers, "spoilt")] if burgers < 2 else []
    wasted = sum((t.money for t in thrown(house, binned, costs)), Decimal(0))
    sold = 8 * portions["steak"] + burgers * portions["burger"]
    assert sold + float(wasted) == pytest.approx(PAID)
