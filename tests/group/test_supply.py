"""A house that cooks for others: what they take, on every path, is the demand of its own run."""

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from pathlib import Path

import numpy as np
import openpyxl
import pytest
from group import kitchens
from houses import dish, house, ingredient, offer, recipe, vendor

from ordering.faults import Refused
from ordering.forecast.demand import forecast
from ordering.group.house_demand import packs_by_path
from ordering.group.one_house import Task, run_house
from ordering.group.supply import days_ahead, supplying, with_demands
from ordering.grouping import GroupTerms, group_order
from ordering.pipeline import plan
from ordering.read.group_file import read_group
from ordering.records.books import Books
from ordering.records.group import HouseDemand
from ordering.records.house import Policy
from ordering.records.plan import Requirement

MON = date(2026, 11, 23)


def need(daily, required):
    """Need [day, path] and what is decided to be there for each day."""
    paths = np.array(daily, dtype=float)
    cumulative = np.cumsum(required)
    return Requirement("dough", cumulative, cumulative, np.zeros(len(required)), 0.9, by_path=paths)


def test_later_orders_fill_up_to_what_is_held_less_what_the_path_has_left():
    """20 are held for each delivery; of the 20 ordered one path ate 8 and takes two packs of 4, one 18."""
    quiet_busy = [[5, 9], [3, 9], [10, 10], [10, 10]]
    packs = packs_by_path(need(quiet_busy, [10, 10, 10, 10]), [2], 4.0, ordered=20.0)
    assert packs.tolist() == [[0, 0], [0, 0], [2, 5], [0, 0]]


def test_guests_who_went_without_are_not_made_up_for():
    packs = packs_by_path(need([[30], [0], [10], [0]], [10, 0, 10, 0]), [2], 5.0, ordered=10.0)
    assert packs[:, 0].tolist() == [0, 0, 2, 0]


def test_nothing_is_taken_after_the_last_delivery_known():
    assert packs_by_path(need([[5], [5]], [5, 5]), [], 1.0, 0.0).sum() == 0


def demand(house_id, packs, item="dough", unit="kg", pack=2.0):
    taken = np.array(packs, dtype=np.int16)
    placed = np.zeros(len(taken), dtype=np.int16)
    return HouseDemand(
        house_id, house_id.title(), "kitchen", item, "2 kg", pack, unit, Decimal(4), placed, taken
    )


def kitchen(**rest):
    return house(
        [ingredient("flour", offers=(offer("miller", "flour"),))],
        [recipe("dough", 10.0, {"flour": 6.0}, keeps_days=3, takes_days=1, **rest)],
        vendors=[vendor("miller", days=range(7))],
        policy=Policy(0.95, 60, 1),
        order_weekdays=frozenset(range(7)),
        services={},
    )


def planned(home, demands):
    return plan(
        supplying(home, demands),
        Books(),
        MON,
        foreseen=lambda days: with_demands(own_forecast(home, days), demands, days, 1),
    )


def own_forecast(home, days):
    return forecast(home, Books(), days, home.policy.seed, home.policy.paths)


def test_what_the_houses_take_is_drawn_from_the_kitchens_own_recipe():
    packs = np.full((21, 60), 5)
    made = planned(kitchen(), [demand("quay", packs), demand("mill", packs)])
    gross = made.netting.flows["dough"].gross
    assert gross[:20] == pytest.approx(20.0)  # two houses, five packs of 2 kg
    assert made.netting.flows["flour"].gross[2:15] == pytest.approx(12.0)


def test_a_pack_in_another_unit_is_told_in_the_kitchens_own():
    made = supplying(kitchen(), [demand("quay", np.ones((21, 60)), unit="g", pack=500.0)])
    assert made.recipes["dough-for-quay"].lines[0].quantity == pytest.approx(0.5)


def test_what_the_kitchen_does_not_have_is_a_fault():
    with pytest.raises(Refused, match=r"'dogh'.*did you mean 'dough'"):
        supplying(kitchen(), [demand("quay", np.ones((21, 60)), item="dogh")])
    with pytest.raises(Refused, match="quay"):
        supplying(kitchen(), [demand("quay", np.ones((21, 60)), unit="l")])


