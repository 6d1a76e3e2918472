"""What is on hand day by day once the deliveries of a run are known."""

import houses
import numpy as np
import plans
import pytest

from ordering.net.projection import with_deliveries
from ordering.records.buying import Buying


def home(keeps_days=None):
    """Chips cut to order from potatoes, of which a vendor could bring more."""
    return houses.house(
        [houses.ingredient("potato", keeps_days=keeps_days), houses.ingredient("salt")],
        [houses.recipe("chips", 1, {"potato": 1.0, "salt": 0.01})],
        [houses.dish("bowl", "chips", 1.0)],
        [houses.vendor("quay")],
    )


def record(house, opening, orders, outlook=(), portions=(4.0,) * 6):
    """The time-phased record of the potatoes: planned, expired, short and projected by day."""
    forecast = plans.forecast_of({"bowl": list(portions)}, 6)
    netting = plans.netted(house, forecast, {"potato": opening, "salt": 5.0})
    buying = Buying(orders=tuple(orders), outlook=tuple(outlook))
    flow = with_deliveries(house, netting, buying, forecast.days)["potato"]
    came = np.concatenate(([flow.opening], flow.projected[:-1])) + flow.planned + flow.scheduled
    assert flow.projected == pytest.approx(came - flow.expired - flow.gross + flow.short)
    return {
        "planned": flow.planned.tolist(),
        "expired": flow.expired.tolist(),
        "short": flow.short.tolist(),
        "projected": flow.projected.tolist(),
    }


def test_what_is_ordered_is_there_from_the_day_it_comes():
    """Four a day; six in the house. A pack of 20 on day 1 leaves 6 - 4 + 20 - 4 = 18 that evening."""
    house = home()
    assert record(house, 6.0, [plans.line(house, "potato", 1, 1, 20.0)]) == {
        "planned": [0, 20, 0, 0, 0, 0],
        "expired": [0, 0, 0, 0, 0, 0],
        "short": [0, 0, 0, 0, 0, 0],
        "projected": [2, 18, 14, 10, 6, 2],
    }


def test_what_is_foreseen_stands_beside_what_is_ordered():
    house = home()
    first, later = plans.line(house, "potato", 1, 1, 10.0), plans.line(house, "potato", 4, 1, 10.0)
    assert record(house, 6.0, [first], [later])["planned"] == [0, 10, 0, 0, 10, 0]
    assert record(house, 6.0, [first], [later])["projected"] == [2, 8, 4, 0, 6, 2]


def test_what_is_delivered_goes_past_its_date():
    """Potatoes of day 1 keep two days: on the evening of day 3 eight of twenty are left, gone on day 4."""
    house = home(keeps_days=2)
    assert record(house, 4.0, [plans.line(house, "potato", 1, 1, 20.0)]) == {
        "planned": [0, 20, 0, 0, 0, 0],
        "expired": [0, 0, 0, 0, 8, 0],
        "short": [0, 0, 0, 0, 4, 4],
        "projected": [0, 16, 12, 8, 0, 0],
    }


def test_without_a_delivery_nothing_is_there_that_was_not_bought():
    """Netting buys what a day is short of; if nothing is ordered for it, it is short and not on hand."""
    assert record(home(), 6.0, []) == {
        "planned": [0, 0, 0, 0, 0, 0],
        "expired": [0, 0, 0, 0, 0, 0],
        "short": [0, 2, 4, 4, 4, 4],
        "projected": [2, 0, 0, 0, 0, 0],
    }


def test_a_par_that_is_ordered_is_on_hand():
    """Nothing is drawn of a spare sack, and it is there on every evening after it came."""
    house = home()
    lines = [plans.line(house, "salt", 2, 1, 25.0)]
    forecast = plans.forecast_of({"bowl": [0.0] * 6}, 6)
    netting = plans.netted(house, forecast)
    flow = with_deliveries(house, netting, Buying(tuple(lines), ()), forecast.days)["salt"]
    assert flow.projected.tolist() == [0, 0, 25, 25, 25, 25]


def test_made_items_are_as_netting_left_them():
    house = home()
    forecast = plans.forecast_of({"bowl": [4.0] * 6}, 6)
    found = with_deliveries(house, plans.netted(house, forecast), Buying((), ()), forecast.days)
    assert set(found) == {"potato", "salt"}
