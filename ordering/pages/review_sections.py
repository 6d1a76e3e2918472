"""The review cut into sections, in the sequence an owner reads it."""

from __future__ import annotations

from ordering.pages import review_forecast as of_forecast
from ordering.pages import review_money as of_money
from ordering.pages.review_parts import Section
from ordering.records.house import House
from ordering.records.review import Review


def sections(house: House, review: Review) -> tuple[Section, ...]:
    """Everything a review shows."""
    return (
        of_money.advice(house, review),
        of_money.food_cost(house, review),
        of_money.spend(house, review),
        of_forecast.covers(review),
        *of_forecast.by_service(house, review),
        of_forecast.dishes(house, review),
        of_money.ran_out(house, review),
        of_money.thrown(house, review),
        of_money.items(house, review),
        of_money.prices(house, review),
        of_money.yields(house, review),
    )
