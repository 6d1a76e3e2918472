"""Tables with a figure, for a workbook and a page alike: what a review tells of a house or of a group."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from ordering.amounts import percent
from ordering.days import format_day
from ordering.records.house import House
from ordering.records.page import Value


@dataclass(frozen=True, slots=True)
class Column:
    """`kind` is one of text, day, whole, number, money, percent, change (a percentage with its sign)."""

    name: str
    kind: str = "text"

    @property
    def is_left(self) -> bool:
        """Whether its values stand at the left."""
        return self.kind in ("text", "day")


@dataclass(frozen=True, slots=True)
class Figure:
    """A chart of the section's own rows: `across` is the column along the axis.

    `kind` is `band` or `column`; `series` are (column, style) with the styles of a chart.
    """

    kind: str
    title: str
    description: str
    across: int
    series: tuple[tuple[int, str], ...]
    y_axis: str = ""


@dataclass(frozen=True, slots=True)
class Section:
    """`caption` says what the table is; `empty` stands in its place where there are no rows."""

    title: str
    caption: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[Value, ...], ...]
    intro: tuple[str, ...] = ()
    empty: str = "Nothing to show."
    figure: Figure | None = None


@dataclass(frozen=True, slots=True)
class PageContent:
    """What is told on a page or in a workbook: one sentence, others, the tables behind them, the detail.

    `days` and `made` say what stretch it is about and when it was made; "": not said.
    """

    title: str
    headline: str
    sections: tuple[Section, ...]
    others: tuple[str, ...] = ()
    detail: tuple[Section, ...] = ()
    days: str = ""
    made: str = ""
    is_american: bool = False


def money_word(house: House) -> str:
    """The heading of a column of money."""
    return house.currency or "money"


def shown(value: Value, kind: str) -> str:
    """A value as the page prints it; an empty cell for what is not known."""
    if value is None:
        return ""
    if isinstance(value, date):
        return format_day(value)
    if isinstance(value, str):
        return value
    amount = float(value) if isinstance(value, Decimal) else value
    if kind == "percent":
        return percent(amount)
    if kind == "change":
        return percent(amount, sign="+") if round(amount, 2) else "0 %"
    if kind == "money":
        return f"{amount:,.2f}"
    if kind == "whole":
        return f"{amount:,.0f}"
    return f"{amount:,.3f}".rstrip("0").rstrip(".")
