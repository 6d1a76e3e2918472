"""Native charts of a workbook, told apart by line and pattern, not by colour."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from ordering.records.page import Chart, Series

DARK = "#202020"
GREY = "#7F7F7F"
LIGHT = "#D9D9D9"
DAYS_A_WEEK = 7
SHORT_DAY = "d mmm"
LYING = ("bar", "time-line")

_KINDS: Mapping[str, dict[str, str]] = {
    "line": {"type": "line"},
    "band": {"type": "line"},
    "column": {"type": "column"},
    "bar": {"type": "bar"},
    "time-line": {"type": "bar", "subtype": "stacked"},
}

_LINES: Mapping[str, dict[str, object]] = {
    "plain": {"line": {"color": GREY, "width": 1.5}},
    "strong": {"line": {"color": DARK, "width": 2.25}},
    "dashed": {"line": {"color": GREY, "width": 1.25, "dash_type": "dash"}},
    "points": {
        "line": {"none": True},
        "marker": {"type": "diamond", "size": 7, "border": {"color": DARK}, "fill": {"color": DARK}},
    },
}

_FILLS: Mapping[str, dict[str, object]] = {
    "plain": {"fill": {"color": LIGHT}, "border": {"color": DARK}},
    "strong": {"fill": {"color": GREY}, "border": {"color": DARK}},
    "dark": {"fill": {"color": DARK}, "border": {"color": DARK}},
    "band": {"fill": {"color": LIGHT}, "border": {"none": True}},
    "dashed": {"pattern": {"pattern": "wide_upward_diagonal", "fg_color": DARK, "bg_color": "#FFFFFF"}},
    "hidden": {"fill": {"none": True}, "border": {"none": True}},
}


def add_chart(book: Any, paged: Any, chart: Chart, names: Mapping[str, str]) -> None:
    """Draw the chart on a sheet.

    A chart with a hidden series has no legend: its title says what is what.

    Raises
    ------
    ValueError : its kind, a style of a series or a sheet named is not known
    """
    if chart.kind not in _KINDS:
        raise ValueError(f"no chart is called {chart.kind!r}")
    drawn = book.add_chart(dict(_KINDS[chart.kind]))
    areas = [s for s in chart.series if chart.kind == "band" and s.style in ("hidden", "band")]
    lines = [s for s in chart.series if s not in areas]
    for series in lines:
        drawn.add_series(_series(series, names, _look(chart.kind, series.style)))
    if areas:
        under = book.add_chart({"type": "area", "subtype": "stacked"})
        for series in areas:
            under.add_series(_series(series, names, _look("area", series.style)))
        _dress(under, chart, [*areas, *lines])
        under.combine(drawn)
        drawn = under
    else:
        _dress(drawn, chart, lines)
    paged.insert_chart(
        *chart.at, drawn, {"description": chart.description or chart.title, "object_position": 2}
    )


def _look(kind: str, style: str) -> Mapping[str, object]:
    looks = _LINES if kind in ("line", "band") else _FILLS
    if style not in looks:
        raise ValueError(f"a {kind} chart has no series of style {style!r}")
    return looks[style]


def _series(series: Series, names: Mapping[str, str], look: Mapping[str, object]) -> dict[str, object]:
    if series.sheet not in names:
        raise ValueError(f"a chart draws from a sheet that is not there: {series.sheet!r}")
    sheet = names[series.sheet]
    (at, first, last), (of, begin, end) = series.categories, series.values
    return {
        "name": series.name,
        "categories": [sheet, first, at, last, at],
        "values": [sheet, begin, of, end, of],
        "gap": 40,
        **look,
    }


def _dress(drawn: Any, chart: Chart, series: list[Series]) -> None:
    small = {"size": 9, "bold": False, "color": DARK}
    drawn.set_title({"name": chart.title, "name_font": {"size": 11, "color": DARK}, "overlay": False})
    across: dict[str, object] = {"name": chart.x_axis, "name_font": small, "num_font": small}
    upward: dict[str, object] = {"name": chart.y_axis, "name_font": small, "num_font": small}
    upward["major_gridlines"] = {"visible": True, "line": {"color": LIGHT, "width": 0.5}}
    if chart.axis_range is not None:
        upward["min"], upward["max"] = chart.axis_range
    if chart.value_format:
        upward["num_format"] = chart.value_format
    if chart.category_format:
        across["num_format"] = chart.category_format
    if chart.kind == "time-line":
        upward |= {"num_format": chart.value_format or SHORT_DAY, "major_unit": DAYS_A_WEEK}
    if chart.kind in LYING:
        across["reverse"] = True
        upward["label_position"] = "high"
        across, upward = upward, across
    else:
        across["text_axis"] = True
    drawn.set_x_axis(across)
    drawn.set_y_axis(upward)
    if any(one.style == "hidden" for one in series):
        drawn.set_legend({"none": True})  # programs differ in which entry they would leave out
    else:
        drawn.set_legend({"position": "bottom", "font": small})
    drawn.set_size({"width": chart.width, "height": chart.height})
    drawn.set_plotarea({"fill": {"none": True}})
    drawn.set_chartarea({"border": {"none": True}})
