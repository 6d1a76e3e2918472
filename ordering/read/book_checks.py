"""What looks doubtful in the books beside the house: history that is missing, counts that are old."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import date

import pandas as pd

from ordering.amounts import plural
from ordering.days import service_said
from ordering.faults import Fault, nearest
from ordering.records.books import Books
from ordering.records.house import House
from ordering.units import format_number

OLD_DAYS = 14
MAX_LISTED = 20
LARGE = 10_000  # covers or portions of one service, above which a number is asked about
TIMES_USUAL = 5
OLD_YEARS = 20
LEAST_THERE = 0.9  # share of a party that must have come before its books are believed to hold it


def _listed(names: list[str]) -> str:
    more = f" and {len(names) - MAX_LISTED} more" if len(names) > MAX_LISTED else ""
    return ", ".join(names[:MAX_LISTED]) + more


def _file(books: Books, book: str) -> str:
    return books.files.get(book, book)


def _before(table: pd.DataFrame, on: date, column: str = "date") -> pd.DataFrame:
    return table[table[column] < pd.Timestamp(on)]


def check_left_out(house: House, books: Books, on: date) -> Iterator[Fault]:
    """Sales of dishes the menu does not know."""
    ids = {dish.name.casefold(): key for key, dish in house.dishes.items()}
    for one in books.left_out[:MAX_LISTED]:
        close = nearest(one.dish, house.dishes) or nearest(one.dish, ids)
        left_out = f"{format_number(one.sold)} sold in {plural(one.n_rows, 'row')} are left out"
        wrong = f"'{one.dish}' is not on the menu: {left_out}"
        right = close or "if it has left the menu, leave it as it is"
        right += f" (map it in house.yaml: dish_names: {{{one.dish}: DISH}})" if close else ""
        yield Fault(one.place, one.line, "dish", wrong, right, "unknown-dish")
    if len(books.left_out) > MAX_LISTED:
        rest = books.left_out[MAX_LISTED:]
        wrong = (
            f"and {len(rest)} more unknown dishes with {format_number(sum(one.sold for one in rest))} sold"
        )
        yield Fault(rest[0].place, 0, "dish", wrong, "check the names of dishes", "unknown-dish")


def check_unread(house: House, books: Books, on: date) -> Iterator[Fault]:
    """Files among the books that look like one and are not read."""
    for place, book in books.unread.items():
        right = f"is it meant? The {book} book is one file, '{book}.csv' or '{book}.xlsx'"
        yield Fault(place, 0, "", "this file is not read", right, "unread-file")


def check_history(house: House, books: Books, on: date) -> Iterator[Fault]:
    """No sales, old sales, dishes without a past, services without covers."""
    if not house.dishes:
        return
    sales = _before(books.sales, on)
    if sales.empty:
        right = "until then dishes are planned for parties and booked covers only; keep a sales book"
        yield Fault(_file(books, "sales"), 0, "", "there are no sales before this day", right, "no-sales")
        return
    last = sales["date"].max().date()
    if (on - last).days > OLD_DAYS:
        wrong = f"the last sales are of {last}, {(on - last).days} days ago"
        yield Fault(_file(books, "sales"), 0, "", wrong, "add the sales since then", "old-sales")
    sold = set(sales["dish"].unique())
    for key, dish in house.dishes.items():
        is_on = dish.services and (dish.until_on is None or dish.until_on >= on)
        if is_on and key not in sold and dish.like not in sold:
            place = house.places.get(f"dishes.{key}")
            right = "add 'like: DISH', a dish that sells as you expect this one to"
            where, line = (place.path, place.line) if place else ("menu.yaml", 0)
            yield Fault(
                where, line, key, "no sales of its own and no 'like' that has any", right, "no-history"
            )


def check_large(house: House, books: Books, on: date) -> Iterator[Fault]:
    """Numbers that only a caterer or a bakery sells, where the rest of the book is far smaller."""
    for book, table, what, by in (
        ("sales", books.sales, "sold", ["service", "dish"]),
        ("covers", books.covers, "covers", ["service"]),
    ):
        large = table[table[what] > LARGE]
        if large.empty:
            continue
        usual = table.groupby(by)[what].median()
        for row in large.head(MAX_LISTED).to_dict("records"):
            name = tuple(row[key] for key in by)
            middle = float(usual[name if len(name) > 1 else name[0]])
            if row[what] > TIMES_USUAL * middle:
                wrong = (
                    f"{row['date']:%Y-%m-%d}, {', '.join(name)}: {row[what]:,.0f} {what} where "
                    f"{middle:,.0f} is usual"
                )
                right = "is it right? It is used as it stands; correct the row if it is wrong"
                yield Fault(_file(books, book), 0, "", wrong, right, "large-number")


def check_old_dates(house: House, books: Books, on: date) -> Iterator[Fault]:
    """A row so old that its year is likelier a slip."""
    for book, table in (("sales", books.sales), ("covers", books.covers), ("bookings", books.bookings)):
        old = table[table["date"] < pd.Timestamp(on) - pd.DateOffset(years=OLD_YEARS)]
        if not old.empty:
            first = old["date"].min()
            rows = plural(len(old), "row")
            wrong = f"{rows} of {OLD_YEARS} years ago or more, the first of {first:%Y-%m-%d}"
            right = "is the year right? The forecast learns from the last five years alone"
            yield Fault(_file(books, book), 0, "", wrong, right, "old-date")


def check_covers(house: House, books: Books, on: date) -> Iterator[Fault]:
    """A service of the ordinary week without covers in the books."""
    known = set(_before(books.covers, on)["service"].unique())
    sold = set(_before(books.sales, on)["service"].unique())
    for key, service in house.services.items():
        if service.weekdays and key not in known:
            place = house.places.get(f"services.{key}")
            where, line = (place.path, place.line) if place else ("house.yaml", 0)
            rests = "its forecast is made from sales alone" if key in sold else "no walk-ins are forecast"
            right = f"add them to the covers book; until then {rests}"
            yield Fault(where, line, key, "no covers of this service in the books", right, "no-covers")


def check_party_books(house: House, books: Books, on: date) -> Iterator[Fault]:
    """Covers of a past party's service that cannot hold its guests: the till's books hold everybody.

    A few guests who did not come make no doubt. The share is a guess, no source.
    """
    guests: dict[tuple[date, str], int] = {}
    for party in house.parties:
        if party.date < on:
            key = (party.date, party.service)
            guests[key] = guests.get(key, 0) + party.covers
    if not guests:
        return
    came = books.covers.set_index(["date", "service"])["covers"]
    for party in house.parties:
        key = (party.date, party.service)
        at = (pd.Timestamp(party.date), party.service)
        if key not in guests or at not in came.index or came[at] >= LEAST_THERE * guests[key]:
            continue
        place = house.places.get(f"events.{party.name}")
        where, line = (place.path, place.line) if place else ("calendar.yaml", 0)
        wrong = (
            f"the covers book has {came[at]:.0f} guests for {service_said(party.service)} on {party.date}, "
            f"which seems to leave out its {guests[key]}"
        )
        right = (
            "write everybody into covers and sales, private parties too: they are taken out before learning"
        )
        yield Fault(where, line, party.name, wrong, right, "party-left-out")


def check_counts(house: House, books: Books, on: date) -> Iterator[Fault]:
    """Items never counted, or counted before the last delivery that brought them."""
    counted: dict[str, date] = {}
    later: dict[str, date] = {}
    for lot in books.counts:
        if lot.counted_on <= on:
            counted[lot.item] = max(lot.counted_on, counted.get(lot.item, lot.counted_on))
        else:
            later[lot.item] = min(lot.counted_on, later.get(lot.item, lot.counted_on))
    asked = {line.item for recipe in house.recipes.values() for line in recipe.lines}
    asked |= {one.item for one in house.consumables}
    waiting = {item: day for item, day in later.items() if item not in counted}
    if waiting:
        n, first = len(waiting), min(waiting.values())
        none = f"{plural(n, 'item')} taken as none"
        wrong = f"the count of {first} is later than the day asked for, {on}: {none}"
        right = f"check the day given with --on, or count as of {on}"
        yield Fault(_file(books, "counts"), 0, "", wrong, right, "later-count")
    never = [k for k in house.ingredients if k in asked and k not in counted and k not in waiting]
    if never:
        wrong = f"never counted, so taken as none: {_listed(never)}"
        yield Fault(_file(books, "counts"), 0, "", wrong, "count them", "never-counted")
    old: dict[date, list[str]] = {}
    for item, delivered_on in sorted(_last_deliveries(books, on).items()):
        if item in counted and counted[item] < delivered_on:
            old.setdefault(counted[item], []).append(item)
    for day, items in old.items():
        wrong = f"counted on {day}, before the last delivery: {_listed(items)}"
        right = "what there is now is worked out from the books; count them again to be sure"
        yield Fault(_file(books, "counts"), 0, "", wrong, right, "old-count")


def _last_deliveries(books: Books, on: date) -> dict[str, date]:
    last: dict[str, date] = {}
    for receipt in books.receipts:
        if receipt.delivered_on < on:
            last[receipt.item] = max(receipt.delivered_on, last.get(receipt.item, receipt.delivered_on))
    for order in books.open_orders:
        if order.deliver_on < on:
            last[order.item] = max(order.deliver_on, last.get(order.item, order.deliver_on))
    return last


def check_open_orders(house: House, books: Books, on: date) -> Iterator[Fault]:
    """Open orders whose day is more than a day past."""
    for order in books.open_orders:
        if (on - order.deliver_on).days > 1:
            wrong = (
                f"{format_number(order.packs)} packs of {order.code} from "
                f"{order.vendor} were due {order.deliver_on}"
            )
            right = "book them in with 'receive', or take the row out"
            yield Fault(_file(books, "open_orders"), 0, order.item, wrong, right, "late-order")


BOOK_CHECKS: tuple[Callable[[House, Books, date], Iterator[Fault]], ...] = (
    check_left_out,
    check_unread,
    check_history,
    check_covers,
    check_large,
    check_old_dates,
    check_party_books,
    check_counts,
    check_open_orders,
)
