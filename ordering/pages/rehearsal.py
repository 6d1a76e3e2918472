"""What a rehearsal showed, as lines for a terminal and rows for a file."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from ordering.days import said
from ordering.records.page import Listing
from ordering.records.rehearsal import Outcome

COLUMNS = (
    *("way", "portions_wanted", "portions_served", "lost_revenue", "revenue", "spend", "waste"),
    *("stock_change", "profit"),
)


def rehearsal_table(outcomes: Sequence[Outcome]) -> Listing:
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
    outcomes: Sequence[Outcome], closed: float, stretch: tuple[date, date], currency: str
) -> list[str]:
    """The three ways side by side at 80 columns, and what the difference means."""
    first, last = stretch
    heads = [o.way for o in outcomes]
    lines = [
        f"{said(first)} {first.year} to {said(last)} {last.year}, money in {currency or 'units'}",
        "",
        f"{'':<22}" + "".join(f"{head:>19}" for head in heads),
    ]
    measures = (
        ("portions wanted", "wanted", 0),
        ("portions not served", "missed", 0),
        ("sales lost", "lost_revenue", 2),
        ("revenue", "revenue", 2),
        ("spent with vendors", "spent", 2),
        ("thrown away at cost", "wasted", 2),
        ("change of stock", "stock_change", 2),
        ("revenue less goods", "profit", 2),
    )
    for name, attribute, digits in measures:
        values = "".join(f"{getattr(o, attribute):>19,.{digits}f}" for o in outcomes)
        lines.append(f"{name:<22}{values}")
    lines.append("")
    if closed == closed:
        lines.append(f"The program closes {closed:.0%} of the distance from pars alone to foresight.")
    else:
        lines.append("Pars alone did as well as foresight on these days: they show no difference.")
    return lines
