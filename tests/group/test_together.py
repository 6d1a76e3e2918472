"""Joint minimums and price breaks against every way to bring packs forward, tried one by one."""

from datetime import date, timedelta
from decimal import Decimal
from itertools import product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ordering.group.together import joint_orders
from ordering.records.group import GroupLine, HouseRun, JointTerms

FRI = date(2026, 11, 27)


def line(house, code, packs, price, after=0, keeps=None):
    amount = Decimal(price) * packs
    day = FRI + timedelta(days=after)
    return GroupLine("miller", day, house, code, code, code, packs, Decimal(price), amount, after == 0, keeps)


def joint(lines, minimum=0, breaks=None):
    terms = JointTerms("miller", "Old Mill", Decimal(minimum), breaks or {})
    houses = sorted({one.house for one in lines})
    runs = [
        HouseRun(h, 0, lines=tuple(x for x in lines if x.house == h), joint_terms=(terms,)) for h in houses
    ]
    return joint_orders(runs)


def added(order):
    return [(x.house, x.code, x.packs) for x in order.added]


def test_houses_reach_a_minimum_together_that_none_reaches_alone():
    (order,) = joint([line("a", "F", 4, "10"), line("b", "F", 3, "10")], minimum=60)
    assert (order.amount, order.added, order.lacking) == (Decimal("70.00"), (), 0)


def test_what_lacks_of_the_minimum_is_brought_forward_with_as_few_goods_as_can_be():
    later = line("a", "F", 5, "10", after=7), line("b", "S", 3, "7", after=7)
    (order,) = joint([line("a", "F", 4, "10"), *later], minimum=60)
    assert added(order) == [("a", "F", 2)]
    assert order.amount == Decimal("60.00")


def test_what_would_not_keep_is_not_brought_forward():
    (order,) = joint([line("a", "F", 4, "10"), line("a", "M", 5, "10", after=7, keeps=8)], minimum=60)
    assert (added(order), order.lacking) == ([], Decimal("20.00"))


@pytest.mark.parametrize(("keeps", "comes_sooner"), [(13, False), (14, True)])
def test_a_pack_may_lose_half_of_its_keeping_time_and_no_more(keeps, comes_sooner):
    """Common practice, no source."""
    (order,) = joint([line("a", "F", 4, "10"), line("a", "M", 5, "10", after=7, keeps=keeps)], minimum=60)
    assert bool(order.added) == comes_sooner


def test_a_minimum_out_of_reach_is_said_and_nothing_is_brought_forward_for_it():
    (order,) = joint([line("a", "F", 1, "10"), line("a", "F", 1, "10", after=7)], minimum=60)
    assert (added(order), order.lacking) == ([], Decimal("50.00"))


def test_a_price_break_is_reached_where_that_saves_money():
    breaks = {"F": ((8, Decimal("8")),)}
    (order,) = joint(
        [line("a", "F", 4, "10"), line("b", "F", 2, "10"), line("b", "F", 9, "10", after=7)], breaks=breaks
    )
    assert added(order) == [("b", "F", 9)]
    assert order.amount == Decimal("120.00")


@pytest.mark.parametrize(("price", "is_reached"), [("99.87", True), ("99.93", False)])
def test_a_price_break_is_to_pay_what_the_money_costs_until_then(price, is_reached):
    """A week at five per cent a year: 90 cents on nine packs of 100.00; ten save 1.30, or 70 cents."""
    lines = [line("a", "F", 1, "100"), line("a", "F", 9, "100", after=7)]
    found = joint(lines, breaks={"F": ((10, Decimal(price)),)})
    assert any(order.added for order in found) == is_reached


def test_a_pack_is_brought_forward_to_one_day_only():
    later = line("a", "F", 2, "10", after=7)
    second = GroupLine("miller", FRI + timedelta(1), "b", "F", "F", "F", 1, Decimal(10), Decimal(10))
    first, next_day = joint([line("a", "F", 1, "10"), later, second], minimum=30)
    assert (added(first), added(next_day)) == ([("a", "F", 2)], [])
    assert next_day.lacking == Decimal("20.00")


PRICES = {"F": 10, "S": 7}
PACKS = st.tuples(st.sampled_from("ab"), st.sampled_from("FS"), st.integers(1, 4))


@settings(max_examples=60)
@given(
    now=st.lists(PACKS, min_size=1, max_size=3),
    later=st.lists(PACKS, max_size=3),
    minimum=st.integers(0, 120),
    least=st.integers(2, 9),
)
def test_it_is_the_best_of_all_ways(now, later, minimum, least):
    """Least money less the worth of what is brought forward, the minimum reached where it can be."""
    breaks = {"F": ((least, Decimal("8")),)}
    lines = [line(h, c, n, PRICES[c]) for h, c, n in now]
    lines += [line(h, c, n, PRICES[c], after=7) for h, c, n in later]
    (order,) = joint(lines, minimum, breaks)

    def money(ways):
        total = {c: sum(n for _, code, n in now if code == c) for c in "FS"}
        for (_, code, _), n in zip(later, ways, strict=True):
            total[code] += n
        return sum(n * (8 if c == "F" and n >= least else PRICES[c]) for c, n in total.items())

    ways = list(product(*(range(n + 1) for _, _, n in later)))
    reach = [w for w in ways if money(w) >= minimum]
    all_of_it = tuple(n for _, _, n in later)

    def regret(way):
        return money(way) - 0.999 * sum(n * PRICES[code] for (_, code, _), n in zip(later, way, strict=True))

    if money(all_of_it) < minimum:
        reach = ways
    best = min(map(regret, reach))
    given_back = 0.999 * sum(float(x.amount) for x in order.added)
    assert float(order.amount) - given_back == pytest.approx(best)
