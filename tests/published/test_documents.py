"""Documents against the standards they follow, clause by clause.

RFC 5545 (calendars) 3.1, 3.6.1, 3.8.2.2 and errata 4149; RFC 5322 (letters) 2.1.1, 3.6; MIME, RFC 2045 and
2047; OWASP ASVS 5.0, 1.2.10 and CWE-1236 (formulas in exports); ISO 8601 dates.
"""

from __future__ import annotations

import base64
import csv
import io
import re
from datetime import UTC, date, datetime, timedelta
from email import message_from_bytes
from email.policy import SMTP, default

import icalendar
import openpyxl
import pytest
import sample_plan
from hostile import NAMES

from ordering.pages.run_files import run_files
from ordering.records.page import Calendar, Cell, Event, Sheet, Workbook
from ordering.write.document_bytes import documents_bytes
from ordering.write.ics import calendar_bytes
from ordering.write.table import csv_bytes
from ordering.write.xlsx import workbook_bytes

WIDE = "Crème brûlée à l'érable, façon grand-mère " * 4
HOUSE = sample_plan.house({"flour": WIDE, "hollow-mill": "Moulin de Trécouvelle", "house": "L'Échassonnière"})
FILES = documents_bytes(run_files(HOUSE, sample_plan.plan(HOUSE)))
CALENDAR = FILES["calendar.ics"]
LETTER = FILES["orders/hollow-mill.eml"]


def test_calendar_lines_end_crlf_and_fold_above_75_octets() -> None:
    """RFC 5545, 3.1: lines are delimited by CRLF; SHOULD NOT be longer than 75 octets, CRLF excluded."""
    lines = CALENDAR.split(b"\r\n")
    assert lines[-1] == b""
    assert b"\n" not in b"".join(lines)
    assert max(map(len, lines)) <= 75
    assert any(line.startswith(b" ") for line in lines)
    for line in lines:
        line.decode("utf-8")  # a character is never split between two lines


def test_calendar_has_its_required_properties() -> None:
    """RFC 5545, 3.6: PRODID and VERSION:2.0 (from memory of the text)."""
    found = icalendar.Calendar.from_ical(CALENDAR)
    assert CALENDAR.count(b"\r\nVERSION:2.0\r\n") == 1
    assert CALENDAR.count(b"\r\nPRODID:") == 1
    assert not found.errors


def test_every_event_has_uid_and_dtstamp_exactly_once_and_a_start() -> None:
    """RFC 5545, 3.6.1 and erratum 4149."""
    blocks = re.findall(rb"BEGIN:VEVENT\r\n(.*?)END:VEVENT", CALENDAR, flags=re.S)
    assert len(blocks) > 10
    for block in blocks:
        own = block.split(b"BEGIN:VALARM")[0]
        for name in (rb"UID", rb"DTSTAMP", rb"DTSTART"):
            assert len(re.findall(rb"^" + name + rb"[;:]", own, flags=re.M)) == 1
    uids = re.findall(rb"^UID:(.*)$", CALENDAR, flags=re.M)
    assert len(set(uids)) == len(uids) == len(blocks)


def test_an_all_day_event_ends_on_the_next_day_and_carries_no_zone() -> None:
    """RFC 5545: DTEND is exclusive; TZID never on a DATE (3.2.19). DTEND must be later (3.8.2.2)."""
    for event in icalendar.Calendar.from_ical(CALENDAR).walk("VEVENT"):
        start = event["DTSTART"]
        if isinstance(start.dt, datetime):
            assert start.params["TZID"] == "Europe/London"
            assert "DTEND" not in event
        else:
            assert event["DTEND"].dt - start.dt == timedelta(days=1)
            assert "TZID" not in start.params


def calendar_of(title: str, notes: str, begins: date | datetime, zone: str = "UTC") -> bytes:
    event = Event("k", title, begins, notes)
    return calendar_bytes(Calendar("Test", zone, datetime(2026, 11, 26, tzinfo=UTC), (event,)))


def test_text_escapes_backslash_semicolon_comma_and_line_break() -> None:
    """RFC 5545, 3.3.11 (from memory of the text)."""
    raw = calendar_of("a\\b;c,d", "one\ntwo", date(2026, 11, 26))
    assert b"\r\nSUMMARY:a\\\\b\\;c\\,d\r\n" in raw
    assert b"\r\nDESCRIPTION:one\\ntwo\r\n" in raw


