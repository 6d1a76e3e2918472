"""Recipes in a workbook: a tab each, one long table, or one under another; with yield line and method."""

from __future__ import annotations

import itertools
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from ordering.intake.headings import asked_table, columns_of, find_table, roles_of
from ordering.intake.outcome import Outcome
from ordering.intake.recipe_lines import Said, line_in
from ordering.intake.sheets import SourceSheet

_YIELD = re.compile(
    r"^\W*(?:recipe\s+)?(?:makes|yields?|serves|batch(?: size)?|portions|ergibt|pour)\b\s*[:=-]?\s*(.*)$",
    re.IGNORECASE,
)
_SERVES = re.compile(
    r"^\W*(\d+(?:\s*-\s*\d+)?\s+(?:portions?|servings?|ptns?|covers|guests|people))\W*$", re.IGNORECASE
)
_METHOD = re.compile(
    r"^\W*(?:method|procedure|instructions?|directions?|steps|preparation)\b\W*(.*)$", re.IGNORECASE
)
_STEP = re.compile(r"^\s*(?:\d+[.)]\s+[A-Za-z]|step \d+)")
_WORDS = (
    "recipe|name|title|ingredients?|date|chef|station|cost|page|menu|category|shelf life|keeps?|notes?"
    "|rev(?:ised|ision)?"
)
_LABEL = re.compile(rf"^\W*(?:{_WORDS}|updated|by)\b\W*(.*)$", re.IGNORECASE)
_KEEPS = re.compile(
    r"^\W*(?:shelf life|keeps?|holds?)\b\W*(\d+)\s*(d|day|days|h|hours|weeks?)\b", re.IGNORECASE
)


@dataclass(slots=True)
class Written:
    """One recipe as it stands in the file; `row` is where it begins."""

    name: str
    where: str
    makes: str = ""
    keeps: str = ""
    lines: list[tuple[str, Said]] = field(default_factory=list)
    method: list[str] = field(default_factory=list)


def recipes_in(sheets: Sequence[SourceSheet], out: Outcome) -> list[Written]:
    """Every recipe of every sheet that has lines."""
    found: list[Written] = []
    n_tabs = 0
    for sheet in sheets:
        table = find_table(sheet, roles_of("recipes"), ("recipe", "item"), out.asker)
        if table is None and _repeats_names(sheet):
            table = asked_table(sheet, "recipes", ("recipe", "item"), out.asker)
        if table is not None:
            out.told += table.how
            found += _long(sheet, table.head, table.columns, out)
        else:
            before = len(found)
            found += _blocks(sheet, out)
            n_tabs += len(found) > before
    if n_tabs:
        which = "it holds" if len(sheets) == 1 else f"{n_tabs} of {len(sheets)} sheets hold"
        out.told.append(f"{which} recipes: name, yield line, lines, method")
    return [one for one in found if one.lines]


def _repeats_names(sheet: SourceSheet) -> bool:
    """Whether the first column says the same on row after row: a long table whose heading is not known."""
    names = [row[0] for row in sheet.rows]
    n_again = sum(one == other != "" for one, other in itertools.pairwise(names))
    return n_again > len(names) / 2 and max(map(len, sheet.rows)) > 2


def _cell(row: Sequence[str], columns: dict[str, int], role: str) -> str:
    at = columns.get(role)
    return row[at] if at is not None and at < len(row) else ""


def _long(sheet: SourceSheet, head: int, given: object, out: Outcome) -> Iterator[Written]:
    """One long table: the recipe's name on each of its lines, or on the first only."""
    columns = dict(given)  # type: ignore[call-overload]
    now: Written | None = None
    for n in range(head + 1, len(sheet.rows)):
        row = sheet.rows[n]
        name = _cell(row, columns, "recipe")
        if name and (now is None or name.lower() != now.name.lower()):
            if now is not None:
                yield now
            now = Written(name, f"row {sheet.line(n)}")
        if now is None:
            continue
        now.makes = now.makes or _cell(row, columns, "yield")
        if method := _cell(row, columns, "method"):
            now.method.append(method)
        item = _cell(row, columns, "item")
        if item and not re.match(r"(?i)totals?\b", item):
            amount, unit, note = (_cell(row, columns, role) for role in ("amount", "unit", "note"))
            now.lines.append((f"row {sheet.line(n)}", line_in(amount, unit, item, note, out.country)))
    if now is not None:
        yield now


