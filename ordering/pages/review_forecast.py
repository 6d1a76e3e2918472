"""Sections of the review on the forecast: covers by service and day, dishes."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from ordering.days import said
from ordering.pages.review_parts import Column, Figure, Section
from ordering.records.house import House
from ordering.records.page import Value
from ordering.records.review import Pair, Review, Score

N_DISHES = 60

SCORE_COLUMNS = (
    Column("issued"),
    Column("services", "whole"),
    Column("actual", "whole"),
    Column("forecast", "whole"),
    Column("bias", "change"),
    Column("WAPE", "percent"),
    Column("inside 80 %", "percent"),
    Column("inside 90 %", "percent"),
    Column("naive WAPE", "percent"),
    Column("gain on naive", "change"),
    Column("MASE", "number"),
)
HOW_TO_READ = (
    "Bias: forecast less actual over actual; above zero, too much was forecast. WAPE: the sum of the "
    "misses over the sum of the actuals. Inside 80 % and 90 %: the share of services within that interval; "
    "the nearer to 80 and 90, the better. Naive: the same weekday's last value known when the forecast was "
    "issued; gain: how much smaller the forecast's WAPE is. MASE: the usual miss over the usual change from "
    "one week to the next; the lower the better, and above 1 the forecast misses by more than weeks differ."
)


def _score_row(score: Score) -> tuple[Value, ...]:
    return (
        *(score.lead, score.n, score.actual, score.forecast, score.bias, score.wape),
        *(score.inside_80, score.inside_90, score.naive_wape, score.gain),
        None if score.mase is None else round(score.mase, 2),
    )


def _spaced(service: str) -> str:
    return service.replace("-", " ")


def covers(review: Review) -> Section:
    return Section(
        "Covers",
        "Covers: forecast as issued against actual, by service and days ahead",
        (Column("service"), *SCORE_COLUMNS),
        tuple((_spaced(s.name), *_score_row(s)) for s in review.covers),
        intro=(HOW_TO_READ,),
        empty="No forecast as issued meets covers in these days.",
    )


def by_service(house: House, review: Review) -> Iterator[Section]:
    """Each service day by day, by the last forecast issued before it."""
    for service in house.services:
        pairs = [p for p in review.pairs if p.service == service]
        if pairs:
            yield _service(service, pairs)


def _service(service: str, pairs: Iterable[Pair]) -> Section:
    rows = tuple(
        (said(p.served_on), p.actual, round(p.mean, 1), p.q10, p.q90 - p.q10, p.naive, p.lead_days)
        for p in pairs
    )
    columns = (
        Column("day"),
        Column("actual", "whole"),
        Column("forecast", "number"),
        Column("80 % from", "number"),
        Column("80 % wide", "number"),
        Column("naive", "whole"),
        Column("days ahead", "whole"),
    )
    named = _spaced(service)
    figure = Figure(
        "band",
        f"Covers at {named}: forecast and actual",
        f"Line of forecast covers with its 80 % band, points for the covers that came, {len(rows)} services",
        0,
        ((3, "hidden"), (4, "band"), (2, "strong"), (1, "points")),
        "covers",
    )
    caption = f"Covers at {named}, day by day, by the last forecast issued before"
    return Section(f"Covers {named}", caption, columns, rows, figure=figure)


def dishes(house: House, review: Review) -> Section:
    named = {d.id: d.name for d in house.dishes.values()}
    rows = tuple((named.get(s.name, s.name), *_score_row(s)) for s in review.dishes[:N_DISHES])
    return Section(
        "Dishes",
        "Dishes: forecast as issued against sold, in time for each dish's longest preparation",
        (Column("dish"), *SCORE_COLUMNS),
        rows,
        intro=(
            "For each dish the last forecast that was still in time to order and start everything for it. "
            "Services at which it was 86'd are left out, as they show no more than a lower bound.",
        ),
        empty="No forecast as issued meets dishes sold in these days.",
    )
