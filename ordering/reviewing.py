"""The library function behind `review`: read, compare, write a workbook and a page."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from pathlib import Path

from ordering.bookkeeping import expected_stock
from ordering.cautions import TAGGED
from ordering.days import format_day
from ordering.explode.graph import recipe_graph
from ordering.faults import Fault, Refused
from ordering.ledger import store
from ordering.ledger.counting import totals, variances
from ordering.ledger.merge import LOOK_BACK_DAYS
from ordering.ledger.receiving import matched_bookings
from ordering.loading import Loaded, load
from ordering.net.opening import latest_counts, opening
from ordering.pages.parts import paper
from ordering.pages.review_sections import review_content, review_leaves
from ordering.pages.section_sheets import sections_workbook
from ordering.pages.sections import PageContent, sections_page
from ordering.pipeline import Step
from ordering.records.books import Books
from ordering.records.costs import portion_costs, unit_costs
from ordering.records.house import House
from ordering.records.ledger import Variance
from ordering.records.money import cents
from ordering.records.report import Report
from ordering.records.review_results import AtTheDoor, Review
from ordering.remaking import with_remade
from ordering.review.compose import Known, compose
from ordering.texts import wrapped
from ordering.write.outputs import write_outputs
from ordering.write.xlsx import workbook_bytes

USUAL_DAYS = 28
A_YEAR = timedelta(days=366)
TERMINAL_WIDTH = 80
N_TOLD = 3


def review(
    config: Path,
    books_dir: Path,
    on: date,
    first_on: date | None,
    last_on: date | None,
    out_dir: Path,
    tell: Step = lambda _: None,
) -> Report:
    """Forecast against actual and orders against use, as a workbook and a page with the same figures.

    Without dates the four weeks up to yesterday. Forecasts that were never issued are made now, as they
    would have been, and marked. A house without a ledger is told what cannot be known.

    Raises
    ------
    Refused : the input has faults, or the days are in the wrong sequence or still to come
    """
    span = span_of(on, first_on, last_on)
    loaded = load(config, books_dir, on)
    house = loaded.house
    found = looked_back(loaded, books_dir, on, span, tell)
    stem = f"review-{span[0].isoformat()}-{span[1].isoformat()}"
    workbook, page = out_dir / f"{stem}.xlsx", out_dir / f"{stem}.html"
    content = review_content(house, found)
    book = sections_workbook(content, review_leaves(content), found.made_on, paper(house), house.name)
    write_outputs({workbook: workbook_bytes(book), page: sections_page(content).encode()})
    return Report(tuple(_lines(house, content, found, workbook, page)), 0, (workbook, page))


def looked_back(
    loaded: Loaded, books_dir: Path, on: date, span: tuple[date, date], tell: Step | None = None
) -> Review:
    """What a stretch of days shows. Forecasts that were never issued are remade where `tell` is given.

    `span` is its first and last day.
    """
    house = loaded.house
    books = loaded.current
    near = loaded.bookings.since(span[0] - timedelta(days=LOOK_BACK_DAYS))
    costs = unit_costs(house, on)
    stocked = _lately(books, span[0])
    issued = store.issued(books_dir, *span)
    known = Known(
        issued=with_remade(house, loaded.books, issued, span, tell) if tell else issued,
        open_orders=loaded.books.open_orders,
        allowances=[b.record for b in loaded.bookings.allowances],
        placed=loaded.bookings.orders,
        expected=matched_bookings(house, loaded.books, near).expected,
        variances=_variances(house, stocked, costs, span),
        costs=costs,
        portions=portion_costs(house, costs),
        stock=_stock(house, stocked, costs, span),
    )
    return replace(compose(house, books, known, span, on), at_the_door=_at_the_door(loaded, span))


def span_of(on: date, first_on: date | None, last_on: date | None) -> tuple[date, date]:
    """The days asked for; without dates the four weeks up to yesterday.

    Raises
    ------
    Refused : they are in the wrong sequence or still to come
    """
    last = last_on or on - timedelta(days=1)
    first = first_on or last - timedelta(days=USUAL_DAYS - 1)
    if last > on:
        wrong, right = f"--to {last.isoformat()} is still to come", f"give {on.isoformat()} or before"
        raise Refused([Fault("review", 0, "", wrong, right, "future")])
    if first > last:
        wrong = f"--from {first.isoformat()} comes after --to {last.isoformat()}"
        raise Refused([Fault("review", 0, "", wrong, "give the earlier day first", "wrong-days")])
    return first, last


def _lately(books: Books, first_on: date) -> Books:
    """The books of the days that can bear on stock from a day on: a year before the counts it is rolled from.

    What came, was made or thrown away of an item before that is in its count; of an item never counted all
    of it is kept.
    """
    counted = latest_counts(books.counts, first_on)
    since = min((rows[0].counted_on for rows in counted.values()), default=first_on) - A_YEAR
    return replace(
        books,
        counts=tuple(c for c in books.counts if c.counted_on >= since),
        receipts=tuple(r for r in books.receipts if r.delivered_on >= since or r.item not in counted),
        waste=tuple(w for w in books.waste if w.date >= since or w.item not in counted),
        batches=tuple(b for b in books.batches if b.started_on >= since or b.recipe not in counted),
    )


def _at_the_door(loaded: Loaded, span: tuple[date, date]) -> tuple[AtTheDoor, ...]:
    """What was written down at the door in these days, and shellfish of which nothing was, by day."""
    house, graph = loaded.house, recipe_graph(loaded.house)
    found = []
    for booked in loaded.bookings.receipts:
        r = booked.record
        if not (r.packs and r.item in house.ingredients and span[0] <= r.delivered_on <= span[1]):
            continue
        is_tagged = TAGGED in house.ingredients[r.item].hazards
        if is_tagged or r.condition or r.temperature is not None:
            dishes = sorted(house.dishes[d].name for d in graph.dishes_of(r.item, is_traced=True))
            seen = (booked.at, r.temperature, r.condition, tuple(dishes))
            found.append(AtTheDoor(r.delivered_on, r.item, *seen))
    return tuple(sorted(found, key=lambda one: (one.delivered_on, one.item, one.document)))


def _variances(
    house: House, books: Books, costs: dict[str, float], span: tuple[date, date]
) -> tuple[Variance, ...]:
    """Each count that closes some of the days against what there should have been that morning.

    A count is taken in the morning: that of the first day closes the day before, that of the morning after
    the last day closes the last.
    """
    found: list[Variance] = []
    closing = {c.counted_on - timedelta(days=1) for c in books.counts}
    for day in sorted(day + timedelta(days=1) for day in closing if span[0] <= day <= span[1]):
        expected = {day: expected_stock(house, books, day)}
        lots = [c for c in books.counts if c.counted_on == day]
        found += variances(house, lots, expected, costs)
    return tuple(found)


def _stock(
    house: House, books: Books, costs: dict[str, float], span: tuple[date, date]
) -> tuple[Decimal | None, Decimal | None]:
    """Value of the stock on the first morning and on the morning after the last day.

    None where nothing had been counted by then.
    """
    return (
        _value(house, books, costs, span[0]),
        _value(house, books, costs, span[1] + timedelta(days=1)),
    )


def _value(house: House, books: Books, costs: dict[str, float], on: date) -> Decimal | None:
    if not any(day <= on for day, _ in totals(books.counts)):
        return None
    before = replace(books, receipts=tuple(r for r in books.receipts if r.delivered_on < on))
    lots = opening(house, before, on).lots
    return cents(sum(lot.quantity * costs.get(lot.item, 0.0) for lot in lots))


def _lines(house: House, content: PageContent, found: Review, workbook: Path, page: Path) -> list[str]:
    money = f" {house.currency}" if house.currency else ""
    worth = [f"{advice.money:,.2f}{money}: {advice.text}" for advice in found.advice[:N_TOLD]]
    groups = (
        ("", (content.headline, *content.others)),
        ("Worth doing", worth),
        ("Keep in mind", found.notes),
    )
    lines = [f"Review {format_day(found.first_on)} to {format_day(found.last_on)} {found.last_on.year}"]
    for title, texts in groups:
        lines += ["", title] if title and texts else []
        lines += ["  " + "\n    ".join(wrapped(text, TERMINAL_WIDTH - 4)) for text in texts]
    return [*(one for line in lines for one in line.split("\n")), "", f"Written to {workbook} and {page}"]
