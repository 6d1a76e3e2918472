"""The pars a rehearsal compares with: the best that could have been set, kind by kind."""

import pytest

from ordering.records.rehearsal import Outcome
from ordering.rehearsal.pars import PAR_FACTORS, Factors, best_pars


def kitchen_that_wants(made, fresh, kept):
    """A life whose profit falls with the distance of each factor from what this kitchen wants."""

    def live(factors):
        off = (factors.made - made) ** 2 + (factors.fresh - fresh) ** 2 + (factors.kept - kept) ** 2
        return Outcome("pars", 1, 1, 1000.0 - off, 0, 0, 0, 0)

    return live


@pytest.mark.parametrize("factor", PAR_FACTORS)
def test_one_factor_for_all_is_found_where_that_is_best(factor):
    assert best_pars(kitchen_that_wants(factor, factor, factor)).profit == 1000.0


def test_fresh_goods_may_want_less_than_what_is_made():
    live = kitchen_that_wants(made=1.5, fresh=1.0, kept=1.2)
    common = max(live(Factors(f, f, f)).profit for f in PAR_FACTORS)
    assert best_pars(live).profit == 1000.0 > common
