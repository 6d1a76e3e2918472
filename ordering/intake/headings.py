"""Which row is the heading, which column is what, and which rows below it are no data."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache

from rapidfuzz import fuzz, process

from ordering.faults import Fault, Refused
from ordering.intake.goods_names import table
from ordering.intake.questions import Asker, Question
from ordering.intake.sheets import SourceSheet

Roles = Mapping[str, str]
LOOKED_AT = 60
_CLOSE = 88
_ENDS = (
    r"totals?|sum|summe|gesamt|page \d+|printed|end of (?:report|list)|continued|prices (?:subject|are)"
    r"|report generated|records?:"
)
_SHORT = {
    **{"prod": "product", "desc": "description", "descr": "description", "qty": "quantity", "amt": "amount"},
    **dict.fromkeys(("#", "nr", "num", "number", "nbr"), "no"),
}
_IDLE = {"line", "lines", "text", "field", "full", "info", "list", "our", "your"}
_ALSO = {"prices": ("pack",), "recipes": ("amount",)}  # asked for too where columns have to be asked for
_COSTS = re.compile(
    r"\W*(?:[£$€]|gbp\b|usd\b|eur\b)\W*(?:each|unit|case|net|ex vat|delivered)?\W*", re.IGNORECASE
)
_TOTAL = re.compile(rf"\W*(?:(?:grand|sub|report|day|net)[ -]?)?(?:{_ENDS})(?!\w)", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Found:
    """A table within a sheet: the row of its heading and the column of each role."""

    sheet: SourceSheet
    head: int
    columns: Mapping[str, int]
    how: tuple[str, ...]

    def cell(self, row: Sequence[str], role: str) -> str:
        """The cell of a row in the column of a role; empty where there is none."""
        at = self.columns.get(role)
        return row[at] if at is not None and at < len(row) else ""

    def body(self) -> Iterator[tuple[int, Sequence[str]]]:
        """Rows below the heading that are neither totals nor the heading again."""
        heading = [cell.lower() for cell in self.sheet.rows[self.head]]
        for n in range(self.head + 1, len(self.sheet.rows)):
            row = self.sheet.rows[n]
            first = next((cell for cell in row if cell), "")
            if _TOTAL.match(first) or [cell.lower() for cell in row] == heading:
                continue
            yield n, row


def roles_of(what: str) -> Roles:
    """The headings by which each column of one kind of file is known (`data/headings.csv`)."""
    return {row["role"]: row["headings"] for row in table("headings.csv") if row["what"] == what}


def plain(text: str) -> str:
    """A heading as it is compared: lower case, without brackets, signs and double spaces."""
    text = re.sub(r"(?<=[a-z])(?=[A-Z])", " ", text)
    text = (
        re.sub(r"\([^)]*\)|\[[^]]*\]", " ", text.lower()) if not text.startswith(("(", "[")) else text.lower()
    )
    words = re.sub(r"[^\w#/%. ]", " ", text.replace("_", " ").replace(".", " ").replace("#", " # ")).split()
    return " ".join(_SHORT.get(word, word) for word in words)


def find_table(
    sheet: SourceSheet, roles: Roles, needed: Sequence[str | tuple[str, ...]], asker: Asker
) -> Found | None:
    """The table whose heading names most roles; None where no row names all that are `needed`.

    `roles` has each role's headings, parted by commas; an entry of `needed` may name several of which one
    will do. Answers under `column HEADING` go before everything else.
    """
    own = {
        plain(key.removeprefix("column ")): role
        for key, role in asker.known.items()
        if key.startswith("column ")
    }
    flat = [one for entry in needed for one in ((entry,) if isinstance(entry, str) else entry)]
    best: tuple[int, int, dict[str, int], int] | None = None
    for depth in (1, 2):
        for n, row in enumerate(sheet.rows[:LOOKED_AT]):
            heading = row if depth == 1 else _joined(sheet.rows, n)
            columns = columns_of(heading, roles, own, flat)
            if all(_has(columns, one) for one in needed) and (best is None or len(columns) > best[0]):
                best = len(columns), n + depth - 1, columns, depth
    if best is None:
        return None
    _, head, columns, _ = best
    where = f"{sheet.title}: " if sheet.title else ""
    names = ", ".join(
        f"{sheet.rows[head][at] or '(above)'} = {role}"
        for role, at in sorted(columns.items(), key=lambda c: c[1])
    )
    how = f"{where}row {sheet.line(head)} is the heading: {names}"
    return Found(sheet, head, columns, (how,))


def tables_in(
    sheets: Sequence[SourceSheet], what: str, needed: Sequence[str | tuple[str, ...]], asker: Asker, name: str
) -> list[Found]:
    """The table of every sheet that has one; where none has, that of the longest sheet as a person names it.

    Raises
    ------
    Refused : no heading is known, and nobody says which column is what
    """
    roles = roles_of(what)
    found = [table for sheet in sheets if (table := find_table(sheet, roles, needed, asker))]
    if not found and (table := asked_table(max(sheets, key=lambda s: len(s.rows)), what, needed, asker)):
        found = [table]
    if not found:
        raise no_table(sheets, needed, name)
    return found


def asked_table(
    sheet: SourceSheet, what: str, needed: Sequence[str | tuple[str, ...]], asker: Asker
) -> Found | None:
    """The table below the likeliest heading, each column that is wanted and not known being asked for.

    The likeliest column is told from what stands in it: words, money, days.
    """
    roles = roles_of(what)
    flat = [entry if isinstance(entry, str) else entry[0] for entry in needed]
    heads = [n for n, row in enumerate(sheet.rows[:LOOKED_AT]) if _is_heading(sheet, n, row)]
    if not heads:
        return None
    known = {n: columns_of(sheet.rows[n], roles, {}, flat) for n in heads}
    head = max(heads, key=lambda n: (len(known[n]), sum(map(bool, sheet.rows[n])), -n))
    heading, columns = sheet.rows[head], dict(known[head])
    wanted = [role for role, entry in zip(flat, needed, strict=True) if not _has(columns, entry)]
    for role in (*wanted, *(role for role in _ALSO.get(what, ()) if role not in columns)):
        free = [at for at, cell in enumerate(heading) if cell and at not in columns.values()]
        scored = sorted(((_share(sheet, head, at, role), -at) for at in free), reverse=True)
        best = (
            heading[-scored[0][1]] if scored and scored[0][0] > 0.5 else "none" if role not in wanted else ""
        )
        choices = (*(heading[at] for at in free), *(["none"] if role not in wanted else []))
        asked = Question(f"the {role} column", f"Which column is the {role}?", choices, best)
        answer = asker.settle(asked)
        if not answer and role in wanted:
            return None
        if named := [at for at in free if heading[at] == answer]:
            columns[role] = named[0]
        for answers in (asker.given, asker.guessed):  # kept as find_table reads it, for next week's file
            if asked.key in answers:
                answers[f"column {plain(answers.pop(asked.key))}"] = role
    names = ", ".join(f"{heading[at]} = {role}" for role, at in sorted(columns.items(), key=lambda c: c[1]))
    return Found(sheet, head, columns, (f"row {sheet.line(head)} is taken for the heading: {names}",))


def _is_heading(sheet: SourceSheet, n: int, row: Sequence[str]) -> bool:
    """Words over a table: several cells without a number, and rows with as many cells below."""
    cells = [cell for cell in row if cell]
    below = [sum(map(bool, one)) for one in sheet.rows[n + 1 : n + 9]]
    is_worded = len(cells) > 1 and not any(re.search(r"\d", cell) for cell in cells)
    return is_worded and bool(below) and max(below) >= len(cells)


def _share(sheet: SourceSheet, head: int, at: int, role: str) -> float:
    """The share of a column's cells that could be what the role says."""
    cells = [row[at] for row in sheet.rows[head + 1 :][:400] if at < len(row) and row[at]]
    if len(cells) < 2:
        return 0.0
    if role == "recipe":  # a name on each of its lines stands there again and again
        return 1 - len(set(cells)) / len(cells) + 0.5
    if role in ("price", "sold", "party", "count"):
        form = (
            r"[^\d\n]{0,4}-?\d[\d.,]*[^\d\n]{0,4}" if role != "price" else r"\D{0,4}\d[\d.,]*[.,]\d\d\D{0,4}"
        )
        return sum(bool(re.fullmatch(form, cell)) for cell in cells) / len(cells)
    if role == "date":
        return sum(bool(re.match(r"\d{1,4}[./-]\d{1,2}[./-]\d{2,4}|20\d{6}", c)) for c in cells) / len(cells)
    if role in ("pack", "amount"):
        return sum(bool(re.search(r"\d", cell)) for cell in cells) / len(cells)
    letters = sum(len(re.findall(r"[^\W\d_]", cell)) for cell in cells) / len(cells)
    return min(letters / 6, 1.0) * (1 + len(set(cells)) / len(cells)) / 2


