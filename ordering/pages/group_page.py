"""The group on one page: for a phone or a screen, with nothing that it has to fetch."""

from __future__ import annotations

from datetime import date

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from ordering.pages.group_sections import GroupView, group_sections, headline
from ordering.pages.parts import long_day
from ordering.pages.review_html import shown
from ordering.pages.review_parts import Column


def group_page(view: GroupView, on: date) -> str:
    """The whole page; everything that comes from input is escaped by the template."""
    pages = Environment(
        loader=PackageLoader("ordering", "pages"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=False,
    )
    return pages.get_template("group.html").render(
        title=f"{view.group.name}, {long_day(on)}",
        lead=headline(view),
        sections=group_sections(view),
        shown=shown,
        right=_right,
    )


def _right(column: Column) -> Markup:
    return Markup("") if column.kind in ("text", "day") else Markup(' class="r"')
