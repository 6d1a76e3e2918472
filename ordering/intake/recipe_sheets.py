"""Recipes in a workbook: a tab each, one long table, or one under another; with yield line and method."""

from __future__ import annotations

import re
from collections.abc import Sequence

from ordering.intake.column_roles import columns_of
from ordering.intake.headings import asked_table, find_table, roles_of, with_column
from ordering.intake.outcome import Outcome
from ordering.intake.recipe_lines import line_in, quantity_in
from ordering.intake.recipe_tables import (
    Written,
    has_bare_items,
    long_table,
    of_number,
    repeats_names,
    unit_of_heading,
)
from ordering.intake.sheets import SourceSheet

_YIELD = re.compile(
    r"^\W*(?:recipe\s+)?(?:makes|yields?|serves|batch(?: size)?|portions|ergibt|pour)\b\s*[:=-]?\s*(.*)$",
    re.IGNORECASE,
)
_YIELD_IN_NAME = re.compile(r"([^(]+?)\s*\((?:makes|yields?|serves)\s*:?\s*([^)]+)\)", re.IGNORECASE)
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


def recipes_in(sheets: Sequence[SourceSheet], out: Outcome) -> list[Written]:
    """Every recipe of every sheet that has lines."""
    found: list[Written] = []
    n_tabs = 0
    for sheet in sheets:
        if _is_contents(sheet, sheets):
            continue
        table = find_table(sheet, roles_of("recipes"), ("recipe", "item"), out.asker)
        if table is None and repeats_names(sheet):
            table = asked_table(sheet, "recipes", ("recipe", "item"), out.asker)
        if table is not None:
            table = with_column(table, "amount", out.asker) if has_bare_items(table) else table
            out.told += table.how
            found += long_table(table, out)
        else:
            before = len(found)
            found += _blocks(sheet, out)
            n_tabs += len(found) > before
    if n_tabs:
        which = "it holds" if len(sheets) == 1 else f"{n_tabs} of {len(sheets)} sheets hold"
        out.told.append(f"{which} recipes: name, yield line, lines, method")
    return [one for one in found if one.lines]


def _is_contents(sheet: SourceSheet, sheets: Sequence[SourceSheet]) -> bool:
    """Whether a tab lists the others: most of its rows hold the title of one."""
    titles = {one.title.lower() for one in sheets if one is not sheet}
    named = sum(any(cell[:31].lower() in titles for cell in row if cell) for row in sheet.rows)
    return len(titles) > 1 and named > len(sheet.rows) / 2


def _cell(row: Sequence[str], columns: dict[str, int], role: str) -> str:
    at = columns.get(role)
    return row[at] if at is not None and at < len(row) else ""


