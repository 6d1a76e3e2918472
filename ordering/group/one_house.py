"""One house of a group, run on a worker: exactly what `ordering order` does there, told in a few numbers.

Everything that comes back is read from the run folder, whether this call made it or an earlier one did, so a
group that is run again says the same as the first time.
"""

from __future__ import annotations

import time
from dataclasses import dataclass, replace
from datetime import date, timedelta
from datetime import time as clock_time
from decimal import Decimal
from pathlib import Path

from ordering.faults import Refused
from ordering.group.house_demand import demands_of
from ordering.ledger.store import known_runs
from ordering.loading import load
from ordering.memory import collect_now, collect_rarely
from ordering.read.run_folder import RunFiles, read_run
from ordering.records.costs import unit_costs
from ordering.records.group import (
    LEAST_WORTH,
    GroupLine,
    HouseRun,
    JointTerms,
    Member,
    Showing,
    Surplus,
    Want,
)
from ordering.records.house import House
from ordering.records.money import cents
from ordering.records.review_results import Review
from ordering.reviewing import looked_back, span_of
from ordering.runs import RunTerms, order, planned

TOLD_OF = ("orders", "outlook", "shortages", "projection")


@dataclass(frozen=True, slots=True)
class Task:
    """What a worker is told: the house, the files it shares, the day and the time of the run.

    `ahead`: days for which the houses it buys from must know what it will take; 0: it buys from none.
    """

    member: Member
    shared: Path | None
    on: date
    at: clock_time = clock_time(0)
    ahead: int = 0


def run_house(task: Task, *customers: HouseRun) -> HouseRun:
    """Run one house's order unless its folder of that day is there, and say what it came to.

    What `customers` take from this house is part of its demand. Never raises for what is wrong with one
    house: it comes back refused, with its faults.
    """
    collect_rarely()
    collect_now()  # what the house before left
    member, began = task.member, time.perf_counter()
    supply = tuple(d for one in customers for d in one.demands if d.supplier == member.id)
    terms = RunTerms(task.at, shared=task.shared, supply=supply)
    try:
        loaded = load(member.config, member.books, task.on, task.shared)
        name = _run_of_the_day(member, task.on)
        was_there = bool(name)
        if not was_there:
            (folder,) = order(member.config, member.books, member.runs, task.on, terms, loaded).written
            name = folder.name
        house = loaded.house
        told = _told(member.id, house, read_run(member.runs, name, TOLD_OF), task.on)
        back = looked_back(loaded, member.books, task.on, span_of(task.on, None, None))
        told = replace(told, showing=showing_of(back))
        if task.ahead:
            _, far = planned(loaded, member.config, member.books, task.on, terms, task.ahead)
            told = replace(told, demands=demands_of(member.id, house, far, told.orders))
        seconds = None if was_there else time.perf_counter() - began
    except Refused as refused:
        return HouseRun(member.id, 2, faults=tuple(map(str, refused.faults)))
    except OSError as error:
        return HouseRun(member.id, 2, faults=(f"{error.filename or member.runs}: {error.strerror or error}",))
    except Exception as error:
        return HouseRun(member.id, 2, faults=(f"the program itself failed: {type(error).__name__}: {error}",))
    return replace(told, was_there=was_there, seconds=seconds)


def _run_of_the_day(member: Member, on: date) -> str:
    """The first run of the day that the house's ledger knows; empty where there is none.

    A worker that dies between the folder and the ledger leaves a run that was never booked: it is none.
    """
    known = known_runs(member.books)
    names = sorted(path.parent.name for path in member.runs.glob(f"{on.isoformat()}*/run.json"))
    return next((n for n in names if read_run(member.runs, n).facts.get("id") in known), "")


def review_house(task: Task, span: tuple[date, date]) -> HouseRun:
    """How some days of one house went; refused, with its faults, where its files are."""
    member = task.member
    try:
        loaded = load(member.config, member.books, task.on, task.shared)
        showing = showing_of(looked_back(loaded, member.books, task.on, span))
    except Refused as refused:
        return HouseRun(member.id, 2, faults=tuple(map(str, refused.faults)))
    return HouseRun(member.id, 0, loaded.house.name, loaded.house.currency, showing=showing)


