"""Sales without a date on their lines: days across, or a block of rows for each day."""

from __future__ import annotations

import re
from collections import defaultdict
from dataclasses import dataclass, field
from datetime import date
from itertools import pairwise
from pathlib import Path

from ordering.intake.column_roles import plain
from ordering.intake.dates import MONTHS, date_reader, is_day
from ordering.intake.headings import Found, roles_of
from ordering.intake.outcome import Outcome, money
from ordering.intake.questions import Question
from ordering.intake.services import Services
from ordering.intake.sheets import SourceSheet

_NAMED_MONTH = re.compile(rf"\b({'|'.join(MONTHS)})[a-z]*\.?[ ,_-]*'?(20\d\d|\d\d)(?!\d)", re.IGNORECASE)
_MONTH = re.compile(r"(?<!\d)(20\d\d)[-/. ](0?[1-9]|1[0-2])(?![\d-])|(?<!\d)(0?[1-9]|1[0-2])[-/.](20\d\d)")
_DAY_OF_MONTH = re.compile(
    r"(?:(?:mon|tue|wed|thu|fri|sat|sun)[a-z]*\.?\s*)?(\d{1,2})(?:st|nd|rd|th)?", re.IGNORECASE
)
LEAST_DAYS = 5


@dataclass(slots=True)
class TillSales:
    """Of one sheet: portions by (day, service, till name), guests by check or by service."""

    sheet: SourceSheet

    sold: dict[tuple[date, str, str], float] = field(default_factory=lambda: defaultdict(float))
    checks: dict[tuple[date, str, str], float] = field(default_factory=dict)
    covers: dict[tuple[date, str], float] = field(default_factory=dict)
    unclear: set[tuple[date, str]] = field(default_factory=set)
    numbers: dict[date, set[str]] = field(default_factory=lambda: defaultdict(set))
    n_void: int = 0
    n_modifiers: int = 0
    unread: dict[str, int] = field(default_factory=lambda: defaultdict(int))

    def guests_of(self, slot: tuple[date, str], check: str, guests: float) -> None:
        """Guests stand on every line of a check: they count once."""
        if check:
            self.checks[(*slot, check)] = max(guests, self.checks.get((*slot, check), 0.0))
        elif self.covers.setdefault(slot, guests) != guests:
            self.unclear.add(slot)  # guests of checks nobody can tell apart


def in_matrix(table: Found, out: Outcome, services: Services, taken: TillSales) -> bool:
    """Take the sales of a table with days across; False where it has none."""
    days = _days_across(table, out)
    if len(days) < 2:
        return False
    service, guests = "", roles_of("sales")["guests"].split(", ")
    for n, row in table.body():
        name = " ".join(table.cell(row, "dish").split())
        filled = [row[at] for at in days if at < len(row) and row[at]]
        if name and not filled:
            service = name
            continue
        for at, day in days.items():
            number = money(row[at]) if at < len(row) else None
            if not name or number is None:
                continue
            where, day_of = services.of(day, None, table.cell(row, "service") or service)
            if not where:
                taken.unread[f"row {table.sheet.line(n)}: which service?"] += 1
            elif plain(name) in guests or re.match(r"(?i)(?:covers|guests)\b", name):
                taken.covers[day_of, where] = float(number)
            else:
                taken.sold[day_of, where, name] += float(number)
    return True


def in_blocks(table: Found, out: Outcome, services: Services, taken: TillSales) -> bool:
    """Take the sales of a report with a block of rows for each day or service; False where it has none."""
    sheet, guests = table.sheet, roles_of("sales")["guests"].split(", ")
    texts = {n: _date_in(" ".join(row)) for n, row in enumerate(sheet.rows) if sum(map(bool, row)) < 3}
    dated = {n: text for n, text in texts.items() if text}
    read = date_reader(list(dated.values()), lambda n: sheet.line(list(dated)[n]), out.asker, out.country)
    days = {n: found for n, text in dated.items() if (found := read(text)[0]) is not None}
    if not days:
        return False
    told = (
        f"{sheet.title or 'report'}: a block of rows for each of {len(set(days.values()))} days. {read.how}"
    )
    out.told.append(told.strip())
    lines, heading = dict(table.body()), list(table.heading)
    day: date | None = None
    service = ""
    for n, row in enumerate(sheet.rows):
        name, sold = " ".join(table.cell(row, "dish").split()), money(table.cell(row, "sold"))
        if n in days:
            day, service = days[n], services.named(" ".join(row)) or service
        elif sum(map(bool, row)) == 1:
            service = services.named(" ".join(row).strip()) or service
        elif day is not None and sold is not None and name and list(row) != heading:
            where, day_of = services.of(day, None, service)
            if not where:
                taken.unread[f"row {sheet.line(n)}: which service?"] += 1
            elif plain(name) in guests:
                taken.covers[day_of, where] = float(sold)
            elif n in lines:
                taken.sold[day_of, where, name] += float(sold)
    return True


def _date_in(text: str) -> str:
    """The date that stands in a line of words: `Business date: Tuesday, November 3, 2026`; empty for none."""
    words = text.split()
    return next((found for n in range(len(words)) if is_day(found := " ".join(words[n:]))), "")


def _days_across(table: Found, out: Outcome) -> dict[int, date]:
    """The day of each column that is of one: its heading is a date, or the day of a month named elsewhere."""
    heading, sheet = table.heading, table.sheet
    at = [n for n, cell in enumerate(heading) if is_day(cell)]
    if len(at) > 1:
        read = date_reader([heading[n] for n in at], lambda _: sheet.line(table.head), out.asker, out.country)
        how = read.how
        days = {n: day for n in at if (day := read(heading[n])[0]) is not None}
    else:
        numbers = {n: int(m[1]) for n, cell in enumerate(heading) if (m := _DAY_OF_MONTH.fullmatch(cell))}
        is_month = len(numbers) >= LEAST_DAYS and all(a < b for a, b in pairwise(numbers.values()))
        month = _month_of(table, out) if is_month else None
        if month is None:
            return {}
        how = f"They are of {month:%Y-%m}"
        days = {n: day for n, number in numbers.items() if (day := _on(month, number)) is not None}
    out.told.append(f"{sheet.title or 'table'}: dishes down, {len(days)} days across. {how}".strip())
    return days


def _on(month: date, day: int) -> date | None:
    try:
        return month.replace(day=day)
    except ValueError:
        return None


def _month_of(table: Found, out: Outcome) -> date | None:
    """The month that the title, the sheet or the file names, else as somebody says."""
    sheet, stem = table.sheet, Path(table.sheet.place).stem
    above = [cell for row in sheet.rows[: max(table.head, 0)] for cell in row if cell]
    for text in (*above, sheet.title, stem):
        if (found := _month_in(text)) is not None:
            return found
    text = f"{Path(sheet.place).name}: of which month are the days across? (2026-10)"
    return _month_in(out.asker.settle(Question(f"month of {stem}", text)))


def _month_in(text: str) -> date | None:
    if match := _NAMED_MONTH.search(text):
        year = int(match[2])
        return date(year + 2000 if year < 100 else year, MONTHS.index(match[1].lower()) + 1, 1)
    if match := _MONTH.search(text):
        return date(int(match[1] or match[4]), int(match[2] or match[3]), 1)
    return None
