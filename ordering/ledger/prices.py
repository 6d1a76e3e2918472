"""What was invoiced against what the house's files say: the price that costs are worked out from. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal

from ordering.days import format_day
from ordering.faults import Fault
from ordering.records.house import House
from ordering.records.ledger import Bookings
from ordering.records.money import CENT, price_at, price_said, quoted_price
from ordering.records.vendors import Offer

Steps = tuple[tuple[int, Decimal], ...]


@dataclass(frozen=True, slots=True)
class Invoiced:
    """An offer whose file lags behind its last invoice, in which so many `packs` came.

    `quoted`, `file_price`: in the terms of the offer.
    """

    offer: Offer
    quoted: Decimal
    file_price: Decimal
    since: date
    packs: float

    @property
    def steps(self) -> Steps:
        """The offer's prices with the one that was invoiced; more packs never cost more than fewer."""
        steps = steps_of(self.offer)
        reached = min((n for n in steps if n[0] <= self.packs), key=lambda n: (n[1], -n[0]))[0]
        return tuple((least, self._step(least - reached, price)) for least, price in steps)

    def _step(self, beyond: int, price: Decimal) -> Decimal:
        """A price of the file so many packs beyond the step that was invoiced."""
        if beyond < 0:
            return max(price, self.quoted)
        return min(price, self.quoted) if beyond else self.quoted

    @property
    def told(self) -> str:
        """What is said of it: a rise is a rise."""
        rise = (self.quoted - self.file_price) / self.file_price * 100
        word = "more" if rise > 0 else "less"
        return (
            f"{self.offer.vendor} {self.offer.code} was invoiced at {price_said(self.quoted)} on "
            f"{format_day(self.since)}, {abs(rise):.1f} % {word} than the "
            f"{price_said(self.file_price)} in the file"
        )


def invoiced(house: House, bookings: Bookings, on: date) -> tuple[Invoiced, ...]:
    """Offers last invoiced at another price than their file has, by item.

    Only where an order was placed at the file's price before that invoice: a price written into the file
    since then is newer and holds. Of an offer with price breaks the step that the packs reached is meant.
    """
    last: dict[tuple[str, str], tuple[date, Decimal, float]] = {}
    for booked in bookings.receipts:
        r = booked.record
        if (
            r.price
            and r.delivered_on <= on
            and r.delivered_on >= last.get((r.vendor, r.code), (date.min,))[0]
        ):
            last[r.vendor, r.code] = r.delivered_on, r.price, r.packs
    placed: dict[tuple[str, str, Decimal], date] = {}
    for p in bookings.orders:
        if p.price is not None:
            key = (p.vendor, p.code, p.price.quantize(CENT))
            placed[key] = min(p.placed_on, placed.get(key, p.placed_on))
    found = []
    for offer in (o for i in house.ingredients.values() for o in i.offers):
        known = last.get((offer.vendor, offer.code))
        if known is None or not offer.price:
            continue
        since, price, packs = known
        pack_price, file_price = price_at(offer, packs), quoted_price(offer, packs)
        if pack_price is None or file_price is None:
            continue
        first = placed.get((offer.vendor, offer.code, pack_price.quantize(CENT)))
        if first is not None and first <= since and abs(price - file_price) >= CENT / 2:
            found.append(Invoiced(offer, price, file_price, since, packs))
    return tuple(found)


def steps_of(offer: Offer) -> Steps:
    """(packs, price from that many on) of an offer, the first from none, as they are quoted in the file."""
    if offer.price_per is None or not offer.price:
        return ((0, offer.price or Decimal(0)), *offer.breaks)
    ratio = offer.price_per / offer.price
    return ((0, offer.price_per), *((least, price * ratio) for least, price in offer.breaks))


def at_invoiced_prices(house: House, found: Iterable[Invoiced]) -> House:
    """The house with these offers at the price they were invoiced at."""
    prices = {(one.offer.vendor, one.offer.code): one for one in found}
    if not prices:
        return house

    def priced(offer: Offer) -> Offer:
        one = prices.get((offer.vendor, offer.code))
        if one is None or offer.price is None:
            return offer
        (_, first), *breaks = one.steps
        ratio = Decimal(1) if offer.price_per is None else offer.price / offer.price_per
        return replace(
            offer,
            price=first * ratio,
            price_per=None if offer.price_per is None else first,
            breaks=tuple((least, price * ratio) for least, price in breaks),
        )

    goods = {
        key: replace(item, offers=tuple(map(priced, item.offers))) for key, item in house.ingredients.items()
    }
    return replace(house, ingredients=goods)


MOST_PRICE_DOUBTS = 3
"""More prices than these are one thing to look at, not many. Common practice, no source."""


def lagging_doubts(house: House, found: Sequence[Invoiced]) -> Iterator[Fault]:
    """What a run says of file prices that lag behind: each of a few, and how many where there are more."""
    doubts = list(price_doubts(house, found))
    if len(doubts) <= MOST_PRICE_DOUBTS:
        yield from doubts
        return
    n_higher = sum(one.quoted > one.file_price for one in found)
    some = f"which is higher for {n_higher} of them"
    which = {len(found): "which is higher", 0: "which is lower"}.get(n_higher, some)
    wrong = f"{len(found)} prices in the files differ from the last invoice, {which}"
    right = "costs follow the invoices; 'ordering check --prices' lists them, with --yes it writes them"
    yield Fault(doubts[0].place, 0, "", wrong, right, "price-lags")


def price_doubts(house: House, found: Sequence[Invoiced]) -> Iterator[Fault]:
    """A doubt for each file price that lags behind, at its line."""
    for one in found:
        item = house.ingredients[one.offer.item]
        n = next(n for n, o in enumerate(item.offers) if o == one.offer)
        key = f"ingredients.{item.id}"
        place = house.places.get(f"{key}.offers.{n}") or house.places.get(key)
        where, line = (place.path, place.line) if place else ("ingredients.yaml", 0)
        right = "costs follow the invoice; 'ordering check --prices --yes' writes it into the file"
        yield Fault(where, line, item.id, one.told, right, "price-lags")