def test_safety_is_pooled_there_and_less_than_the_sum_of_its_parts():
    """Three houses with days of their own: less is held beyond the mean than for each of them alone."""
    rng = np.random.default_rng(4)
    demands = [demand(name, rng.poisson(12, size=(21, 60))) for name in ("quay", "mill", "weir")]
    home = kitchen()

    def held(theirs):
        """Dough left at the end of a day on the mean: what is made beyond what the houses take."""
        return float(planned(home, theirs).netting.flows["dough"].projected[4])

    parts = sum(held([one]) for one in demands)
    assert 0 < held(demands) < 0.75 * parts


def test_houses_are_shuffled_apart_and_each_keeps_its_own_paths_together():
    """Houses with equal seeds are no more busy together than chance has it; what one takes moves together."""
    rng = np.random.default_rng(4)
    packs = rng.poisson(12, size=(21, 400))
    home = replace(kitchen(), policy=Policy(0.95, 400, 1))
    days = tuple(MON + timedelta(days=n) for n in range(21))
    theirs = [demand("quay", packs), demand("mill", packs), demand("quay", packs, item="flour")]
    taken = with_demands(own_forecast(home, days), theirs, days, 1).portions[:, 0]
    correlation = np.corrcoef(taken)
    assert abs(correlation[0, 1]) < 0.15
    assert correlation[0, 2] == pytest.approx(1.0)


def test_a_supplier_looks_as_far_as_its_longest_stage():
    home = house(
        [ingredient("rib")], [recipe("aged-rib", 1.0, {"rib": 1.4}, takes_days=35)], [dish("rib", "aged-rib")]
    )
    assert days_ahead(replace(home, dishes={})) >= 35


def cells(workbook: Path) -> list[object]:
    """What stands in the cells of all sheets."""
    every = openpyxl.load_workbook(workbook, read_only=True)
    return [value for sheet in every for row in sheet.iter_rows(values_only=True) for value in row]


def test_a_kitchen_and_three_houses_against_the_same_worked_by_hand(tmp_path):
    """What the houses order for a day is what the kitchen begins for it: 4 pieces a pack, 10 a batch."""
    group = read_group(kitchens.central_group(tmp_path))
    ahead = 21
    tasks = {i: Task(m, group.shared, kitchens.THU, ahead=ahead) for i, m in group.members.items()}
    served = [run_house(tasks[i]) for i in ("h0", "h1", "h2")]
    kitchen_run = run_house(replace(tasks["kitchen"], ahead=0), *served)
    assert kitchen_run.faults == ()
    ordered: dict[date, int] = {}
    for line in (line for run in served for line in run.orders if line.vendor == "cook"):
        ordered[line.deliver_on] = ordered.get(line.deliver_on, 0) + line.packs
    starts = kitchens.rows(group.members["kitchen"].runs / "2026-11-26" / "starts.csv")
    assert {row["ready_on"]: float(row["batches"]) for row in starts} == {
        day.isoformat(): pytest.approx(packs * 4 / 10, abs=0.05) for day, packs in ordered.items()
    }
    friday = min(ordered)
    theirs = [
        sum(x.packs for x in run.orders if x.vendor == "cook" and x.deliver_on == friday) for run in served
    ]
    said = ", ".join(f"House {i} {packs * 4}" for i, packs in enumerate(theirs))
    listed = cells(group.members["kitchen"].runs / "2026-11-26" / "start-list.xlsx")
    assert any(f"for {said}" in str(cell) for cell in listed)
    sheets = group.members["kitchen"].runs / "2026-11-26" / "deliveries"
    assert sorted(p.name for p in sheets.iterdir()) == ["h0.xlsx", "h1.xlsx", "h2.xlsx"]


def test_houses_that_buy_from_each_other_in_a_circle_are_refused(tmp_path):
    file = kitchens.central_group(tmp_path, 1)
    vendors = tmp_path / "kitchen" / "config" / "vendors.yaml"
    vendors.write_text("cook: none\nbar: {name: The bar, house: h0}\n", "utf-8")
    with pytest.raises(Refused, match=r"circle: \w+ -> \w+ -> \w+;"):
        group_order(file, kitchens.THU, GroupTerms(out=tmp_path / "groups"))
    assert not (tmp_path / "groups").exists()


def test_a_vendor_that_is_no_house_of_the_group_is_refused(tmp_path):
    file = kitchens.central_group(tmp_path, 1)
    (tmp_path / "h0" / "config" / "vendors.yaml").write_text("cook: {house: kitchn}\n", "utf-8")
    with pytest.raises(Refused, match=r"'kitchn' is not a house.*did you mean 'kitchen'"):
        group_order(file, kitchens.THU, GroupTerms(out=tmp_path / "groups"))
