"""What the operations chef and the owner see of a group: whom to call, what is spent, what could move."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from ordering.amounts import percent, plural, shown
from ordering.days import format_day
from ordering.pages.parts import long_day
from ordering.pages.section_sheets import Leaf
from ordering.pages.sections import Head, PageContent, Section
from ordering.records.group import Group, HouseRun, JointOrder, Showing, Transfer, Want
from ordering.records.money import cents
from ordering.records.page import Value
from ordering.texts import listed

MOST_NAMED = 3


@dataclass(frozen=True, slots=True)
class GroupView:
    """One run of a group, with what it adds up to."""

    group: Group
    runs: Sequence[HouseRun]
    joint: Sequence[JointOrder] = ()
    moves: Sequence[Transfer] = ()


def run_pages(view: GroupView, on: date) -> PageContent:
    """Houses to call first, then all of them, what they buy together, what could go from one to another."""
    return PageContent(
        f"{view.group.name}, {long_day(on)}",
        headline(view),
        (_calls(view), _houses(view), _together(view), _moves(view)),
        is_american=_is_american(view),
    )


def review_pages(view: GroupView, span: tuple[date, date]) -> PageContent:
    """The same days of every house side by side, each measured on its own sales and covers."""
    shown_by = [run for run in view.runs if run.showing.revenue is not None]
    compared = best_and_worst(view.runs) or [
        "All houses did alike in these days."
        if len(shown_by) > 1
        else "The books of fewer than two houses show these days."
    ]
    silent = [_names(view.runs)[run.house] for run in view.runs if run not in shown_by]
    title = f"{view.group.name}: {long_day(span[0])} to {long_day(span[1])}"
    lead, *others = [*_all_houses(shown_by), *compared]
    return PageContent(title, lead, (_compared(view, silent),), tuple(others), is_american=_is_american(view))


def _all_houses(runs: Sequence[HouseRun]) -> list[str]:
    """Covers, sales and money lost of all houses together, in one sentence; none where no books show them."""
    sales: dict[str, Decimal] = defaultdict(Decimal)
    for run in runs:
        sales[run.currency] += run.showing.revenue or Decimal(0)
    known = [r for r in runs if r.showing.lost is not None and r.showing.revenue]
    in_all = sum(float(run.showing.revenue or 0) for run in known)
    lost = sum(float(run.showing.revenue or 0) * (run.showing.lost or 0.0) for run in known)
    covers = sum(run.showing.covers or 0.0 for run in runs)
    if not runs or not covers:
        return []
    money = listed([f"{amount:,.0f} {currency}".rstrip() for currency, amount in sorted(sales.items())])
    share = f"; {percent(lost / in_all, 1)} of it was lost" if len(sales) == 1 and in_all else ""
    return [f"{plural(len(runs), 'house')}: {covers:,.0f} covers, {money} of sales{share}."]


def _is_american(view: GroupView) -> bool:
    """Whether all that is paid is paid in dollars of the US."""
    return {run.currency for run in view.runs if run.currency} == {"USD"}


def group_leaves(content: PageContent) -> tuple[Leaf, ...]:
    """A sheet for each section, so that one can be handed on; none for one with nothing in it."""
    first, *others = content.sections
    return tuple((section.title, (section,)) for section in (first, *(s for s in others if s.rows)))


def headline(view: GroupView) -> str:
    """One sentence: how many houses need a call, and what is ordered."""
    refused, look = _n(view, 2), _n(view, 1)
    money: dict[str, Decimal] = defaultdict(Decimal)
    for run in view.runs:
        if run.exit != 2:
            money[run.currency] += run.amount
    ordered = listed([f"{amount:,.2f} {currency}".rstrip() for currency, amount in sorted(money.items())])
    calls = f"{look} to look at" + (f", {refused} refused" if refused else "")
    return f"{plural(len(view.runs), 'house')}: {calls}; {ordered or 'nothing'} ordered."


def _n(view: GroupView, code: int) -> int:
    return sum(run.exit == code for run in view.runs)


def _calls(view: GroupView) -> Section:
    names = _names(view.runs)
    needing = sorted((r for r in view.runs if r.exit), key=lambda r: (-r.exit, -len(r.shortages), r.house))
    return Section(
        title="To call",
        caption="Houses that need a call",
        columns=(Head("house"), Head("why")),
        rows=tuple((names[run.house], _why(run)) for run in needing),
        empty="No house needs a call.",
    )


def _why(run: HouseRun) -> str:
    if run.exit == 2:
        first, *rest = run.faults or ("no reason given",)
        return f"refused: {first}" + (f" (and {plural(len(rest), 'fault')} more)" if rest else "")
    first_day: dict[str, Want] = {}
    for want in run.shortages:
        first_day.setdefault(want.item, want)
    short = [f"{want.name} ({format_day(want.needed_on)})" for want in first_day.values()]
    reasons = [f"running short: {listed(short, MOST_NAMED)}"] if short else []
    reasons += [plural(run.n_doubts, "thing") + " to check"] if run.n_doubts else []
    return "; ".join(reasons) or "see its order book"


def _houses(view: GroupView) -> Section:
    names = _names(view.runs)
    rows: tuple[tuple[Value, ...], ...] = tuple(
        (
            names[run.house],
            len({(line.vendor, line.deliver_on) for line in run.orders}),
            run.amount,
            run.showing.food_cost,
            run.showing.waste,
            run.showing.wape,
            len({want.item for want in run.shortages}),
        )
        for run in view.runs
        if run.exit != 2
    )
    return Section(
        title="Houses",
        caption="Orders of today, and the last four weeks",
        columns=(
            Head("house"),
            Head("orders", "whole"),
            Head("ordered", "money"),
            Head("food cost", "percent"),
            Head("thrown away", "percent"),
            Head("covers off by", "percent"),
            Head("running short", "whole"),
        ),
        rows=rows,
        intro=tuple(best_and_worst(view.runs)),
        empty="No house has been run.",
    )


def _compared(view: GroupView, silent: Sequence[str]) -> Section:
    names = _names(view.runs)
    rows: list[tuple[Value, ...]] = []
    for run in sorted(view.runs, key=lambda r: (-(r.showing.lost or 0.0), r.house)):
        seen, covers = run.showing, run.showing.covers
        if seen.revenue is None:
            continue
        a_cover = seen.revenue / Decimal(covers) if covers else None
        missed = 100 * seen.missed / covers if covers and seen.missed is not None else None
        money = cents(a_cover) if a_cover is not None else None
        rows.append(
            (
                *(names[run.house], covers, money, seen.food_cost, seen.waste, seen.lost, seen.wape),
                None if missed is None else round(missed, 1),
            )
        )
    return Section(
        title="Compared",
        caption="House by house, the one that loses most of its sales first",
        columns=(
            Head("house"),
            Head("covers", "whole"),
            Head("sales a cover", "money"),
            Head("food cost", "percent"),
            Head("thrown away", "percent"),
            Head("money lost", "percent"),
            Head("covers off by", "percent"),
            Head("missed per 100 covers", "number"),
        ),
        rows=tuple(rows),
        intro=(f"Nothing to show for {listed(silent)}.",) if silent else (),
        empty="No house's books show these days.",
    )


MEASURES: tuple[tuple[str, Callable[[Showing], float | None]], ...] = (
    ("Food cost", lambda showing: showing.food_cost),
    ("Thrown away", lambda showing: showing.waste),
    ("Money lost", lambda showing: showing.lost),
    ("Covers off by", lambda showing: showing.wape),
)


def best_and_worst(runs: Sequence[HouseRun]) -> list[str]:
    """For each measure the house with least and with most of it, where two houses or more show it."""
    names = _names(runs)
    said_of = []
    for name, of in MEASURES:
        known = sorted((value, names[run.house]) for run in runs if (value := of(run.showing)) is not None)
        if len(known) > 1:
            (least, best), (most, worst) = known[0], known[-1]
            if percent(least, 1) == percent(most, 1):
                continue
            said_of.append(
                f"{name}: least at {best} ({percent(least, 1)}), most at {worst} ({percent(most, 1)})."
            )
    return said_of


def _together(view: GroupView) -> Section:
    rows = []
    for joint in view.joint:
        added = [f"{line.house}: {plural(line.packs, 'pack')} of {line.description}" for line in joint.added]
        state = "reached" if not joint.lacking else f"{joint.lacking:,.2f} below it"
        rows.append((joint.name, joint.deliver_on, joint.amount, joint.minimum, state, "; ".join(added)))
    return Section(
        title="Together",
        caption="Vendors that take the houses together",
        columns=(
            Head("vendor"),
            Head("delivery", "day"),
            Head("ordered", "money"),
            Head("minimum", "money"),
            Head("state"),
            Head("bring forward"),
        ),
        rows=tuple(rows),
        intro=(
            "Packs to bring forward were meant for a later delivery: write them on the house's sheet before "
            "it is placed.",
        )
        if any(joint.added for joint in view.joint)
        else (),
        empty="No vendor takes the houses together.",
    )


def _moves(view: GroupView) -> Section:
    names = _names(view.runs)
    rows = tuple(
        (
            m.name,
            shown(m.quantity, m.unit),
            names[m.from_house],
            names[m.to_house],
            m.needed_on,
            m.use_by,
            m.worth,
        )
        for m in view.moves
    )
    return Section(
        title="Transfers",
        caption="About to go off in one house, short in another",
        columns=(
            Head("item"),
            Head("how much"),
            Head("from"),
            Head("to"),
            Head("needed on", "day"),
            Head("use by", "day"),
            Head("worth", "money"),
        ),
        rows=rows,
        intro=("Food goes with its label and its dates; local code and licensed practice decide.",)
        if rows
        else (),
        empty="Nothing that one house throws away is short in another.",
    )


def _names(runs: Sequence[HouseRun]) -> dict[str, str]:
    """What each house is called, by id; with its id where two are called the same."""
    of = Counter(run.name for run in runs)
    return {
        run.house: f"{run.name} ({run.house})".strip() if of[run.name] > 1 else run.name or run.house
        for run in runs
    }
