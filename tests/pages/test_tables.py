"""The csv files of a run: columns as promised, rows that close."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import sample_plan

from ordering.pages import tables
from ordering.write.table import csv_bytes

HOUSE = sample_plan.house()
PLAN = sample_plan.plan(HOUSE)


def test_columns_are_those_promised() -> None:
    assert ",".join(tables.FORECAST_COLUMNS) == "date,service,dish,mean,q05,q10,q25,q50,q75,q90,q95"
    assert ",".join(tables.ORDERS_COLUMNS) == (
        "vendor,code,item,description,packs,pack,quantity,unit,price,amount,order_by,deliver_on,order"
    )
    assert ",".join(tables.STARTS_COLUMNS) == "start_on,recipe,batches,quantity,unit,ready_on"
    assert ",".join(tables.SHORTAGES_COLUMNS) == "date,item,short,unit,dishes,cause,remedy"
    assert ",".join(tables.PROJECTION_COLUMNS) == "item,date,gross,scheduled,planned,expired,projected,unit"
    assert ",".join(tables.PEGGING_COLUMNS) == "vendor,code,deliver_on,dish,service_date,quantity,unit"


def test_covers_stand_before_the_dishes_of_their_service() -> None:
    rows = tables.forecast_table(PLAN.forecast).rows
    slots = PLAN.forecast.slots
    assert [row[:2] for row in rows if row[2] == "*"] == [(s.date, s.service) for s in slots]
    assert rows[0][2:5] == ("*", 60.0, 42.0)
    assert not any(row[2] == "rib-plate" and row[1] == "lunch" for row in rows)


def test_a_forecast_is_told_to_a_hundredth_of_a_portion() -> None:
    third = replace(PLAN.forecast, covers_mean=np.full_like(PLAN.forecast.covers_mean, 100 / 3))
    means = {row[3] for row in tables.forecast_table(third).rows}
    assert 33.33 in means
    assert all(len(f"{mean}".partition(".")[2]) <= 2 for mean in means)


def test_an_order_row_is_plain() -> None:
    listing = tables.orders_table(PLAN.buying.orders)
    text = csv_bytes(listing.columns, listing.rows).decode().splitlines()
    assert text[1] == (
        "hollow-mill,HM-104,flour,Strong white flour,2,25 kg,50,kg,21.50,43.00,2026-11-26T15:00,2026-11-28,"
    )


def test_starts_are_in_the_sequence_of_their_days() -> None:
    days = [row[0] for row in tables.starts_table(PLAN.netting.starts[::-1]).rows]
    assert days == sorted(days)  # type: ignore[type-var]


def test_every_row_of_the_projection_closes() -> None:
    """Projected on hand = the day before + scheduled + planned - expired - gross (a time-phased record)."""
    rows = tables.projection_table(HOUSE, PLAN).rows
    assert len(rows) == len(PLAN.days)
    before = PLAN.netting.flows["loaf"].opening
    for _, _, gross, scheduled, planned, expired, projected, unit in rows:
        assert unit == "each"
        before = before + scheduled + planned - expired - gross  # type: ignore[operator]
        assert np.isclose(before, projected)  # type: ignore[arg-type]


def test_a_row_of_the_projection_closes_where_something_runs_short() -> None:
    """What is short is not drawn: it stands in shortages.csv."""
    n = len(PLAN.days)
    zero, two = np.zeros(n), np.full(n, 2.0)
    short = np.where(np.arange(n) >= 1, 2.0, 0.0)
    dry = type(PLAN.netting.flows["loaf"])(
        *("loaf", 2.0, two, {"dish:bread": two}, zero, zero, zero, zero, zero, zero, short)
    )
    netting = type(PLAN.netting)({"loaf": dry}, {}, (), (), {})
    rows = tables.projection_table(HOUSE, replace(PLAN, netting=netting)).rows
    assert [row[2] for row in rows] == [2.0, *(0.0 for _ in range(n - 1))]


def test_an_item_that_never_moves_is_left_out() -> None:
    flow = PLAN.netting.flows["loaf"]
    zero = np.zeros(len(PLAN.days))
    still = type(flow)("salt", 0.0, zero, {}, zero, zero, zero, zero, zero, zero, zero)
    netting = type(PLAN.netting)({"salt": still, "loaf": flow}, {}, (), (), {})
    plan = type(PLAN)(
        *(PLAN.on, PLAN.now, PLAN.next_run, PLAN.days, PLAN.forecast, PLAN.opening, netting),
        *(PLAN.buying, (), ()),
    )
    assert {row[0] for row in tables.projection_table(HOUSE, plan).rows} == {"loaf"}


def test_no_covers_are_written_where_nothing_is_known() -> None:
    """A row of zeros would say that nobody comes; the portions of a party stay."""
    known = tables.forecast_table(PLAN.forecast).rows
    covers = PLAN.forecast.covers_mean.copy()
    covers[0] = 0.0
    nothing = replace(PLAN.forecast, unknown=frozenset({0}), covers_mean=covers)
    rows = tables.forecast_table(nothing).rows
    first = PLAN.forecast.slots[0]
    gone = [row for row in known if row not in rows]
    assert [row[:3] for row in gone] == [(first.date, first.service, tables.COVERS)]
