"""Planning grids as a planner draws them: read from text, filled in by the program, compared.

    on hand 20, lead time 1 day, packs of 12
    day                   1    2    3    4
    gross_requirement    20    0   35   10
    scheduled_receipt     0   30    0    0
    net_requirement       0    0    5    3
    planned_receipt       0    0   12   12        # arrives
    planned_order         0   12   12    0        # the same packs, a lead time earlier
    projected_on_hand     0   30    7    9

Rows named `gross_requirement` and `scheduled_receipt` are given, the others are expected; a row that is
not drawn is not compared. The head says `on hand N`, `lead time N days`, `packs of N` (or `any`),
`by halves`, `keeps N days`, `largest N`, `smallest N`, `room N` (under way at one time), `par N`, and `use by
N` for the day after which what is on hand is past. Where
`material comes 1 5` on these days it `lasts N days`; else it can be had on any day. `closed 3 4` are days on
which nobody is served.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import timedelta

import houses
import numpy as np
from numpy.typing import NDArray

from ordering.net.netting import net_all
from ordering.records.books import Lot
from ordering.records.house import Closure
from ordering.records.plan import Netting, Opening

Row = NDArray[np.float64]
GIVEN = ("gross_requirement", "scheduled_receipt")


@dataclass(frozen=True)
class Grid:
    """A grid as drawn: what its head says and its rows, [day]."""

    on_hand: float
    lead_days: int
    pack: float | None
    keeps_days: int | None
    by_halves: bool
    largest: float | None
    smallest: float | None
    room: float | None
    par: float | None
    use_by: int | None
    comes: tuple[int, ...]
    lasts_days: int | None
    closed: tuple[int, ...]
    rows: Mapping[str, Row]


def read(text: str) -> Grid:
    """A grid from text.

    Raises
    ------
    ValueError : a row has not as many figures as there are days, or there is no row of days
    """
    lines = [line.split("#")[0].rstrip() for line in text.strip().splitlines()]
    head, *body = [line for line in lines if line.strip()]
    cells = [line.split() for line in body]
    if cells[0][0] not in ("day", "week"):
        raise ValueError("the first row of a grid names its days")
    n_days = len(cells[0]) - 1
    rows = {name: np.array(figures, dtype=float) for name, *figures in cells[1:]}
    for name, row in rows.items():
        if row.size != n_days:
            raise ValueError(f"{name}: {row.size} figures for {n_days} days")
    return Grid(
        on_hand=_said(head, r"on hand ([\d.]+)") or 0.0,
        lead_days=int(_said(head, r"lead time (\d+)") or 0),
        pack=_said(head, r"packs of ([\d.]+)"),
        keeps_days=_whole(_said(head, r"keeps (\d+)")),
        by_halves="by halves" in head,
        largest=_said(head, r"largest ([\d.]+)"),
        smallest=_said(head, r"smallest ([\d.]+)"),
        room=_said(head, r"room ([\d.]+)"),
        par=_said(head, r"par ([\d.]+)"),
        use_by=_whole(_said(head, r"use by (\d+)")),
        comes=_days(head, r"material comes ([\d ]+)"),
        lasts_days=_whole(_said(head, r"lasts (\d+)")),
        closed=_days(head, r"closed ([\d ]+)"),
        rows=rows,
    )


def _days(head: str, pattern: str) -> tuple[int, ...]:
    found = re.search(pattern, head)
    return tuple(int(n) - 1 for n in found.group(1).split()) if found else ()


def _said(head: str, pattern: str) -> float | None:
    found = re.search(pattern, head)
    return float(found.group(1)) if found else None


def _whole(number: float | None) -> int | None:
    return None if number is None else int(number)


def netted(grid: Grid) -> Netting:
    """The grid's item as a made item `part` of a dish that sells its gross requirement."""
    gross = grid.rows["gross_requirement"]
    home = houses.house(
        [houses.ingredient("raw", keeps_days=grid.lasts_days, offers=(houses.offer("v", "raw"),))],
        [
            houses.recipe(
                "part",
                grid.pack or 1.0,
                {"raw": grid.pack or 1.0},
                is_whole=grid.pack is not None,
                step=0.5 if grid.by_halves else 1.0,
                takes_days=grid.lead_days,
                keeps_days=grid.keeps_days,
                largest=grid.largest,
                smallest=grid.smallest,
                room=grid.room,
                par=grid.par,
            )
        ],
        [houses.dish("plate", "part", 1.0)],
        closures=[Closure(houses.MONDAY + timedelta(d), houses.MONDAY + timedelta(d)) for d in grid.closed],
    )
    first = houses.MONDAY
    until = None if grid.use_by is None else first + timedelta(days=grid.use_by - 1)
    lots = (Lot("part", grid.on_hand, until),) if grid.on_hand else ()
    receipts = grid.rows.get("scheduled_receipt", np.zeros(gross.size))
    coming = tuple(
        houses.coming("part", float(q), first + timedelta(days=t)) for t, q in enumerate(receipts) if q
    )
    demand = houses.forecast(home, {"plate": gross})
    deliveries = houses.deliveries("v", grid.comes) if grid.comes else {}
    return net_all(home, Opening(lots, coming), demand, deliveries, {"raw": min(grid.comes, default=0)})


def filled_in(grid: Grid) -> dict[str, Row]:
    """Every row of the grid as the program fills it in."""
    found = netted(grid)
    flow = found.flows["part"]
    ordered = found.flows["raw"].gross if "raw" in found.flows else np.zeros_like(flow.gross)
    wanted = flow.planned.copy()
    left = 0.0
    for t, made in enumerate(flow.planned):  # net: what of the day's need the batches before did not give
        there = left + (grid.on_hand if t == 0 else 0.0) + flow.scheduled[t] - flow.expired[t]
        wanted[t] = max(0.0, flow.gross[t] - flow.short[t] - there)
        left = there + made - (flow.gross[t] - flow.short[t])
    return {
        "gross_requirement": flow.gross,
        "scheduled_receipt": flow.scheduled,
        "net_requirement": wanted,
        "planned_receipt": flow.planned,
        "planned_order": ordered,
        "projected_on_hand": flow.projected,
        "expired": flow.expired,
        "short": flow.short,
    }


def check(text: str) -> None:
    """Compare a drawn grid with the program's, and say row by row what is missing and what too much.

    Raises
    ------
    AssertionError : with both grids where they differ
    """
    grid = read(text)
    found = filled_in(grid)
    wrong = [n for n, row in grid.rows.items() if not np.allclose(row, found[n], atol=1e-9)]
    if wrong:
        drawn = "\n".join(
            f"{name:20} drawn {_figures(grid.rows[name])}\n{'':20} found {_figures(found[name])}"
            for name in wrong
        )
        raise AssertionError(f"rows that differ:\n{drawn}")


def _figures(row: Row) -> str:
    return " ".join(f"{x:7g}" for x in row)
