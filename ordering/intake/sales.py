"""A till's export into `books/sales.csv` and `books/covers.csv`: per check, per day, or a matrix of days."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date

from ordering.amounts import plural
from ordering.intake.bookfiles import laid_over
from ordering.intake.dates import date_reader, is_day, minutes
from ordering.intake.goods_names import likeness, tokens
from ordering.intake.headings import Found, find_table, roles_of, tables_in
from ordering.intake.outcome import Outcome, money, some
from ordering.intake.questions import Question
from ordering.intake.services import Services
from ordering.intake.sheets import Sheet

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
ALIKE = 86.0
IGNORE = "ignore"


@dataclass(slots=True)
class _Taken:
    """Of one sheet: portions by (day, service, till name), guests by check or by service."""

    sold: dict[tuple[date, str, str], float] = field(default_factory=lambda: defaultdict(float))
    checks: dict[tuple[date, str, str], float] = field(default_factory=dict)
    covers: dict[tuple[date, str], float] = field(default_factory=dict)
    numbers: dict[date, set[str]] = field(default_factory=lambda: defaultdict(set))
    n_void: int = 0
    n_modifiers: int = 0
    unread: dict[str, int] = field(default_factory=lambda: defaultdict(int))

    def guests_of(self, slot: tuple[date, str], check: str, guests: float) -> None:
        """Guests stand on every line of a check: they count once."""
        if check:
            self.checks[(*slot, check)] = max(guests, self.checks.get((*slot, check), 0.0))
        else:
            self.covers[slot] = max(guests, self.covers.get(slot, 0.0))

    def without(self, days: set[date]) -> None:
        """Take days out that another sheet tells more of."""
        for table in (self.sold, self.checks, self.covers):
            for key in [key for key in table if key[0] in days]:
                del table[key]  # type: ignore[arg-type]

    def add(self, other: _Taken) -> None:
        """Another sheet's lines beside these: other days, or another till."""
        for key, amount in other.sold.items():
            self.sold[key] += amount
        self.checks |= other.checks
        for slot, guests in other.covers.items():
            self.covers[slot] = max(guests, self.covers.get(slot, 0.0))
        for day, numbers in other.numbers.items():
            self.numbers[day] |= numbers
        self.n_void += other.n_void
        self.n_modifiers += other.n_modifiers
        for what, n in other.unread.items():
            self.unread[what] += n


def bring_sales(sheets: Sequence[Sheet], out: Outcome) -> None:
    """Read every sheet, name each dish once, and replace the days that were seen whole."""
    all_taken: _Taken | None = None
    services = Services(out)
    known = {n.lower() for key, own in out.known("menu").items() for n in (key, *own)}
    for sheet in sheets:
        taken = _Taken()
        table = find_table(sheet, roles_of("sales"), ("dish", "sold", "date"), out.asker)
        matrix = None if table else find_table(sheet, roles_of("sales"), ("dish",), out.asker)
        if table is not None:
            out.told += table.how
            _per_line(table, out, services, taken, known)
        elif matrix is None or not _matrix(matrix, out, services, taken):
            continue
        if all_taken is None:
            all_taken = taken
        else:
            _joined(all_taken, taken, sheet, out)
    if all_taken is None:
        all_taken = _Taken()
        for table in tables_in(sheets, "sales", ("date", "dish", "sold"), out.asker, out.name):
            _per_line(table, out, services, all_taken, known)
    _write(out, all_taken, services)


def _joined(first: _Taken, other: _Taken, sheet: Sheet, out: Outcome) -> None:
    """Two exports as one: of a day in both, the same checks are one till told twice, others are two tills."""
    both = {key[0] for key in first.sold} & {key[0] for key in other.sold}
    twice = {day for day in both if first.numbers[day] & other.numbers[day]}
    unsure = {day for day in both - twice if not first.numbers[day] and not other.numbers[day]}
    if unsure:
        days = plural(len(unsure), "day")
        text = f"{sheet.place} has {days} that another file has too: the same sales, or another till?"
        answer = out.asker.settle(Question("same days", text, ("same sales", "another till"), "same sales"))
        twice |= unsure if answer == "same sales" else set()
    totals = [
        {day: sum(v for k, v in one.sold.items() if k[0] == day) for day in twice} for one in (first, other)
    ]
    first.without({day for day in twice if totals[1][day] > totals[0][day]})
    other.without({day for day in twice if totals[1][day] <= totals[0][day]})
    if twice:
        out.told.append(f"{plural(len(twice), 'day')} stand in two files: the fuller one is taken")
    first.add(other)


