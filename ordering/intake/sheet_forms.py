"""The tables of a file, in whatever form its sheets have them: several on one, days over rows, forms."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from itertools import chain, pairwise

from ordering.intake.column_roles import READ, columns_of, plain
from ordering.intake.dates import day_in
from ordering.intake.headings import LOOKED_AT, Found, asked_table, find_table, has, no_table, roles_of
from ordering.intake.outcome import Asker
from ordering.intake.sheets import SourceSheet

Needed = Sequence[str | tuple[str, ...]]
_COUNTED = re.compile(r"(\D*[^\W\d_])[ _#.-]*(\d{1,2})")


def tables_in(
    sheets: Sequence[SourceSheet], what: str, needed: Needed, asker: Asker, name: str
) -> list[Found]:
    """Every table of every sheet; where none has any, that of the longest sheet as a person names it.

    Raises
    ------
    Refused : no heading is known, and nobody says which column is what
    """
    parts = [part for sheet in sheets for part in under_one_another(sheet, what, needed)]
    found = [table for part in parts if (table := _table_of(part, what, needed, asker))]
    if not found and (table := asked_table(max(sheets, key=lambda s: len(s.rows)), what, needed, asker)):
        found = [table]
    if not found:
        raise no_table(sheets, needed, name)
    return found


def _table_of(sheet: SourceSheet, what: str, needed: Needed, asker: Asker) -> Found | None:
    """The table of a sheet as it is, else of its forms, else with its days beside their rows."""
    for form in (None, of_labels, with_days):
        if table := find_table(form(sheet) if form else sheet, roles_of(what), needed, asker):
            return table
    return None


def under_one_another(sheet: SourceSheet, what: str, needed: Needed) -> list[SourceSheet]:
    """The lists of a sheet, each from the titles over a heading that has its own columns; else the sheet."""
    roles, flat = roles_of(what), [one for one in needed if isinstance(one, str)]
    worded = [n for n, row in enumerate(sheet.rows) if _is_worded(row)]
    heads: list[tuple[int, dict[str, int]]] = []
    for n, end in pairwise((*worded, len(sheet.rows))):
        columns, _ = columns_of(sheet.rows[n], roles, {}, flat, sheet.rows[n + 1 : min(end, n + READ)])
        is_head = end > n + 1 and all(has(columns, one) for one in needed)
        if is_head and (not heads or columns != heads[-1][1]):
            heads.append((n, columns))
    starts = [0]
    for n, _ in heads[1:]:
        while n - 1 > starts[-1] and _n(sheet.rows[n - 1]) == 1:
            n -= 1
        starts.append(n)
    return [_rows(sheet, range(a, b)) for a, b in pairwise((*starts, len(sheet.rows)))]


def _is_worded(row: Sequence[str]) -> bool:
    return _n(row) > 1 and not any(re.search(r"\d", cell) for cell in row)


def _n(row: Sequence[str]) -> int:
    """How many cells of a row have anything in them."""
    return sum(map(bool, row))


def _rows(sheet: SourceSheet, which: Sequence[int]) -> SourceSheet:
    return replace(sheet, rows=[sheet.rows[n] for n in which], lines=[sheet.line(n) for n in which])


def with_days(sheet: SourceSheet) -> SourceSheet:
    """A sheet in which the day stands over its rows, with that day beside each of them under `Date`."""
    days = {n: day for n, row in enumerate(sheet.rows) if _n(row) < 3 and (day := day_in(" ".join(row)))}
    now, rows, kept = "", [], [n for n in range(len(sheet.rows)) if n not in days] if days else []
    for n, row in enumerate(sheet.rows):
        now = days.get(n, now)
        if n not in days:
            rows.append(["Date" if _is_worded(row) else now if _n(row) > 1 else "", *row])
    return replace(_rows(sheet, kept), rows=rows) if days else sheet


def by_number(sheet: SourceSheet) -> SourceSheet:
    """A sheet whose heading counts its columns (`Item 1, Qty 1, Item 2, Qty 2`): a row for each number."""
    for n, heading in enumerate(sheet.rows[:LOOKED_AT]):
        counted = {at: m for at, cell in enumerate(heading) if (m := _COUNTED.fullmatch(cell))}
        stems = list(dict.fromkeys(m[1] for m in counted.values()))
        at_of = {(int(m[2]), m[1]): at for at, m in counted.items()}
        numbers = sorted({number for number, _ in at_of})
        if len(stems) < 2 or len(numbers) < 2 or len(at_of) < len(stems) * len(numbers):
            continue
        kept = [at for at in range(len(heading)) if at not in counted]
        rows, lines = [[*(heading[at] for at in kept), *stems]], [sheet.line(n)]
        for below in range(n + 1, len(sheet.rows)):
            cells = dict(enumerate(sheet.rows[below]))
            own = [cells.get(at, "") for at in kept]
            parts = [[cells.get(at_of[number, stem], "") for stem in stems] for number in numbers]
            rows += [[*own, *part] for part in parts if any(part)]
            lines += [sheet.line(below) for part in parts if any(part)]
        above = _rows(sheet, range(n))
        return replace(sheet, rows=[*above.rows, *rows], lines=[*above.lines, *lines])
    return sheet


def of_levels(sheet: SourceSheet) -> SourceSheet:
    """A sheet of parts within parts, each with its level, as a row for each part under what it is part of."""
    for n, heading in enumerate(sheet.rows[:LOOKED_AT]):
        level = next((k for k, cell in enumerate(heading) if plain(cell) in ("level", "lvl")), -1)
        if level < 0:
            continue
        at, _ = columns_of(heading, roles_of("recipes"), {}, ("item",), sheet.rows[n + 1 : n + READ])
        if not {"item", "amount"} <= set(at):
            continue
        parts: dict[str, list[tuple[int, list[str]]]] = {}
        over: dict[int, tuple[str, str, bool]] = {}
        for below in range(n + 1, len(sheet.rows)):
            row = sheet.rows[below]
            text, item, makes, amount, unit = (
                row[k] if 0 <= k < len(row) else ""
                for k in (level, *(at.get(role, -1) for role in ("item", "yield", "amount", "unit")))
            )
            depth = int(text) if text.isdigit() else text.count(".")
            if (above := over.get(depth - 1)) and not above[2]:
                own = [above[0], above[1], item, amount, unit]
                parts.setdefault(above[0], []).append((sheet.line(below), own))
            over[depth] = (item, makes, item in parts)  # there again: its parts are known
        found = [(sheet.line(n), ["Recipe", "Yield", "Ingredient", "Qty", "Unit"]), *chain(*parts.values())]
        return replace(sheet, rows=[row for _, row in found], lines=[line for line, _ in found])
    return sheet


def gone_on(sheet: SourceSheet) -> SourceSheet:
    """A sheet with rows that go on in the next brought together: wrapped names, two rows of one thing.

    A word in lower case below a cell goes on with it. What fills the gaps of the row above, row after row,
    is of the same goods.
    """
    pairs = [b for a, b in pairwise(range(len(sheet.rows))) if _fills(sheet.rows[a], sheet.rows[b])]
    is_by_twos = 4 * len(pairs) > len(sheet.rows) and all(b - a > 1 for a, b in pairwise(pairs))
    seconds = set(pairs) if is_by_twos else set()
    rows: list[list[str]] = []
    lines: list[int] = []
    for n, row in enumerate(sheet.rows):
        at = next((k for k, cell in enumerate(row) if cell), 0)
        is_next = n > 0 and sheet.line(n) == sheet.line(n - 1) + 1
        is_rest = is_next and _n(row) == 1 and at > 0 and row[at][:1].islower()
        if rows and (n in seconds or (is_rest and at < len(rows[-1]) and rows[-1][at])):
            width = max(len(row), len(rows[-1]))
            both = ([*one, *[""] * (width - len(one))] for one in (rows[-1], row))
            rows[-1] = [f"{a} {b}".strip() for a, b in zip(*both, strict=True)]
        else:
            rows.append(list(row))
            lines.append(sheet.line(n))
    return replace(sheet, rows=rows, lines=lines)


def _fills(above: Sequence[str], row: Sequence[str]) -> bool:
    """Whether a row has cells where the one above has gaps, and none where it has any."""
    own, theirs = ({at for at, cell in enumerate(one) if cell} for one in (row, above))
    return bool(own) and not own & theirs and len(theirs) > 1 and min(own) < max(theirs)


def bands(sheet: SourceSheet, what: str, role: str) -> list[list[SourceSheet]]:
    """Ways to cut a sheet into tables side by side: at empty columns, and where its heading begins again."""
    width = max(map(len, sheet.rows))
    used = [any(at < len(row) and row[at] for row in sheet.rows) for at in range(width)]
    cuts = {tuple(at for at in range(width) if used[at] and (at == 0 or not used[at - 1]))}
    for row in sheet.rows:
        low = [cell.lower() for cell in row]
        first = next(cell for cell in low if cell)
        again = tuple(at for at, cell in enumerate(low) if cell == first)
        if len(again) > 1 and role in columns_of(row, roles_of(what), {}, (role,))[0]:
            cuts.add(again)
    return [
        [_band(sheet, start, end) for start, end in pairwise((*cut, width))]
        for cut in sorted(cuts)
        if len(cut) > 1
    ]


def _band(sheet: SourceSheet, start: int, end: int) -> SourceSheet:
    cells = [(n, row[start:end]) for n, row in enumerate(sheet.rows) if any(row[start:end])]
    return replace(sheet, rows=[row for _, row in cells], lines=[sheet.line(n) for n, _ in cells])


def side_by_side(sheet: SourceSheet, what: str, needed: Needed, asker: Asker) -> list[SourceSheet]:
    """The tables that stand side by side in a sheet, where each of them has a heading of its own."""
    roles = roles_of(what)
    for cut in bands(sheet, what, str(needed[0])):
        if all(find_table(band, roles, needed, asker) for band in cut):
            return cut
    return [sheet]


def of_labels(sheet: SourceSheet) -> SourceSheet:
    """A sheet of forms one under another, each label with its value beside it, as a table: a form a row.

    A label stands there again on every form; the first of them begins the next form. Any other sheet stays.
    """
    n_there = Counter(cell for row in sheet.rows for cell in row if cell and not re.search(r"\d", cell))
    pairs = [
        (n, label, value)
        for n, row in enumerate(sheet.rows)
        for label, value in zip(row[::2], row[1::2], strict=False)
        if n_there[label] > 1
    ]
    labels = list(dict.fromkeys(label for _, label, _ in pairs))
    values = {label: {value for _, one, value in pairs if one == label} for label in labels}
    labels = [label for label in labels if len(values[label] - {""}) > 1]
    forms: list[tuple[int, dict[str, str]]] = []
    for n, label, value in pairs:
        if labels and label == labels[0]:
            forms.append((n, {}))
        if forms and label in labels:
            forms[-1][1].setdefault(label, value)
    if len(forms) < 2 or len(labels) < 3:
        return sheet
    rows = [labels, *([form.get(label, "") for label in labels] for _, form in forms)]
    return replace(sheet, rows=rows, lines=[sheet.line(n) for n in (forms[0][0], *(n for n, _ in forms))])
