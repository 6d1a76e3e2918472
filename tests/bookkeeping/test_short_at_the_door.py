"""After a short delivery: when the house runs out, which dishes that hits, and which order still mends it."""

from __future__ import annotations

from dataclasses import replace
from datetime import time, timedelta

import pytest
from kitchens import LINES, SAT, THU, Kitchen

from ordering import bookkeeping
from ordering.bookkeeping.running_out import _joined
from ordering.records.documents import Meant
from ordering.write.table import csv_bytes

FORECAST = ("date", "service", "dish", "mean")
PROJECTION = ("item", "date", "gross", "scheduled", "planned", "expired", "projected", "unit")
N_DAYS = 26
SHORT = "  short: M-1 Bread flour: 1 of 3 packs came, 2 missing (50 kg, worth 40.00); treated as cancelled; "
ENOUGH = f"{SHORT}there is enough without it"


class Door(Kitchen):
    """A kitchen whose miller also comes on Wednesdays, ordered by Monday; 30 kg of flour on 19 November."""

    def __init__(self, folder):
        super().__init__(folder)
        vendors = self.config / "vendors.yaml"
        more = "{day: sat, order_by: thu 15:00}, {day: wed, order_by: mon 15:00}"
        vendors.write_text(vendors.read_text().replace("{day: sat, order_by: thu 15:00}", more, 1))

    def plan(self, drawn, lines=LINES[:1], planned=0.0):
        """A run placed, whose plan draws so much flour a day; `planned` comes off something each day."""
        folder = self.make_run(lines)
        self.place()
        brought = {line.deliver_on: line.quantity for line in lines if line.item == "flour"}
        days = [THU + timedelta(n) for n in range(N_DAYS)]
        rows = [("flour", d, drawn, 0.0, planned + brought.get(d, 0.0), 0.0, 0.0, "kg") for d in days]
        (folder / "projection.csv").write_bytes(csv_bytes(PROJECTION, rows))
        asked = [(d, "dinner", dish, 12.0) for d in days for dish in ("*", "duck-pie")]
        (folder / "forecast.csv").write_bytes(csv_bytes(FORECAST, asked))

    def came(self, rows, at=time(9, 0), on=SAT):
        file = self.folder / "came.csv"
        file.write_text("delivered_on,vendor,code,packs,quantity,unit,price\n" + rows.replace("\n", ",,,\n"))
        ahead = bookkeeping.Ahead(self.runs, at)
        return bookkeeping.receive(self.config, self.books, file, on, Meant(), ahead=ahead).lines


@pytest.fixture
def door(tmp_path):
    return Door(tmp_path)


ONE_PACK = f"{SAT},miller,M-1,1\n"


def test_what_came_short_is_ordered_again_before_the_house_runs_out(door):
    """30 kg and one sack of 25: ten a day last until Wednesday's service."""
    door.plan(drawn=10.0)
    assert door.came(ONE_PACK) == (
        "Booked in as D-1",
        "Old Mill, delivered Sat 28 Nov: 1 line, 20.00 GBP",
        f"{SHORT}it runs out on Thu 3 Dec, see below",
        "Running short",
        "  No Bread flour from Thu 3 Dec, for Duck pie: order 2 packs from Old Mill by Mon 30 Nov 15:00, "
        "for Wed 2 Dec; the next run is not until Thu 3 Dec",
    )


def test_where_the_next_run_is_early_enough_nothing_need_be_done(door):
    door.plan(drawn=5.0)
    assert (
        "  No Bread flour from Wed 9 Dec, for Duck pie: the next run, on Thu 3 Dec, still orders it in "
        "time (Old Mill, by Mon 7 Dec 15:00, for Wed 9 Dec)" in door.came(ONE_PACK)
    )


def test_where_no_delivery_comes_in_time_the_next_one_is_said(door):
    door.plan(drawn=30.0)
    assert door.came(ONE_PACK)[-1] == (
        "  No Bread flour from Sun 29 Nov, for Duck pie, and no delivery comes before that: buy 2 packs "
        "of 25 kg locally; the next is Old Mill on Wed 2 Dec, order by Mon 30 Nov 15:00"
    )


def test_a_cut_off_that_has_passed_mends_nothing(door):
    door.plan(drawn=15.0)
    said = door.came(ONE_PACK, at=time(15, 1), on=SAT + timedelta(2))
    assert any("buy 1 pack of 25 kg locally; the next is Old Mill on Sat 5 Dec" in line for line in said)


def test_what_is_there_for_the_whole_plan_need_not_be_bought_again(door):
    door.plan(drawn=0.5)
    assert door.came(ONE_PACK)[2:] == (ENOUGH,)


def test_what_comes_off_something_else_and_what_is_on_order_are_counted_on(door):
    door.plan(drawn=10.0, planned=8.0)
    assert ENOUGH in door.came(ONE_PACK)