def _per_line(table: Found, out: Outcome, services: Services, taken: _Taken, known: set[str]) -> None:
    """A line a check and item, or a line a day and item."""
    sheet, at = table.sheet, table.columns
    rows = list(table.body())
    dates = [table.cell(row, "date") for _, row in rows]
    read = date_reader(dates, lambda n: sheet.line(rows[n][0]), out.asker, out.country)
    if read.how:
        out.told.append(read.how)
    is_business = "business" in _heading(table, "date") or "trading" in _heading(table, "date")
    day: date | None = None
    last: int | None = None
    check = guests = ""
    for n, row in rows:
        written = table.cell(row, "date")
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
        service, day_of = services.of(own, moment, table.cell(row, "service"), is_business)
        if check:
            taken.numbers[day_of].add(check)
        if not service:
            taken.unread[f"row {sheet.line(n)}: no service at that time"] += 1
            continue
        if guests and (number_of := money(guests)) is not None:
            taken.guests_of((day_of, service), check, float(number_of))
        _count(table, row, name, (day_of, service), taken, name.lower() in known)


def _count(
    table: Found, row: Sequence[str], name: str, slot: tuple[date, str], taken: _Taken, is_known: bool
) -> None:
    """One line: portions, unless it is void, a modifier, or no dish at all."""
    sold = money(table.cell(row, "sold")) if "sold" in table.columns else None
    status = table.cell(row, "status")
    is_void = bool(_VOID.search(status)) or (status.lower() in _TRUE and "void" in _heading(table, "status"))
    if is_void and sold is not None and sold > 0:
        taken.n_void += 1
        return
    kind = table.cell(row, "kind")
    is_cooking = _COOKED.match(name) and not is_known and not _is_worth(table, row)
    if _MODIFIER.search(kind) or table.cell(row, "parent") or is_cooking:
        taken.n_modifiers += 1
        return
    if sold is None or _NO_DISH.match(name):
        return
    taken.n_void += sold < 0
    taken.sold[(*slot, name)] += float(sold)


def _heading(table: Found, role: str) -> str:
    return table.sheet.rows[table.head][table.columns[role]].lower() if role in table.columns else ""


def _is_worth(table: Found, row: Sequence[str]) -> bool:
    """Whether a line has a price of its own: a modifier has none."""
    amount = money(table.cell(row, "amount")) if "amount" in table.columns else None
    return amount is not None and amount != 0


def _matrix(table: Found, out: Outcome, services: Services, taken: _Taken) -> bool:
    """Dishes down, days across: a month wide."""
    heading = table.sheet.rows[table.head]
    days = [at for at, cell in enumerate(heading) if is_day(cell)]
    if len(days) < 2:
        return False
    line = table.sheet.line(table.head)
    read = date_reader([heading[at] for at in days], lambda _: line, out.asker, out.country)
    out.told.append(
        f"{table.sheet.title or 'table'}: dishes down, {len(days)} days across. {read.how}".strip()
    )
    service = ""
    for n, row in table.body():
        name = " ".join(table.cell(row, "dish").split())
        filled = [row[at] for at in days if at < len(row) and row[at]]
        if name and not filled:
            service = name
            continue
        for at in days:
            number = money(row[at]) if at < len(row) else None
            day = read(heading[at])[0]
            if not name or number is None or day is None:
                continue
            where, day_of = services.of(day, None, table.cell(row, "service") or service)
            if not where:
                taken.unread[f"row {table.sheet.line(n)}: which service?"] += 1
            elif re.match(r"(?i)(?:covers|guests)\b", name):
                taken.covers[day_of, where] = float(number)
            else:
                taken.sold[day_of, where, name] += float(number)
    return True


