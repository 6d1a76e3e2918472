"""What a section of the review is: one table and one figure, for workbook and page alike."""

from __future__ import annotations

from dataclasses import dataclass

from ordering.records.house import House
from ordering.records.page import Value


@dataclass(frozen=True, slots=True)
class Column:
    """`kind` is one of text, day, whole, number, money, percent, change (a percentage with its sign)."""

    name: str
    kind: str = "text"


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
    n_rows: int = 0


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


def money_word(house: House) -> str:
    return house.currency or "money"
