"""The calendar that the run before wrote, so that what is no longer planned can be taken out of it."""

from __future__ import annotations

import re
from datetime import date, datetime
from pathlib import Path

import icalendar

from ordering.records.page import Gone

_RUN = re.compile(r"(\d{4}-\d{2}-\d{2})(?:-(\d+))?")


def former_entries(runs: Path, on: date, title: str) -> tuple[Gone, ...]:
    """Entries from `on` on of the latest calendar of this title among the runs made up to that day.

    Those it had taken out itself are among them: who has not brought that calendar in still has them. Nothing
    where there is none, or where it cannot be read.
    """
    for path in sorted(runs.glob("*/calendar.ics"), key=_made, reverse=True):
        if _made(path)[0] > on.isoformat():
            continue
        try:
            calendar = icalendar.Calendar.from_ical(path.read_bytes())
        except (OSError, ValueError):
            continue
        if calendar.get("X-WR-CALNAME") == title:
            return tuple(sorted(gone for gone in map(_gone, calendar.walk("VEVENT")) if gone.begins >= on))
    return ()


def _made(path: Path) -> tuple[str, int]:
    """When a run was made, by its folder's name: the day, and which of the day's runs."""
    match = _RUN.fullmatch(path.parent.name)
    return (match[1], int(match[2] or 1)) if match else ("", 0)


def _gone(entry: icalendar.Component) -> Gone:
    begins = entry.decoded("DTSTART")
    day = begins.date() if isinstance(begins, datetime) else begins
    return Gone(str(entry["UID"]), day, str(entry["SUMMARY"]))