def _write(out: Outcome, taken: _Taken, services: Services) -> None:
    """Name the dishes, add up, and lay the days seen over the books."""
    by_name: dict[str, float] = defaultdict(float)
    for (_, _, name), amount in taken.sold.items():
        by_name[name] += amount
    named = _dishes(out, by_name)
    sold: dict[tuple[str, ...], float] = defaultdict(float)
    for (day, service, name), amount in taken.sold.items():
        if dish := named.get(name):
            sold[day.isoformat(), service, dish] += amount
    below = [key for key, amount in sold.items() if amount < 0]
    for key in below:
        out.left.append(f"{' '.join(key)}: {sold.pop(key):g} sold: more taken back than sold")
    rows = [(*key, f"{amount:g}") for key, amount in sorted(sold.items()) if amount > 0]
    days = {key[:2] for key in sold}
    out.written |= laid_over(out.books, "sales", ("date", "service", "dish", "sold"), rows, days)
    covers: dict[tuple[str, str], float] = defaultdict(float)
    for (day, service, _), guests in taken.checks.items():
        covers[day.isoformat(), service] += guests
    for (day, service), guests in taken.covers.items():
        covers[day.isoformat(), service] = guests
    if covers:
        rows = [(*key, f"{n:g}") for key, n in sorted(covers.items()) if n > 0]
        out.written |= laid_over(out.books, "covers", ("date", "service", "covers"), rows, set(covers))
    if sold:
        first, last = min(key[0] for key in sold), max(key[0] for key in sold)
        dishes = plural(len({key[2] for key in sold}), "dish", "dishes")
        aside = f"{taken.n_void:,} void or taken back, {plural(taken.n_modifiers, 'modifier')} left aside"
        out.told.append(f"{sum(sold.values()):,.0f} portions of {dishes}, {first} to {last}; {aside}")
        ignored = [name for name, dish in named.items() if not dish]
        if ignored:
            out.told.append(
                f"{plural(len(ignored), 'name')} of the till that are no dish: {', '.join(some(ignored, 12))}"
            )
    out.told += services.told()
    out.told.append(
        "covers from the guest counts" if covers else "no guest counts in the file: covers are not written"
    )
    out.left += [f"{what}{f' ({n} rows)' if n > 1 else ''}" for what, n in some_of(taken.unread)]


def some_of(counted: Mapping[str, int], most: int = 8) -> list[tuple[str, int]]:
    """The first of some counted things, the rest added up."""
    items = list(counted.items())
    rest = sum(n for _, n in items[most:])
    return [*items[:most], *([("and others like these", rest)] if rest else [])]


def _dishes(out: Outcome, sold: Mapping[str, float]) -> dict[str, str]:
    """Each till name's dish, empty for one to ignore; what is not known is asked, best-sellers first."""
    house = out.house.entries("house")
    names = {str(k).lower(): str(v) for k, v in (house.get("dish_names") or {}).items()}
    ignored = {str(one).lower() for one in house.get("ignore") or []}
    known = out.known("menu")
    exact = {one.lower(): key for key, own in known.items() for one in (key, key.replace("-", " "), *own)}
    found: dict[str, str] = {}
    for name in sorted(sold, key=lambda n: -sold[n]):
        low = name.lower()
        if low in ignored:
            found[name] = ""
        elif dish := names.get(low) or exact.get(low):
            found[name] = dish
        else:
            found[name] = _asked(out, name, known, sold[name])
    return found


def _alike(name: str, dish: str) -> float:
    """How alike a till's name and a dish's are; words cut short (`LEMON MASC TART`) are taken for whole."""
    short, full = tokens(name), tokens(dish)
    is_cut = len(short) == len(full) > 1 and all(
        len(a) >= 3 and b.startswith(a) for a, b in zip(short, full, strict=True)
    )
    return max(likeness(name, dish), 90.0 if is_cut else 0.0)


def _asked(out: Outcome, name: str, known: Mapping[str, Sequence[str]], sold: float) -> str:
    scored = sorted(
        (
            (max(_alike(name, one) for one in (key.replace("-", " "), *own)), key)
            for key, own in known.items()
        ),
        key=lambda one: -one[0],
    )
    near = [key for score, key in scored if score >= ALIKE]
    is_one = len(near) == 1 or (len(near) > 1 and scored[0][0] >= scored[1][0] + 5)
    best = near[0] if near and is_one else IGNORE if not near else ""
    key = f"dish {name.lower()}"
    text = f"The till's {name} ({sold:,.0f} sold): which dish is that, or is it to be ignored?"
    choices = (*(near or [k for s, k in scored[:5] if s >= 60]), IGNORE)
    answer = out.asker.settle(Question(key, text, choices, best))
    if not answer:
        out.left.append(f"{name} ({sold:,.0f} sold): {' or '.join(near)}?")
        return ""
    return "" if answer == IGNORE else answer
