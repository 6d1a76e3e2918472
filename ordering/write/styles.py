"""What each style word looks like on paper: plain, readable in black and white."""

from __future__ import annotations

import math
from collections.abc import Mapping
from decimal import Decimal

from ordering.records.page import Value

FONT = "Arial"
SIZE = 10
HAIR = "#808080"
FAINT = "#BFBFBF"
SHADE = "#EFEFEF"
# The width of a zero kept free behind a number: every program draws it, unlike an indent from the right.
RIGHT_GAP = "_0"

# Words of `Cell.style`, to be joined by spaces; a later word overrules an earlier one.
STYLES: Mapping[str, Mapping[str, object]] = {
    # what kind of value
    "text": {"align": "left", "indent": 0},
    "number": {"align": "right", "indent": 0},
    "whole": {"align": "right", "indent": 0, "num_format": "#,##0"},
    "money": {"align": "right", "indent": 0, "num_format": "#,##0.00"},
    "percent": {"align": "right", "indent": 0, "num_format": "0 %"},
    "date": {"align": "left", "indent": 0, "num_format": "ddd d mmm yyyy"},
    "day": {"align": "left", "indent": 0, "num_format": "ddd d mmm"},
    "long-date": {"align": "left", "indent": 0, "num_format": "dddd d mmmm yyyy"},
    # how loud
    "title": {"bold": True, "font_size": 16},
    "heading": {"bold": True, "font_size": 12},
    "large": {"font_size": 12},
    "small": {"font_size": 9},
    "strong": {"bold": True},
    "quiet": {"font_color": "#404040", "italic": True},
    # where it stands
    "right": {"align": "right", "indent": 1},
    "inset": {"align": "left", "indent": 1},
    "top": {"valign": "top"},
    "wrap": {"text_wrap": True},
    "turned": {"rotation": 90, "align": "center"},
    # lines and shade
    "head": {
        "bold": True,
        "text_wrap": True,
        "valign": "bottom",
        "bottom": 1,
        "top": 1,
        "bg_color": SHADE,
    },
    "line": {"bottom": 1, "bottom_color": FAINT},
    "rule": {"top": 1},
    "total": {"top": 1, "bold": True},
    "box": {"border": 1, "border_color": HAIR},
    "tick": {"border": 1, "border_color": HAIR},  # a box that a wet thumb or a pen hits
    "shade": {"bg_color": SHADE},
    "bar": {"bg_color": "#BFBFBF"},
    "dark": {"bg_color": "#404040", "font_color": "#FFFFFF"},
}

MONTH_FIRST = {
    "ddd d mmm yyyy": "ddd mmm d yyyy",
    "ddd d mmm": "ddd mmm d",
    "d mmm": "mmm d",
    "d mmm yy": "mmm d yy",
    "dddd d mmmm yyyy": "dddd, mmmm d, yyyy",
}

BASE: Mapping[str, object] = {"font_name": FONT, "font_size": SIZE, "valign": "vcenter"}


def properties(
    style: str, value: Value = None, unit: str = "", is_open: bool = False, is_american: bool = False
) -> dict[str, object]:
    """Format properties of a cell: its style words one over the other, its unit behind the number.

    `is_american`: days are written with the month first.

    Raises
    ------
    ValueError : a word of the style is not known
    """
    found = dict(BASE)
    for word in style.split():
        if word not in STYLES:
            raise ValueError(f"no style is called {word!r}")
        found |= STYLES[word]
    is_number = isinstance(value, (int, float, Decimal)) and not isinstance(value, bool)
    if "num_format" not in found and (is_number or "number" in style.split()):
        found["num_format"] = number_format(float(value) if is_number else None)  # type: ignore[arg-type]
    if is_american and "num_format" in found:
        found["num_format"] = MONTH_FIRST.get(str(found["num_format"]), found["num_format"])
    if unit and "num_format" in found:
        plain_unit = unit.replace('"', "")
        found["num_format"] = f'{found["num_format"]} "{plain_unit}"'
    if "num_format" in found and found.get("align") == "right":
        found["num_format"] = f"{found['num_format']}{RIGHT_GAP}"
        found["indent"] = 0
    if is_open:
        found["locked"] = False
    return found


def number_format(value: float | None) -> str:
    """A format with just the decimals a number needs, three at most: 5, 0.25, 1,200.5."""
    for n_decimals in (0, 1, 2):
        if value is None or not math.isfinite(value) or abs(value - round(value, n_decimals)) < 5e-4:
            return "#,##0" + ("." + "0" * n_decimals if n_decimals else "")
    return "#,##0.000"
