"""From requirement curves to order lines: what to buy, in which packs, from whom, by when."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from ordering.buy import choices, notes
from ordering.buy.beyond import Bought, Outcome, Pairs, beyond_reach, is_better, without
from ordering.buy.calendar import item_chances
from ordering.buy.curve import Cover, cover
from ordering.buy.fallback import Packs
from ordering.buy.filling import filled
from ordering.buy.joined import Drop, Wish, joined
from ordering.buy.money import line_amount
from ordering.buy.pars import par_advice
from ordering.buy.solve import decide
from ordering.buy.unmet import unmet_of
from ordering.records.house import House, Offer
from ordering.records.money import fee_for, price_at
from ordering.records.plan import Buying, Chance, OrderLine, Requirement, Unmet

AGAIN = 2
MANY = 100
"""Times the decision is made again at most, and ingredients from which it is made again but once: a third
decision takes its time and has changed next to nothing there; measured."""


def choose_orders(
    house: House,
    requirements: Mapping[str, Requirement],
    chances: Mapping[str, Sequence[Chance]],
    days: Sequence[date],
    *,
    last_prices: Mapping[tuple[str, str], Decimal] | None = None,
    spent: Decimal = Decimal(0),
    placed: Mapping[choices.Drop, Decimal] = choices.NONE_PLACED,
) -> Buying:
    """Orders due now at least cost, later deliveries foreseen, and what no delivery can bring.

    Parameters
    ----------
    requirements : by ingredient; an ingredient that is not there needs nothing
    chances : deliveries still open, by vendor (`delivery_chances`)
    days : the day axis of the requirements
    last_prices : by (vendor, code) the price last invoiced, to flag what changed: of one pack, or per
        weight where it is catch weight
    spent : ordered already in the week of the run, held against the weekly budget
    placed : money of earlier orders, by vendor and day: their delivery comes anyway and is paid for
    """
    pairs: dict[str, Pairs] = {}
    covers: list[Cover] = []
    unmet: list[Unmet] = []
    for item in sorted(requirements.keys() & house.ingredients.keys()):
        pairs[item] = item_chances(house, item, chances)
        found = cover(house.ingredients[item], pairs[item], requirements[item])
        if found is not None:
            covers.append(found)
            unmet += unmet_of(house, found, pairs[item], days)
    made = _settled(house, covers, pairs, requirements, placed)
    orders = _lines(house, made.outcome.bought, covers, last_prices or {})
    outlook = _lines(house, [line for lines in made.outcome.later.values() for line in lines], covers, {})
    fees = _fees(house, orders, placed)
    warnings = notes.to_see_to(house, orders, fees, spent, placed)
    return Buying(
        orders=orders,
        outlook=outlook,
        unmet=tuple(sorted(unmet, key=lambda u: (u.needed_on, u.item))),
        pars=par_advice(house, requirements, chances, days),
        fees=fees,
        bound_gap=made.gap,
        notes=(
            *warnings,
            *notes.of_buying(house, orders, fees, made.gap, spent),
            *notes.of_outlook(house, outlook, chances, placed),
        ),
        warnings=warnings,
        placed=placed,
    )


@dataclass(frozen=True, slots=True)
class _Round:
    """One decision, the ingredients as they stand after it, and how good it is known to be."""

    outcome: Outcome
    wishes: Mapping[str, Wish]
    gap: float | None


def _settled(
    house: House,
    covers: Sequence[Cover],
    pairs: Mapping[str, Pairs],
    requirements: Mapping[str, Requirement],
    placed: Mapping[choices.Drop, Decimal],
) -> _Round:
    """The decision, made again while goods are left to later deliveries that will not come for them."""
    best = _round(house, covers, pairs, requirements, placed)
    barred: dict[str, frozenset[Drop]] = {}
    for _ in range(AGAIN if len(covers) < MANY else 1):
        found = beyond_reach(house, best.wishes, best.outcome)
        if not found:
            break
        barred.update({item: barred.get(item, frozenset()) | drops for item, drops in found.items()})
        left = {item: without(of_item, barred.get(item, frozenset())) for item, of_item in pairs.items()}
        again = [
            cover(house.ingredients[c.item], left[c.item], requirements[c.item]) if c.item in barred else c
            for c in covers
        ]
        tried = _round(house, [c for c in again if c is not None], left, requirements, placed)
        until = max(day for drops in found.values() for _, day in drops)
        if not is_better(house, best.outcome, tried.outcome, until):
            break
        best = tried
    return best


def _round(
    house: House,
    covers: Sequence[Cover],
    pairs: Mapping[str, Pairs],
    requirements: Mapping[str, Requirement],
    placed: Mapping[choices.Drop, Decimal],
) -> _Round:
    asking = [c for c in covers if any(chance.is_now for _, chance in c.pairs)]
    question = choices.problem(house, asking, placed)
    decision = decide(question)
    full = filled(question, decision.packs)
    extra = sum(
        (int(n) - int(m)) * c.each
        for c, n, m in zip(question.choices, full, decision.packs, strict=True)
        if n > m
    )
    bought = _bought(question, full)
    ordered: dict[str, list[tuple[int, float]]] = defaultdict(list)
    for offer, chance, packs in bought:
        ordered[offer.item].append((chance.day, packs * offer.pack_quantity))
    wishes = {
        c.item: Wish(
            c, pairs[c.item], requirements[c.item], house.ingredients[c.item].par or 0.0, ordered[c.item]
        )
        for c in covers
    }
    return _Round(Outcome(bought, joined(wishes, house.vendors)), wishes, decision.gap_with(extra))


def _bought(question: choices.Problem, chosen: Packs) -> list[Bought]:
    """Packs by offer and delivery; price steps of one offer are one line."""
    packs: dict[tuple[str, str, date, str], tuple[Offer, Chance, int]] = {}
    for choice, n in zip(question.choices, chosen, strict=True):
        if n > 0 and choice.chance.is_now:
            key = (choice.offer.vendor, choice.offer.code, choice.chance.deliver_on, choice.offer.item)
            known = packs[key][2] if key in packs else 0
            packs[key] = (choice.offer, choice.chance, known + int(n))
    return list(packs.values())


def _lines(
    house: House,
    bought: Sequence[Bought],
    covers: Sequence[Cover],
    last_prices: Mapping[tuple[str, str], Decimal],
) -> tuple[OrderLine, ...]:
    by_item = {c.item: c for c in covers}
    lines = []
    for offer, chance, packs in bought:
        ingredient = house.ingredients[offer.item]
        lines.append(
            OrderLine(
                vendor=offer.vendor,
                code=offer.code,
                item=offer.item,
                description=offer.description or ingredient.name,
                packs=packs,
                pack=offer.pack,
                quantity=packs * offer.pack_quantity,
                unit=ingredient.unit,
                price=price_at(offer, packs),
                amount=line_amount(offer, packs),
                order_by=chance.order_by,
                deliver_on=chance.deliver_on,
                is_catch_weight=offer.is_catch_weight,
                quoted=f"{offer.price_per} per {offer.per_unit}" if offer.price_per is not None else "",
                note=notes.of_line(house, offer, chance, packs, by_item[offer.item], last_prices),
            )
        )
    return tuple(sorted(lines, key=lambda line: (line.deliver_on, line.vendor, line.item, line.code)))


def _fees(
    house: House, orders: Sequence[OrderLine], placed: Mapping[choices.Drop, Decimal]
) -> dict[tuple[str, date], Decimal]:
    """Delivery fees by vendor and day, only those that are charged and were not before."""
    goods: dict[tuple[str, date], Decimal] = defaultdict(Decimal)
    for line in orders:
        goods[line.vendor, line.deliver_on] += line.amount
    fees = {drop: fee_for(house.vendors[drop[0]], value) for drop, value in sorted(goods.items())}
    return {drop: fee for drop, fee in fees.items() if fee > 0 and drop not in placed}
