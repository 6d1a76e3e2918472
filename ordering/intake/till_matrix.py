"""Sales without a date on their lines: days across, or a block of rows for each day."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from decimal import Decimal
from itertools import pairwise
from pathlib import Path

from ordering.intake.column_roles import plain
from ordering.intake.dates import MONTHS, date_reader, day_in, is_day
from ordering.intake.headings import Found, is_total, roles_of
from ordering.intake.outcome import Outcome, Question, money
from ordering.intake.services import Services
from ordering.intake.sheets import SourceSheet
from ordering.intake.till_layouts import Totals

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

    def join(self, other: TillSales) -> None:
        """Take in what another sheet of the same till sold."""
        self.sheet = replace(self.sheet, title="")
        for key, amount in other.sold.items():
            self.sold[key] += amount
        self.checks |= other.checks
        self.covers |= other.covers
        self.unclear |= other.unclear
        for day, numbers in other.numbers.items():
            self.numbers[day] |= numbers
        for what, n in other.unread.items():
            self.unread[what] += n
        self.n_void += other.n_void
        self.n_modifiers += other.n_modifiers

    def guests_of(self, slot: tuple[date, str], check: str, guests: float) -> None:
        """Guests stand on every line of a check: they count once."""
        if check:
            self.checks[(*slot, check)] = max(guests, self.checks.get((*slot, check), 0.0))
        elif self.covers.setdefault(slot, guests) != guests:
            self.unclear.add(slot)  # guests of checks nobody can tell apart


def in_matrix(table: Found, out: Outcome, services: Services, taken: TillSales) -> bool:
    """Take the sales of a table with days across, its weeks under one another; False where it has none."""
    days = _days_across(table, out)
    if max(map(len, days.values())) < 2:
        return False
    of_tab = services.of_tab(table.sheet.title)
    at_days, service, sums = days[table.head], of_tab, Totals()
    for n in range(table.head + 1, len(table.sheet.rows)):
        row = table.sheet.rows[n]
        if n in days:
            at_days, service, sums = days[n] or at_days, of_tab, Totals()
            continue
        name = " ".join(table.cell(row, "dish").split())
        numbers = {at: number for at in at_days if at < len(row) and (number := money(row[at])) is not None}
        if not name or not numbers:
            service = name or service
            continue
        where = table.cell(row, "service") or service
        _is_whole(table, n, numbers, sums, taken)
        if not is_total(row):
            _take_row(name, {at_days[at]: number for at, number in numbers.items()}, where, services, taken)
    return True


def _take_row(
    name: str, numbers: Mapping[date, Decimal], said: str, services: Services, taken: TillSales
) -> None:
    """A dish's portions, or the guests, of each day across."""
    is_guests = _is_guests(name)
    for day, number in numbers.items():
        where, day_of = services.of(day, None, said)
        if not where:
            taken.unread[f"{name}: which service?"] += 1
        elif is_guests:
            taken.covers[day_of, where] = float(number)
        else:
            taken.sold[day_of, where, name] += float(number)


def _is_guests(name: str) -> bool:
    guests = roles_of("sales")["guests"].split(", ")
    return plain(name) in guests or bool(re.match(r"(?i)(?:covers|guests)\b", name))


def _is_whole(table: Found, n: int, numbers: Mapping[int, Decimal], sums: Totals, taken: TillSales) -> None:
    """Hold a row against the column of totals, a row of totals against the columns."""
    row, line = table.sheet.rows[n], table.sheet.line(n)
    for at, heading in enumerate(table.heading):
        said = money(row[at]) if at not in numbers and at < len(row) and is_total([heading]) else None
        if said is not None and said != sum(numbers.values()):
            wrong = f"{heading} says {said}, its days come to {sum(numbers.values())}"
            taken.unread[f"row {line}: {wrong}"] += 1
    if _is_guests(" ".join(table.cell(row, "dish").split())):
        return
    for at, number in numbers.items():
        if not is_total(row):
            sums.add(at, number)
        elif not sums.hold(at, number):
            taken.unread[f"row {line}: a total says {number}, which its rows do not come to"] += 1