def test_octets_are_counted_and_not_characters() -> None:
    """RFC 5545, 3.1: 60 characters of two octets fold to 74 and 59 octets (recomputed with icalendar)."""
    lines = calendar_of("x", "é" * 60, date(2026, 11, 26)).split(b"\r\n")
    n = next(n for n, line in enumerate(lines) if line.startswith(b"DESCRIPTION"))
    assert [len(line) for line in lines[n : n + 2]] == [74, 59]


def test_an_event_on_26_november_ends_on_the_27th_and_utc_is_a_z() -> None:
    """RFC 5545, DTEND exclusive; 3.3.5: a moment in UTC ends with Z and has no TZID (3.2.19)."""
    assert b"DTEND;VALUE=DATE:20261127" in calendar_of("x", "", date(2026, 11, 26))
    assert b"\r\nDTSTART:20261126T153000Z\r\n" in calendar_of(
        "x", "", datetime(2026, 11, 26, 15, 30, tzinfo=UTC)
    )


def test_letter_lines_end_crlf_and_stay_within_78_characters() -> None:
    """RFC 5322, 2.1.1: at most 998 characters, should be at most 78, excluding CRLF."""
    lines = LETTER.split(b"\r\n")
    assert b"\n" not in b"".join(lines)
    assert b"\r" not in b"".join(lines)
    whole = b"Content-Type: application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
    assert max(len(line) for line in lines if line != whole) <= 78  # that one has no place to fold
    parsed = message_from_bytes(LETTER, policy=default).get_body(("plain",))
    assert parsed is not None
    assert max(map(len, parsed.get_content().splitlines())) <= 78


def test_letter_has_date_and_from() -> None:
    """RFC 5322, 3.6: the only required header fields, each once (from memory of the text)."""
    parsed = message_from_bytes(LETTER, policy=default)
    assert len(parsed.get_all("Date", [])) == 1
    assert len(parsed.get_all("From", [])) == 1
    assert parsed["Date"].datetime.isoformat() == "2026-11-26T00:00:00+00:00"


def test_letter_is_seven_bit_with_encoded_words_and_quoted_printable() -> None:
    """RFC 2047 encoded words in headers; RFC 2045, 6.7: quoted-printable lines of 76 characters at most."""
    assert LETTER.isascii()
    head = LETTER.split(b"\r\n\r\n", 1)[0]
    assert b"=?utf-8?q?L" in head
    parsed = message_from_bytes(LETTER, policy=SMTP)
    body, sheet = parsed.get_payload()
    assert body["Content-Transfer-Encoding"] == "quoted-printable"
    encoded = LETTER.split(b"\r\n\r\n", 2)[2].split(b"\r\n--=_")[0]
    assert max(map(len, encoded.split(b"\r\n"))) <= 76
    assert sheet["Content-Transfer-Encoding"] == "base64"
    assert base64.b64decode(sheet.get_payload()) == FILES["orders/hollow-mill.xlsx"]


@pytest.mark.parametrize("name", [n for n in NAMES.values() if n[:1] in "=+-@\t"])
def test_formula_injection_text_is_quoted_in_csv_and_text_in_workbooks(name: str) -> None:
    """OWASP ASVS 5.0, 1.2.10: `= + - @`, tab and NUL at the beginning are escaped with a single quote."""
    row = next(csv.reader(io.StringIO(csv_bytes(("a",), [(name,)]).decode().split("\n", 1)[1], newline="")))
    assert row == [f"'{name}"]
    raw = workbook_bytes(Workbook("t", (Sheet("s", ((Cell(name),),), (9,)),), datetime(2026, 1, 1)))
    cell = openpyxl.load_workbook(io.BytesIO(raw))["s"]["A1"]
    assert (cell.data_type, cell.value) == ("s", name.replace("\t", " "))


def test_dates_in_csv_are_iso_8601() -> None:
    """ISO 8601 calendar dates and minutes; read back by the standard library's own parser."""
    for row in csv.DictReader(io.StringIO(FILES["orders.csv"].decode())):
        assert date.fromisoformat(row["deliver_on"]).isoformat() == row["deliver_on"]
        assert datetime.fromisoformat(row["order_by"]).isoformat(timespec="minutes") == row["order_by"]