def _has(columns: Mapping[str, int], needed: str | tuple[str, ...]) -> bool:
    return needed in columns if isinstance(needed, str) else any(one in columns for one in needed)


def _joined(rows: Sequence[Sequence[str]], n: int) -> list[str]:
    """A heading of two rows: what stands over one another."""
    if n + 1 >= len(rows):
        return []
    over, under = rows[n], rows[n + 1]
    if sum(bool(c) for c in under) < 2 or any(re.fullmatch(r"[\d.,/-]+", c) for c in under if c):
        return []
    width = max(len(over), len(under))
    cells = [(over[k] if k < len(over) else "", under[k] if k < len(under) else "") for k in range(width)]
    return [f"{a} {b}".strip() for a, b in cells]


def columns_of(
    heading: Sequence[str], roles: Roles, own: Mapping[str, str], needed: Sequence[str] = ()
) -> dict[str, int]:
    """The column of each role: those needed first, of several headings the one its list has first."""
    found = [one for at, cell in enumerate(heading) for one in _meant(at, cell, roles, own, needed)]
    columns: dict[str, int] = {}
    for _, _, _, at, role in sorted(found):
        if role not in columns and at not in columns.values() and role != "none":
            columns[role] = at
    if "unit" in roles and "unit" not in columns and "amount" in columns:
        beside = columns["amount"] + 1
        if beside < len(heading) and not heading[beside]:
            columns["unit"] = beside  # an amount's unit stands beside it, often under no heading
    return columns


