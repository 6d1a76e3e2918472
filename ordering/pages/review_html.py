"""The review as one page that needs nothing but itself: no network, no script, fit to print."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from decimal import Decimal
from html import escape

from ordering.days import said
from ordering.pages.parts import long_day
from ordering.pages.review_parts import Column, Section
from ordering.pages.review_sections import sections
from ordering.pages.svg import figure_svg
from ordering.records.house import House
from ordering.records.page import Value
from ordering.records.review import Review

POLICY = "default-src 'none'; style-src 'unsafe-inline'"
STYLE = """
:root { color-scheme: light; }
body { font: 15px/1.45 Arial, Helvetica, sans-serif; color: #111; background: #fff;
  max-width: 62rem; margin: 2rem auto; padding: 0 1rem; }
h1 { font-size: 1.7rem; margin: 0; }
h2 { font-size: 1.2rem; margin: 2.2rem 0 .3rem; border-top: 2px solid #111; padding-top: .5rem; }
p { margin: .4rem 0; max-width: 48rem; }
.note { color: #333; }
.wide { overflow-x: auto; }
table { border-collapse: collapse; margin: .8rem 0; min-width: 40%; font-variant-numeric: tabular-nums; }
caption { text-align: left; font-weight: bold; padding: .3rem 0; }
th, td { padding: .25rem .7rem .25rem 0; text-align: left; vertical-align: top; }
tr { border-bottom: 1px solid #ccc; }
thead th { border-bottom: 2px solid #111; vertical-align: bottom; }
tbody th { font-weight: normal; }
.r { text-align: right; }
svg { width: 100%; height: auto; max-width: 860px; font: 12px Arial, Helvetica, sans-serif; }
svg .t { font-weight: bold; font-size: 13px; }
svg .n { text-anchor: end; } svg .c { text-anchor: middle; } svg .e { text-anchor: end; font-size: 11px; }
svg .g { stroke: #ddd; } svg .b { fill: #d9d9d9; } svg .o { stroke: #202020; stroke-width: .6; }
svg .f { fill: none; stroke: #202020; stroke-width: 2; }
svg .p { fill: #fff; stroke: #202020; stroke-width: 1.5; }
nav ul { padding: 0; margin: .8rem 0; list-style: none; display: flex; flex-wrap: wrap; gap: .2rem 1.2rem; }
a { color: #111; }
@media print {
  body { margin: 0; max-width: none; font-size: 11px; }
  nav { display: none; } svg, tr, h2, caption { break-inside: avoid; } h2, caption { break-after: avoid; }
  thead { display: table-header-group; } tbody tr:first-child { break-before: avoid; }
  .wide { overflow: visible; }
}
@page { margin: 14mm; }
"""


def review_page(house: House, review: Review) -> str:
    """The whole page; everything that comes from input is escaped."""
    cut = sections(house, review)
    title = escape(f"{house.name}: review {review.first_on.isoformat()} to {review.last_on.isoformat()}")
    links = "".join(f'<li><a href="#s{n}">{escape(s.title)}</a></li>' for n, s in enumerate(cut))
    parts = "".join(_section(section, f"s{n}") for n, section in enumerate(cut))
    return (
        '<!doctype html>\n<html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f'<meta http-equiv="Content-Security-Policy" content="{POLICY}">'
        f"<title>{title}</title><style>{STYLE}</style></head><body><header>"
        f"<h1>{escape(house.name)}: review</h1>"
        f"<p>{long_day(review.first_on)} to {long_day(review.last_on)}, made {long_day(review.made_on)}</p>"
        f'</header><nav aria-label="Sections"><ul>{links}</ul></nav><main>{parts}</main></body></html>\n'
    )


def _section(section: Section, key: str) -> str:
    figure = figure_svg(section, section.figure, f"{key}f") if section.figure is not None else ""
    notes = "".join(f'<p class="note">{escape(text)}</p>' for text in section.intro)
    table = _table(section) if section.rows else f"<p>{escape(section.empty)}</p>"
    return f'<section id="{key}"><h2>{escape(section.title)}</h2>{notes}{figure}{table}</section>'


def _table(section: Section) -> str:
    heads = "".join(f'<th scope="col"{_right(c)}>{escape(c.name or "remark")}</th>' for c in section.columns)
    rows = "".join(f"<tr>{''.join(_cells(section, row))}</tr>" for row in section.rows)
    return (
        f'<div class="wide"><table><caption>{escape(section.caption)}</caption>'
        f"<thead><tr>{heads}</tr></thead><tbody>{rows}</tbody></table></div>"
    )


def _cells(section: Section, row: tuple[Value, ...]) -> Iterator[str]:
    for n, (column, value) in enumerate(zip(section.columns, row, strict=True)):
        text = escape(shown(value, column.kind))
        yield f'<th scope="row">{text}</th>' if n == 0 else f"<td{_right(column)}>{text}</td>"


def _right(column: Column) -> str:
    return "" if column.kind in ("text", "day") else ' class="r"'


def shown(value: Value, kind: str) -> str:
    """A value as the page prints it; an empty cell for what is not known."""
    if value is None:
        return ""
    if isinstance(value, date):
        return said(value)
    if isinstance(value, str):
        return value
    amount = float(value) if isinstance(value, Decimal) else value
    if kind == "percent":
        return f"{amount:.0%}"
    if kind == "change":
        return f"{amount:+.0%}" if round(amount, 2) else "0%"
    if kind == "money":
        return f"{amount:,.2f}"
    if kind == "whole":
        return f"{amount:,.0f}"
    return f"{amount:,.3f}".rstrip("0").rstrip(".")
