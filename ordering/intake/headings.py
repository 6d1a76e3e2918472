"""Which row is the heading, which column is what, and which rows below it are no data."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from ordering.faults import Fault, Refused
from ordering.intake.column_roles import READ, Roles, columns_of, likely, plain
from ordering.intake.goods_names import table
from ordering.intake.outcome import Asker, Question
from ordering.intake.sheets import SourceSheet

LOOKED_AT = 60
_SURE = 0.75  # share of cells from which a table without a heading is taken for one
_ENDS = (
    r"totals?|sum|summe|gesamt|page \d+|printed|end of (?:report|list)|continued|prices (?:subject|are)"
    r"|report generated|records?:"
)
_ALSO = {"prices": ("pack",)}  # asked for too where columns have to be asked for
_TOTAL = re.compile(
    rf"\W*(?:(?:grand|sub|report|day|daily|week|weekly|net)[ -]?)?(?:{_ENDS})(?!\w)", re.IGNORECASE
)


@dataclass(frozen=True, slots=True)
class Found:
    """A table within a sheet: the row of its heading, -1 where it has none, and the column of each role."""

    sheet: SourceSheet
    head: int
    columns: Mapping[str, int]
    how: tuple[str, ...]

    def cell(self, row: Sequence[str], role: str) -> str:
        """The cell of a row in the column of a role; empty where there is none."""
        at = self.columns.get(role)
        return row[at] if at is not None and at < len(row) else ""

    @property
    def heading(self) -> Sequence[str]:
        """The heading's cells; where there is none, the columns by number."""
        return self.sheet.rows[self.head] if self.head >= 0 else _numbered(self.sheet)

    @property
    def above(self) -> Sequence[Sequence[str]]:
        """Rows of title over the table; without a heading those of one cell may be that."""
        rows = self.sheet.rows
        return rows[: self.head] if self.head >= 0 else [row for row in rows if sum(map(bool, row)) == 1]

    def head_of(self, role: str) -> str:
        """The heading over the column of a role; empty where there is none."""
        return self.heading[self.columns[role]] if role in self.columns else ""

    def body(self) -> Iterator[tuple[int, Sequence[str]]]:
        """Rows below the heading that are neither totals nor the heading again."""
        heading = [cell.lower() for cell in self.heading]
        for n in range(self.head + 1, len(self.sheet.rows)):
            row = self.sheet.rows[n]
            if not is_total(row) and [cell.lower() for cell in row] != heading:
                yield n, row


def is_total(row: Sequence[str]) -> bool:
    """Whether a row is a total, or the foot of a page."""
    return bool(_TOTAL.match(next((cell for cell in row if cell), "")))


def roles_of(what: str) -> Roles:
    """The headings by which each column of one kind of file is known (`data/headings.csv`)."""
    return {row["role"]: row["headings"] for row in table("headings.csv") if row["what"] == what}


def find_table(
    sheet: SourceSheet, roles: Roles, needed: Sequence[str | tuple[str, ...]], asker: Asker
) -> Found | None:
    """The table whose heading tells most; None where no row names all that are `needed`.

    `roles` has each role's headings, parted by commas; an entry of `needed` may name several of which one
    will do. Answers under `column HEADING` go before everything else.
    """
    own = {
        plain(key.removeprefix("column ")): role
        for key, role in asker.known.items()
        if key.startswith("column ")
    }
    flat = [entry for entry in needed if isinstance(entry, str)]
    best: tuple[float, int, dict[str, int]] | None = None
    rows = list(sheet.rows[:LOOKED_AT])
    for depth in (1, 2):
        for n, row in enumerate(rows):
            if row in rows[:n]:
                continue  # the heading again on the next page
            heading = row if depth == 1 else _joined(sheet.rows, n)
            below = sheet.rows[n + depth : n + depth + READ]
            columns, told = columns_of(heading, roles, own, flat, below)
            if all(has(columns, one) for one in needed) and (best is None or told > best[0]):
                best = told, n + depth - 1, columns
    if best is None:
        return None
    _, head, columns = best
    where = f"{sheet.title}: " if sheet.title else ""
    names = ", ".join(
        f"{sheet.rows[head][at] or '(above)'} = {role}"
        for role, at in sorted(columns.items(), key=lambda c: c[1])
    )
    how = f"{where}row {sheet.line(head)} is the heading: {names}"
    return Found(sheet, head, columns, (how,))