class _Blocks:
    """A tab being read, with one recipe or several under one another: name, yield line, lines, method."""

    def __init__(self, sheet: SourceSheet, out: Outcome) -> None:
        self.sheet = sheet
        self.country = out.country
        self.found: list[Written] = []
        self.now: Written | None = None
        self.columns: dict[str, int] = {}
        self.title = ""
        self.in_method = False

    def take(self, n: int) -> None:
        row = self.sheet.rows[n]
        cells = [cell for cell in row if cell]
        text = " ".join(cells)
        now = self.now
        heading = columns_of(row, roles_of("recipes"), {}, ("item",))
        if len(cells) > 1 < len(heading) and "item" in heading and not any(c[:1].isdigit() for c in cells):
            self.columns, self.in_method = heading, False
        elif now is not None and (keeps := _KEEPS.match(text)):
            number, unit = int(keeps[1]), keeps[2][0].lower()
            now.keeps = f"{7 * number} d" if unit == "w" else f"{number} {unit}"
        elif found := _YIELD.match(" ".join([*cells[:1], *(c for c in cells[1:] if not _LABEL.match(c))])):
            self._yield(found[1].strip(), n)
        elif (now is None or not now.lines) and (found := _SERVES.match(cells[0] if cells else "")):
            self._yield(found[1], n)
        elif method := _METHOD.match(text):
            self.in_method = True
            if now is not None and method[1]:
                now.method.append(method[1])
        elif now is not None and self._is_step(now, text, n):
            self.in_method = True
            now.method.append(text)
        elif self._is_title(cells, text):
            self._title(text, n)
        else:
            self._line(row, cells, n)

    def _begin(self, name: str, n: int) -> Written:
        where = f"{self.sheet.title} row {self.sheet.line(n)}".strip()
        self.now = Written(name, where)
        self.found.append(self.now)
        self.in_method = False
        return self.now

    def _yield(self, makes: str, n: int) -> None:
        now = self.now
        if now is None or now.lines:
            now = self._begin(self.title or self.sheet.title, n)
        now.makes = makes

    def _is_step(self, now: Written, text: str, n: int) -> bool:
        sheet = self.sheet
        is_new = sheet.line(n) > sheet.line(n - 1) + 1 and any(
            _YIELD.match(" ".join(c for c in row if c)) for row in sheet.rows[n + 1 : n + 3]
        )
        return bool(now.lines and (self.in_method or _STEP.match(text)) and not is_new)

    def _is_title(self, cells: Sequence[str], text: str) -> bool:
        is_between = self.now is None or bool(self.now.lines) or not self.columns
        said = line_in("", "", text)
        return len(cells) == 1 and is_between and said.quantity is None and not said.is_by_feel

    def _title(self, text: str, n: int) -> None:
        label = _LABEL.match(text)
        if label is not None and not (label[1] and text.lower().startswith(("recipe", "name", "title"))):
            return
        self.title = label[1] if label is not None else text
        self._begin(self.title, n)

    def _line(self, row: Sequence[str], cells: Sequence[str], n: int) -> None:
        now = self.now or self._begin(self.title or self.sheet.title, n)
        item = _cell(row, self.columns, "item")
        if item:
            amount, unit, note = (_cell(row, self.columns, role) for role in ("amount", "unit", "note"))
            said = line_in(amount, unit, item, note, self.country)
        else:
            said = line_in("", "", " ".join(cells), "", self.country)
        if said.name and not _LABEL.fullmatch(said.name):
            now.lines.append((f"{self.sheet.title} row {self.sheet.line(n)}".strip(), said))


def _blocks(sheet: SourceSheet, out: Outcome) -> list[Written]:
    blocks = _Blocks(sheet, out)
    for n in range(len(sheet.rows)):
        blocks.take(n)
    return [one for one in blocks.found if one.lines]
