"""An order for a machine: OASIS UBL 2.1 Order, one document for each delivery of a vendor that takes them.

Source: OASIS, Universal Business Language Version 2.1 (OASIS Standard, 4 November 2013), Order; units are
codes of UN/ECE Recommendation 20 (from memory of the list), which UBL names in `unitCode`.
"""

from __future__ import annotations

import xml.etree.ElementTree as ET
from collections.abc import Mapping, Sequence
from datetime import date, datetime

from ordering.records.buying import OrderLine
from ordering.records.house import House
from ordering.records.money import offer_of
from ordering.records.page import Text
from ordering.records.vendor_orders import Order
from ordering.records.vendors import Vendor
from ordering.texts import one_line

ORDER = "urn:oasis:names:specification:ubl:schema:xsd:Order-2"
CAC = "urn:oasis:names:specification:ubl:schema:xsd:CommonAggregateComponents-2"
CBC = "urn:oasis:names:specification:ubl:schema:xsd:CommonBasicComponents-2"
PACKS = "C62"  # Recommendation 20: one
REC_20: Mapping[str, str] = {
    **{"g": "GRM", "kg": "KGM", "mg": "MGM", "lb": "LBR", "oz": "ONZ"},
    **{"ml": "MLT", "cl": "CLT", "dl": "DLT", "l": "LTR"},
    **{"fl oz": "OZA", "pint": "PTL", "quart": "QTL", "gallon": "GLL"},
    **{"imp fl oz": "OZI", "imp pint": "PTI", "imp quart": "QTI", "imp gallon": "GLI"},
    **{"cup": "G21", "tbsp": "G24", "tsp": "G25", "dozen": "DZN", "each": "C62"},
}
"""What a pack holds, by our unit; pieces of the trade (a bunch, a tray) are counted: C62."""


def machine_orders(house: House, vendor: Vendor, orders: Sequence[Order], made: datetime) -> dict[str, Text]:
    """`VENDOR-DATE.xml` for each delivery ordered; nothing where the vendor takes letters only."""
    if not vendor.takes_ubl:
        return {}
    return {
        f"{vendor.id}-{order.number or order.deliver_on.isoformat()}.xml": Text(
            _order(house, vendor, order, made)
        )
        for order in orders
        if order.lines
    }


def _order(house: House, vendor: Vendor, order: Order, made: datetime) -> str:
    number = order.number or f"{made.date().isoformat()}-{vendor.id}-{order.deliver_on.isoformat()}"
    for prefix, space in (("", ORDER), ("cac", CAC), ("cbc", CBC)):
        ET.register_namespace(prefix, space)
    top = ET.Element(f"{{{ORDER}}}Order")
    _basic(top, "UBLVersionID", "2.1")
    _basic(top, "ID", number)
    _basic(top, "IssueDate", made.date().isoformat())
    notes = [vendor.notes] if vendor.notes else []
    notes += [f"In addition to {', '.join(order.adds_to)}"] if order.adds_to else []
    for note in notes:
        _basic(top, "Note", note)
    if house.currency:
        _basic(top, "DocumentCurrencyCode", house.currency)
    buyer = _part(top, "BuyerCustomerParty")
    if vendor.account:
        _basic(buyer, "SupplierAssignedAccountID", vendor.account)
    _party(buyer, house.name, (house.contact, house.phone, house.email))
    _party(_part(top, "SellerSupplierParty"), vendor.name, (vendor.contact, vendor.phone, vendor.email))
    _delivery(top, house, order.deliver_on)
    if house.currency:
        total = _part(top, "AnticipatedMonetaryTotal")
        _basic(total, "LineExtensionAmount", f"{order.goods:.2f}", currencyID=house.currency)
        if order.fee:
            _basic(total, "ChargeTotalAmount", f"{order.fee:.2f}", currencyID=house.currency)
        _basic(total, "PayableAmount", f"{order.total:.2f}", currencyID=house.currency)
    for n, line in enumerate(order.lines, 1):
        _line(top, house, line, n)
    ET.indent(top, " ")
    return f'<?xml version="1.0" encoding="UTF-8"?>\n{ET.tostring(top, encoding="unicode")}\n'


def _part(parent: ET.Element, name: str) -> ET.Element:
    return ET.SubElement(parent, f"{{{CAC}}}{name}")


def _basic(parent: ET.Element, name: str, text: str, **attributes: str) -> None:
    ET.SubElement(parent, f"{{{CBC}}}{name}", attributes).text = one_line(text)


def _party(parent: ET.Element, name: str, reached: tuple[str, str, str]) -> None:
    party = _part(parent, "Party")
    _basic(_part(party, "PartyName"), "Name", name)
    if any(reached):
        contact = _part(party, "Contact")
        for element, text in zip(("Name", "Telephone", "ElectronicMail"), reached, strict=True):
            if text:
                _basic(contact, element, text)


def _delivery(top: ET.Element, house: House, day: date) -> None:
    delivery = _part(top, "Delivery")
    if house.address:
        address = _part(delivery, "DeliveryAddress")
        _basic(_part(address, "AddressLine"), "Line", house.address)
    _basic(_part(delivery, "RequestedDeliveryPeriod"), "EndDate", day.isoformat())


def _line(top: ET.Element, house: House, line: OrderLine, n: int) -> None:
    item_line = _part(_part(top, "OrderLine"), "LineItem")
    _basic(item_line, "ID", str(n))
    _basic(item_line, "Quantity", str(line.packs), unitCode=PACKS)
    priced = house.currency and line.price is not None
    if priced:
        _basic(item_line, "LineExtensionAmount", f"{line.amount:.2f}", currencyID=house.currency)
        price = _part(item_line, "Price")
        _basic(price, "PriceAmount", str(line.price), currencyID=house.currency)
        _basic(price, "BaseQuantity", "1", unitCode=PACKS)
    item = _part(item_line, "Item")
    _basic(item, "Description", f"{line.description}, {line.pack}")
    offer = offer_of(house, line.item, line.vendor, line.code)
    held = offer.pack_quantity if offer else line.quantity / max(line.packs, 1)
    _basic(item, "PackQuantity", f"{held:.6f}".rstrip("0").rstrip("."), unitCode=REC_20.get(line.unit, PACKS))
    _basic(item, "Name", line.description)
    _basic(_part(item, "SellersItemIdentification"), "ID", line.code)