def in_blocks(table: Found, out: Outcome, services: Services, taken: TillSales) -> bool:
    """Take the sales of a report with a block of rows for each day or service; False where it has none."""
    sheet, guests = table.sheet, roles_of("sales")["guests"].split(", ")
    texts = {n: day_in(" ".join(row)) for n, row in enumerate(sheet.rows) if sum(map(bool, row)) < 3}
    dated = {n: text for n, text in texts.items() if text}
    read = date_reader(list(dated.values()), lambda n: sheet.line(list(dated)[n]), out.asker, out.country)
    days = {n: found for n, text in dated.items() if (found := read(text)[0]) is not None}
    if not days:
        return False
    n_days = len(set(days.values()))
    told = f"{sheet.title or 'report'}: a block of rows for each of {n_days} days. {read.how}"
    out.told += [told.strip()] if n_days > 1 else []
    lines, heading, sums = dict(table.body()), list(table.heading), Totals()
    day: date | None = None
    service = services.of_tab(sheet.title)
    for n, row in enumerate(sheet.rows):
        name, sold = " ".join(table.cell(row, "dish").split()), money(table.cell(row, "sold"))
        if n in days:
            day, service = days[n], services.named(" ".join(row)) or service
        elif sum(map(bool, row)) == 1:
            service = services.named(" ".join(row).strip()) or service
        elif day is not None and sold is not None and name and list(row) != heading:
            if n not in lines:
                wrong = f"row {sheet.line(n)}: a total says {sold}, which its rows do not come to"
                taken.unread |= {} if sums.hold("sold", sold) else {wrong: 1}
                continue
            where, day_of = services.of(day, None, table.cell(row, "service") or service)
            if not where:
                taken.unread[f"row {sheet.line(n)}: which service?"] += 1
            elif plain(name) in guests:
                taken.covers[day_of, where] = float(sold)
            else:
                sums.add("sold", sold)
                taken.sold[day_of, where, name] += float(sold)
    return True


def _days_across(table: Found, out: Outcome) -> dict[int, dict[int, date]]:
    """By row of each heading, the first and those below it, the day of each column that is of one.

    A heading is a date, or the day of a month named elsewhere.
    """
    sheet, dish = table.sheet, table.head_of("dish").lower()
    below = range(table.head + 1, len(sheet.rows))
    heads = [table.head, *(n for n in below if table.cell(sheet.rows[n], "dish").lower() == dish)]
    texts = {(n, at): cell for n in heads for at, cell in enumerate(sheet.rows[n]) if is_day(cell)}
    days: dict[int, dict[int, date]] = {n: {} for n in heads}
    if len(texts) > 1:
        lines = [sheet.line(n) for n, _ in texts]
        read = date_reader(list(texts.values()), lambda n: lines[n], out.asker, out.country)
        how = read.how
        for (n, at), text in texts.items():
            if (day := read(text)[0]) is not None:
                days[n][at] = day
    else:
        months = []
        for since, n in pairwise([-1, *heads]):
            if (month := _month_of(table, since, n, out) if _is_month(sheet.rows[n]) else None) is not None:
                months.append(f"{month:%Y-%m}")
                numbers = {
                    at: int(m[1]) for at, c in enumerate(sheet.rows[n]) if (m := _DAY_OF_MONTH.fullmatch(c))
                }
                days[n] = {at: day for at, k in numbers.items() if (day := _on(month, k)) is not None}
        how = f"They are of {', '.join(dict.fromkeys(months))}"
    n_days = len({day for one in days.values() for day in one.values()})
    if n_days > 1:
        out.told.append(f"{sheet.title or 'table'}: dishes down, {n_days} days across. {how}".strip())
    return days


def _is_month(heading: Sequence[str]) -> bool:
    numbers = [int(m[1]) for cell in heading if (m := _DAY_OF_MONTH.fullmatch(cell))]
    return len(numbers) >= LEAST_DAYS and all(a < b for a, b in pairwise(numbers))


def _on(month: date, day: int) -> date | None:
    try:
        return month.replace(day=day)
    except ValueError:
        return None


def _month_of(table: Found, since: int, head: int, out: Outcome) -> date | None:
    """The month that the titles after `since`, the sheet or the file names, else as somebody says."""
    sheet, stem = table.sheet, Path(table.sheet.place).stem
    above = [cell for row in sheet.rows[since + 1 : max(head, 0)] for cell in row if cell]
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
