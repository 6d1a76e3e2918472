"""Laws of the explanation on random houses that have been netted and bought for by the program itself."""

from collections import defaultdict
from dataclasses import replace

import houses
import pytest
import strategies
from hypothesis import given, settings

from ordering.buy.orders import choose_orders
from ordering.explain.pegging import delivery_windows, pegging
from ordering.explain.reasons import why
from ordering.explain.shortages import shortages
from ordering.explain.trace import trace
from ordering.explaining import chain
from ordering.net.netting import net_all
from ordering.net.projection import with_deliveries
from ordering.pages import tables
from ordering.records.plan import Opening, Plan


def planned(case):
    """The whole of a plan: every ingredient comes every third day in packs of 1.5 and 4 kg."""
    days = case.forecast.days
    coming = houses.deliveries("v", range(1, len(days), 3), on=days[0])
    goods = {
        i.id: replace(
            i,
            offers=(
                houses.offer("v", i.id, 1.5, "3.00"),
                houses.offer("v", i.id, 4.0, "7.00", code=f"big-{i.id}"),
            ),
        )
        for i in case.house.ingredients.values()
    }
    house = replace(case.house, ingredients=goods, vendors={"v": houses.vendor("v", range(0, 7, 3))})
    arrival = dict.fromkeys(goods, 1)
    netting = net_all(house, case.opening, case.forecast, coming, arrival)
    buying = choose_orders(house, netting.requirements, coming, days)
    traced = trace(house, netting.flows, len(days))
    found = shortages(house, netting, buying, case.forecast, coming, Opening(), traced)
    windows = delivery_windows(house, netting, buying, days)
    now = coming["v"][0].order_by
    return house, Plan(
        *(days[0], now, days[-1], days, case.forecast, case.opening, netting, buying, found),
        pegging=pegging(buying, windows, traced, days),
        projection=with_deliveries(house, netting, buying, days),
        windows=windows,
    )


law = settings(strategies.LAW, max_examples=60)


@law
@given(strategies.cases())
def test_lines_sums_and_rows_of_a_whole_run_hold_together(case):
    """Pegs add up to lines, terms to sums, no more going
    past its date than there is; one shortage an item and day; every chain can be told.

    The projection closes, from the opening on, with the deliveries in it.
    """
    house, plan = planned(case)
    total = defaultdict(float)
    for peg in plan.pegging:
        total[(peg.code, peg.deliver_on)] += peg.quantity
    lines = (*plan.buying.orders, *plan.buying.outlook)
    assert set(total) == {(line.code, line.deliver_on) for line in lines}
    for line in lines:
        assert total[(line.code, line.deliver_on)] == pytest.approx(line.quantity, abs=1e-6)

    closes_with_its_deliveries(house, plan)

    facts = why(plan, house)
    for item in facts["items"].values():
        sums = [d["terms"] for d in item.get("deliveries", ())]
        for terms in [*sums, *([item["making"]["terms"]] if "making" in item else [])]:
            there = -sum(terms.get(part, 0.0) for part in ("stock", "receipts", "by_products"))
            assert terms.get("expired", 0.0) <= there + 1e-4
        for delivery in item.get("deliveries", ()):
            assert sum(delivery["terms"].values()) == pytest.approx(delivery["drawn"], abs=1e-4)
            parts = [delivery[part] for part in ("drawn", "safety", "par", "rounding")]
            assert sum(parts) == pytest.approx(delivery["quantity"], abs=1e-4)

    same_day_sums_reach_their_last_start(house, plan, facts["items"])

    keys = [(row.date, row.item) for row in plan.shortages]
    assert len(keys) == len(set(keys))
    assert [row.date for row in plan.shortages] == sorted(row.date for row in plan.shortages)
    assert all(row.cause and row.remedy and row.short > 0 for row in plan.shortages)

    rows = {
        "forecast": as_read(tables.forecast_table(plan.forecast)),
        "orders": as_read(tables.orders_table(plan.buying.orders)),
        "outlook": as_read(tables.orders_table(plan.buying.outlook)),
        "starts": as_read(tables.starts_table(plan.netting.starts)),
        "shortages": as_read(tables.shortages_table(plan.shortages)),
        "pegging": as_read(tables.pegging_table(plan.pegging)),
    }
    for name in (*facts["items"], *(f"dish:{dish}" for dish in facts["dishes"])):
        told = chain(rows, {"why": facts}, name)
        assert told
        assert max(map(len, told)) <= 80


def same_day_sums_reach_their_last_start(house, plan, facts):
    """What is made on the day is explained up to the last day it is listed for, by what is needed until then.

    At least as much as is listed is made on the mean of the paths: who needs more makes more.
    """
    for start in plan.netting.starts:
        recipe, sums = house.recipes[start.recipe], facts[start.recipe].get("making")
        if sums and not recipe.takes_days and not recipe.par:
            assert facts[recipe.id]["until"] >= start.ready_on.isoformat()
            assert sums["planned"] >= sums["started"] - 1e-4


def closes_with_its_deliveries(house, plan):
    """On hand before + receipts - gross - expired = projected, from the opening on, never below nothing.

    What is ordered or foreseen of an item stands on its day, whatever else comes then.
    """
    coming = defaultdict(float)
    for line in (*plan.buying.orders, *plan.buying.outlook):
        coming[line.item, line.deliver_on] += line.quantity
    before = {item: flow.opening for item, flow in plan.netting.flows.items()}
    for item, day, gross, scheduled, made, expired, projected, _ in tables.projection_table(house, plan).rows:
        assert before[item] + scheduled + made - gross - expired == pytest.approx(projected, abs=1e-6)
        assert projected >= -1e-6
        before[item] = projected
        falls = plan.netting.flows[item].by_product[plan.days.index(day)]
        if item in house.ingredients:
            assert made == pytest.approx(coming.pop((item, day), 0.0) + falls, abs=1e-6)
    assert coming == {}


def as_read(listing):
    """Rows as a run folder gives them back: all text."""
    return [
        {
            column: ""
            if value is None
            else str(value).replace(" ", "T")
            if column == "order_by"
            else str(value)
            for column, value in zip(listing.columns, row, strict=True)
        }
        for row in listing.rows
    ]
