"""The review as one page that needs nothing but itself: no network, no script, fit to print."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from ordering.days import format_day
from ordering.pages.parts import long_day
from ordering.pages.review_overview import headline
from ordering.pages.review_parts import Column, Section
from ordering.pages.review_sections import detail_sections, first_sections
from ordering.pages.svg import figure_svg
from ordering.records.house import House
from ordering.records.page import Value
from ordering.records.review_results import Review


def review_page(house: House, review: Review) -> str:
    """The whole page; everything that comes from input is escaped by the template."""
    pages = Environment(loader=PackageLoader("ordering", "pages"), autoescape=True, undefined=StrictUndefined)
    first, *others = headline(house, review) or ("Nothing is in the books for these days.",)
    return pages.get_template("review.html").render(
        title=f"{house.name}: review",
        days=f"{long_day(review.first_on)} to {long_day(review.last_on)}",
        made=long_day(review.made_on),
        lead=first,
        others=others,
        groups=(
            ("", first_sections(house, review)),
            ("Behind it", detail_sections(house, review)),
        ),
        figure=_figure,
        shown=shown,
        right=_right,
    )


def _figure(section: Section, key: str) -> Markup:
    return Markup("" if section.figure is None else figure_svg(section, section.figure, key))


def _right(column: Column) -> Markup:
    return Markup("") if column.kind in ("text", "day") else Markup(' class="r"')


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
        return f"{amount:.0%}"
    if kind == "change":
        return f"{amount:+.0%}" if round(amount, 2) else "0%"
    if kind == "money":
        return f"{amount:,.2f}"
    if kind == "whole":
        return f"{amount:,.0f}"
    return f"{amount:,.3f}".rstrip("0").rstrip(".")
