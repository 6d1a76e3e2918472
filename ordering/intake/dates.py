"""The dates and times of a column: in which order they are written, and which row shows it."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from ordering.intake.outcome import Asker, Question

_THREE = re.compile(r"(\d{1,4})[./ -](\d{1,2})[./ -](\d{1,4})", re.ASCII)
_WEEKDAY = r"(?:mon|tue|wed|thu|fri|sat|sun)[a-z]*[., ]+"
_TH = r"(?:st|nd|rd|th)?"
_NAMED = re.compile(
    rf"(?:(\d{{1,2}}){_TH}[ .-]+([a-z]{{3}})[a-z]*|([a-z]{{3}})[a-z]* +(\d{{1,2}}){_TH})[, .-]+(\d{{2,4}})",
    re.ASCII,
)
_TIME = re.compile(
    r"(?:^|[T ,])(\d{1,2})[:.h](\d{2})(?::\d{2}(?:\.\d+)?)?\s*([ap])?\.?(?:m\.?)?(?:z|[+-]\d{2}:?\d{2})?$",
    re.ASCII | re.IGNORECASE,
)
_HOUR = re.compile(r"(\d{1,2})\s*([ap])\.?m\.?$", re.ASCII)
MONTHS = ["jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec"]
_DAYS = re.compile(_WEEKDAY, re.IGNORECASE)
MONTH_FIRST, DAY_FIRST = "month first", "day first"


@dataclass(frozen=True, slots=True)
class Reader:
    """Days and minutes from the strings of one column, each distinct string read once."""

    is_month_first: bool
    how: str
    known: dict[str, tuple[date | None, int | None]]

    def __call__(self, text: str) -> tuple[date | None, int | None]:
        """The day, and the minute of the day where one is written."""
        found = self.known.get(text)
        if found is None:
            found = self.known[text] = (_day(text, self.is_month_first), minutes(text))
        return found


def date_reader(texts: Sequence[str], lines: Callable[[int], int], asker: Asker, country: str) -> Reader:
    """How a column's dates are written: seen from a day above 12, else asked (best: as in the country)."""
    is_ambiguous = False
    for n, text in enumerate(texts):
        match = _THREE.match(_DAYS.sub("", text))
        if match is None or len(match[1]) == 4:
            continue
        first, second = int(match[1]), int(match[2])
        if first > 12 >= second:
            return Reader(False, f"dates are day first: row {lines(n)} says {match[0]}", {})
        if second > 12 >= first:
            return Reader(True, f"dates are month first: row {lines(n)} says {match[0]}", {})
        is_ambiguous = is_ambiguous or first != second
    if not is_ambiguous:
        return Reader(False, "", {})
    example = next(text for text in texts if _THREE.match(_DAYS.sub("", text)))
    best = MONTH_FIRST if country == "US" else DAY_FIRST
    text = f"Is {example} written with the month first or the day first? No row shows it."
    answer = asker.settle(Question("dates", text, (MONTH_FIRST, DAY_FIRST), best))
    return Reader(answer == MONTH_FIRST, f"dates are taken as {answer or best}", {})


def _day(text: str, is_month_first: bool) -> date | None:
    text = _DAYS.sub("", text.strip())
    try:
        if match := _THREE.match(text):
            first, second, third = (int(part) for part in match.groups())
            if len(match[1]) == 4:
                return date(first, second, third)
            year = third + 2000 if third < 100 else third
            return date(year, *((first, second) if is_month_first else (second, first)))
        if re.fullmatch(r"20\d{6}", text):
            return date(int(text[:4]), int(text[4:6]), int(text[6:]))
        if match := _NAMED.match(text.lower()):
            month = MONTHS.index(match[2] or match[3]) + 1
            year = int(match[5])
            return date(year + 2000 if year < 100 else year, month, int(match[1] or match[4]))
        if re.fullmatch(r"[34]\d{4}(?:\.\d+)?", text):
            # A workbook's serial day saved as a number: day 1 is 1 January 1900, with its 29 February.
            return date(1899, 12, 30) + timedelta(days=int(float(text)))
    except ValueError:
        return None
    return None


def minutes(text: str) -> int | None:
    """`24/10/26 7:41 PM` or `19.41` as minutes of the day; None where no time is written."""
    low = text.lower().strip()
    match = _TIME.search(low) or _HOUR.search(low)
    if match is None or (match.re is _TIME and match.start() == 0 and _THREE.fullmatch(low)):
        return None
    parts = match.groups()
    hour, minute, half = (
        (int(parts[0]), int(parts[1] or 0), parts[2]) if len(parts) == 3 else (int(parts[0]), 0, parts[1])
    )
    if half:
        hour = hour % 12 + (12 if half == "p" else 0)
    return hour * 60 + minute if hour < 24 and minute < 60 else None


def is_day(text: str) -> bool:
    """Whether the text begins with a date in some order."""
    return _day(text, True) is not None or _day(text, False) is not None


def day_in(text: str) -> str:
    """The date that stands in a line of words: `Business date: Tuesday, November 3, 2026`; empty for none."""
    words = text.split()
    return next((found for n in range(len(words)) if is_day(found := " ".join(words[n:]))), "")


def as_iso(moment: date | datetime) -> str:
    """A moment as the books have it: the day, and the time where there is one."""
    return moment.isoformat()[:10]
