"""Order lines pegged to the dishes and services that cause them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from math import fsum

from ordering.explain.trace import CONSUMABLES, PAR, ROUNDING, Trace, trace
from ordering.explain.windows import Window, line_key, windows
from ordering.records.buying import Buying, OrderLine
from ordering.records.house import House
from ordering.records.plan import Forecast, Netting, Peg

SAFETY = "*safety"

_RANKS = {CONSUMABLES: 1, SAFETY: 2, PAR: 3, ROUNDING: 4}
_PLACES = 6
_NOTHING = 0.5 * 10**-_PLACES

Parts = Mapping[tuple[str, date | None], float]


def pegging(
    house: House, netting: Netting, buying: Buying, forecast: Forecast, traced: Trace | None = None
) -> tuple[Peg, ...]:
    """What each line of orders and outlook is for. `traced`: the trace of the netting, where it is known.

    A line is divided into what dishes are expected to draw, by service date, and `*consumables`,
    `*safety` (what the service level adds), `*par` and `*rounding` (packs, batches made whole, and
    what a minimum or a price break adds). Stock and receipts are used before anything is bought, so
    they do not appear. The rows of one line add up to its quantity.

    Returns
    -------
    rows in the order of the lines; within a line by service date, dish, then the rest
    """
    days = forecast.days
    spans = [w for item in windows(house, netting, buying, days).values() for w in item]
    parts = divided(traced or trace(house, netting.flows, len(days)), spans, days)
    by_line = {line_key(line): (w, p) for w, p in zip(spans, parts, strict=True) for line in w.lines}
    pegs: list[Peg] = []
    for line in (*buying.orders, *buying.outlook):
        window, part = by_line[line_key(line)]
        pegs += _rows(line, part, line.quantity / window.quantity if window.quantity else 0.0)
    return tuple(pegs)


def divided(traced: Trace, spans: Sequence[Window], days: Sequence[date]) -> list[Parts]:
    """The parts of each window by (dish or `*` word, service date), adding up to its quantity."""
    known = [n for n, window in enumerate(spans) if window.item in traced.index]
    ended = traced.ended(traced.source([(spans[n].item, spans[n].drawn) for n in known]))
    keys = [(end, None if end in (PAR, ROUNDING) else day) for end in traced.ends for day in days]
    found = {n: traced.parts(ended, row, keys) for row, n in enumerate(known)}
    out: list[Parts] = []
    for n, window in enumerate(spans):
        parts = found.get(n)
        if parts is None:
            parts = {(ROUNDING, None): float(window.drawn.sum())}
        for name, quantity in ((SAFETY, window.safety), (PAR, window.par), (ROUNDING, window.rounding)):
            if quantity:
                parts[(name, None)] = parts.get((name, None), 0.0) + quantity
        out.append(parts)
    return out


def _rows(line: OrderLine, parts: Parts, share: float) -> list[Peg]:
    """Pegs of one line, rounded so that they add up to its quantity to the last place."""
    kept = {key: round(q * share, _PLACES) for key, q in parts.items() if q * share > _NOTHING}
    if not kept:
        kept = {(ROUNDING, None): round(line.quantity, _PLACES)}
    largest = max(kept, key=lambda key: (kept[key], key[0]))
    kept[largest] = round(kept[largest] + line.quantity - fsum(kept.values()), 9)
    return [
        Peg(line.vendor, line.code, line.deliver_on, name, on, quantity, line.unit)
        for (name, on), quantity in sorted(kept.items(), key=lambda row: _rank(row[0]))
    ]


def _rank(key: tuple[str, date | None]) -> tuple[int, date, str]:
    name, on = key
    return _RANKS.get(name, 0), on or date.max, name
