"""The group on one page: for a phone or a screen, with nothing that it has to fetch."""

from __future__ import annotations

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from ordering.pages.group_sections import GroupPages
from ordering.pages.review_html import shown
from ordering.pages.review_parts import Column


def group_page(told: GroupPages) -> str:
    """The whole page; everything that comes from input is escaped by the template."""
    pages = Environment(
        loader=PackageLoader("ordering", "pages"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=False,
    )
    return pages.get_template("group.html").render(
        title=told.title,
        lead=told.headline,
        sections=told.sections,
        shown=shown,
        right=_right,
    )


def _right(column: Column) -> Markup:
    return Markup("") if column.kind in ("text", "day") else Markup(' class="r"')
