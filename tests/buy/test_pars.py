import numpy as np
import pytest
from houses import MONDAY, deliveries, house, ingredient, offer, vendor

from ordering.buy.pars import par_advice
from ordering.days import span
from ordering.records.plan import Requirement

DAYS = span(MONDAY, 28)


def advice(par, keeps_days=None, stock=0.0, margin=0.0, arrivals=(1, 4, 8, 11, 15, 18, 22, 25), use=1.0):
    """One kilo a day, deliveries on Tuesdays and Fridays."""
    total = use * np.arange(1, 29)
    expected = np.maximum(total - stock, 0)
    required = np.maximum(total + margin * np.sqrt(np.arange(1, 29)) - stock, 0)
    left = np.maximum(stock - (total - use), 0)
    thing = ingredient("rice", par=par, keeps_days=keeps_days, offers=(offer("mill", "rice"),))
    home = house([thing], vendors=[vendor("mill", (1, 4))])
    asked = {"rice": Requirement("rice", required, expected, left, 0.95)}
    return par_advice(home, asked, deliveries("mill", arrivals), DAYS)


def test_a_par_must_last_until_the_next_delivery():
    """Three days from Tuesday to Friday, four from Friday to Tuesday."""
    found = advice(4.0)[0]
    assert found.par == 4.0
    assert found.justified == {1: pytest.approx(3.0), 4: pytest.approx(4.0)}
    assert found.flag == ""
    assert found.reason == "from Friday to Tuesday about 4 kg are used, plus 0 in case it is busy at 95 %"


def test_stock_in_the_house_changes_nothing_about_what_is_justified():
    assert advice(4.0, stock=6.0)[0].justified == {1: pytest.approx(3.0), 4: pytest.approx(4.0)}


def test_the_margin_grows_with_the_square_root_of_the_days():
    found = advice(9.0, margin=2.0)[0]
    assert found.justified == {1: pytest.approx(3 + 2 * 3**0.5), 4: pytest.approx(4 + 2 * 2)}


def test_a_par_below_what_is_justified_makes_shortages():
    assert advice(3.0)[0].flag == "shortage"
    assert advice(3.9)[0].flag == ""
    assert advice(3e-4, use=1e-4)[0].flag == "shortage", "of saffron a tenth of a gram a day"


@pytest.mark.parametrize("dust", [-1e-12, 0.0, 1e-12])
def test_of_two_spells_as_far_from_the_usual_the_first_is_told_on_any_machine(dust):
    """From Tuesday to Tuesday 5 and 9 kg are used, 7 on the median: what sums leave over decides nothing."""
    by_day = np.array([0.0] + [5 / 7 + dust] * 7 + [9 / 7 - dust] * 7 + [0.0] * 13)
    found = advice(7.0, arrivals=(1, 8, 15), use=np.cumsum(by_day) / np.arange(1, 29))[0]
    assert found.reason.startswith("from Tuesday to Tuesday about 5 kg")


def test_a_par_on_the_limit_is_not_flagged_by_what_sums_leave_over():
    """3.8 is 0.95 x 4 after the delivery of Friday, 5.25 is 1.05 x the 5 of the days it keeps."""
    assert advice(3.8, use=1 + 1e-12)[0].flag == ""
    assert advice(5.25, keeps_days=4, use=1 - 1e-12)[0].flag == ""


def test_a_par_above_what_is_used_while_it_keeps_makes_waste():
    found = advice(9.0, keeps_days=4)[0]
    assert found.flag == "waste"
    assert found.reason.endswith("about 5 kg are used in the 4 days it keeps")
    assert advice(9.0)[0].flag == ""


def test_what_keeps_longer_than_the_horizon_is_used_on_after_it():
    """300 kg at one a day are used in the 364 d they keep, though the horizon has 28."""
    assert advice(300.0, keeps_days=364)[0].flag == ""
    assert advice(400.0, keeps_days=364)[0].flag == "waste"


def test_without_two_deliveries_nothing_can_be_justified():
    found = advice(4.0, arrivals=(1,))[0]
    assert found.justified == {}
    assert found.reason == "fewer than two deliveries within the horizon"


def test_only_ingredients_with_a_par_and_a_requirement_are_advised_on():
    assert advice(None) == ()
    thing = ingredient("rice", par=2.0)
    assert par_advice(house([thing]), {}, {}, DAYS) == ()
