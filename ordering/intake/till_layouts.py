"""Services as columns of a till's export brought under one another, and what its own totals say."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from decimal import Decimal
from pathlib import Path
from statistics import median

from ordering.intake.dates import day_in, is_day, minutes
from ordering.intake.headings import LOOKED_AT, Found, is_total
from ordering.intake.outcome import Outcome, money, some
from ordering.intake.services import Services
from ordering.intake.sheets import SourceSheet

_SOLD = re.compile(r"\b(?:sold|qty|quantity|units|count|portions|no|number)\b", re.IGNORECASE)
_NUMBER = re.compile(r"[^\W\d]{0,3}\W{0,3}\d[\d.,' ]*\W{0,3}[^\W\d]{0,3}")
_HOUR = re.compile(r"\d{1,2}(?::\d\d)? ?(?:[ap]m)?(?![\d.,])", re.IGNORECASE)
_SLIP = re.compile(r"(\d{1,4})\s*[x×]?\s+([^\W\d].*?)\s+(?:@\s*[\d.,]+\s+)?[^\w\s]?\s?(\d[\d.,]*[.,]\d\d)")
_SPAN = re.compile(
    r"(?i)\b(?:weeks?|weekly|w/[ec]|months?|monthly|period|quarter|year|ytd|to|until|ending|from)\b"
)
IsKind = Callable[[Sequence[str]], bool]
_WITHIN = 0.1  # what a discount or a rounding moves the price of a portion by


@dataclass(slots=True)
class Totals:
    """The sums of a file's rows by column, to be held against the totals that it prints itself."""

    whole: dict[object, Decimal] = field(default_factory=lambda: defaultdict(Decimal))
    since: dict[object, Decimal] = field(default_factory=lambda: defaultdict(Decimal))

    def add(self, column: object, number: Decimal) -> None:
        """One more row."""
        self.whole[column] += number
        self.since[column] += number

    def hold(self, column: object, written: Decimal) -> bool:
        """Whether a total is that of all rows or of those since the last total; it ends a part."""
        is_right = written in (self.whole[column], self.since[column])
        self.since[column] = Decimal(0)
        return is_right


def of_slips(sheet: SourceSheet) -> SourceSheet:
    """Slips, a line of text a dish (`12 x Leek tart  150.00`), as a table; any other sheet as it is."""
    found = [_SLIP.fullmatch(row[0]) if sum(map(bool, row)) == 1 else None for row in sheet.rows]
    if not any(found) or max(map(len, sheet.rows)) > 1:
        return sheet
    rows = [list(one.groups()) if one else row for one, row in zip(found, sheet.rows, strict=True)]
    heading = ["Qty", "Item", "Amount"]
    return replace(sheet, rows=[heading, *rows], lines=[sheet.line(0), *map(sheet.line, range(len(rows)))])


def with_its_day(sheet: SourceSheet, out: Outcome) -> SourceSheet:
    """A sheet of one day under a row of that day, where only its tab or the file's name says it.

    A name with other numbers, or of a week, is none of one day.
    """
    name = (sheet.title or Path(sheet.place).stem).replace("_", " ")
    words = day_in(name).split()
    day = next((one for n in range(1, len(words) + 1) if is_day(one := " ".join(words[:n]))), "")
    titles = [" ".join(row) for row in sheet.rows[:LOOKED_AT] if sum(map(bool, row)) == 1]
    is_span = re.search(r"\d", name.replace(day, "")) or any(map(_SPAN.search, (name, *titles)))
    if not day or is_span or any(is_day(cell) for row in sheet.rows for cell in row):
        return sheet
    out.told.append(f"{name}: no row has a date: all of it is taken as sold that day")
    return replace(sheet, rows=[[day], *sheet.rows], lines=[1, *map(sheet.line, range(len(sheet.rows)))])


def services_down(sheet: SourceSheet, services: Services, out: Outcome) -> SourceSheet:
    """A sheet with a column of portions for each service as a line a service; another as it is."""
    heads = ((n, _services_in(row, services)) for n, row in enumerate(sheet.rows[:LOOKED_AT]))
    head, at = next(((n, columns) for n, columns in heads if len(columns) > 1), (-1, {}))
    body = [(n, row) for n, row in enumerate(sheet.rows) if n > head]
    numbers = {
        n: {c: number for c in at if c < len(row) and (number := money(row[c])) is not None}
        for n, row in body
    }
    if not any(numbers.values()):
        return sheet
    total = _sum_of(sheet, head, numbers, out)
    kept = [c for c in range(len(sheet.rows[head])) if c not in at and c != total]
    rows, lines = [], []
    for n, row in enumerate(sheet.rows):
        others = [row[c] if c < len(row) else "" for c in kept] if n >= head else list(row)
        if n == head:
            made = [[*others, "Service", "Qty sold"]]
        else:
            sold = numbers.get(n, {})
            parts = [("", sum(sold.values()))] if sold and is_total(row) else [(at[c], sold[c]) for c in sold]
            made = [[*others, service, str(number)] for service, number in parts] or [others]
        rows += made
        lines += [sheet.line(n)] * len(made)
    named = ", ".join(f"{sheet.rows[head][c]} = {service}" for c, service in at.items())
    told = f"row {sheet.line(head)}: a column of portions for each service: {named}"
    out.told += [] if told in out.told else [told]  # of a tab for each day once
    return replace(sheet, rows=rows, lines=lines)


