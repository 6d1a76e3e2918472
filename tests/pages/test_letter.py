"""The draft letter: the whole order in aligned lines, narrow enough for any mail program."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from decimal import Decimal

import pytest
import sample_plan
from hostile import NAMES

from ordering.amounts import pack_words
from ordering.pages.letter import letter
from ordering.pages.order_sheet import order_sheet
from ordering.records.house import House
from ordering.records.page import Letter
from ordering.records.plan import Plan
from ordering.records.vendor_orders import orders_of
from ordering.texts import cells_wide
from ordering.write.eml import letter_bytes

HOUSE = sample_plan.house()
PLAN = sample_plan.plan(HOUSE)


def written(vendor: str, house: House = HOUSE, plan: Plan = PLAN) -> Letter:
    orders = [o for o in orders_of(house, plan.buying.orders, {}) if o.vendor == vendor]
    of = house.vendors[vendor]
    return letter(house, of, orders, plan.now, order_sheet(house, of, orders, plan.now))


def test_the_body_holds_every_line_of_the_order() -> None:
    body = written("hollow-mill").body
    for line in PLAN.buying.orders:
        if line.vendor == "hollow-mill":
            (found,) = [text for text in body.splitlines() if line.code in text.split()]
            assert found.split()[0] == str(line.packs)
            assert line.description in found
            assert found.endswith(pack_words(line.pack))
    assert "Saturday 28 November 2026" in body
    assert "order by" not in body, "a cut-off is the house's own affair"
    assert "Tuesday 1 December 2026" in body


def test_subject_has_house_and_delivery_day() -> None:
    assert written("reed-quay").subject == (
        "Order from The Heron and Reed for delivery on Saturday 28 November 2026"
    )
    assert written("hollow-mill").subject.endswith("for delivery on Sat 28 Nov and Tue 1 Dec 2026")


def test_a_subject_names_every_order() -> None:
    numbers = {("hollow-mill", date(2026, 11, 28)): "PO-1", ("hollow-mill", date(2026, 12, 1)): "PO-2"}
    mine = [o for o in orders_of(HOUSE, PLAN.buying.orders, numbers) if o.vendor == "hollow-mill"]
    mill = HOUSE.vendors["hollow-mill"]
    found = letter(HOUSE, mill, mine, PLAN.now, order_sheet(HOUSE, mill, mine, PLAN.now))
    assert found.subject.startswith("Orders PO-1 and PO-2 from The Heron and Reed for delivery on")


@pytest.mark.parametrize(
    ("contact", "greeting"),
    [("Ms Vane", "Dear Ms Vane,"), ("The order desk", "Dear order desk,"), ("", "Hello,")],
)
def test_a_letter_greets_whom_the_house_names(contact: str, greeting: str) -> None:
    quay = replace(HOUSE.vendors["reed-quay"], contact=contact)
    house = replace(HOUSE, vendors={**HOUSE.vendors, "reed-quay": quay})
    assert written("reed-quay", house).body.splitlines()[0] == greeting


def test_a_delivery_is_underlined_to_its_length_in_either_country() -> None:
    for country, day in (("GB", "Saturday 28 November 2026"), ("US", "Saturday, November 28, 2026")):
        lines = written("reed-quay", replace(HOUSE, holiday_country=country)).body.splitlines()
        at = lines.index(f"Delivery on {day}")
        assert lines[at + 1] == "=" * len(lines[at])


def test_catch_weight_counted_in_pieces_says_the_weight_of_a_pack() -> None:
    lines = tuple(replace(line, unit="each", pack="4 each ~ 1.6 kg") for line in PLAN.buying.orders)
    body = written("reed-quay", plan=replace(PLAN, buying=replace(PLAN.buying, orders=lines))).body
    assert "about 1.6 kg a pack" in body


def test_catch_weight_is_said_with_its_expected_weight() -> None:
    body = written("reed-quay").body
    assert "(catch weight, 9.50 per kg)" in body
    assert "about 6.4 kg" in body


@pytest.mark.parametrize("name", NAMES.values(), ids=NAMES.keys())
def test_no_name_makes_a_line_too_wide_or_breaks_the_columns(name: str) -> None:
    house = sample_plan.house({"seeds": name, "hollow-mill": name, "house": name})
    found = written("hollow-mill", house, sample_plan.plan(house))
    assert max(cells_wide(line) for line in found.body.splitlines()) <= 78
    assert letter_bytes(found)
    (line,) = [text for text in found.body.splitlines() if text.split()[1:2] == ["77"]]
    assert line.startswith("    1  77          ")


def test_the_house_writes_under_its_own_address_or_one_that_cannot_be_reached() -> None:
    assert written("reed-quay").sender.endswith(".invalid")
    house = replace(HOUSE, email="kitchen@heron.example")
    assert written("reed-quay", house).sender == "kitchen@heron.example"


def test_money_is_left_out_where_nothing_has_a_price() -> None:
    orders = tuple(replace(line, price=None, amount=Decimal(0)) for line in PLAN.buying.orders)
    plan = replace(PLAN, buying=replace(PLAN.buying, orders=orders, fees={}))
    assert "\n1 line\n" in written("reed-quay", plan=plan).body


def test_it_is_dated_by_the_run_in_the_zone_of_the_house() -> None:
    assert written("reed-quay").dated.isoformat() == "2026-11-26T00:00:00+00:00"
