"""What must be bought, and what is not because a pack would cost more than it saves."""

import houses
import numpy as np
import pytest

from ordering.net.netting import net_all
from ordering.records.plan import Opening


def requirement(n_of_ten: int, pack: float, wanted: float = 2.0):
    """Fish that keeps a day and comes on days 1 and 3; guests of day 1 want it on so many of ten paths."""
    home = houses.house(
        [houses.ingredient("fish", keeps_days=1, offers=(houses.offer("quay", "fish", pack, 10 * pack),))],
        [houses.recipe("plate", 1, {"fish": 1}, unit="each")],
        [houses.dish("fried", "plate", price=25)],
        [houses.vendor("quay", (1, 3))],
    )
    portions = np.zeros((4, 10))
    portions[1, :n_of_ten] = wanted
    sold = houses.forecast(home, {"fried": portions})
    comes = houses.deliveries("quay", (1, 3))
    return net_all(home, Opening(()), sold, comes, {"fish": 1}).requirements["fish"]


@pytest.mark.parametrize(("n_of_ten", "is_given_up"), [(4, False), (6, True), (10, True)])
def test_guests_more_likely_than_not_for_whom_no_pack_pays_are_given_up(n_of_ten, is_given_up):
    """A case of fifty for two plates: not bought, and said where most paths have the guests."""
    found = requirement(n_of_ten, pack=50.0)
    assert found.required[-1] == 0
    assert found.given_up == pytest.approx(np.array([0, 0.2 * n_of_ten * is_given_up, 0, 0]))


def test_what_is_bought_is_not_given_up():
    found = requirement(6, pack=1.0)
    assert found.required[-1] > 0
    assert not found.given_up.any()


@pytest.mark.parametrize(("lead_days", "decided"), [(3, {4, 20}), (24, {4, 20, 24, 28})])
def test_what_is_ordered_now_is_decided_however_late_it_comes(lead_days, decided):
    """Of deliveries that later runs order three weeks are decided, then it is the mean. With 24 days from
    order to delivery all but the last are ordered now."""
    offers = (houses.offer("isle", "fish", 0.001, "0.01"),)
    home = houses.house(
        [houses.ingredient("fish", keeps_days=1, offers=offers)],
        [houses.recipe("plate", 1, {"fish": 1}, unit="each")],
        [houses.dish("fried", "plate", price=50)],
        [houses.vendor("isle")],
    )
    days = [4, 20, 24, 28, 34]
    sold = np.zeros((36, 400))
    sold[days] = np.random.default_rng(1).poisson(20, (5, 400))
    comes = houses.deliveries("isle", days, lead_days=lead_days)
    found = net_all(home, Opening(()), houses.forecast(home, {"fried": sold}), comes, {"fish": 4})
    need = found.requirements["fish"]
    beyond_mean = np.diff(need.required - need.expected, prepend=0.0)
    assert set(np.flatnonzero(np.abs(beyond_mean) > 1)) == decided
