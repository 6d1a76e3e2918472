"""A reservations export, a line a booking, into the running totals of `books/bookings.csv`."""

from __future__ import annotations

import re
from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date as Day

from ruamel.yaml.comments import CommentedMap, CommentedSeq

from ordering.amounts import plural
from ordering.intake.bookfiles import laid_over
from ordering.intake.dates import date_reader, is_day, minutes
from ordering.intake.headings import Found
from ordering.intake.housefiles import flow
from ordering.intake.outcome import Outcome, Question, money
from ordering.intake.services import Services
from ordering.intake.sheet_forms import tables_in
from ordering.intake.sheets import SourceSheet

_CANCELLED = re.compile(r"cancel|declin|reject|expired|deleted|storn|withdrawn", re.IGNORECASE)
_NO_SHOW = re.compile(r"no[ -_]?show|did not (?:show|arrive)|dna\b", re.IGNORECASE)
_WALKED_IN = re.compile(r"walk[ -]?in", re.IGNORECASE)
_PARTY = re.compile(r"\b(?:private|party|buy ?out|wedding|function|event|banquet|exclusive)\b", re.IGNORECASE)
LARGE = 20
_COUNTED = {
    "cancelled": ("cancelled", "cancelled"),
    "no-show": ("no-show (on the books to the end)", "no-shows (on the books to the end)"),
    "walk-in": ("walk-in left out", "walk-ins left out"),
}


@dataclass(frozen=True, slots=True)
class _Reserved:
    taken_on: Day | None
    date: Day
    service: str
    guests: int
    cancelled_on: Day | None
    name: str
    note: str


def bring_bookings(sheets: Sequence[SourceSheet], out: Outcome) -> None:
    """Read every reservation; the totals of each day and service seen take the place of the old ones."""
    needed = ("date", "party")
    tables = tables_in(sheets, "bookings", needed, out.asker, out.name)
    services, counted = Services(out), Counter[str]()
    found: dict[tuple[object, ...], _Reserved] = {}
    for table in [_with_day_made(table, out) for table in tables]:
        out.told += table.how
        seen: Counter[tuple[object, ...]] = Counter()
        for one in _bookings(table, out, services, counted):
            # The same reservation in two overlapping exports is one; twice in one export it is two tables.
            key = (one.taken_on, one.date, one.service, one.guests, one.name)
            seen[key] += 1
            found[(*key, seen[key])] = one
    bookings = list(found.values())
    rows, slots = _totals(bookings, out.on)
    columns = ("taken_on", "date", "service", "booked")
    out.written |= laid_over(out.books, "bookings", columns, rows, slots)
    n_guests = sum(one.guests for one in bookings if one.cancelled_on is None)
    said = ", ".join(plural(n, *form) for what, form in _COUNTED.items() if (n := counted[what]))
    out.told.append(
        f"{plural(len(bookings), 'booking')} for {n_guests:,} guests{'; ' + said if said else ''}"
    )
    if any(one.taken_on is None for one in bookings):
        out.told.append(f"no day on which they were made: what is to come counts as booked on {out.on}")
    out.told += services.told()
    _parties(bookings, out)


def _with_day_made(table: Found, out: Outcome) -> Found:
    """The table with the day each was made where only cells tell it: days that are never after the visit."""
    rows = [row for _, row in table.body()]
    visits = _days_of(table, "date", out)
    for at in range(len(table.heading)) if "taken_on" not in table.columns else ():
        cells = [row[at] if at < len(row) else "" for row in rows]
        if at in table.columns.values() or 2 * sum(map(is_day, cells)) <= len(rows):
            continue
        made = replace(table, columns={**table.columns, "taken_on": at})
        days = [(a, b) for a, b in zip(_days_of(made, "taken_on", out), visits, strict=True) if a and b]
        if days and all(a <= b for a, b in days) and any(a < b for a, b in days):
            return replace(made, how=(*table.how, f"{table.heading[at]} = taken_on, as its cells tell"))
    return table


def _days_of(table: Found, role: str, out: Outcome) -> list[Day | None]:
    rows = list(table.body())
    cells = [table.cell(row, role) for _, row in rows]
    read = date_reader(cells, lambda n: table.sheet.line(rows[n][0]), out.asker, out.country)
    return [read(cell)[0] for cell in cells]


