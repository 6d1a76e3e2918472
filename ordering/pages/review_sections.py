"""The review cut into sections, in the sequence an owner reads it."""

from __future__ import annotations

from ordering.pages import review_forecast as of_forecast
from ordering.pages import review_money as of_money
from ordering.pages import review_overview as overview
from ordering.pages.review_parts import Section
from ordering.records.house import House
from ordering.records.review_results import Review


def first_sections(house: House, review: Review) -> tuple[Section, ...]:
    """The tables of the first screen, in the sequence of its sentences."""
    return (
        overview.band(review),
        overview.lost_money(house, review),
        overview.covers_compared(review),
        overview.cost_by_week(house, review),
        overview.creep(house, review),
    )


def detail_sections(house: House, review: Review) -> tuple[Section, ...]:
    """What stands behind the first screen."""
    return (
        of_money.advice(house, review),
        of_money.food_cost(house, review),
        of_money.ran_out(house, review),
        of_money.thrown(house, review),
        of_money.prices(house, review),
        of_money.yields(house, review),
        of_forecast.covers(review),
        of_forecast.dishes(house, review),
        of_money.items(house, review),
    )


def sheets_of(house: House, review: Review) -> tuple[tuple[str, tuple[Section, ...]], ...]:
    """The same sections by sheet of the workbook: title and sections."""
    band, lost, compared, by_week, creep = first_sections(house, review)
    advice, food_cost, ran_out, thrown, prices, yields, covers, dishes, items = detail_sections(house, review)
    return (
        ("Review", (lost, compared, by_week)),
        ("Money", (advice, food_cost, ran_out, thrown, creep, prices, yields)),
        ("Forecast", (band,)),
        ("Accuracy", (covers, dishes)),
        ("Orders and use", (items,)),
    )
