"""Tables with a figure: what a review tells of a house or of a group, and the page that shows them.

The page needs nothing but itself: no network, no script, fit to print. Its charts are inline SVG: plain
shapes told apart by line and pattern, each described.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from html import escape

from markupsafe import Markup

from ordering.amounts import EPS, percent
from ordering.days import format_day
from ordering.pages.parts import html_page
from ordering.records.house import House
from ordering.records.page import Value

# As wide as a phone, so that letters stay readable there; a larger screen enlarges it.
WIDTH, HEIGHT = 400, 330
LEFT, RIGHT, TOP, BOTTOM = 64, 10, 50, 58
MOST_LABELS = 7
FILLS = {"strong": "s", "plain": "b", "band": "b"}  # classes of the page's style


@dataclass(frozen=True, slots=True)
class Head:
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
    columns: tuple[Head, ...]
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
        return percent(amount, sign="+")
    if kind == "money":
        return f"{amount:,.2f}"
    if kind == "whole":
        return f"{amount:,.0f}"
    return f"{amount:,.3f}".rstrip("0").rstrip(".")


def sections_page(content: PageContent) -> str:
    """The whole page; everything that comes from input is escaped by the template."""
    return html_page(
        "sections.html", content.is_american, content=content, figure=_figure, shown=shown, right=_right
    )


def _figure(section: Section, key: str) -> Markup:
    """The section's figure; the texts in it are escaped as it is drawn."""
    return Markup("" if section.figure is None else figure_svg(section, section.figure, key))


def _right(column: Head) -> Markup:
    return Markup("" if column.is_left else ' class="r"')


def figure_svg(section: Section, figure: Figure, key: str) -> str:
    """The section's figure; `key` is unique on the page. Empty where there is nothing to draw."""
    if not section.rows:
        return ""
    drawn = {"band": _band, "column": _columns}[figure.kind](section, figure, section.rows)
    title, description = escape(figure.title), escape(figure.description)
    return (
        f'<svg viewBox="0 0 {WIDTH} {HEIGHT}" role="img" aria-labelledby="{key}-t {key}-d">'
        f'<title id="{key}-t">{title}</title><desc id="{key}-d">{description}</desc>'
        f'<text x="2" y="16" class="t">{title}</text>{"".join(drawn)}</svg>'
    )


def nice_step(most: float, n_steps: int = 5) -> float:
    """A round step, 1, 2 or 5 times a power of ten, that reaches `most` in about so many steps."""
    if most <= 0:
        return 1.0
    rough = most / n_steps
    power: float = 10.0 ** math.floor(math.log10(rough))
    return next(power * m for m in (1.0, 2.0, 5.0, 10.0) if power * m >= rough * 0.999)


def _number(value: Value) -> float | None:
    return float(value) if isinstance(value, int | float | Decimal) else None


def _label(value: Value) -> str:
    """Of a stretch of days where it begins: more has no room under a bar."""
    return escape(str(value).partition(" to ")[0])


def _scale(most: float) -> tuple[float, float]:
    """Step of the axis, and pixels per unit."""
    step = nice_step(most)
    top = step * math.ceil(max(most, step) / step - EPS)
    return step, (HEIGHT - TOP - BOTTOM) / top


def _axis(most: float, label: str, kind: str = "whole") -> Iterator[str]:
    step, per_unit = _scale(most)
    base = HEIGHT - BOTTOM
    n = round((HEIGHT - TOP - BOTTOM) / per_unit / step)
    for k in range(n + 1):
        y = base - k * step * per_unit
        yield f'<line x1="{LEFT}" x2="{WIDTH - RIGHT}" y1="{y:.1f}" y2="{y:.1f}" class="g"/>'
        yield f'<text x="{LEFT - 6}" y="{y + 4:.1f}" class="n">{_mark(k * step, kind)}</text>'
    if label:
        x, y = 12, (TOP + base) / 2
        yield f'<text x="{x}" y="{y}" class="c" transform="rotate(-90 {x} {y})">{escape(label)}</text>'


