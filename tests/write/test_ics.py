"""Calendars read back by the library, and their clocks by the zone database."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import icalendar
import pytest
from hostile import NAMES

from ordering.records.page import Calendar, Event
from ordering.write.ics import calendar_bytes

STAMPED = datetime(2026, 11, 26, 0, 0, tzinfo=ZoneInfo("Europe/London"))


def calendar(*events: Event, zone: str = "Europe/London") -> Calendar:
    return Calendar("The Inn: kitchen", zone, STAMPED, events)


def parsed(*events: Event, zone: str = "Europe/London") -> icalendar.Calendar:
    found = icalendar.Calendar.from_ical(calendar_bytes(calendar(*events, zone=zone)))
    assert isinstance(found, icalendar.Calendar)
    return found


def moment(zone: str, *when: int) -> datetime:
    return datetime(*when, tzinfo=ZoneInfo(zone))  # type: ignore[misc,arg-type]


@pytest.mark.parametrize(
    "zone", ["Europe/London", "America/New_York", "Australia/Lord_Howe", "Asia/Tokyo", "UTC"]
)
def test_a_cut_off_stands_at_its_hour_in_the_zone_of_the_house(zone: str) -> None:
    event = Event("cut-off", "Order", moment(zone, 2026, 11, 26, 15), alarms=(timedelta(hours=3),))
    (found,) = parsed(event, zone=zone).events
    assert found.start.replace(tzinfo=None) == datetime(2026, 11, 26, 15)
    assert found.start == event.begins
    assert found["DTSTART"].params.get("TZID") == (None if zone == "UTC" else zone)
    assert "DTEND" not in found
    (alarm,) = found.alarms.times
    assert alarm.trigger == event.begins - timedelta(hours=3)  # type: ignore[operator]


@pytest.mark.parametrize(
    "zone", ["Europe/London", "America/New_York", "Australia/Lord_Howe", "Africa/Casablanca"]
)
def test_the_zone_spelled_out_agrees_with_the_zone_database(zone: str) -> None:
    """Every change of the clock, recomputed from the file alone, against zoneinfo, hour by hour."""
    found = parsed(Event("k", "Order", moment(zone, 2026, 6, 1, 12)), zone=zone)
    (spelled,) = found.walk("VTIMEZONE")
    changes = sorted(
        (part["DTSTART"].dt - part["TZOFFSETFROM"].td, part["TZOFFSETTO"].td)
        for part in spelled.subcomponents
    )
    now = datetime(2026, 1, 1)
    while now < datetime(2027, 1, 1):
        offset = [to for at, to in changes if at <= now][-1]
        assert now.replace(tzinfo=UTC).astimezone(ZoneInfo(zone)).utcoffset() == offset, now
        now += timedelta(hours=6)


def test_a_whole_day_ends_on_the_day_after() -> None:
    (found,) = parsed(Event("d", "Delivery", date(2026, 11, 28), "12 lines", group="delivery")).events
    assert (found["DTSTART"].dt, found["DTEND"].dt) == (date(2026, 11, 28), date(2026, 11, 29))
    assert "TZID" not in found["DTSTART"].params
    assert str(found["DESCRIPTION"]) == "12 lines"
    assert found.categories == ["delivery"]


def test_the_same_thing_keeps_its_uid_and_another_gets_another() -> None:
    one, two = parsed(Event("a", "x", date(2026, 11, 28)), Event("b", "x", date(2026, 11, 28))).events
    (again,) = parsed(Event("a", "other words", date(2026, 11, 29))).events
    assert one["UID"] == again["UID"] != two["UID"]
    assert one["DTSTAMP"].dt == STAMPED


@pytest.mark.parametrize("name", NAMES.values(), ids=NAMES.keys())
def test_no_name_can_add_a_line(name: str) -> None:
    raw = calendar_bytes(calendar(Event("k", name, date(2026, 11, 28), notes=name)))
    assert sum(line.startswith(b"BEGIN:") for line in raw.split(b"\r\n")) == 2
    (found,) = parsed(Event("k", name, date(2026, 11, 28))).events
    assert str(found["SUMMARY"]).replace("\r\n", "\n") == name.replace("\r\n", "\n")


def test_what_cannot_be_written_is_refused() -> None:
    with pytest.raises(ValueError, match="same key"):
        calendar_bytes(calendar(Event("k", "a", date(2026, 1, 1)), Event("k", "b", date(2026, 1, 2))))
    with pytest.raises(ValueError, match="time zone"):
        calendar_bytes(Calendar("t", "UTC", datetime(2026, 1, 1), ()))


def test_the_same_calendar_gives_the_same_bytes() -> None:
    event = Event("k", "Order", moment("Europe/London", 2026, 11, 26, 15))
    assert calendar_bytes(calendar(event)) == calendar_bytes(calendar(event))


@pytest.mark.parametrize("letter", ["m", "é"])
def test_no_line_is_longer_than_75_octets(letter: str) -> None:
    """RFC 5545, 3.1; whatever its length, a title is read back as it was."""
    titles = [letter * n for n in range(30, 160)]
    events = [Event(title, title, date(2026, 11, 26)) for title in titles]
    assert max(map(len, calendar_bytes(calendar(*events)).split(b"\r\n"))) == 75
    assert [str(found["SUMMARY"]) for found in parsed(*events).events] == titles
