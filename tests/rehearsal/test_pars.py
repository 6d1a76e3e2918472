"""The pars a rehearsal compares with: the best that could have been set, kind by kind."""

from datetime import timedelta

import numpy as np
import pytest
from houses import MONDAY, dish, house

from ordering.records.house import Closure, Party, Service
from ordering.records.rehearsal_results import WayResult
from ordering.rehearsal.tuned_pars import PAR_FACTORS, Factors, best_pars, coming_use, weekday_use


def kitchen_that_wants(made, fresh, kept):
    """A life whose profit falls with the distance of each factor from what this kitchen wants."""

    def live(factors):
        off = (factors.made - made) ** 2 + (factors.fresh - fresh) ** 2 + (factors.kept - kept) ** 2
        return WayResult("pars", 1, 1, 1000.0 - off, 0, 0, 0, 0)

    return live


@pytest.mark.parametrize("factor", PAR_FACTORS)
def test_one_factor_for_all_is_found_where_that_is_best(factor):
    assert best_pars(kitchen_that_wants(factor, factor, factor)).profit == 1000.0


def test_fresh_goods_may_want_less_than_what_is_made():
    live = kitchen_that_wants(made=1.5, fresh=1.0, kept=1.2)
    common = max(live(Factors(f, f, f)).profit for f in PAR_FACTORS)
    assert best_pars(live).profit == 1000.0 > common


def test_a_chef_foresees_the_weekday_the_closed_day_and_the_party():
    per_portion = {"pie": {"flour": 0.2}}
    home = house(
        dishes=[dish("pie", "pie-plate")],
        services={"dinner": Service("dinner", frozenset(range(7)))},
        closures=(Closure(MONDAY + timedelta(days=1), MONDAY + timedelta(days=1)),),
        parties=(Party("Wedding", MONDAY + timedelta(days=2), "dinner", 30, {"pie": 30.0}),),
    )
    use = {"flour": np.arange(7.0)}
    coming = coming_use(home, use, per_portion, MONDAY, 8)["flour"]
    assert coming.tolist() == pytest.approx([0, 0, 2 + 6, 3, 4, 5, 6, 0])


def test_pars_follow_the_mean_of_the_last_four_such_nights():
    """The Monday five weeks ago is past; a party's plates and a closed Monday are no part of the mean."""
    home = house(
        dishes=[dish("pie", "pie-plate")],
        services={"dinner": Service("dinner", frozenset(range(7)))},
        parties=(Party("Wedding", MONDAY - timedelta(days=7), "dinner", 30, {"pie": 30.0}),),
    )
    nights = {35: 999.0, 28: 10.0, 21: 20.0, 14: 0.0, 7: 60.0, 0: 999.0}
    sold = {MONDAY - timedelta(days=n): {"dinner": {"pie": plates}} for n, plates in nights.items()}
    use = weekday_use(home, {"pie": {"flour": 0.2}}, sold, MONDAY)["flour"]
    assert use.tolist() == pytest.approx([0.2 * (10 + 20 + 30) / 3, 0, 0, 0, 0, 0, 0])
