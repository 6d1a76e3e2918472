"""Money: rounded once, where it is printed or booked, and what an invoice line comes to."""

from __future__ import annotations

from decimal import ROUND_HALF_UP, Decimal

from ordering.records.books import Receipt
from ordering.records.house import House
from ordering.records.vendors import Offer, Vendor
from ordering.units import UnitError, convert

CENT = Decimal("0.01")


def cents(amount: Decimal | float) -> Decimal:
    """An amount to two decimals, half a cent upwards (common practice, no source)."""
    exact = amount if isinstance(amount, Decimal) else Decimal(repr(float(amount)))
    return exact.quantize(CENT, ROUND_HALF_UP)


def price_said(price: Decimal) -> str:
    """A price with the decimals it was quoted in, two at least: 9.5 is 9.50, 0.0125 stays."""
    decimals = max(2, -int(price.normalize().as_tuple().exponent))
    return f"{price:,.{decimals}f}"


def offer_of(house: House, item: str, vendor: str, code: str) -> Offer | None:
    """The offer a code stands for, None where the configuration no longer has it."""
    ingredient = house.ingredients.get(item)
    if ingredient is None:
        return None
    return next((o for o in ingredient.offers if (o.vendor, o.code) == (vendor, code)), None)


def price_at(offer: Offer, packs: float) -> Decimal | None:
    """Price of one pack when that many are ordered: the best break reached holds for all of them."""
    if offer.price is None:
        return None
    return min([offer.price, *(price for least, price in offer.breaks if packs >= least)])


def line_amount(price: Decimal | None, packs: int) -> Decimal:
    """Money of so many packs at a price, for catch weight the expected; zero where no price is known."""
    return Decimal(0) if price is None else cents(price * packs)


def quoted_price(offer: Offer, packs: float = 1.0) -> Decimal | None:
    """Price in the terms of an invoice: per `per_unit` for catch weight, of one pack otherwise.

    `packs` chooses the price break. None where the house has no price for the offer.
    """
    return quoted_of(offer, price_at(offer, packs))


def quoted_of(offer: Offer, price: Decimal | None) -> Decimal | None:
    """The price of a pack in the terms of an invoice: per `per_unit` for catch weight."""
    if price is None or not offer.price or offer.price_per is None or not offer.is_catch_weight:
        return price
    return offer.price_per if price == offer.price else price * offer.price_per / offer.price


def price_per_said(offer: Offer, price: Decimal | None) -> str:
    """The price of a pack as a vendor of catch weight quotes it: `9.85 per lb`; nothing of other goods."""
    quoted = quoted_of(offer, price)
    if quoted is None or offer.price_per is None:
        return ""
    return f"{price_said(quoted if quoted == offer.price_per else cents(quoted))} per {offer.per_unit}"


def invoiced(house: House, offer: Offer | None, packs: float, quantity: float, price: Decimal) -> Decimal:
    """What a delivered line costs: weight times price for catch weight, packs times price otherwise.

    `quantity` is in the item's unit. Rounded to cents.
    """
    if offer is not None and offer.is_catch_weight and offer.per_unit:
        thing = house.ingredients[offer.item]
        try:
            weight = convert(quantity, thing.unit, offer.per_unit, thing.each_g, thing.density_kg_per_l)
        except (UnitError, KeyError):
            weight = quantity
        return cents(Decimal(repr(weight)) * price)
    return cents(Decimal(repr(float(packs))) * price)


def fee_for(vendor: Vendor, goods: Decimal) -> Decimal:
    """Delivery fee on goods of that value; waived when the value reaches `fee_waived_over`."""
    is_waived = vendor.fee_waived_over is not None and goods >= vendor.fee_waived_over
    return Decimal(0) if is_waived else vendor.delivery_fee


def per(offer: Offer | None) -> str:
    """What a price is of, in words: `a pack` or `per kg`."""
    is_weighed = offer is not None and offer.is_catch_weight and offer.per_unit
    return f"per {offer.per_unit}" if offer is not None and is_weighed else "a pack"


def receipt_money(house: House, receipt: Receipt) -> Decimal:
    """What a receipt cost: as invoiced, or at the offer's price where no price came with it."""
    offer = offer_of(house, receipt.item, receipt.vendor, receipt.code)
    price = receipt.price
    if price is None and offer is not None:
        price = quoted_price(offer, receipt.packs)
    return Decimal(0) if price is None else invoiced(house, offer, receipt.packs, receipt.quantity, price)
