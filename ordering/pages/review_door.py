"""What was written down as goods came, so that a temperature or a tag is found again when somebody asks."""

from __future__ import annotations

from ordering.pages.sections import Head, Section
from ordering.records.house import House
from ordering.records.review_results import Review
from ordering.units import degree_unit, degrees


def at_the_door(house: House, review: Review) -> Section:
    """Temperatures, conditions and tags by day, with where they are booked and the dishes they went into."""
    rows = tuple(
        (
            *(one.delivered_on, house.name_of(one.item), one.document),
            None if one.celsius is None else degrees(one.celsius, house.is_american),
            one.condition or ("" if one.celsius is not None else "nothing written down"),
            "; ".join(one.dishes),
        )
        for one in review.at_the_door
    )
    return Section(
        "At the door",
        "Temperatures, conditions and tags written down as goods came",
        (
            *(Head("came on", "day"), Head("item"), Head("booked in as")),
            *(Head(degree_unit(house.is_american), "number"), Head("condition, tag")),
            Head("dishes it can have gone into"),
        ),
        rows,
        intro=(
            "What goods went to which guest nobody writes down: they were there from the day they came until "
            "they were used up or past their date. How long a tag is kept stands on the sheet at the door.",
        )
        * bool(rows),
        empty="No temperature, condition or tag was written down.",
    )
