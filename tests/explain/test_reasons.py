"""What a run keeps of its reasons: which days the starts that are decided are for."""

import houses
import numpy as np
import pytest

from ordering.explain.reasons import last_day_served
from ordering.records.plan import ItemFlow

BRAISE = houses.recipe("braise", 10.0, {"cheek": 12.0}, takes_days=1)


def made(*by_day):
    """The expected path of a recipe of which so much is made ready on each day."""
    planned, nothing = np.array(by_day, dtype=float), np.zeros(len(by_day))
    return ItemFlow("braise", 0.0, nothing, {}, nothing, nothing, nothing, planned, nothing, nothing, nothing)


@pytest.mark.parametrize(("again", "until"), [(2.0, 3), (3.0, 2)])
def test_whole_batches_last_until_a_quarter_of_another_is_expected(again, until):
    """Twenty are started, ten expected by day 1; on day 3 a fifth of a batch more, or nearly a third."""
    braise = houses.recipe("braise", 10.0, {"cheek": 12.0}, takes_days=1, is_whole=True)
    assert last_day_served(made(0, 10, 0, again, 9), braise, 20.0, 1) == until


@pytest.mark.parametrize(("again", "until"), [(0.3, 3), (0.5, 2)])
def test_any_amount_lasts_until_two_hundredths_of_it_are_expected_again(again, until):
    assert last_day_served(made(0, 10, 0, again, 9), BRAISE, 20.0, 1) == until


def test_starts_serve_no_day_beyond_what_is_made_of_them():
    assert last_day_served(made(0, 10, 0, 0.1, 9), BRAISE, 10.0, 1) == 2
