"""Why each line is ordered, in the order book: all that makes up the line, and nothing that does not."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import numpy as np
import pytest
import sample_plan
from sample_plan import SAT, TUE

from ordering.pages.line_reasons import line_reasons, lines_sheet
from ordering.pages.order_sheet import order_sheet
from ordering.records.plan import DeliveryWindow, Peg, Plan
from ordering.records.vendor_orders import orders_of

HOUSE = sample_plan.house()
PLAN = sample_plan.plan(HOUSE)
FLOUR = PLAN.buying.orders[0]
SUN = date(2026, 11, 29)


def reason(parts: dict[tuple[str, date | None], float], packed: float | None = None, note: str = "") -> str:
    """Why 50 kg of flour are ordered that are divided so; `packed` kg of them are over from packs."""
    line = replace(FLOUR, note=note)
    plan: Plan = replace(
        PLAN,
        buying=replace(PLAN.buying, orders=(line,)),
        pegging=tuple(Peg(*line.key, name, on, q, "kg") for (name, on), q in parts.items()),
    )
    if packed is not None:
        window = DeliveryWindow((line,), 2, 5, 0.0, 0.0, np.zeros(14), 0.0, 0.0, packed)
        plan = replace(plan, windows={"flour": (window,)})
    return line_reasons(HOUSE, plan)[line.key]


EVENING = {("trout-plate", SAT): 20.0, ("bread", SUN): 30.0}
CASES = {
    "the dish that takes most comes first, with the days of all": (
        (EVENING,),
        "50 kg for Bread and butter and Smoked trout, Sat 28 Nov and Sun 29 Nov",
    ),
    "a part of six hundredths is told": (
        ({("bread", SAT): 47.0, ("*safety", None): 3.0},),
        "47 kg for Bread and butter, Sat 28 Nov; 3 kg in case it is busy",
    ),
    "one of four hundredths is not": (
        ({("bread", SAT): 48.0, ("*safety", None): 2.0},),
        "48 kg for Bread and butter, Sat 28 Nov",
    ),
    "but never is there no cause at all": (
        ({("*par", None): 1.0, ("*rounding", None): 49.0},),
        "1 kg to keep the par; 49 kg over from whole packs",
    ),
    "what batches leave is told from what packs leave": (
        ({("bread", SAT): 20.0, ("*rounding", None): 30.0}, 0.0),
        "20 kg for Bread and butter, Sat 28 Nov; 30 kg over from whole batches",
    ),
    "or from both": (
        ({("bread", SAT): 20.0, ("*rounding", None): 30.0}, 20.0),
        "20 kg for Bread and butter, Sat 28 Nov; 30 kg over from whole packs and batches",
    ),
    "what no dish carries": (({("*consumables", SAT): 50.0},), "50 kg for the service itself, Sat 28 Nov"),
    "what else is to be known of the line": (
        ({("bread", SAT): 50.0}, None, "no price known: ask"),
        "50 kg for Bread and butter, Sat 28 Nov. No price known: ask.",
    ),
    "of many dishes two are named": (
        ({("bread", SAT): 30.0, ("trout-plate", SAT): 10.0, ("rib-plate", SUN): 6.0, ("old", TUE): 4.0},),
        "50 kg for Bread and butter, Smoked trout and 2 more, Sat 28 Nov to Tue 1 Dec",
    ),
    "three are all named": (
        ({("bread", SAT): 30.0, ("trout-plate", SAT): 10.0, ("rib-plate", SAT): 10.0},),
        "50 kg for Bread and butter, Smoked trout and Aged rib for two, Sat 28 Nov",
    ),
}


@pytest.mark.parametrize(("given", "said"), CASES.values(), ids=CASES)
def test_a_line_says_what_it_is_for(given, said):
    assert reason(*given) == said


def test_every_line_to_order_stands_under_its_delivery_the_earliest_cut_off_first():
    (head, *rows) = [[cell.value for cell in row] for row in lines_sheet(HOUSE, PLAN).rows[3:]]
    assert head == ["item", "order", "why"]
    assert [row[:2] for row in rows] == [
        ["Reed Quay Fish & Sons", "for Sat 28 Nov"],
        ["Trout, gutted", "16, about 0.4 kg each"],
        ["Hollow Mill", "for Sat 28 Nov"],
        ["Strong white flour", "2 packs of 25 kg"],
        ["Mixed seeds", "1 pack of 5 kg"],
        ["Hollow Mill", "for Tue 1 Dec"],
        ["Strong white flour", "3 packs of 6 x 1.5 kg"],
    ]


def test_a_vendor_reads_nothing_of_it():
    mill = HOUSE.vendors["hollow-mill"]
    sheet = str(order_sheet(HOUSE, mill, orders_of(HOUSE, PLAN.buying.orders, {}), PLAN.now))
    assert "Strong white flour" in sheet
    assert not any(words in sheet for words in ("Bread and butter", "in case it is busy", "over from"))