def showing_of(found: Review) -> Showing:
    """What of a house's review is held beside that of its sisters.

    Food cost is what was used, consumables aside: of a house that did not count at both ends it is not known,
    nor what was thrown away where nothing was logged.
    """
    cost, view = found.cost, found.overview
    now = view.of("now")
    if not cost.revenue:
        return Showing(covers=now.covers if now else None)
    used = None if cost.used is None else cost.used - view.consumables
    return Showing(
        covers=now.covers if now else None,
        revenue=cost.revenue,
        food_cost=None if used is None else float(used / cost.revenue),
        waste=float(cost.wasted / cost.revenue) if cost.wasted else None,
        lost=float(view.lost_money / cost.revenue),
        wape=view.hits.miss if view.hits else None,
        missed=sum(one.missed for one in found.ran_out),
    )


def _told(house_id: str, house: House, run: RunFiles, on: date) -> HouseRun:
    shortages = tuple(
        Want(
            house_id,
            row["item"],
            house.name_of(row["item"]),
            date.fromisoformat(row["date"]),
            float(row["short"]),
            row["unit"],
        )
        for row in run.tables["shortages"]
    )
    doubts, warnings = run.facts.get("doubts", ()), run.facts.get("warnings", ())
    return HouseRun(
        house=house_id,
        exit=1 if shortages or doubts or warnings else 0,
        name=house.name,
        currency=house.currency,
        folder=run.folder.as_posix(),
        next_run=date.fromisoformat(run.facts["next_run"]),
        lines=(*_lines(house_id, house, run, "orders"), *_foreseen(house_id, house, run)),
        n_doubts=len(doubts),
        shortages=shortages,
        surplus=_surplus(house_id, house, run, on),
        joint_terms=_joint_terms(house),
    )


def _joint_terms(house: House) -> tuple[JointTerms, ...]:
    offers = [o for i in house.ingredients.values() for o in i.offers if o.breaks]
    return tuple(
        JointTerms(v.id, v.name, v.joint_minimum, {o.code: o.breaks for o in offers if o.vendor == v.id})
        for v in sorted(house.vendors.values(), key=lambda v: v.id)
        if v.joint_minimum is not None
    )


def _lines(house_id: str, house: House, run: RunFiles, table: str) -> list[GroupLine]:
    return [
        GroupLine(
            vendor=row["vendor"],
            deliver_on=date.fromisoformat(row["deliver_on"]),
            house=house_id,
            code=row["code"],
            item=row["item"],
            description=row["description"],
            packs=int(row["packs"]),
            price=Decimal(row["price"]) if row["price"] else None,
            amount=Decimal(row["amount"] or 0),
            is_now=table == "orders",
            keeps_days=house.keeps_days(row["item"]) if row["item"] in house.ingredients else None,
        )
        for row in run.tables[table]
    ]


def _foreseen(house_id: str, house: House, run: RunFiles) -> list[GroupLine]:
    """What may be brought forward: only where the group has a minimum of its own to reach with it."""
    lines = _lines(house_id, house, run, "outlook")
    return [line for line in lines if house.vendors[line.vendor].joint_minimum is not None]


def _surplus(house_id: str, house: House, run: RunFiles, on: date) -> tuple[Surplus, ...]:
    """What the expected path throws away, from when it can be there, and its last day.

    What keeps five days and goes off on the tenth is on nobody's shelf before the fifth.
    """
    costs = unit_costs(house, on)
    found = []
    for row in run.tables["projection"]:
        quantity = float(row["expired"] or 0)
        thrown_on = date.fromisoformat(row["date"])
        worth = cents(quantity * costs.get(row["item"], 0.0))
        if worth >= LEAST_WORTH and thrown_on > on:
            item, last = row["item"], thrown_on - timedelta(days=1)
            keeps = house.keeps_days(item)
            there_on = on if keeps is None else last - timedelta(days=keeps)
            name = house.name_of(item)
            found.append(Surplus(house_id, item, name, last, quantity, row["unit"], worth, there_on))
    return tuple(found)
