"""Days of the week, spans of days and the days on which a house orders."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Iterator
from datetime import date, datetime, time, timedelta

WEEKDAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
WEEKDAY_NAMES = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")


def span(first: date, n_days: int) -> tuple[date, ...]:
    """`n_days` consecutive days, the first of them `first`."""
    start = first.toordinal()
    return tuple(map(date.fromordinal, range(start, start + n_days)))


def days_back(from_weekday: int, to_weekday: int) -> int:
    """Days from a weekday back to the latest `to_weekday` at or before it (0 to 6)."""
    return (from_weekday - to_weekday) % 7


def next_on(day: date, weekdays: Collection[int]) -> date:
    """The first day strictly after `day` that falls on one of `weekdays`.

    Raises
    ------
    ValueError : `weekdays` is empty
    """
    if not weekdays:
        raise ValueError("no weekday given")
    return min(day + timedelta(days=days_back(w, day.weekday()) or 7) for w in weekdays)


def format_day(day: date) -> str:
    """A day as people say it in a kitchen: `Thu 26 Nov`."""
    return f"{WEEKDAY_NAMES[day.weekday()][:3]} {day.day} {day:%b}"


def span_said(first: date, last: date) -> str:
    """`Fri 27 Nov`, `Fri 27 Nov and Sat 28 Nov`, `Fri 27 Nov to Sun 6 Dec`."""
    if first == last:
        return format_day(first)
    return f"{format_day(first)} {'and' if (last - first).days == 1 else 'to'} {format_day(last)}"


def day_and_time(moment: datetime) -> str:
    """`Thu 26 Nov 15:00`."""
    return f"{format_day(moment)} {moment:%H:%M}"


def service_said(service: str) -> str:
    """A service as people say it, by its id: `dinner`, `Sunday lunch`."""
    names = {name.lower(): name for name in WEEKDAY_NAMES}
    return " ".join(names.get(word, word) for word in service.split("-"))


def service_title(service: str) -> str:
    """The same where it begins a line: `Dinner`, `Sunday lunch`."""
    words = service_said(service)
    return words[:1].upper() + words[1:]


def clock(moment: time, is_american: bool = False) -> str:
    """A time of day: `15:00`; in the US `3 pm`, `3:30 pm`, `noon`."""
    if not is_american:
        return f"{moment:%H:%M}"
    if moment.minute == 0 and moment.hour in _TWELVE:
        return _TWELVE[moment.hour]
    minutes = f":{moment:%M}" if moment.minute else ""
    return f"{moment.hour % 12 or 12}{minutes} {'am' if moment.hour < 12 else 'pm'}"


_TWELVE = {0: "midnight", 12: "noon"}
_MONTHS = "Jan|Feb|Mar|Apr|May|Jun|Jul|Aug|Sep|Oct|Nov|Dec"
_DAYS = "|".join(name[:3] for name in WEEKDAY_NAMES)
_SAID = re.compile(rf"\b({_DAYS}) ([0-9]{{1,2}}) ({_MONTHS})\b")
_LONG = re.compile(rf"\b({'|'.join(WEEKDAY_NAMES)}) ([0-9]{{1,2}}) ((?:{_MONTHS})[a-z]*) ([0-9]{{4}})\b")
_TIMED = re.compile(rf"\b((?:{_DAYS}) (?:{_MONTHS}) [0-9]{{1,2}}\s)([01][0-9]|2[0-3]):([0-5][0-9])(  +)?")


def american(text: str) -> str:
    """A text as it is read in the US: `Thu Nov 26 3 pm` for `Thu 26 Nov 15:00`.

    Texts are put together with `format_day`, whoever they are for, and turned where they leave the program.
    What follows in a column stays in its place as long as there is room.
    """
    return _TIMED.sub(_twelve, _SAID.sub(r"\1 \3 \2", _LONG.sub(r"\1, \3 \2, \4", text)))


def _twelve(found: re.Match[str]) -> str:
    said = clock(time(int(found[2]), int(found[3])), is_american=True)
    room = len(found[4] or "") + len("15:00") - len(said)
    return found[1] + said + " " * (max(room, 1) if found[4] else 0)


def day_as_shown(written: str, days: Iterable[date]) -> date | None:
    """A day as a workbook or a spreadsheet's csv has it: as a date, or one of `days` as a sheet shows it."""
    try:
        return date.fromisoformat(written[:10])
    except ValueError:
        plain = " ".join(written.replace(",", " ").split()).casefold()
        shown = {form.casefold(): day for day in days for form in _forms(day)}
        return shown.get(plain)


def _forms(day: date) -> Iterator[str]:
    for said in (format_day(day), american(format_day(day))):
        yield said
        yield f"{said} {day.year}"
    for pattern in ("{d}/{m}/{y}", "{m}/{d}/{y}", "{d}.{m}.{y}"):
        for width in (1, 2):
            for year in (f"{day.year}", f"{day.year % 100:02d}"):
                yield pattern.format(d=f"{day.day:0{width}d}", m=f"{day.month:0{width}d}", y=year)
