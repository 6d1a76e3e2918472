"""Calendars to bytes (RFC 5545), in the house's own time zone."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Mapping
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import icalendar

from ordering.records.page import Calendar, Event, Gone

PRODUCT = "-//ordering//kitchen calendar//EN"
SHORTEST_FOLDED = 75  # octets: RFC 5545, 3.1


def calendar_bytes(calendar: Calendar) -> bytes:
    """The calendar as an .ics file; the same value gives the same bytes.

    Moments carry the house's time zone, which is spelled out in the file; whole days end, as the
    standard has it, on the day after (DTEND is exclusive). A moment has no end: the
    standard asks for one that is later, and a cut-off has none. An event keeps its UID from run to run,
    so that a newer file brought in replaces the older one's entries.

    Raises
    ------
    ValueError : `stamped` has no time zone, or two events have the same key
    zoneinfo.ZoneInfoNotFoundError : there is no such time zone
    """
    if calendar.stamped.tzinfo is None:
        raise ValueError("a calendar is stamped with its time zone")
    keys = [event.key for event in calendar.events]
    if len(set(keys)) < len(keys):
        raise ValueError("two events of a calendar have the same key")
    zone = ZoneInfo(calendar.timezone)
    page = icalendar.Calendar()
    page.add("prodid", PRODUCT)
    page.add("version", "2.0")
    page.add("calscale", "GREGORIAN")
    page.add("x-wr-calname", calendar.title)
    moments = [e.begins for e in calendar.events if isinstance(e.begins, datetime)]
    if moments and calendar.timezone != "UTC":  # UTC is written with a Z and needs no zone
        page.add_component(_zone(zone, calendar.timezone, moments))
    shared, alarms = _shared(calendar), _alarms(calendar)
    for event in calendar.events:
        page.add_component(_event(event, calendar, zone, shared, alarms))
    planned = {_uid(calendar.title, event.key) for event in calendar.events}
    for gone in calendar.gone:
        if gone.uid not in planned:
            page.add_component(_cancelled(gone, shared))
    return b"\r\n".join([*_lines(page), b""])


def _lines(page: icalendar.Calendar) -> Iterator[bytes]:
    """The lines of the calendar; what stands in many of its entries is laid out once."""
    known: dict[tuple[str, object], bytes] = {}
    for name, value in page.property_items():
        key = name, value if isinstance(value, bytes) else id(value)
        if key not in known:
            known[key] = _folded(page.content_line(name, value))
        yield known[key]


def _folded(line: icalendar.parser.Contentline) -> bytes:
    """The line in pieces of 75 octets at most; most lines are shorter, and are not looked at by letter."""
    if len(line) < SHORTEST_FOLDED and line.isascii():
        return line.encode()
    return bytes(line.to_ical())  # type: ignore[no-untyped-call]


def _zone(zone: ZoneInfo, name: str, moments: list[datetime]) -> icalendar.Timezone:
    """The zone's changes of the clock from a year before the first moment to the last.

    Each begins, as RFC 5545 3.6.5 asks, at the wall clock time before the change.
    """
    first = datetime(min(moments).year - 1, 1, 1, tzinfo=UTC)
    n_days = (datetime(max(moments).year + 1, 1, 1, tzinfo=UTC) - first).days
    found = icalendar.Timezone()
    found.add("tzid", name)
    found.add_component(_change(zone, first, first))
    for day in (first + timedelta(days=n) for n in range(n_days)):
        after = day + timedelta(days=1)
        if day.astimezone(zone).utcoffset() != after.astimezone(zone).utcoffset():
            found.add_component(_change(zone, *_minute_of_change(zone, day, after)))
    return found


def _minute_of_change(zone: ZoneInfo, before: datetime, after: datetime) -> tuple[datetime, datetime]:
    """The last minute (UTC) of the old offset and the first of the new one, by halving."""
    old = before.astimezone(zone).utcoffset()
    while after - before > timedelta(minutes=1):
        middle = before + timedelta(minutes=(after - before) // timedelta(minutes=2))
        if middle.astimezone(zone).utcoffset() == old:
            before = middle
        else:
            after = middle
    return before, after


def _change(
    zone: ZoneInfo, before: datetime, at: datetime
) -> icalendar.TimezoneStandard | icalendar.TimezoneDaylight:
    old, new = before.astimezone(zone), at.astimezone(zone)
    is_summer = bool(new.dst())
    change = icalendar.TimezoneDaylight() if is_summer else icalendar.TimezoneStandard()
    old_offset, new_offset = old.utcoffset() or timedelta(), new.utcoffset() or timedelta()
    change.add("dtstart", at.replace(tzinfo=None) + old_offset)
    change.add("tzoffsetfrom", old_offset)
    change.add("tzoffsetto", new_offset)
    change.add("tzname", new.tzname() or "")
    return change


def _shared(calendar: Calendar) -> icalendar.Event:
    """What all entries have alike, encoded once."""
    entry = icalendar.Event()
    entry.add("dtstamp", calendar.stamped.astimezone(UTC))
    entry.add("sequence", _sequence(calendar))
    entry.add("transp", "TRANSPARENT")
    return entry


def _alarms(calendar: Calendar) -> dict[timedelta, icalendar.Alarm]:
    """An alarm for each span ahead, all but its text."""
    found = {}
    for ahead in {ahead for event in calendar.events for ahead in event.alarms}:
        found[ahead] = icalendar.Alarm()
        found[ahead].add("action", "DISPLAY")
        found[ahead].add("trigger", -ahead)
    return found


def _event(
    event: Event,
    calendar: Calendar,
    zone: ZoneInfo,
    shared: icalendar.Event,
    alarms: Mapping[timedelta, icalendar.Alarm],
) -> icalendar.Event:
    entry = icalendar.Event(shared)
    entry.add("uid", _uid(calendar.title, event.key))
    entry.add("summary", event.title)
    if event.notes:
        entry.add("description", event.notes)
    if event.group:
        entry.add("categories", [event.group])
    if isinstance(event.begins, datetime):
        entry.add("dtstart", event.begins.astimezone(zone))
    else:
        entry.add("dtstart", event.begins)
        entry.add("dtend", event.begins + timedelta(days=1))
    for ahead in event.alarms:
        alarm = icalendar.Alarm(alarms[ahead])
        alarm.add("description", entry["summary"])
        entry.add_component(alarm)
    return entry


def _cancelled(gone: Gone, shared: icalendar.Event) -> icalendar.Event:
    """RFC 5545, 3.8.1.11: an entry of the same UID with this status takes the earlier one out."""
    entry = icalendar.Event(shared)
    entry.add("uid", gone.uid)
    entry.add("summary", gone.title)
    entry.add("dtstart", gone.begins)
    entry.add("dtend", gone.begins + timedelta(days=1))
    entry.add("status", "CANCELLED")
    return entry


def _sequence(calendar: Calendar) -> int:
    """RFC 5545, 3.8.7.4: a later revision of an entry has a higher number; here the minute of the run."""
    return int(calendar.stamped.timestamp()) // 60


def _uid(title: str, key: str) -> str:
    """A UID the same for the same thing of the same house.

    RFC 7986 asks for one that is unique and tells nothing.
    """
    return f"{hashlib.sha256(f'{title}: {key}'.encode()).hexdigest()[:32]}@ordering.invalid"