def test_another_vendor_mends_what_the_own_one_cannot(door):
    goods = door.config / "ingredients.yaml"
    more = '    - {vendor: poulterer, code: "F-5", pack: 5 kg, price: 6.00}\nyeast:'
    goods.write_text(goods.read_text().replace("yeast:", more, 1))
    vendors = door.config / "vendors.yaml"
    text = vendors.read_text().replace(
        "[{day: sat, order_by: thu 12:00}]", "[{day: sun, order_by: sat 12:00}]"
    )
    vendors.write_text(text)
    door.plan(drawn=30.0)
    said = door.came(ONE_PACK)[-1]
    assert "order 10 packs of F-5 from Marsh Fowl by Sat 28 Nov 12:00, for Sun 29 Nov" in said


def test_a_line_that_is_not_on_the_delivery_is_looked_at_as_if_it_did_not_come(door):
    door.plan(drawn=10.0, lines=LINES[:2])
    said = door.came(f"{SAT},miller,M-9,2\n")
    assert (
        "  not on the delivery: M-1 Bread flour: 3 packs ordered for Sat 28 Nov; still expected until "
        "Sun 29 Nov; if it does not come, it runs out on Tue 1 Dec, see below" in said
    )
    assert "  No Bread flour from Tue 1 Dec if it does not come, for Duck pie, and no delivery" in said[-1]


def test_packs_of_the_run_that_are_still_to_be_placed_are_coming(door):
    """The run also orders two sacks for Wednesday, its cut-off still ahead: with them it is enough."""
    wednesday = replace(
        LINES[0], packs=9, quantity=225.0, deliver_on=SAT + timedelta(4), order_by=LINES[0].order_by
    )
    later = replace(wednesday, order_by=wednesday.order_by + timedelta(4))
    folder = door.make_run((LINES[0], later))
    terms = bookkeeping.PlacingTerms(only=("miller,2026-11-28",))
    bookkeeping.place(door.config, door.books, door.runs, folder.name, terms, THU)
    days = [THU + timedelta(n) for n in range(N_DAYS)]
    brought = {SAT: 75.0, SAT + timedelta(4): 225.0}
    rows = [("flour", d, 10.0, 0.0, brought.get(d, 0.0), 0.0, 0.0, "kg") for d in days]
    (folder / "projection.csv").write_bytes(csv_bytes(PROJECTION, rows))
    assert ENOUGH in door.came(ONE_PACK)


@pytest.mark.parametrize("damage", ["no run", "another house", "damaged", "over"])
def test_without_a_plan_that_is_said(door, damage):
    door.plan(drawn=10.0)
    folder = door.runs / "2026-11-26"
    if damage == "no run":
        folder.rename(door.folder / "away")
    elif damage == "another house":
        facts = folder / "run.json"
        facts.write_text(facts.read_text().replace("The Tiny Oven", "Another"))
    elif damage == "damaged":
        (folder / "projection.csv").write_text("item,date\nflour,2026-11-28\n")
    else:
        (folder / "projection.csv").write_bytes(
            csv_bytes(PROJECTION, [("flour", THU, 1.0, 0.0, 0.0, 0.0, 0.0, "kg")])
        )
    assert door.came(ONE_PACK)[2:] == (
        f"{SHORT}it goes on the next order",
        "There is no run to see from when the house runs out of it: 'ordering order' makes one",
    )


def test_a_delivery_in_full_says_nothing_of_it(door):
    door.plan(drawn=10.0)
    assert not any(
        "runs out" in line or "there is enough" in line for line in door.came(f"{SAT},miller,M-1,3\n")
    )


@pytest.mark.parametrize(("days_after", "is_named"), [(6, True), (7, False)])
def test_dishes_of_the_week_that_begins_without_it_are_named(door, days_after, is_named):
    """The flour runs out on 3 December; duck pie is on the menu from the 9th, or the 10th."""
    door.plan(drawn=10.0)
    first = THU + timedelta(7 + days_after)
    asked = [(first + timedelta(n), "dinner", dish, 12.0) for n in range(5) for dish in ("*", "duck-pie")]
    (door.runs / "2026-11-26" / "forecast.csv").write_bytes(csv_bytes(FORECAST, asked))
    assert ("No Bread flour from Thu 3 Dec, for Duck pie:" in door.came(ONE_PACK)[-1]) == is_named


@pytest.mark.parametrize(
    ("names", "said"),
    [
        (["Pie", "Tart", "Soup"], "Pie, Tart and Soup"),
        (["Pie", "Tart", "Soup", "Stew", "Cake"], "Pie, Tart and 3 more"),
        (["Pie, hot", "Tart", "Soup", "Stew"], "Pie, hot; Tart; 2 more"),
    ],
)
def test_three_dishes_that_it_hits_are_named_or_two_and_the_others_counted(names, said):
    assert _joined(names) == said