def _bookings(table: Found, out: Outcome, services: Services, counted: Counter[str]) -> list[_Reserved]:
    sheet = table.sheet
    rows = list(table.body())
    days = {
        role: date_reader(
            [table.cell(r, role) for _, r in rows], lambda n: sheet.line(rows[n][0]), out.asker, out.country
        )
        for role in ("date", "taken_on", "cancelled_on")
    }
    out.told += list(dict.fromkeys(reader.how for reader in days.values() if reader.how))[:1]
    found: list[_Reserved] = []
    for n, row in rows:
        day, moment = days["date"](table.cell(row, "date"))
        guests = money(table.cell(row, "party"))
        if guests is not None and table.head_of("party").lower().startswith("adult"):
            guests += money(table.cell(row, "children")) or 0
        status = table.cell(row, "status")
        said = table.cell(row, "name"), table.cell(row, "note")
        if day is None or guests is None or guests <= 0:
            if any(row):
                cells = ", ".join(c for c in row if c)[:60]
                out.left.append(f"row {sheet.line(n)}: no date or no party in {cells}")
            continue
        if _WALKED_IN.search(" ".join((status, *said))):
            counted["walk-in"] += 1
            continue
        moment = moment if moment is not None else minutes(table.cell(row, "time"))
        service, day = services.of(day, moment, table.cell(row, "service"))
        if not service:
            at = "which of the services that day? No time is written"
            out.left.append(f"row {sheet.line(n)}: {at if moment is None else 'no service at that time'}")
            continue
        cancelled_on = days["cancelled_on"](table.cell(row, "cancelled_on"))[0]
        is_cancelled = _is_cancelled(table, row, cancelled_on)
        counted["cancelled"] += is_cancelled
        if is_cancelled and cancelled_on is None:
            continue
        cancelled_on = cancelled_on if is_cancelled else None
        counted["no-show"] += bool(_NO_SHOW.search(status))
        taken_on, (name, note) = days["taken_on"](table.cell(row, "taken_on"))[0], said
        found.append(_Reserved(taken_on, day, service, int(guests), cancelled_on, name, note))
    return found


def _is_cancelled(table: Found, row: Sequence[str], cancelled_on: Day | None) -> bool:
    """Whether a line was called off, by its state, its note or a mark or day in a column of its own."""
    status, mark = table.cell(row, "status"), table.cell(row, "cancelled_on").lower()
    is_yes = cancelled_on is None and mark not in ("", "no", "n", "0", "false", "-")
    is_marked = is_yes or (cancelled_on is not None and "status" not in table.columns)
    is_said = _CANCELLED.search(status) or _CANCELLED.match(table.cell(row, "note"))
    return bool(is_said or is_marked) and not _NO_SHOW.search(status)


def _totals(bookings: Sequence[_Reserved], on: Day) -> tuple[list[tuple[str, ...]], set[tuple[str, str]]]:
    """(taken_on, date, service, booked): what stood in the book at the end of each day it changed."""
    changes: dict[tuple[Day, str], dict[Day, int]] = defaultdict(lambda: defaultdict(int))
    for one in bookings:
        taken_on = min(one.taken_on or min(on, one.date), one.date)
        changes[one.date, one.service][taken_on] += one.guests
        if one.cancelled_on is not None:
            changes[one.date, one.service][min(max(one.cancelled_on, taken_on), one.date)] -= one.guests
    rows: list[tuple[str, ...]] = []
    for (day, service), by_day in changes.items():
        booked, last = 0, None
        for taken_on in sorted(by_day):
            booked += by_day[taken_on]
            if booked != last and (booked or last):
                rows.append((taken_on.isoformat(), day.isoformat(), service, str(max(booked, 0))))
            last = booked
    return rows, {(day.isoformat(), service) for day, service in changes}


def _parties(bookings: Sequence[_Reserved], out: Outcome) -> None:
    """Large bookings to come, which may want a menu of their own: asked, and written to the calendar."""
    calendar = out.house.entries("calendar")
    events = calendar.get("events") or CommentedSeq()
    there = {(str(e.get("date")), str(e.get("service"))) for e in events if isinstance(e, CommentedMap)}
    large = [
        one
        for one in bookings
        if one.date >= out.on
        and one.cancelled_on is None
        and one.guests >= LARGE
        and (one.date.isoformat(), one.service) not in there
    ]
    for one in sorted(large, key=lambda b: b.date):
        name = one.name or f"Party of {one.guests}"
        is_party = bool(_PARTY.search(f"{one.name} {one.note}"))
        whose = f"{name}, {one.guests} guests on {one.date} ({one.service})"
        text = f"{whose}: a private party with a menu of its own?"
        asked = Question(
            f"party {one.date} {one.service} {one.guests}", text, ("yes", "no"), "yes" if is_party else "no"
        )
        if out.asker.settle(asked) == "yes":
            events.append(flow(name=name, date=one.date.isoformat(), service=one.service, covers=one.guests))
            calendar["events"] = events
            out.house.changed.add("calendar")
            out.told.append(f"party: {name} on {one.date}: add its menu in calendar.yaml")
    if large:
        out.told += [f"large booking: {one.guests} guests on {one.date}" for one in large[:8]]