def asked_table(
    sheet: SourceSheet, what: str, needed: Sequence[str | tuple[str, ...]], asker: Asker
) -> Found | None:
    """The table below the likeliest heading, each column that is wanted and not known being asked for.

    The likeliest column is told from what stands in it: words, money, days. Without a row that could be the
    heading, columns go by their numbers.
    """
    roles = roles_of(what)
    flat = [entry if isinstance(entry, str) else entry[0] for entry in needed]
    heads = [n for n, row in enumerate(sheet.rows[:LOOKED_AT]) if _is_heading(sheet, n, row)]
    sure = [entry for entry in needed if isinstance(entry, str)]
    known = {n: columns_of(sheet.rows[n], roles, {}, sure, sheet.rows[n + 1 : n + 1 + READ]) for n in heads}
    head = max(heads, key=lambda n: (known[n][1], sum(map(bool, sheet.rows[n])), -n), default=-1)
    found = Found(sheet, head, dict(known[head][0]) if heads else {}, ())
    heading, columns = found.heading, dict(found.columns)
    wanted = [role for role, entry in zip(flat, needed, strict=True) if not has(columns, entry)]
    for role in (*wanted, *(role for role in _ALSO.get(what, ()) if role not in columns)):
        at = _asked_column(replace(found, columns=columns), role, role in wanted, asker)
        if at is None and role in wanted:
            return None
        if at is not None:
            columns[role] = at
    names = ", ".join(f"{heading[at]} = {role}" for role, at in sorted(columns.items(), key=lambda c: c[1]))
    where = f"row {sheet.line(head)} is taken for the heading" if heads else "there is no heading"
    return Found(sheet, head, columns, (f"{where}: {names}",))


def with_column(table: Found, role: str, asker: Asker) -> Found:
    """The table with the column of one more role, as it is told from what stands in it and asked."""
    at = _asked_column(table, role, False, asker)
    if at is None:
        return table
    how = f"{table.heading[at]} = {role}, as its cells tell"
    return replace(table, columns={**table.columns, role: at}, how=(*table.how, how))


def _asked_column(table: Found, role: str, is_wanted: bool, asker: Asker) -> int | None:
    """The column of a role by its cells and an answer; None where none is, or nobody says."""
    heading, has_heading = table.heading, table.head >= 0
    body = [row for _, row in table.body() if sum(map(bool, row)) > 1][:READ]
    free = [at for at, cell in enumerate(heading) if cell and at not in table.columns.values()]
    scored = [(likely([row[at] if at < len(row) else "" for row in body], role), -at) for at in free]
    best, at = max(scored, default=(0.0, 0))
    if not has_heading and is_wanted and best <= _SURE:
        return None
    choices = (*(heading[one] for one in free), *([] if is_wanted else ["none"]))
    likeliest = heading[-at] if best > 0.5 else "" if is_wanted else "none"
    asked = Question(f"the {role} column", f"Which column is the {role}?", choices, likeliest)
    answer = asker.settle(asked)
    for answers in (asker.given, asker.guessed) if has_heading else ():  # as find_table reads it next week
        if asked.key in answers:
            answers[f"column {plain(answers.pop(asked.key))}"] = role
    return next((one for one in free if heading[one] == answer), None)


def _numbered(sheet: SourceSheet) -> list[str]:
    return [f"column {n}" for n in range(1, max(map(len, sheet.rows)) + 1)]


def _is_heading(sheet: SourceSheet, n: int, row: Sequence[str]) -> bool:
    """Words over a table: several cells without a number, and rows with nearly as many cells below."""
    cells = [cell for cell in row if cell]
    below = [sum(map(bool, one)) for one in sheet.rows[n + 1 : n + 9]]
    is_worded = len(cells) > 1 and not any(re.search(r"\d", cell) for cell in cells)
    return is_worded and bool(below) and max(below) >= max(2, len(cells) / 2)


def has(columns: Mapping[str, int], needed: str | tuple[str, ...]) -> bool:
    """Whether a role, or one of several, has a column."""
    return needed in columns if isinstance(needed, str) else any(one in columns for one in needed)


def _joined(rows: Sequence[Sequence[str]], n: int) -> list[str]:
    """A heading of two rows: what stands over one another."""
    if n + 1 >= len(rows):
        return []
    over, under = rows[n], rows[n + 1]
    if min(sum(map(bool, over)), sum(map(bool, under))) < 2 or any(
        re.fullmatch(r"[\d.,/-]+", c) for c in under if c
    ):
        return []
    width = max(len(over), len(under))
    cells = [(over[k] if k < len(over) else "", under[k] if k < len(under) else "") for k in range(width)]
    return [f"{a} {b}".strip() for a, b in cells]


def no_table(sheets: Sequence[SourceSheet], needed: Sequence[str | tuple[str, ...]], what: str) -> Refused:
    """What to say where no sheet has a heading that can be read."""
    words = ", ".join(one if isinstance(one, str) else " or ".join(one) for one in needed)
    seen = next((", ".join(c for c in row if c)[:120] for row in sheets[0].rows[:1]), "")
    wrong = f"no row names the columns of {what} ({words}); the first row says: {seen}"
    one = words.replace(",", " ").split()[0]
    right = f"name them once in house.yaml: sources: {{{what}: {{column YOURS: {one}}}}}"
    if all(sum(map(bool, row)) < 2 for sheet in sheets for row in sheet.rows):
        wrong = f"all that stands in a row is in one cell: {sheets[0].rows[-1][0][:120]}"
        right = f"save it with a column each for {words}"
    return Refused([Fault(sheets[0].place, sheets[0].line(0), "", wrong, right, "no-heading")])
