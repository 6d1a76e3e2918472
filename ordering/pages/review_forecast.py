"""Sections of the review on the forecast: covers by service and day, dishes."""

from __future__ import annotations

from ordering.pages.review_parts import Column, Section
from ordering.records.house import House
from ordering.records.page import Value
from ordering.records.review_results import Review, Score

N_DISHES = 28

SCORE_COLUMNS = (
    Column("ahead"),
    Column("services", "whole"),
    Column("came", "whole"),
    Column("forecast", "whole"),
    Column("leans", "change"),
    Column("off by", "percent"),
    Column("in range", "percent"),
    Column("last week off by", "percent"),
    Column("closer than that", "change"),
)
HOW_TO_READ = (
    "Leans: how much more (+) or less was forecast than came, in all. Off by: the misses added up, as a "
    "share of what came. In range: the share of services within the forecast's 80 % range; the "
    "nearer to 80 %, the better. Last week off by: how far the same day's figure of the week before would "
    "have been off."
)


def _score_row(score: Score) -> tuple[Value, ...]:
    return (
        *(score.lead, score.n, score.actual, score.forecast, score.bias, score.wape),
        *(score.inside_80, score.naive_wape, score.gain),
    )


def _spaced(service: str) -> str:
    return service.replace("-", " ")


def covers(review: Review) -> Section:
    return Section(
        "How near the forecast came",
        "Covers: how near the forecast came, by service and days ahead",
        (Column("service"), *SCORE_COLUMNS),
        tuple((_spaced(s.name), *_score_row(s)) for s in review.covers),
        intro=(HOW_TO_READ,),
        empty="No forecast as issued meets covers in these days.",
    )


def dishes(house: House, review: Review) -> Section:
    named = {d.id: d.name for d in house.dishes.values()}
    rows = tuple((named.get(s.name, s.name), *_score_row(s)) for s in review.dishes[:N_DISHES])
    return Section(
        "Dishes",
        "Dishes: how near the forecast came, in time for each dish's longest preparation",
        (Column("dish"), *SCORE_COLUMNS),
        rows,
        intro=(
            "For each dish the last forecast that was still in time to order and start everything for it. "
            "Services at which it was 86'd are left out, as they show no more than a lower bound.",
        ),
        empty="No forecast as issued meets dishes sold in these days.",
    )
