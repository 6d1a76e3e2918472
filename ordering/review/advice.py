"""The things worth doing, each with the money in it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from ordering.records.house import House
from ordering.records.ledger import Expected
from ordering.records.money import cents, price_said
from ordering.records.review import Advice, Dearer, ItemUse, LearntYield, RanOut, Score, Thrown, Week
from ordering.review.yields import yield_told
from ordering.units import said as number

N_WORTH_DOING = 5
BIAS_WORTH_SAYING = 0.05
LEAST_SERVICES = 4


@dataclass(frozen=True, slots=True)
class Findings:
    """What advice is drawn from."""

    ran_out: Sequence[RanOut] = ()
    thrown: Sequence[Thrown] = ()
    items: Sequence[ItemUse] = ()
    dearer: Sequence[Dearer] = ()
    shorts: Sequence[Expected] = ()
    yields: Sequence[LearntYield] = ()
    weeks: Sequence[Week] = ()


def worth_doing(house: House, found: Findings) -> tuple[Advice, ...]:
    """At most five things to do, the most money first; nothing without money in it."""
    every = (
        *_ran_out(house, found.ran_out),
        *_thrown(house, found.thrown),
        *_lacking(house, found.items),
        *_dearer(house, found.dearer),
        *_short(house, found.shorts),
        *(Advice(y.money, yield_told(house, y)) for y in found.yields if y.is_offered),
        *_over(house, found.weeks),
    )
    ranked = sorted((a for a in every if a.money > 0), key=lambda a: (-a.money, a.text))
    return tuple(ranked[:N_WORTH_DOING])


def worth_watching(covers: Sequence[Score]) -> tuple[str, ...]:
    """What leans to one side without costing a sum that could be named."""
    return tuple(_biased(covers))


def shorts(expected: Iterable[Expected], first_on: date, last_on: date) -> tuple[Expected, ...]:
    """Orders due in the stretch of which less came than was ordered."""
    return tuple(
        e
        for e in expected
        if first_on <= e.key.deliver_on <= last_on and e.is_settled and e.received < e.packs
    )


def _ran_out(house: House, found: Sequence[RanOut]) -> Iterator[Advice]:
    for r in found:
        name = house.dishes[r.dish].name if r.dish in house.dishes else r.dish
        times = "once" if r.n_services == 1 else f"{r.n_services} times"
        yield Advice(
            r.money,
            f"{name} was 86'd {times}, about {number(round(r.missed, 1))} portions missed: raise its "
            f"service_level in menu.yaml, or start more of it",
        )


def _thrown(house: House, found: Sequence[Thrown]) -> Iterator[Advice]:
    for t in found:
        why = f" ({t.reasons})" if t.reasons else ""
        yield Advice(
            t.money,
            f"{number(round(t.quantity, 3))} {t.unit} of {house.name_of(t.item)} thrown away{why}: a smaller "
            f"pack, a lower par, or smaller batches",
        )


def _lacking(house: House, found: Sequence[ItemUse]) -> Iterator[Advice]:
    for u in found:
        if u.variance is not None and u.variance_money < 0:
            yield Advice(
                -u.variance_money,
                f"counts found {number(round(-u.variance, 3))} {u.unit} of {house.name_of(u.item)} less than "
                f"there should be: check portions, yield, and waste that nobody wrote down",
            )


def _dearer(house: House, found: Sequence[Dearer]) -> Iterator[Advice]:
    for d in found:
        vendor = house.vendors[d.vendor].name if d.vendor in house.vendors else d.vendor
        yield Advice(
            d.money,
            f"{vendor} charged {price_said(d.charged)} for {d.code} {house.name_of(d.item)}, "
            f"not the {price_said(d.agreed)} agreed: "
            f"ask, or put the new price into ingredients.yaml",
        )


def _short(house: House, found: Sequence[Expected]) -> Iterator[Advice]:
    worth: dict[str, Decimal] = {}
    lines: dict[str, int] = {}
    for e in found:
        money = (e.price or Decimal(0)) * Decimal(repr(e.packs - e.received))
        worth[e.key.vendor] = worth.get(e.key.vendor, Decimal(0)) + money
        lines[e.key.vendor] = lines.get(e.key.vendor, 0) + 1
    for vendor, money in worth.items():
        name = house.vendors[vendor].name if vendor in house.vendors else vendor
        n = lines[vendor]
        yield Advice(
            cents(money),
            f"{name} came short on {n} line{'s' if n != 1 else ''}: talk to them, or name a second vendor",
        )


def _biased(found: Sequence[Score]) -> Iterator[str]:
    """Services whose forecast leans to one side. No sum is lost by it: the guests were served."""
    seen: set[str] = set()
    for s in found:
        if s.name in seen:
            continue
        seen.add(s.name)
        if s.bias is None or abs(s.bias) < BIAS_WORTH_SAYING or s.n < LEAST_SERVICES:
            continue
        much = "many" if s.bias > 0 else "few"
        yield (
            f"{s.name}: {abs(s.bias):.0%} too {much} covers forecast over {s.n} services. Look for an "
            "event or a closure that calendar.yaml does not know."
        )


def _over(house: House, found: Sequence[Week]) -> Iterator[Advice]:
    over = [w for w in found if w.budget is not None and w.bought > w.budget]
    if over:
        money = sum((w.bought - w.budget for w in over if w.budget is not None), Decimal(0))
        n = len(over)
        budget = f"{house.policy.weekly_budget} {house.currency}".rstrip()
        yield Advice(
            cents(money),
            f"{n} week{'s' if n != 1 else ''} over the budget of {budget}: see what was bought in them",
        )
