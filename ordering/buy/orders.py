"""From requirement curves to order lines: what to buy, in which packs, from whom, by when."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date
from decimal import Decimal

from ordering.buy import notes
from ordering.buy.choices import NONE_PLACED, BuyingProblem, problem
from ordering.buy.deliveries import item_deliveries
from ordering.buy.filling import fillings, minimum_notes
from ordering.buy.model import Packs
from ordering.buy.outlook import Bought, Pairs, foreseen, merged
from ordering.buy.pack_prices import losses
from ordering.buy.pars import par_advice
from ordering.buy.requirements import DeliveryConstraints, delivery_constraints, given_up_of, unmet_of
from ordering.buy.solve import Decision, decide
from ordering.records.buying import Buying, Delivery, DeliveryKey, OrderLine, Shortfall
from ordering.records.house import House
from ordering.records.money import fee_for
from ordering.records.plan import Requirement
from ordering.records.vendor_orders import line_of_offer


def choose_orders(
    house: House,
    requirements: Mapping[str, Requirement],
    deliveries: Mapping[str, Sequence[Delivery]],
    days: Sequence[date],
    *,
    last_prices: Mapping[tuple[str, str], Decimal] | None = None,
    spent: Decimal = Decimal(0),
    placed: Mapping[DeliveryKey, Decimal] = NONE_PLACED,
) -> Buying:
    """Orders due now at least cost, later deliveries foreseen, and what no delivery can bring.

    Parameters
    ----------
    requirements : by ingredient; an ingredient that is not there needs nothing
    deliveries : deliveries still open, by vendor (`open_deliveries`)
    days : the day axis of the requirements
    last_prices : by (vendor, code) the price last invoiced, to flag what changed: of one pack, or per
        weight where it is catch weight
    spent : ordered already in the week of the run, held against the weekly budget
    placed : money of earlier orders, by vendor and day: their delivery comes anyway and is paid for
    """
    pairs: dict[str, Pairs] = {}
    items: list[DeliveryConstraints] = []
    unmet: list[Shortfall] = []
    for item in sorted(requirements.keys() & house.ingredients.keys()):
        pairs[item] = item_deliveries(house, item, deliveries)
        unmet += given_up_of(item, requirements[item], pairs[item], days)
        found = delivery_constraints(house.ingredients[item], pairs[item], requirements[item])
        if found is not None:
            items.append(found)
            unmet += unmet_of(house, found, pairs[item], days)
    question = problem(house, [i for i in items if i.pairs], placed, losses(house, days[0]))
    decision = decide(question)
    bought = _bought(question, decision.packs)
    later = _foreseen(house, items, pairs, requirements, bought, decision)
    orders = _lines(house, bought, items, last_prices or {})
    outlook = _lines(house, later, (), {})
    fees = _fees(house, orders, placed)
    goods = dict(notes.goods_of(orders))
    filled = fillings(house, orders, items, days, goods, placed)
    low = notes.of_outlook(house, outlook, deliveries, placed)
    warnings = (
        *notes.needs_attention(house, orders, fees, spent, placed),
        *minimum_notes(house, filled),
    )
    return Buying(
        orders=tuple(_noted(line, filled[line.key].note if line.key in filled else "") for line in orders),
        outlook=tuple(_noted(line, low.get((line.vendor, line.deliver_on), "")) for line in outlook),
        unmet=tuple(sorted(unmet, key=lambda u: (u.needed_on, u.item))),
        pars=par_advice(house, requirements, deliveries, days),
        fees=fees,
        bound_gap=decision.gap,
        notes=(*warnings, *notes.of_buying(house, orders, fees, decision.gap, spent)),
        warnings=warnings,
        placed=placed,
    )


def _foreseen(
    house: House,
    items: Sequence[DeliveryConstraints],
    pairs: Mapping[str, Pairs],
    requirements: Mapping[str, Requirement],
    bought: Sequence[Bought],
    decision: Decision,
) -> list[Bought]:
    """Later lines of every ingredient; deliveries the decision leaves out bring only what no other can."""
    ordered: dict[str, list[tuple[int, float]]] = defaultdict(list)
    for offer, delivery, packs in bought:
        ordered[offer.item].append((delivery.day, packs * offer.pack_quantity))
    lines: list[Bought] = []
    for item in items:
        name = item.item
        par = house.ingredients[name].par or 0.0
        wide = pairs[name]
        narrow = [(o, d) for o, d in wide if (d.vendor, d.deliver_on) not in decision.closed]
        found, left = foreseen(item, narrow, requirements[name], par, ordered[name])
        if left > 0 and len(narrow) < len(wide):
            found, _ = foreseen(item, wide, requirements[name], par, ordered[name])
        lines += found
    return lines


def _bought(question: BuyingProblem, chosen: Packs) -> list[Bought]:
    """Packs by offer and delivery; price steps of one offer are one line."""
    parts = zip(question.choices, chosen.tolist(), strict=True)
    return merged((choice.offer, choice.delivery, n) for choice, n in parts if n)


def _lines(
    house: House,
    bought: Sequence[Bought],
    items: Sequence[DeliveryConstraints],
    last_prices: Mapping[tuple[str, str], Decimal],
) -> tuple[OrderLine, ...]:
    """Lines in order of delivery; with notes where the `items` are given."""
    by_item = {i.item: i for i in items}
    lines = []
    for offer, delivery, packs in bought:
        known = by_item.get(offer.item)
        note = notes.of_line(house, offer, delivery, packs, known, last_prices) if known else ""
        lines.append(line_of_offer(house, offer, packs, delivery.deliver_on, delivery.order_by, note))
    return tuple(sorted(lines, key=lambda line: (line.deliver_on, line.vendor, line.item, line.code)))


def _noted(line: OrderLine, note: str) -> OrderLine:
    return replace(line, note=notes.joined((line.note, note))) if note else line


def _fees(
    house: House, orders: Sequence[OrderLine], placed: Mapping[DeliveryKey, Decimal]
) -> dict[DeliveryKey, Decimal]:
    """Delivery fees by vendor and day, only those that are charged and were not before."""
    fees = {key: fee_for(house.vendors[key[0]], value) for key, value in notes.goods_of(orders)}
    return {key: fee for key, fee in fees.items() if fee > 0 and key not in placed}