def no_table(sheets: Sequence[SourceSheet], needed: Sequence[str | tuple[str, ...]], what: str) -> Refused:
    """What to say where no sheet has a heading that can be read."""
    words = ", ".join(one if isinstance(one, str) else " or ".join(one) for one in needed)
    seen = next((", ".join(c for c in row if c)[:120] for row in sheets[0].rows[:1]), "")
    wrong = f"no row names the columns of {what} ({words}); the first row says: {seen}"
    one = words.replace(",", " ").split()[0]
    right = f"name them once in house.yaml: sources: {{{what}: {{column YOURS: {one}}}}}"
    return Refused([Fault(sheets[0].place, sheets[0].line(0), "", wrong, right, "no-heading")])


def _meant(
    at: int, cell: str, roles: Roles, own: Mapping[str, str], needed: Sequence[str]
) -> Iterator[tuple[float, bool, int, int, str]]:
    """(rank, is not needed, place in the role's list, column, role) of each role that a heading may name."""
    name = plain(cell)
    if name in own:
        yield 0.0, False, 0, at, own[name]
    elif "price" in roles and _COSTS.fullmatch(cell):
        yield 2.0, False, 0, at, "price"
    elif name and len(name) <= 40:
        for role, names in roles.items():
            words = _listed(names)
            if name in words:
                yield 1.0, role not in needed, words.index(name), at, role
            elif (bare := " ".join(word for word in name.split() if word not in _IDLE)) in words:
                yield 2.0, role not in needed, words.index(bare), at, role
            elif match := process.extractOne(name, words, scorer=fuzz.ratio, score_cutoff=_CLOSE):
                yield 200.0 - match[1], role not in needed, 0, at, role


@cache
def _listed(names: str) -> list[str]:
    return [plain(name) for name in names.split(", ")]