class _Blocks:
    """A tab being read, with one recipe or several under one another: name, yield line, lines, method."""

    def __init__(self, sheet: SourceSheet, out: Outcome) -> None:
        self.sheet = sheet
        self.country = out.country
        self.found: list[Written] = []
        self.now: Written | None = None
        self.columns: dict[str, int] = {}
        self.title = ""
        self.usual = ""
        self.in_method = False

    def take(self, n: int) -> None:
        """One row: a heading, what the recipe makes, its method, a part's name, a title, or a line."""
        row = self.sheet.rows[n]
        cells = [cell for cell in row if cell]
        text = " ".join(cells)
        heading, _ = columns_of(row, roles_of("recipes"), {}, ("item",))
        if len(cells) > 1 < len(heading) and "item" in heading and not any(c[:1].isdigit() for c in cells):
            self.columns, self.in_method = heading, False
            self.usual = unit_of_heading(row[heading["amount"]]) if "amount" in heading else ""
        elif (makes := self._makes(cells)) is not None:
            self._yield(makes, n)
        elif makes := self._named_with_yield(cells):
            inner = _YIELD_IN_NAME.fullmatch(cells[0])
            self._title(inner[1] if inner else cells[0], n)
            self._yield(makes, n)
        elif (
            self._is_labelled(cells, n)
            or self._is_kept(text)
            or self._is_method(text, n)
            or self._is_section(row, cells, n)
        ):
            pass
        elif self._is_title(cells, text):
            self._title(text, n)
        else:
            self._line(row, cells, n)

    def _makes(self, cells: Sequence[str]) -> str | None:
        """What a yield line says; `24 portions` or `6 qt` alone are one between a name and its lines."""
        said = " ".join([*cells[:1], *(c for c in cells[1:] if not _LABEL.match(c))])
        if found := _YIELD.match(said):
            return found[1].strip()
        if self.now is None or not self.now.lines:
            if cells and (found := _SERVES.match(cells[0])):
                return found[1]
            if self.now is not None and not self.now.makes and self._is_bare_yield(cells):
                return cells[0]
        return None

    def _named_with_yield(self, cells: Sequence[str]) -> str:
        """What a name's own row says it makes: `Massaman paste | Makes 1.2 kg`; empty for no such row."""
        if cells and (inner := _YIELD_IN_NAME.fullmatch(cells[0])):
            return inner[2].strip()
        if len(cells) < 2 or line_in("", "", cells[0]).quantity is not None:
            return ""
        found = next((m for cell in cells[1:] if (m := _YIELD.match(cell) or _SERVES.match(cell))), None)
        return found[1].strip() if found and found[1].strip() else ""

    def _is_labelled(self, cells: Sequence[str], n: int) -> bool:
        """Whether a row is a word with a colon and what it says: `Name: | Cured salmon`."""
        if len(cells) != 2 or not cells[0].endswith(":") or line_in("", "", cells[1]).quantity is not None:
            return False
        if re.match(r"(?i)(?:recipe|name|title|dish)\b", cells[0]):
            self._title(cells[1], n)
        return True

    def _is_kept(self, text: str) -> bool:
        keeps = _KEEPS.match(text)
        if self.now is not None and keeps:
            number, unit = int(keeps[1]), keeps[2][0].lower()
            self.now.keeps = f"{7 * number} d" if unit == "w" else f"{number} {unit}"
        return bool(self.now is not None and keeps)

    def _is_method(self, text: str, n: int) -> bool:
        """Whether a row is of the method: its heading, or a step."""
        method, now = _METHOD.match(text), self.now
        is_step = method is None and now is not None and self._is_step(now, text, n)
        if method is None and not is_step:
            return False
        self.in_method = True
        if now is not None and (step := text if method is None else method[1]):
            now.method.append(step)
        return True

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
        is_new = sheet.line(n) > sheet.line(n - 1) + 1 and self._begins_another(n)
        return bool(now.lines and (self.in_method or _STEP.match(text)) and not is_new)

    def _is_bare_yield(self, cells: Sequence[str]) -> bool:
        """`6 qt` under the name, alone or with a label beside it."""
        quantity, rest = quantity_in(cells[0], self.country) if cells else (None, "")
        return quantity is not None and not rest and all(_LABEL.match(cell) for cell in cells[1:])

    def _is_section(self, row: Sequence[str], cells: Sequence[str], n: int) -> bool:
        """A part of the recipe under a word of its own (`For the custard`): no yield of its own follows it.

        Where the recipe itself has none, a name alone begins the next one.
        """
        now, text = self.now, cells[0] if cells else ""
        if now is None or len(cells) != 1 or self.in_method or not (now.makes or self.columns):
            return False
        said = line_in("", "", text)
        if said.quantity is not None or said.is_by_feel or self._begins_another(n):
            return False
        is_marked = text.endswith(":") or text.isupper() or row.index(text) != self.columns.get("item")
        return (bool(now.makes) and bool(now.lines)) or is_marked

    def _begins_another(self, n: int) -> bool:
        """Whether a yield or a heading stands within the next rows, before any line."""
        for row in self.sheet.rows[n + 1 : n + 4]:
            cells = [cell for cell in row if cell]
            if (
                re.match(r"(?i)ingredients?\W*$", cells[0])
                or _YIELD.match(" ".join(cells))
                or _SERVES.match(cells[0])
                or self._is_bare_yield(cells)
            ):
                return True
            if "item" in columns_of(row, roles_of("recipes"), {}, ("item",))[0] and len(cells) > 1:
                return True
            if len(cells) > 1:
                return False
        return False

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
            said = line_in(amount, unit or of_number(amount, self.usual), item, note, self.country)
        else:
            said = line_in("", "", " ".join(cells), "", self.country)
        if said.name and not _LABEL.fullmatch(said.name):
            now.lines.append((f"{self.sheet.title} row {self.sheet.line(n)}".strip(), said))


def _blocks(sheet: SourceSheet, out: Outcome) -> list[Written]:
    blocks = _Blocks(sheet, out)
    for n in range(len(sheet.rows)):
        blocks.take(n)
    return [one for one in blocks.found if one.lines]
