"""What one import understood, asks and would change, gathered until everything can be said at once.

What only a person knows is asked once and kept under `sources` in `house.yaml`.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from pathlib import Path

from ordering.intake.housefiles import HouseFiles

_MONEY = re.compile(r"-?\d[\d.,' ]*\d|-?\d|-?\.\d+", re.ASCII)


@dataclass(frozen=True, slots=True)
class Question:
    """`key` is what the answer is kept under; `best` is the likeliest answer, empty where there is none.

    Without `choices` any text is an answer. `said` is what was understood so far, to be read before it.
    """

    key: str
    text: str
    choices: tuple[str, ...] = ()
    best: str = ""
    said: tuple[str, ...] = ()


Ask = Callable[[Question], str]


@dataclass(slots=True)
class Asker:
    """Answers known, answers given now, and what is still open.

    `ask` speaks to a person, None where nobody is there; with `is_yes` the best answer is taken instead and
    noted as a guess; `marked` are the guesses that carry their mark where they are used.
    """

    known: Mapping[str, str]
    ask: Ask | None = None
    is_yes: bool = False
    given: dict[str, str] = field(default_factory=dict)
    guessed: dict[str, str] = field(default_factory=dict)
    open: list[Question] = field(default_factory=list)
    asked: set[str] = field(default_factory=set)
    marked: set[str] = field(default_factory=set)

    def settle(self, question: Question) -> str:
        """The answer; where nobody gives one the best reading, and empty where there is none."""
        key = question.key
        if (kept := self.answer_to(key)) is not None:
            return kept
        if self.is_yes and question.best:
            self.guessed[key] = question.best
            return question.best
        if self.ask is not None and not self.is_yes:
            if answer := self.ask(question).strip() or question.best:
                self.given[key] = answer
                self.asked.add(key)
            return answer
        if all(one.key != key for one in self.open):
            self.open.append(question)
        return question.best

    def answer_to(self, key: str) -> str | None:
        """What was answered to a question, now or before; None where it was not asked."""
        return next((a[key] for a in (self.given, self.guessed, self.known) if key in a), None)

    def is_guess(self, key: str) -> bool:
        """Whether nobody has answered a question, so that its best reading is taken."""
        return key in self.guessed or any(one.key == key for one in self.open)


@dataclass(slots=True)
class Outcome:
    """What an import came to.

    `told` is what was understood, `left` what was left out, `written` the books to write by name, `counted`
    the rows of a count.
    """

    house: HouseFiles
    asker: Asker
    books: Path
    on: date
    name: str
    vendor: str = ""
    told: list[str] = field(default_factory=list)
    left: list[str] = field(default_factory=list)
    written: dict[str, str] = field(default_factory=dict)
    counted: Sequence[tuple[str, ...]] = ()

    @property
    def country(self) -> str:
        """The house's country: that of its holidays, else as its currency tells; empty where neither does."""
        doc = self.house.entries("house")
        named = str((doc.get("holidays") or {}).get("country") or "")
        return named or {"USD": "US", "GBP": "GB"}.get(str(doc.get("currency", "")), "")

    def known(self, *stems: str) -> dict[str, list[str]]:
        """Ids of some files with the names they go by, and the names answered to mean them."""
        found: dict[str, list[str]] = {}
        for stem in stems:
            for key, entry in self.house.entries(stem).items():
                name = entry.get("name") if isinstance(entry, Mapping) else None
                found[str(key)] = [str(name)] if name else []
        return found


def money(text: str) -> Decimal | None:
    """`$1,234.50`, `22,45 EUR`, `(3.50)` as a number; None where none is written."""
    match = _MONEY.search(text)
    if match is None:
        return None
    digits = match[0].replace(" ", "").replace("'", "")
    if re.fullmatch(r"-?\d{1,3}(?:\.\d{3})+,\d+|-?\d+,\d{1,2}", digits):
        digits = digits.replace(".", "").replace(",", ".")
    digits = digits.replace(",", "")
    if digits.count(".") > 1:
        return None
    amount = Decimal(digits)
    return -amount if text.strip().startswith(("(", "-$", "-£", "-€", "$-")) and amount > 0 else amount


def in_money(amount: Decimal) -> str:
    """A price as people write it: 38.40, and what a workbook holds as 38.4 too."""
    return f"{amount:.2f}" if amount.as_tuple().exponent == -1 else str(amount)


def some(items: Sequence[str], most: int = 8) -> list[str]:
    """The first of a list, and how many more there are."""
    return [*items[:most], *([f"and {len(items) - most} more"] if len(items) > most else [])]


def free_id(wanted: str, *taken: Mapping[str, object]) -> str:
    """The id itself, or with the first number that makes it new."""
    names = [wanted, *(f"{wanted[:57]}-{n}" for n in range(2, 100))]
    return next(name for name in names if not any(name in one for one in taken))


def titled(text: str) -> str:
    """`ONION YELLOW JUMBO` as `Onion yellow jumbo`; what has small letters stays."""
    clean = " ".join(text.split())[:200]
    return clean.capitalize() if clean.upper() == clean else clean