def _mark(value: float, kind: str) -> str:
    return percent(value) if kind == "percent" else f"{value:,g}"


def _across(labels: Sequence[str]) -> Iterator[str]:
    every = math.ceil(len(labels) / MOST_LABELS)
    for n, label in enumerate(labels):
        if n % every == 0:
            x, y = _x(n, len(labels)), HEIGHT - BOTTOM + 14
            yield f'<text x="{x:.1f}" y="{y}" class="e" transform="rotate(-35 {x:.1f} {y})">{label}</text>'


def _x(n: int, n_rows: int) -> float:
    return LEFT + (n + 0.5) * (WIDTH - LEFT - RIGHT) / n_rows


def _legend(entries: Sequence[tuple[str, str]]) -> Iterator[str]:
    """Marks and names in a line under the title."""
    x = 2
    for mark, name in entries:
        yield f'<g transform="translate({x} 26)">{mark}<text x="21" y="11">{escape(name)}</text></g>'
        x += 34 + 7 * len(name)


def _band(section: Section, figure: Figure, rows: Sequence[Sequence[Value]]) -> Iterator[str]:
    by_style = {style: column for column, style in figure.series}
    values = {s: [_number(row[c]) or 0.0 for row in rows] for s, c in by_style.items()}
    upper = [low + wide for low, wide in zip(values["hidden"], values["band"], strict=True)]
    most = max(*upper, *values["strong"], *values["points"])
    _, per_unit = _scale(most)
    base, n = HEIGHT - BOTTOM, len(rows)
    yield from _axis(most, figure.y_axis)
    yield from _across([_label(row[figure.across]) for row in rows])

    def at(k: int, value: float) -> str:
        return f"{_x(k, n):.1f},{base - value * per_unit:.1f}"

    edge = [at(k, v) for k, v in enumerate(upper)] + [at(k, values["hidden"][k]) for k in reversed(range(n))]
    yield f'<polygon points="{" ".join(edge)}" class="b"/>'
    yield f'<polyline points="{" ".join(at(k, v) for k, v in enumerate(values["strong"]))}" class="f"/>'
    for k, value in enumerate(values["points"]):
        x, y = at(k, value).split(",")
        yield f'<path d="M{x} {y}m-5 0l5 -5l5 5l-5 5z" class="p"/>'
    yield from _legend(
        [
            ('<rect width="16" height="11" class="b"/>', "80 % range"),
            ('<line x1="0" x2="16" y1="6" y2="6" class="f"/>', section.columns[by_style["strong"]].name),
            ('<path d="M3 6l5 -5l5 5l-5 5z" class="p"/>', section.columns[by_style["points"]].name),
        ]
    )


def _columns(section: Section, figure: Figure, rows: Sequence[Sequence[Value]]) -> Iterator[str]:
    most = max((_number(row[c]) or 0.0 for row in rows for c, _ in figure.series), default=0.0)
    _, per_unit = _scale(most)
    base, room = HEIGHT - BOTTOM, (WIDTH - LEFT - RIGHT) / len(rows)
    wide = min(36.0, room * 0.8 / len(figure.series))
    yield from _axis(most, figure.y_axis, section.columns[figure.series[0][0]].kind)
    yield from _across([_label(row[figure.across]) for row in rows])
    for n, row in enumerate(rows):
        start = _x(n, len(rows)) - wide * len(figure.series) / 2
        for k, (column, style) in enumerate(figure.series):
            high = max(0.0, _number(row[column]) or 0.0) * per_unit
            yield (
                f'<rect x="{start + k * wide:.1f}" y="{base - high:.1f}" width="{wide:.1f}" '
                f'height="{high:.1f}" class="{FILLS[style]} o"/>'
            )
    marks = [
        (f'<rect width="14" height="11" class="{FILLS[s]} o"/>', section.columns[c].name)
        for c, s in figure.series
    ]
    yield from _legend(marks)
