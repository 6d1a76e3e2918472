"""Recipes on cards, one under another: each with its name, what it makes, its lines and its method.

What a row is, is told from what stands in it and from what follows: a name is a text that a yield, a heading
or lines come after.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

from ordering.intake.card_words import (
    KEPT,
    NUMBERED,
    PART,
    STEP,
    is_sentence,
    labelled,
    name_and_yield,
    scale,
)
from ordering.intake.column_roles import columns_of
from ordering.intake.headings import roles_of
from ordering.intake.recipe_lines import Said, line_in, listed, of_number, quantity_in, said_in, with_yield
from ordering.intake.recipe_tables import Written, unit_of_heading
from ordering.intake.sheets import SourceSheet
from ordering.units import kind_of

_HOW_MUCH = re.compile(r"(?:quantity|qty|amount|size|batch)\W*", re.IGNORECASE)
_BATCH = ("mass", "volume", "portion")


def cards_in(sheet: SourceSheet, country: str, usual: str, has_heads: bool) -> list[Written]:
    """Every recipe of a sheet that has lines; `usual` is the unit of numbers alone.

    With `has_heads` what stands first below an empty row is a name with its yield: `Romesco | 2 qt`.
    """
    cards = _Cards(sheet, country, usual, has_heads)
    for n in range(len(sheet.rows)):
        cards.take(n)
    return [one for one in cards.found if one.lines]


class _Cards:
    """A sheet while it is read from top to bottom."""

    def __init__(self, sheet: SourceSheet, country: str, usual: str, has_heads: bool) -> None:
        self.sheet = sheet
        self.country = country
        self.has_heads = has_heads
        self.found: list[Written] = []
        self.now: Written | None = None
        self.columns: dict[str, int] = {}
        self.stated = self.usual = usual
        self.amount_head = ""
        self.in_method = False
        self.is_done = False  # what it makes stood below its lines
        self.has_yields = any(self._makes_of([c for c in row if c]) for row in sheet.rows)

    def take(self, n: int) -> None:
        """One row: a heading, labels, a yield, a name, a step of the method, a part's name, or a line."""
        row = self.sheet.rows[n]
        cells = [cell for cell in row if cell]
        if self._is_heading(row, n):
            return
        pairs = labelled(cells)
        for kind, value in pairs:
            self._label(kind, value, n)
        if pairs:
            return
        if makes := self._bare_yield(cells):
            self._yield(makes, n)
        elif named := self._named_with_yield(row, cells, n):
            self._begin(named[0], n)
            self._yield(named[1], n)
            for kind, value in labelled(cells[1:]):
                self._label(kind, value, n)
        elif self._is_name(cells, n):
            self._begin(cells[0], n)
        elif not (self._is_step(cells) or self._is_part(row, cells, n)):
            self._line(row, cells, n)

    def _heading(self, row: Sequence[str]) -> dict[str, int]:
        """The columns that a row names; none for a row that is no heading."""
        columns, _ = columns_of(row, roles_of("recipes"), {}, ("item",))
        scales = [at for at, cell in enumerate(row) if at != columns.get("item") and scale(cell)]
        if scales and "amount" not in columns:
            columns["amount"] = scales[0]
        n_cells = sum(map(bool, row))
        is_worded = not any(c[:1].isdigit() for at, c in enumerate(row) if c and at not in scales)
        return columns if n_cells > 1 < len(columns) and "item" in columns and is_worded else {}

    def _is_heading(self, row: Sequence[str], n: int) -> bool:
        """Whether a row names the columns below it; amounts may be said to be for so many portions."""
        columns = self._heading(row)
        if columns:
            self.columns, self.in_method = columns, False
            amount = self.amount_head = row[columns["amount"]] if "amount" in columns else ""
            self.usual = unit_of_heading(amount) or ("" if "unit" in columns else self.stated)
            if makes := scale(amount):
                self._yield(makes, n)
        return bool(columns)

    def _label(self, kind: str, value: str, n: int) -> None:
        """What a label says of the recipe."""
        if kind == "name" and value:
            self._begin(value, n)
        elif kind == "makes" and value:
            self._yield(value, n)
        elif kind == "keeps" and self.now is not None and (kept := KEPT.match(value)):
            number, unit = int(kept[1]), kept[2][0].lower()
            self.now.keeps = f"{7 * number} d" if unit == "w" else f"{number} {unit}"
        elif kind == "method":
            self.in_method = True
            if value and self.now is not None:
                self.now.method.append(value)
        elif kind == "lines":
            self.in_method = False
            if value and self.now is not None:
                self._listed(value, n)

    def _makes_of(self, cells: Sequence[str]) -> str:
        """What a row of labels, or one that says how many it serves, says of a yield; else empty."""
        return (scale(cells[0]) if cells else "") or self._labelled_yield(cells)

    def _labelled_yield(self, cells: Sequence[str]) -> str:
        return next((value for kind, value in labelled(cells) if kind == "makes"), "")

    def _bare_yield(self, cells: Sequence[str]) -> str:
        """`24 portions`, or `6 qt` under a name, alone or with labels beside it."""
        now = self.now
        is_pair = len(cells) == 2 and _HOW_MUCH.fullmatch(cells[0]) is not None
        if not cells or (len(cells) > 1 and not labelled(cells[1:]) and not is_pair):
            return ""
        if (serves := scale(cells[0])) and (now is None or not now.lines or not now.makes):
            return serves
        if now is None or now.lines or now.makes:
            return ""
        if is_pair:
            said = re.fullmatch(r"(?i)(?:for )?(\d.*)", cells[1])
            return said[1] if said else ""
        quantity, rest = quantity_in(cells[0], self.country)
        return cells[0] if quantity is not None and not rest else ""

    def _named_with_yield(self, row: Sequence[str], cells: Sequence[str], n: int) -> tuple[str, str] | None:
        """(name, yield) of a row with both: `Paste | Makes 1.2 kg`, `Paste (1.2 kg)`; else None."""
        name = cells[0] if cells else ""
        if not name or quantity_in(name, self.country)[0] is not None:
            return None
        makes = self._cell(row, "yield")
        if makes and not self._cell(row, "amount"):
            return name, makes
        if len(cells) > 1:  # among lines a number of portions is how much a line takes
            is_free = len(cells) > 2 or self.now is None or self._is_apart(n) or self._leads(n)
            makes = (scale(cells[1]) if is_free else "") or self._labelled_yield(cells[1:])
            if makes:
                return name, makes
        if self.has_heads and self._is_apart(n):
            said = said_in(cells, self.country)
            is_batch = said.quantity is not None and kind_of(said.quantity.unit) in _BATCH and not said.note
            return (said.name, str(said.quantity)) if is_batch else None
        if len(cells) > 1:
            return None
        return None if self._says_yield_below(n) else name_and_yield(name, self._is_apart(n))

    def _says_yield_below(self, n: int) -> bool:
        """Whether a label below a name says what it makes: then brackets behind the name are of it."""
        below = ([cell for cell in row if cell] for row in self.sheet.rows[n + 1 : n + 3])
        return any(kind == "makes" and value for cells in below for kind, value in labelled(cells))

    def _is_apart(self, n: int) -> bool:
        """Whether a row begins the sheet or stands below an empty one."""
        return n == 0 or self.sheet.line(n) > self.sheet.line(n - 1) + 1

    def _leads(self, n: int) -> bool:
        """Whether a yield, labels or a heading follow within the next rows, before any line."""
        for at, row in enumerate(self.sheet.rows[n + 1 : n + 4], n + 1):
            cells = [cell for cell in row if cell]
            kinds = {kind for kind, _ in labelled(cells)}
            if "name" in kinds:
                return False
            if kinds & {"makes", "lines", "keeps", "part"} or self._heading(row) or scale(cells[0]):
                return True
            quantity, rest = quantity_in(cells[0], self.country)
            if quantity is not None and not rest and len(cells) == 1:
                return True
            if len(cells) > 1 or quantity is not None or self._is_apart(at) or is_sentence(cells[0]):
                return False
        return False

    def _is_name(self, cells: Sequence[str], n: int) -> bool:
        """Whether a text is the name of the next recipe."""
        text, now = cells[0] if cells else "", self.now
        said = line_in("", "", NUMBERED.sub("", " ".join(cells)))
        if said.quantity is not None or said.is_by_feel or is_sentence(text) or len(text) > 80:
            return False
        if self._leads(n) and (len(cells) == 1 or self._is_apart(n)):
            return not (now and now.lines and self.in_method and STEP.match(text) and not self._is_apart(n))
        if len(cells) > 1:
            return False
        if now is None or self.is_done:
            return True
        if self.in_method:
            return self._is_apart(n) and self._is_line_next(n)
        if now.lines:
            is_marked = bool(PART.fullmatch(text)) or (text.isupper() and not now.name.isupper())
            return not self.has_yields and not (is_marked or self._is_off_column(text, n))
        return not self.columns and not now.makes

    def _is_line_next(self, n: int) -> bool:
        """Whether the next row is a line with an amount, and no step."""
        if n + 1 >= len(self.sheet.rows):
            return False
        text = " ".join(c for c in self.sheet.rows[n + 1] if c)
        return line_in("", "", text).quantity is not None and not STEP.match(text) and not is_sentence(text)

    def _is_off_column(self, text: str, n: int) -> bool:
        at = self.columns.get("item")
        return at is not None and self.sheet.rows[n].index(text) != at

    def _is_step(self, cells: Sequence[str]) -> bool:
        """Whether a row is of the method: below its heading, numbered, or a sentence below the lines."""
        text, now = " ".join(cells), self.now
        is_below = now is not None and bool(now.lines)
        is_step = is_below and (bool(STEP.match(text)) or (len(cells) == 1 and is_sentence(text)))
        self.in_method = self.in_method or is_step
        if self.in_method and now is not None:
            now.method.append(text)
        return self.in_method

    def _is_part(self, row: Sequence[str], cells: Sequence[str], n: int) -> bool:
        """Whether a text names a part of the recipe (`For the custard`), or stands above its name."""
        text = cells[0] if cells else ""
        below = [cell for next_row in self.sheet.rows[n + 1 : n + 2] for cell in next_row if cell]
        if self.now is None and any(kind == "name" for kind, _ in labelled(below)):
            return True
        said = line_in("", "", text)
        if len(cells) != 1 or said.quantity is not None or said.is_by_feel or len(listed(text)) > 1:
            return False
        is_marked = bool(PART.fullmatch(text)) or text.isupper() or self._is_off_column(text, n)
        return is_marked or (self.now is not None and bool(self.now.makes))

    def _begin(self, name: str, n: int) -> None:
        where = f"{self.sheet.title} row {self.sheet.line(n)}".strip()
        self.now = Written(NUMBERED.sub("", name).strip(), where)
        self.found.append(self.now)
        self.in_method = self.is_done = False

    def _yield(self, makes: str, n: int) -> None:
        if self.now is None or (self.now.lines and self.now.makes):
            self._begin(self.now.name if self.now else self.sheet.title, n)
        assert self.now is not None
        self.is_done = bool(self.now.lines)
        self.now.makes = self.now.makes or makes

    def _line(self, row: Sequence[str], cells: Sequence[str], n: int) -> None:
        item = self._cell(row, "item")
        if item and len(listed(item)) == 1:
            amount, unit, note = (self._cell(row, role) for role in ("amount", "unit", "note"))
            said = line_in(amount, unit or of_number(amount, self.usual), item, note, self.country)
            self._say(with_yield(said, self._cell(row, "yield_percent"), self.amount_head), n)
        elif len(cells) == 1:
            self._listed(cells[0], n)
        else:
            self._say(said_in(cells, self.country, self.usual), n)

    def _listed(self, text: str, n: int) -> None:
        for one in listed(text):
            self._say(line_in("", "", one, "", self.country), n)

    def _say(self, said: Said, n: int) -> None:
        if self.now is None:
            if said.quantity is None and n + 1 < len(self.sheet.rows) and self._is_apart(n + 1):
                return  # a title over all recipes
            self._begin(self.sheet.title, n)
        assert self.now is not None
        if said.name and not re.match(r"(?i)(?:sub)?totals?\b", said.name):
            self.now.lines.append((f"{self.sheet.title} row {self.sheet.line(n)}".strip(), said))

    def _cell(self, row: Sequence[str], role: str) -> str:
        at = self.columns.get(role)
        return row[at] if at is not None and at < len(row) else ""
