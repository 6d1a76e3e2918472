"""Stated leasts for invented houses: what of their files is right as proposed, without an answer."""

import pytest
from intake.unseen import HOUSES, score


@pytest.mark.parametrize("house", HOUSES)
def test_nearly_all_is_right_as_proposed_and_no_wrong_pack_goes_unmarked(house, tmp_path):
    got = score(house, tmp_path)
    assert got.offers >= 0.95 * got.n_offers, got.wrong
    assert got.lines >= 0.95 * got.n_lines, got.wrong
    assert got.unflagged == []