def _services_in(row: Sequence[str], services: Services) -> Mapping[int, str]:
    """The columns of a heading that are a service's portions, or an hour's; none where a service has two."""
    hours = {n: moment for n, c in enumerate(row) if (m := _HOUR.match(c)) and (moment := minutes(m[0]))}
    is_worded = not any(re.search(r"\d", cell) for n, cell in enumerate(row) if n not in hours)
    if len(hours) > 2 and is_worded and list(hours.values()) == sorted(set(hours.values())):
        return {n: key for n, moment in hours.items() if (key := services.at(moment))}
    found = {n: key for n, cell in enumerate(row) if (key := services.called(_SOLD.sub(" ", cell)))}
    return found if len(set(found.values())) == len(found) else {}


def _sum_of(
    sheet: SourceSheet, head: int, numbers: Mapping[int, Mapping[int, Decimal]], out: Outcome
) -> int | None:
    """The column that is the services' sum, by its numbers; a row that does not come to it is left to say."""
    heading = sheet.rows[head]
    sums = {n: sum(cells.values()) for n, cells in numbers.items() if cells}
    for c, name in enumerate(heading):
        written = {n: money(sheet.rows[n][c]) for n in sums if c < len(sheet.rows[n])}
        wrong = [n for n, number in written.items() if number is not None and number != sums[n]]
        if not any(written.values()) or c in next(iter(numbers.values()), {}):
            continue
        if 2 * len(wrong) < len(written):
            said = f"{name} says {{}}, the services come to {{}}"
            out.left += some([f"row {sheet.line(n)}: {said.format(written[n], sums[n])}" for n in wrong])
            return c
    return None


def without_notes(table: Found) -> Found:
    """The table, a column that names no item of another row no longer that of what a line modifies."""
    said = {table.cell(row, "parent") for _, row in table.body()} - {""}
    names = {table.cell(row, "dish") for _, row in table.body()}
    is_note = 2 * len([one for one in said if one in names or one.isdigit()]) < len(said)
    columns = {role: at for role, at in table.columns.items() if role != "parent" or not is_note}
    return replace(table, columns=columns)


def unread(table: Found) -> list[str]:
    """A line of the columns of numbers that are not read; none where there are none."""
    rows = [row for _, row in table.body()]
    names = []
    for at, heading in enumerate(table.heading):
        cells = [row[at] for row in rows if at < len(row) and row[at]]
        n_numbers = sum(bool(_NUMBER.fullmatch(cell)) for cell in cells)
        if heading and at not in table.columns.values() and 2 * n_numbers > len(cells):
            names.append(heading)
    return [f"not read: {', '.join(names)}"] if names else []


def not_its_own(table: Found, is_void: IsKind, is_modifier: IsKind) -> list[str]:
    """What of the portions read does not come to the file's own totals, or to its money.

    A till's totals may be with or without what is void and with or without modifiers.
    """
    sums, wrong = [Totals() for _ in range(4)], []
    prices = defaultdict[str, list[tuple[float, float]]](list)
    for n in range(table.head + 1, len(table.sheet.rows)):
        row = table.sheet.rows[n]
        sold, amount = money(table.cell(row, "sold")), money(table.cell(row, "amount"))
        if sold is None:
            continue
        if is_total(row):
            due = sums[0].since["sold"]
            held = [one.hold("sold", sold) for one in sums]
            if not any(held):
                wrong.append(f"row {table.sheet.line(n)}: the total says {sold}, its rows come to {due}")
            continue
        void, modifier = sold > 0 and is_void(row), is_modifier(row)
        for one, is_in in zip(sums, (True, not void, not modifier, not (void or modifier)), strict=True):
            one.add("sold", sold if is_in else Decimal(0))
        if sold > 0 and amount and not void:
            prices[table.cell(row, "dish")].append((float(amount / sold), float(amount)))
    several = [own for own in prices.values() if len(own) > 2]
    if several and max(_share_alike(one) for one in _unzipped(several)) < 0.5:
        said = f"{table.head_of('amount')} is not {table.head_of('sold')} times a price on most lines"
        wrong.append(f"{said}: look whether these are the portions")
    return some(wrong)


def _unzipped(prices: Sequence[Sequence[tuple[float, float]]]) -> Iterator[list[list[float]]]:
    """By dish the money by portion, then the money: a till may print the price of one on each line."""
    for which in (0, 1):
        yield [[one[which] for one in own] for own in prices]


def _share_alike(prices: Sequence[Sequence[float]]) -> float:
    lines = [(one, usual) for own in prices for usual in (median(own),) for one in own]
    return sum(abs(one - usual) <= _WITHIN * abs(usual) for one, usual in lines) / len(lines)
