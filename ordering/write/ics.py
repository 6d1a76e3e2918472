"""Calendars to bytes (RFC 5545), in the house's own time zone."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

from ordering.records.page import Calendar, Event
from ordering.texts import one_line

PRODUCT = "-//ordering//kitchen calendar//EN"
LONGEST = 74  # octets of a piece of a line: RFC 5545, 3.1 allows 75, and a further piece begins with a space
_MARK = re.compile(r"[\\;,]")
_BREAK = re.compile(r"\r\n|\n|\r")


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
    return b"".join(_folded(line) for line in _lines(calendar))


def _lines(calendar: Calendar) -> Iterator[str]:
    zone = ZoneInfo(calendar.timezone)
    yield "BEGIN:VCALENDAR"
    yield "VERSION:2.0"
    yield f"PRODID:{PRODUCT}"
    yield "CALSCALE:GREGORIAN"
    # Of no type the standard knows, and shown by many programs just as it stands: not escaped.
    yield f"X-WR-CALNAME:{one_line(calendar.title)}"
    moments = [e.begins for e in calendar.events if isinstance(e.begins, datetime)]
    if moments and calendar.timezone != "UTC":  # UTC is written with a Z and needs no zone
        yield from _zone(zone, calendar.timezone, moments)
    for event in calendar.events:
        yield from _event(event, calendar, zone)
    yield "END:VCALENDAR"


def _text(text: str) -> str:
    r"""The text with `\`, `;`, `,` and line breaks escaped (RFC 5545, 3.3.11)."""
    return _BREAK.sub(r"\\n", _MARK.sub(r"\\\g<0>", text))


def _folded(line: str) -> bytes:
    """The line and its end, in pieces; none ends within a character or an escape: some readers would trip."""
    octets = line.encode()
    pieces = []
    while len(octets) > LONGEST:
        end = LONGEST
        while octets[end] & 0xC0 == 0x80:  # not the first octet of its character
            end -= 1
        n_backslashes = end - len(octets[:end].rstrip(b"\\"))
        end -= n_backslashes % 2  # the last one escapes what follows
        pieces.append(octets[:end])
        octets = octets[end:]
    return b"\r\n ".join([*pieces, octets]) + b"\r\n"


def _zone(zone: ZoneInfo, name: str, moments: list[datetime]) -> Iterator[str]:
    """The zone's changes of the clock from a year before the first moment to the last.

    Each begins, as RFC 5545 3.6.5 asks, at the wall clock time before the change.
    """
    first = datetime(min(moments).year - 1, 1, 1, tzinfo=UTC)
    n_days = (datetime(max(moments).year + 1, 1, 1, tzinfo=UTC) - first).days
    yield "BEGIN:VTIMEZONE"
    yield f"TZID:{name}"
    yield from _change(zone, first, first)
    for day in (first + timedelta(days=n) for n in range(n_days)):
        after = day + timedelta(days=1)
        if day.astimezone(zone).utcoffset() != after.astimezone(zone).utcoffset():
            yield from _change(zone, *_minute_of_change(zone, day, after))
    yield "END:VTIMEZONE"


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


def _change(zone: ZoneInfo, before: datetime, at: datetime) -> Iterator[str]:
    old, new = before.astimezone(zone), at.astimezone(zone)
    kind = "DAYLIGHT" if new.dst() else "STANDARD"
    at_old_clock = at + (old.utcoffset() or timedelta())
    yield f"BEGIN:{kind}"
    yield f"DTSTART:{at_old_clock:%Y%m%dT%H%M%S}"
    yield f"TZNAME:{_text(new.tzname() or '')}"
    yield f"TZOFFSETFROM:{old:%z}"
    yield f"TZOFFSETTO:{new:%z}"
    yield f"END:{kind}"


def _event(event: Event, calendar: Calendar, zone: ZoneInfo) -> Iterator[str]:
    yield "BEGIN:VEVENT"
    yield f"SUMMARY:{_text(event.title)}"
    yield from _days(event.begins, calendar.timezone, zone)
    yield f"DTSTAMP:{calendar.stamped.astimezone(UTC):%Y%m%dT%H%M%SZ}"
    yield f"UID:{_uid(event.key)}"
    if event.group:
        yield f"CATEGORIES:{_text(event.group)}"
    if event.notes:
        yield f"DESCRIPTION:{_text(event.notes)}"
    yield "TRANSP:TRANSPARENT"
    for ahead in event.alarms:
        yield "BEGIN:VALARM"
        yield "ACTION:DISPLAY"
        yield f"DESCRIPTION:{_text(event.title)}"
        yield f"TRIGGER:-{_span(ahead)}"
        yield "END:VALARM"
    yield "END:VEVENT"


def _days(begins: date | datetime, timezone: str, zone: ZoneInfo) -> Iterator[str]:
    """When an event begins; of a whole day also when it ends."""
    if not isinstance(begins, datetime):
        yield f"DTSTART;VALUE=DATE:{begins:%Y%m%d}"
        yield f"DTEND;VALUE=DATE:{begins + timedelta(days=1):%Y%m%d}"
    elif timezone == "UTC":
        yield f"DTSTART:{begins.astimezone(zone):%Y%m%dT%H%M%SZ}"
    else:
        yield f"DTSTART;TZID={timezone}:{begins.astimezone(zone):%Y%m%dT%H%M%S}"


def _span(span: timedelta) -> str:
    """`PT3H`, `PT0H30M`: hours and minutes (RFC 5545, 3.3.6)."""
    hours, minutes = divmod(span // timedelta(minutes=1), 60)
    return f"PT{hours}H{minutes}M" if minutes else f"PT{hours}H"


def _uid(key: str) -> str:
    """A UID the same for the same thing: RFC 7986 asks for one that is unique and tells nothing."""
    return f"{hashlib.sha256(key.encode()).hexdigest()[:32]}@ordering.invalid"
