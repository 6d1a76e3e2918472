"""The things worth doing, each with the money in it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date

from ordering.amounts import percent, plural, shown
from ordering.days import service_title
from ordering.records.house import House
from ordering.records.ledger import Expected
from ordering.records.money import price_said
from ordering.records.review_results import Advice, Dearer, ItemUse, LearntYield, RanOut, Score, Thrown
from ordering.review.yields import yield_told
from ordering.texts import listed
from ordering.units import format_number as number

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
    yields: Sequence[LearntYield] = ()


def worth_doing(house: House, found: Findings) -> tuple[Advice, ...]:
    """At most five things to do, the most money first; nothing without money in it."""
    every = (
        *_ran_out(house, found.ran_out),
        *_thrown(house, found.thrown),
        *_lacking(house, found.items),
        *_dearer(house, found.dearer),
        *(Advice(y.money, yield_told(house, y)) for y in found.yields if y.is_offered),
    )
    ranked = sorted((a for a in every if a.money > 0), key=lambda a: (-a.money, a.text))
    return tuple(ranked[:N_WORTH_DOING])


def worth_watching(house: House, covers: Sequence[Score], short: Sequence[Expected]) -> tuple[str, ...]:
    """What to keep an eye on without a sum lost by it: forecasts that lean, vendors who come short."""
    return (*_biased(covers), *_short(house, short))


def shorts(expected: Iterable[Expected], first_on: date, last_on: date) -> tuple[Expected, ...]:
    """Orders due in the stretch of which less came than was ordered."""
    return tuple(
        e
        for e in expected
        if first_on <= e.key.deliver_on <= last_on and e.is_settled and e.received < e.packs
    )


def _amount(house: House, item: str, quantity: float) -> str:
    """`19.98 kg of Topside of beef`, `73 Pressed ox cheek`."""
    unit = house.unit_of(item)
    return f"{shown(quantity, unit)} {'' if unit == 'each' else 'of '}{house.name_of(item)}"


def _ran_out(house: House, found: Sequence[RanOut]) -> Iterator[Advice]:
    for r in found:
        name = house.dishes[r.dish].name if r.dish in house.dishes else r.dish
        times = {1: "once", 2: "twice"}.get(r.n_services, f"{r.n_services} times")
        yield Advice(
            r.money,
            f"{name}: 86'd {times}, about {number(round(r.missed, 1))} portions missed; raise its "
            f"missed_cost in menu.yaml, or start more of it",
        )


def _thrown(house: House, found: Sequence[Thrown]) -> Iterator[Advice]:
    for t in found:
        why = f" ({t.reasons})" if t.reasons else ""
        yield Advice(
            t.money,
            f"{_amount(house, t.item, t.quantity)} thrown away{why}: a smaller pack, a lower par, or smaller "
            "batches",
        )


def _lacking(house: House, found: Sequence[ItemUse]) -> Iterator[Advice]:
    for u in found:
        if u.variance is not None and u.variance_money < 0:
            yield Advice(
                -u.variance_money,
                f"counts found {_amount(house, u.item, -u.variance)} less than there should be: check "
                "portions, yield, and waste that nobody logged",
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


def _short(house: House, found: Sequence[Expected]) -> Iterator[str]:
    """Vendors who brought less than was ordered; what did not come was not paid for."""
    lines: dict[str, int] = {}
    for e in found:
        lines[e.key.vendor] = lines.get(e.key.vendor, 0) + 1
    named = [
        f"{house.vendors[v].name if v in house.vendors else v} ({plural(n, 'line')})"
        for v, n in sorted(lines.items(), key=lambda one: (-one[1], one[0]))
    ]
    if named:
        yield f"Came short: {listed(named)}. Talk to them, or name a second vendor."


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
            f"{service_title(s.name)}: {percent(abs(s.bias))} too {much} covers forecast over {s.n} "
            "services. Look for an event or a closure that is not in calendar.yaml."
        )
