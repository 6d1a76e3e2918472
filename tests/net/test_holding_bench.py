"""The benchmark of what is held, in its short form: the whole of it is `python tests/bench/holding.py`."""

import pytest
from bench import holding


def test_one_night_is_decided_nearly_as_well_as_by_trying_everything():
    regrets = [regret for found in holding.one_night(2).values() for regret in found]
    assert holding.misses(regrets, [0.0]) == []


def test_parts_of_one_dish_are_bought_for_each_other():
    """In packs of four portions and more each part alone asks for a pack that the other does not serve."""
    kind = holding.ONE_NIGHT["a dish of two parts"]
    assert max(holding.regret(800 + n, *kind) for n in range(8)) <= 0.5


@pytest.mark.parametrize("case", holding.MANY_DAYS[:6], ids=str)
def test_many_days_are_decided_nearly_as_well_as_by_a_program_over_the_paths(case):
    assert holding.misses([0.0], [holding.over_days(case)[0]]) == []
