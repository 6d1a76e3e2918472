"""A till's export into `books/sales.csv` and `books/covers.csv`: per check, per day, or a matrix of days."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Mapping, Sequence
from datetime import date

from ordering.amounts import plural
from ordering.intake.bookfiles import laid_over
from ordering.intake.dates import date_reader, day_in, minutes
from ordering.intake.dishes import dishes_of
from ordering.intake.headings import Found, find_table, roles_of
from ordering.intake.outcome import Outcome, money, some
from ordering.intake.services import Services
from ordering.intake.sheet_forms import tables_in
from ordering.intake.sheets import SourceSheet
from ordering.intake.till_layouts import (
    not_its_own,
    of_slips,
    services_down,
    unread,
    with_its_day,
    without_notes,
)
from ordering.intake.till_matrix import TillSales, in_blocks, in_matrix
from ordering.intake.tills import SALES, Export, Tills

_VOID = re.compile(
    r"\b(?:void(?:ed)?|cancel(?:led|ed)?|deleted?|refund(?:ed)?|return(?:ed)?|error|storno)\b", re.IGNORECASE
)
_TRUE = {"y", "yes", "true", "1", "x", "v"}
_MODIFIER = re.compile(
    r"\b(?:mod|modifier|modifiers|option|cooking|temp|side choice|instruction|prep)\b", re.IGNORECASE
)
_COOKED = re.compile(
    r"^(?:[*+>-].*|(?:no|add|sub|extra|hold|allergy|split|side of|on (?:the )?side|to go|fire)\b.*"
    r"|(?:med(?:ium)?[ -]?)?(?:rare|well)(?: done)?|med(?:ium)?|m/?r|m/?w|blue)$",
    re.IGNORECASE,
)
_NO_DISH = re.compile(
    r"^(?:discount|comp|service charge|gratuity|tips?|gift|voucher|deposit|tax|vat|rounding|misc)\b",
    re.IGNORECASE,
)


def bring_sales(sheets: Sequence[SourceSheet], out: Outcome) -> None:
    """Read every sheet, name each dish once, and replace the days that were seen of each till whole."""
    found: list[TillSales] = []
    services = Services(out)
    known = {n.lower() for key, own in out.known("menu").items() for n in (key, *own)}
    sheets = [services_down(with_its_day(of_slips(sheet), out), services, out) for sheet in sheets]
    for sheet in sheets:
        taken = TillSales(sheet)
        table = find_table(sheet, roles_of("sales"), ("dish", "sold", "date"), out.asker)
        matrix = None if table else find_table(sheet, roles_of("sales"), ("dish",), out.asker)
        if table is not None:
            out.told += table.how
            _per_line(table, out, services, taken, known)
        elif not any(
            blocks is not None and take(blocks, out, services, taken)
            for blocks, take in ((matrix, in_matrix), (_undated(sheet, out), in_blocks))
        ):
            continue
        found.append(taken)
    if not found:
        for table in tables_in(sheets, "sales", ("date", "dish", "sold"), out.asker, out.name):
            out.told += table.how
            found.append(TillSales(table.sheet))
            _per_line(table, out, services, found[-1], known)
    _write(out, _by_till(found, services), services)


def _by_till(found: Sequence[TillSales], services: Services) -> list[TillSales]:
    """The sheets of each till: tabs of one file that are named after services or days are of one."""
    tills: list[TillSales] = []
    of_file: dict[str, TillSales] = {}
    for taken in found:
        place = taken.sheet.place
        if not services.of_tab(taken.sheet.title) and not day_in(taken.sheet.title):
            tills.append(taken)
        elif place in of_file:
            of_file[place].join(taken)
        else:
            tills.append(of_file.setdefault(place, taken))
    return tills


def _undated(sheet: SourceSheet, out: Outcome) -> Found | None:
    return find_table(sheet, roles_of("sales"), ("dish", "sold"), out.asker)


def _per_line(table: Found, out: Outcome, services: Services, taken: TillSales, known: set[str]) -> None:
    """A line a check and item, or a line a day and item."""
    sheet, at = table.sheet, table.columns
    rows = list(table.body())
    dates = [table.cell(row, "date") for _, row in rows]
    read = date_reader(dates, lambda n: sheet.line(rows[n][0]), out.asker, out.country)
    if read.how:
        out.told.append(read.how)
    table = _as_told(without_notes(table), out, known)
    of_tab = services.of_tab(sheet.title)
    is_business = "business" in _heading(table, "date") or "trading" in _heading(table, "date")
    day: date | None = None
    last: int | None = None
    check = guests = period = ""
    for n, row in rows:
        written = table.cell(row, "date")
        period = table.cell(row, "service") or ("" if written else period)  # said on the first row of a block
        own, moment = read(written) if written else (day, last)
        name = " ".join(table.cell(row, "dish").split())
        if own is None:
            taken.unread[f"row {sheet.line(n)}: '{written[:30]}' is not a date"] += 1
            continue
        if written and "check" in at and (number := table.cell(row, "check")):
            check, guests = f"{table.cell(row, 'till')}-{number}", ""
        day = own
        if not name:
            continue
        guests = table.cell(row, "guests") or guests
        moment = last = moment if moment is not None else minutes(table.cell(row, "time"))
        service, day_of = services.of(own, moment, period or of_tab, is_business)
        if check:
            taken.numbers[day_of].add(check)
        if not service:
            taken.unread[f"row {sheet.line(n)}: no service at that time"] += 1
            continue
        if guests and not _is_void(table, row) and (number_of := money(guests)) is not None:
            taken.guests_of((day_of, service), check, float(number_of))
        _count(table, row, name, (day_of, service), taken, name.lower() in known)


def _as_told(table: Found, out: Outcome, known: set[str]) -> Found:
    """The table itself, with what is said of the columns and rows that are not taken."""
    out.told += unread(table)
    out.left += not_its_own(
        table,
        lambda row: _is_void(table, row),
        lambda row: _is_modifier(table, row, name := table.cell(row, "dish"), name.lower() in known),
    )
    return table


def _count(
    table: Found, row: Sequence[str], name: str, slot: tuple[date, str], taken: TillSales, is_known: bool
) -> None:
    """One line: portions, unless it is void, a modifier, or no dish at all."""
    sold = money(table.cell(row, "sold")) if "sold" in table.columns else None
    if _is_void(table, row) and sold is not None and sold > 0:
        taken.n_void += 1
    elif _is_modifier(table, row, name, is_known):
        taken.n_modifiers += 1
    elif sold is not None and not _NO_DISH.match(name):
        taken.n_void += sold < 0
        taken.sold[(*slot, name)] += float(sold)


def _is_modifier(table: Found, row: Sequence[str], name: str, is_known: bool) -> bool:
    is_said = _MODIFIER.search(table.cell(row, "kind")) or table.cell(row, "parent")
    return bool(is_said or (_COOKED.match(name) and not is_known and not _is_worth(table, row)))


def _is_void(table: Found, row: Sequence[str]) -> bool:
    status = table.cell(row, "status")
    return bool(_VOID.search(status)) or (status.lower() in _TRUE and "void" in _heading(table, "status"))


def _heading(table: Found, role: str) -> str:
    return table.head_of(role).lower()


def _is_worth(table: Found, row: Sequence[str]) -> bool:
    """Whether a line has a price of its own: a modifier has none."""
    amount = money(table.cell(row, "amount")) if "amount" in table.columns else None
    return amount is not None and amount != 0


def _write(out: Outcome, found: Sequence[TillSales], services: Services) -> None:
    """Name the dishes, tell the tills apart, and lay the days seen of each over the books."""
    by_name: dict[str, float] = defaultdict(float)
    for taken in found:
        for (_, _, name), amount in taken.sold.items():
            by_name[name] += amount
    named = dishes_of(out, by_name)
    tills = Tills.in_books(out)
    for taken in found:
        tills.take(_export(taken, named, out))
    rows = [(*key, f"{n:g}", till) for till, sold in tills.sold.items() for key, n in sold.items()]
    seen = {(*row[:2], row[4]) for row in rows}
    kept = [row for row in rows if float(row[3]) > 0]
    out.written |= laid_over(out.books, "sales", SALES, kept, seen, ("date", "service", "till"))
    covers = [(*key, f"{n:g}", till) for till, guests in tills.covers.items() for key, n in guests.items()]
    if covers:
        # Covers that are of no till give way to those of one.
        by_hand = {(*row[:2], "") for row in covers if row[0] not in tills.days.get("", {})}
        seen = {(*row[:2], row[3]) for row in covers} | by_hand
        came = [row for row in covers if float(row[2]) > 0]
        columns = ("date", "service", "covers", "till")
        out.written |= laid_over(out.books, "covers", columns, came, seen, ("date", "service", "till"))
    if days := [row[0] for row in rows]:
        dishes = plural(len({row[2] for row in rows}), "dish", "dishes")
        n_void, n_modifiers = sum(t.n_void for t in found), sum(t.n_modifiers for t in found)
        aside = f"{n_void:,} void or refunded, {plural(n_modifiers, 'modifier')} left out"
        total, first, last = sum(float(row[3]) for row in rows), min(days), max(days)
        out.told.append(f"{total:,.0f} portions of {dishes}, {first} to {last}; {aside}")
        ignored = [name for name, dish in named.items() if not dish]
        if ignored:
            names = plural(
                len(ignored), "name of the till that is no dish", "names of the till that are no dish"
            )
            out.told.append(f"{names}: {', '.join(some(ignored, 12))}")
    out.told += services.told()
    if covers:
        out.told.append("covers from the guest counts")
    elif not any(taken.unclear for taken in found):
        out.told.append("no guest counts in the file: covers are not written")
    unread = [(what, n) for taken in found for what, n in taken.unread.items()]
    out.left += some([f"{what}{f' ({n} rows)' if n > 1 else ''}" for what, n in unread])


def _export(taken: TillSales, named: Mapping[str, str], out: Outcome) -> Export:
    """What a sheet sold by dish, its guests by service."""
    sold: dict[tuple[str, str, str], float] = defaultdict(float)
    for (day, service, name), amount in taken.sold.items():
        if dish := named.get(name):
            sold[day.isoformat(), service, dish] += amount
    for key in [key for key, amount in sold.items() if amount < 0]:
        out.left.append(f"{' '.join(key)}: {sold.pop(key):g} sold: more refunded than sold")
    covers: dict[tuple[str, str], float] = defaultdict(float)
    for (day, service, _), guests in taken.checks.items():
        covers[day.isoformat(), service] += guests
    for slot, guests in taken.covers.items():
        if slot not in taken.unclear:
            covers[slot[0].isoformat(), slot[1]] = guests
    if taken.unclear:
        n = plural(len(taken.unclear), "service")
        out.told.append(
            f"no check numbers: the guests of {n} cannot be counted, and their covers are not written"
        )
    numbers = {day.isoformat(): numbers for day, numbers in taken.numbers.items()}
    return Export(taken.sheet, sold, covers, numbers)
