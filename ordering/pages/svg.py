"""Charts of the review page as inline SVG: plain shapes told apart by line and pattern, each described."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from decimal import Decimal
from html import escape

from ordering.pages.review_parts import Figure, Section
from ordering.records.page import Value

WIDTH, HEIGHT = 860, 320
LEFT, RIGHT, TOP, BOTTOM = 64, 16, 34, 64
BAR_LEFT, BAR_STEP = 230, 26
MOST_LABELS = 16
FILLS = {"strong": "#7f7f7f", "plain": "#d9d9d9", "dashed": "url(#KEY-stripes)", "band": "#d9d9d9"}
STRIPES = (
    '<defs><pattern id="KEY-stripes" width="6" height="6" patternUnits="userSpaceOnUse" '
    'patternTransform="rotate(45)"><rect width="6" height="6" fill="#fff"/>'
    '<line x1="0" y1="0" x2="0" y2="6" stroke="#202020" stroke-width="2"/></pattern></defs>'
)


def figure_svg(section: Section, figure: Figure, key: str) -> str:
    """The section's figure; `key` is unique on the page. Empty where there is nothing to draw."""
    rows = section.rows[: figure.n_rows or len(section.rows)]
    if not rows:
        return ""
    drawn = {"band": _band, "column": _columns, "bar": _bars}[figure.kind](section, figure, rows)
    height = TOP + BAR_STEP * len(rows) + 20 if figure.kind == "bar" else HEIGHT
    title, description = escape(figure.title), escape(figure.description)
    return (
        f'<svg viewBox="0 0 {WIDTH} {height}" role="img" aria-labelledby="{key}-t {key}-d">'
        f'<title id="{key}-t">{title}</title><desc id="{key}-d">{description}</desc>{STRIPES}'
        f'<text x="{LEFT}" y="18" class="t">{title}</text>{"".join(drawn)}</svg>'
    ).replace("KEY-stripes", f"{key}-stripes")


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
    text = f"{value.day} {value:%b}" if hasattr(value, "isoformat") else str(value)  # type: ignore[union-attr]
    return escape(text)


def _scale(most: float) -> tuple[float, float]:
    """Step of the axis, and pixels per unit."""
    step = nice_step(most)
    top = step * math.ceil(max(most, step) / step - 1e-9)
    return step, (HEIGHT - TOP - BOTTOM) / top


def _axis(most: float, label: str) -> Iterator[str]:
    step, per_unit = _scale(most)
    base = HEIGHT - BOTTOM
    n = round((HEIGHT - TOP - BOTTOM) / per_unit / step)
    for k in range(n + 1):
        y = base - k * step * per_unit
        yield f'<line x1="{LEFT}" x2="{WIDTH - RIGHT}" y1="{y:.1f}" y2="{y:.1f}" class="g"/>'
        yield f'<text x="{LEFT - 6}" y="{y + 4:.1f}" class="n">{k * step:,g}</text>'
    if label:
        x, y = 12, (TOP + base) / 2
        yield f'<text x="{x}" y="{y}" class="c" transform="rotate(-90 {x} {y})">{escape(label)}</text>'


def _across(labels: Sequence[str]) -> Iterator[str]:
    every = math.ceil(len(labels) / MOST_LABELS)
    for n, label in enumerate(labels):
        if n % every == 0:
            x, y = _x(n, len(labels)), HEIGHT - BOTTOM + 14
            yield f'<text x="{x:.1f}" y="{y}" class="e" transform="rotate(-35 {x:.1f} {y})">{label}</text>'


def _x(n: int, n_rows: int) -> float:
    return LEFT + (n + 0.5) * (WIDTH - LEFT - RIGHT) / n_rows


def _legend(entries: Sequence[tuple[str, str]]) -> Iterator[str]:
    x = WIDTH - RIGHT - sum(30 + 7 * len(name) for _, name in entries)
    for mark, name in entries:
        yield f'<g transform="translate({x} 8)">{mark}<text x="22" y="10" class="l">{escape(name)}</text></g>'
        x += 30 + 7 * len(name)


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
            ('<rect width="16" height="11" class="b"/>', "80 % interval"),
            ('<line x1="0" x2="16" y1="6" y2="6" class="f"/>', section.columns[by_style["strong"]].name),
            ('<path d="M3 6l5 -5l5 5l-5 5z" class="p"/>', section.columns[by_style["points"]].name),
        ]
    )


def _columns(section: Section, figure: Figure, rows: Sequence[Sequence[Value]]) -> Iterator[str]:
    most = max((_number(row[c]) or 0.0 for row in rows for c, _ in figure.series), default=0.0)
    _, per_unit = _scale(most)
    base, room = HEIGHT - BOTTOM, (WIDTH - LEFT - RIGHT) / len(rows)
    wide = min(44.0, room * 0.8 / len(figure.series))
    yield from _axis(most, figure.y_axis)
    yield from _across([_label(row[figure.across]) for row in rows])
    for n, row in enumerate(rows):
        start = _x(n, len(rows)) - wide * len(figure.series) / 2
        for k, (column, style) in enumerate(figure.series):
            high = max(0.0, _number(row[column]) or 0.0) * per_unit
            yield (
                f'<rect x="{start + k * wide:.1f}" y="{base - high:.1f}" width="{wide:.1f}" '
                f'height="{high:.1f}" fill="{FILLS[style]}" class="o"/>'
            )
    marks = [
        (f'<rect width="14" height="11" fill="{FILLS[s]}" class="o"/>', section.columns[c].name)
        for c, s in figure.series
    ]
    yield from _legend(marks)


def _bars(section: Section, figure: Figure, rows: Sequence[Sequence[Value]]) -> Iterator[str]:
    column, style = figure.series[0]
    values = [max(0.0, _number(row[column]) or 0.0) for row in rows]
    per_unit = (WIDTH - BAR_LEFT - RIGHT - 70) / (max(values) or 1.0)
    for n, (row, value) in enumerate(zip(rows, values, strict=True)):
        y = TOP + n * BAR_STEP
        yield f'<text x="{BAR_LEFT - 8}" y="{y + 15}" class="n">{_short(str(row[figure.across]))}</text>'
        yield (
            f'<rect x="{BAR_LEFT}" y="{y + 3}" width="{value * per_unit:.1f}" height="{BAR_STEP - 8}" '
            f'fill="{FILLS[style]}" class="o"/>'
        )
        yield f'<text x="{BAR_LEFT + value * per_unit + 6:.1f}" y="{y + 15}" class="l">{value:,.2f}</text>'


def _short(text: str, most: int = 32) -> str:
    return escape(text if len(text) <= most else f"{text[: most - 1]}…")
