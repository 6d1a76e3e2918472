"""What comes off batches and what comes back from them is drawn before anything is bought or made."""

import houses
import pytest
from houses import day, dish, ingredient, line, recipe
from served import hit

from ordering.net.netting import net_all
from ordering.records.books import Lot
from ordering.records.plan import Opening


def test_a_liquor_needs_a_batch_that_is_there():
    """Nothing in the tub and the liquor takes a day: today's braise cannot be begun, tomorrow's can."""
    home = houses.house(
        [ingredient("cheek"), ingredient("bones")],
        [
            recipe("braise", 4, [line("cheek", 5), line("liquor", 3, returns=2.4)], takes_days=1),
            recipe("liquor", 10, {"bones": 6}, takes_days=1, is_whole=True),
        ],
        [dish("plate", "braise", 1)],
    )
    demand = houses.forecast(home, {"plate": [0.0, 4.0, 4.0, 4.0]})
    found = net_all(home, Opening(), demand, {}, {"cheek": 0, "bones": 0})
    assert [(s.item, s.cause) for s in found.shortfalls] == [("liquor", "no-batch")]
    assert hit(found, "liquor") == {("plate", 1): 4.0}
    liquor = found.flows["liquor"]
    assert liquor.planned.tolist() == [0, 10, 0, 0]
    assert liquor.gross.tolist() == pytest.approx([0, 3, 3, 0])
    assert liquor.by_product.tolist() == pytest.approx([0, 0, 2.4, 2.4])
    assert liquor.projected.tolist() == pytest.approx([0, 7, 6.4, 8.8])


def test_with_liquor_in_the_tub_only_the_loss_is_drawn():
    home = houses.house(
        [ingredient("cheek"), ingredient("bones")],
        [
            recipe("braise", 4, [line("cheek", 5), line("liquor", 3, returns=2.4)], takes_days=1),
            recipe("liquor", 10, {"bones": 6}, takes_days=1),
        ],
        [dish("plate", "braise", 1)],
    )
    demand = houses.forecast(home, {"plate": [0.0] + [4.0] * 5})
    found = net_all(home, Opening((Lot("liquor", 6.0),)), demand, {}, {"cheek": 0, "bones": 0})
    assert not found.shortfalls
    assert found.flows["liquor"].planned.sum() == 0
    assert found.flows["liquor"].projected[-1] == pytest.approx(6.0 - 5 * 0.6)


def test_by_products_are_used_before_anything_is_bought_and_thrown_away_when_nobody_wants_them():
    home = houses.house(
        [ingredient("rib"), ingredient("trim", keeps_days=2)],
        [
            recipe("steak", 1, {"rib": 1.5}, also_makes=(("trim", 0.25),)),
            recipe("patty", 1, {"trim": 1}),
        ],
        [dish("grill", "steak", 1), dish("burger", "patty", 1)],
    )
    sold = {"grill": [8.0, 0, 0, 8, 0, 0, 0], "burger": [0.0, 3, 0, 0, 0, 0, 0]}
    found = net_all(home, Opening(), houses.forecast(home, sold), {}, {"rib": 0, "trim": 0})
    trim = found.flows["trim"]
    assert trim.by_product.tolist() == [2, 0, 0, 2, 0, 0, 0]
    assert trim.planned.tolist() == [0, 1, 0, 0, 0, 0, 0]
    assert trim.expired.tolist() == [0, 0, 0, 0, 0, 0, 2]
    assert found.requirements["trim"].required[-1] == 1


def test_what_goes_round_in_a_circle_is_counted_of_batches_begun_and_not_of_those_to_come():
    """Rib leaves trim, and trim is cut from rib where there is too little: the rib that hangs already leaves
    its trim on day 2; the ribs yet to be hung for want of trim leave theirs unplanned."""
    home = houses.house(
        [ingredient("carcass")],
        [
            recipe("burger", 1, {"trim": 1}),
            recipe("trim", 1, {"rib": 2}),
            recipe("rib", 1, {"carcass": 2}, takes_days=2, also_makes=(("trim", 0.1),)),
        ],
        [dish("sandwich", "burger")],
    )
    demand = houses.forecast(home, {"sandwich": [0.0, 0.0, 0.0, 3.0, 3.0]})
    lots = (Lot("rib", 10.0, None, day(2)),)
    found = net_all(home, Opening(lots, begun=houses.begun(home, lots)), demand, {}, {"carcass": 0})
    assert found.flows["trim"].by_product.tolist() == [0, 0, 1, 0, 0]
    assert found.flows["trim"].planned.tolist() == [0, 0, 0, 2, 3]
    assert found.requirements["carcass"].required.tolist() == [0, 0, 0, 0, 0]
    assert found.shortfalls == ()


def test_what_falls_out_of_a_lot_in_process_is_expected():
    home = houses.house(
        [ingredient("rib"), ingredient("trim")],
        [recipe("aged", 1, {"rib": 2}, takes_days=9, also_makes=(("trim", 0.25),))],
        [dish("steak", "aged", 1)],
    )
    lots = (Lot("aged", 4.0, None, day(2)),)
    nobody, begun = houses.forecast(home, {"steak": [0.0] * 4}), houses.begun(home, lots)
    found = net_all(home, Opening(lots, begun=begun), nobody, {}, {"rib": 0, "trim": 0})
    assert found.flows["trim"].by_product.tolist() == [0, 0, 1, 0]
    counted = (*lots, Lot("trim", 0.9, None, day(2)))
    again = net_all(home, Opening(counted, begun=begun), nobody, {}, {"rib": 0, "trim": 0})
    assert again.flows["trim"].by_product.sum() == 0
    assert again.flows["trim"].in_process.tolist() == [0, 0, 0.9, 0]
