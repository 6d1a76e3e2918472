"""What a rehearsal showed, as lines for a terminal and rows for a file."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from datetime import date

from ordering.amounts import percent
from ordering.days import format_day
from ordering.records.page import Listing
from ordering.records.rehearsal_results import Tried, WayResult

COLUMNS = (
    *("way", "portions_wanted", "portions_served", "lost_revenue", "revenue", "spend", "waste"),
    *("stock_change", "profit"),
)

DAYS_OF_A_MONTH = 30.4
LEAST_OFFERED = 0.002  # of what was kept: below that nobody could tell the difference


def rehearsal_table(outcomes: Sequence[WayResult]) -> Listing:
    """One row for each way of ordering, money rounded to the penny."""
    rows = tuple(
        (
            *(o.way, round(o.wanted), round(o.served), round(o.lost_revenue, 2), round(o.revenue, 2)),
            *(round(o.spent, 2), round(o.wasted, 2), round(o.stock_change, 2), round(o.profit, 2)),
        )
        for o in outcomes
    )
    return Listing(COLUMNS, rows)


def rehearsal_text(
    outcomes: Sequence[WayResult], closed: float, stretch: tuple[date, date], currency: str
) -> list[str]:
    """What the program was worth in a few sentences, then the three ways side by side, at 80 columns."""
    first, last = stretch
    lines = [
        f"{format_day(first)} {first.year} to {format_day(last)} {last.year}, money in {currency or 'units'}",
        "",
    ]
    for sentence in _worth(outcomes, closed, (last - first).days + 1):
        lines += textwrap.wrap(sentence, 80)
    lines += ["", f"{'':<22}" + "".join(f"{o.way:>19}" for o in outcomes)]
    measures = (
        ("portions wanted", "wanted", 0),
        ("portions not served", "missed", 0),
        ("sales lost", "lost_revenue", 2),
        ("sales", "revenue", 2),
        ("spent with vendors", "spent", 2),
        ("thrown away at cost", "wasted", 2),
        ("change of stock", "stock_change", 2),
        ("kept after goods", "profit", 2),
    )
    for name, attribute, digits in measures:
        values = "".join(f"{getattr(o, attribute):>19,.{digits}f}" for o in outcomes)
        lines.append(f"{name:<22}{values}")
    return lines


def _worth(outcomes: Sequence[WayResult], closed: float, n_days: int) -> list[str]:
    """In money against foresight first, for pars are only as good as whoever sets them."""
    pars, program, foresight = outcomes
    behind = foresight.profit - program.profit
    part = f" ({percent(abs(behind) / foresight.profit)})" if foresight.profit > 0 else ""
    ahead = program.profit - pars.profit
    sentences = [
        f"In these {n_days} days the program would have kept {program.profit:,.0f} after paying for goods: "
        f"{_apart(-behind, part)} with every guest known beforehand, {_apart(ahead)} with the best pars.",
        f"Thrown away: {program.wasted:,.0f} at cost, {foresight.wasted:,.0f} with every guest known, "
        f"{pars.wasted:,.0f} with pars. Portions not served: {program.missed:,.0f}, {foresight.missed:,.0f} "
        f"and {pars.missed:,.0f}.",
    ]
    if closed == closed:
        sentences.append(f"That is {percent(closed)} of the way from pars to knowing every guest.")
    else:
        sentences.append("Pars did as well as knowing every guest: these days show no difference.")
    return sentences


def _apart(money: float, part: str = "") -> str:
    """`233 more than`, with the part it is of it; `as much as` where nothing of it would be printed."""
    if abs(money) < 0.5:
        return "as much as"
    return f"{abs(money):,.0f} {'more' if money > 0 else 'less'}{part} than"


def tuning_text(program: WayResult, tried: Sequence[Tried], n_days: int) -> list[str]:
    """What other costs of a missed portion would have kept, and which to write down, if any; 80 columns."""
    lines = [f"{'missed_cost':<14}{'kept after goods':>18}{'not served':>14}{'thrown away':>14}", ""]
    lines[1] = f"{'as it is':<14}" + _kept(program)
    lines += [f"{_times(one):<14}" + _kept(one.outcome) for one in tried]
    best = max(tried, key=lambda one: one.outcome.profit)
    more = best.outcome.profit - program.profit
    if more < LEAST_OFFERED * max(program.profit, 0.0):
        said_so = "No other cost of a missed portion would have kept much more: leave it as it is."
    else:
        said_so = (
            f"At {_times(best)} you would have kept {more * DAYS_OF_A_MONTH / n_days:,.0f} more a month. "
            f"If you want that, write missed_cost: {_times(best)} under policy in house.yaml; nothing has "
            f"been changed. These are {n_days} days of one past: look again over other weeks first."
        )
    return [*lines, "", *textwrap.wrap(said_so, 80)]


def _kept(outcome: WayResult) -> str:
    return f"{outcome.profit:>18,.2f}{outcome.missed:>14,.0f}{outcome.wasted:>14,.2f}"


def _times(one: Tried) -> str:
    return f"{one.missed_cost.times:g} x margin"
