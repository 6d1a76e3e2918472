"""What looks doubtful about how long things keep: delivery days too far apart, date marks."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta
from itertools import pairwise

from ordering.amounts import plural
from ordering.faults import Fault
from ordering.read.fault_places import fault_at
from ordering.records.books import Books
from ordering.records.house import DATE_MARK, MARKED_DAYS, House


def check_keeping(house: House, books: Books, on: date) -> Iterator[Fault]:
    """Something spoils before the next delivery that could bring it fresh.

    What is made into something that keeps longer need not last itself: the days it keeps then add up.
    """
    open_on = {day for service in house.services.values() for day in service.weekdays}
    kept_as: dict[str, int] = {}
    for recipe in house.recipes.values():
        kept = (recipe.keeps_days or 0) + recipe.takes_days
        for line in recipe.lines:
            kept_as[line.item] = min(kept, kept_as.get(line.item, kept))
    for key, one in house.ingredients.items():
        days = sorted(
            {
                delivery.weekday
                for offer in one.offers
                if offer.vendor in house.vendors
                for delivery in house.vendors[offer.vendor].deliveries
            }
        )
        if one.keeps_days is None or not days or key not in kept_as:
            continue
        wait = max(_last_wanted(first, after, open_on) for first, after in pairwise([*days, days[0]]))
        if one.keeps_days + kept_as[key] < wait:
            wrong = (
                f"keeps {plural(one.keeps_days, 'day')}, but must last {wait} days until the next delivery"
            )
            said = ("short-keeping", wrong, "find another delivery day or vendor")
            yield fault_at(house, f"ingredients.{key}", said)


def _last_wanted(day: int, following: int, open_on: set[int]) -> int:
    """Days from a delivery to the last open day before the next one."""
    gap = (following - day) % 7 or 7
    return max((n for n in range(gap) if (day + n) % 7 in open_on), default=0)


def check_date_marks(house: House, books: Books, on: date) -> Iterator[Fault]:
    """Something with a date mark is said to keep longer than the mark lets it."""
    for key, recipe in house.recipes.items():
        left = max(0, recipe.marked_days)
        seven = left + 1 if left == MARKED_DAYS else left  # 7 d is how seven days are written
        if DATE_MARK in recipe.hazards and (recipe.keeps_days or 0) > seven:
            wrong = f"keeps {recipe.keeps_days} days, but its date mark ends on day {MARKED_DAYS + 1}"
            right = f"it is planned to keep {plural(left, 'day')} after the day it is ready"
            if recipe.takes_days > recipe.prepared_days:
                right += ": day 1 is the day it is begun, or 'prepared_at' after it"
            yield fault_at(house, f"recipes.{key}", ("long-date-mark", wrong, right))


def check_carried_marks(house: House, books: Books, on: date) -> Iterator[Fault]:
    """A marked recipe goes into its own next batch: the mark goes on, the plan counts it as new."""
    for key, recipe in house.recipes.items():
        for n, line in enumerate(recipe.lines):
            if line.returns and line.item == key and DATE_MARK in recipe.hazards:
                wrong = (
                    "each batch takes some of the one before: its date mark goes on, but is planned as new"
                )
                right = "start from scratch by day 7 of the first batch, and write that date at each count"
                yield fault_at(house, f"recipes.{key}", ("carried-mark", wrong, right), f".from.{n}")


def check_marked_counts(house: House, books: Books, on: date) -> Iterator[Fault]:
    """A counted lot with a date mark is dated further ahead than a mark made on the day of the count."""
    for row in books.counts:
        recipe = house.recipes.get(row.item)
        if recipe is None or DATE_MARK not in recipe.hazards or row.use_by is None or row.use_by < on:
            continue
        began = max(row.counted_on, row.ready_on or row.counted_on)
        latest = began + timedelta(days=max(0, recipe.marked_days if row.ready_on else MARKED_DAYS))
        if row.use_by > latest:
            wrong = f"counted on {row.counted_on} with use-by {row.use_by}, past day 7 of its date mark"
            right = f"{latest} at the latest, unless it was frozen: correct the label and the count"
            yield Fault(books.files.get("counts", "counts"), 0, row.item, wrong, right, "long-marked-lot")


KEEPING_CHECKS = (check_keeping, check_date_marks, check_carried_marks, check_marked_counts)
