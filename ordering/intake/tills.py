"""Which till an export is of: in the books several tills add up, and none is in them twice."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Mapping, Set
from dataclasses import dataclass, field
from pathlib import Path

from ordering.amounts import plural
from ordering.intake.bookfiles import book_rows
from ordering.intake.goods_names import kind_words
from ordering.intake.outcome import Outcome, Question, money
from ordering.intake.sheets import SourceSheet

Slot = tuple[str, str]
Sold = Mapping[tuple[str, str, str], float]
Days = Mapping[str, Mapping[str, float]]

SALES = ("date", "service", "dish", "sold", "till")
SAME, ANOTHER, UNNAMED = "the same till", "another till", "the till without a name"
ALIKE = 0.5


@dataclass(slots=True)
class Export:
    """What one sheet sold by (day, service, dish), its guests by (day, service), its check numbers by day."""

    sheet: SourceSheet
    sold: Sold
    covers: Mapping[Slot, float]
    checks: Mapping[str, Set[str]]

    @property
    def name(self) -> str:
        """What the file calls its till: the words of its name that are its own; often there are none."""
        for text in (Path(self.sheet.place).stem, self.sheet.title):
            words = re.findall(r"[^\W\d_]{2,}", text.lower())
            if own := [word for word in words if word not in kind_words("export")]:
                return " ".join(own)[:40]
        return ""


@dataclass(slots=True)
class Tills:
    """What each till sold by day and dish, in the books and in the exports taken so far.

    `sold`, `covers` and `checks` are of the exports alone, by till.
    """

    out: Outcome
    days: dict[str, dict[str, dict[str, float]]] = field(default_factory=dict)
    sold: dict[str, dict[tuple[str, str, str], float]] = field(default_factory=lambda: defaultdict(dict))
    covers: dict[str, dict[Slot, float]] = field(default_factory=lambda: defaultdict(dict))
    checks: dict[str, dict[str, set[str]]] = field(default_factory=lambda: defaultdict(dict))

    @classmethod
    def in_books(cls, out: Outcome) -> Tills:
        """The tills that the sales book knows."""
        heading, rows = book_rows(out.books, "sales", SALES)
        at = [heading.index(column) if column in heading else -1 for column in SALES]
        found: dict[str, dict[tuple[str, str, str], float]] = defaultdict(dict)
        for row in rows:
            day, service, dish, amount, till = (row[n] if n >= 0 else "" for n in at)
            found[till][day, service, dish] = float(money(amount) or 0)
        return cls(out, {till: _by_day(sold) for till, sold in found.items()})

    def take(self, export: Export) -> None:
        """Lay an export over the days of its till; of a day in two exports the fuller is taken."""
        days = _by_day(export.sold)
        if not days:
            return
        till = self._till_of(export, days)
        here = _by_day(self.sold[till])
        twice = days.keys() & here.keys()
        less = {day for day in twice if sum(days[day].values()) <= sum(here[day].values())}
        if twice:
            self.out.told.append(
                f"{plural(len(twice), 'day is', 'days are')} in two files: the fuller one is taken"
            )
        self._without(till, twice - less)
        self.sold[till] |= {key: n for key, n in export.sold.items() if key[0] not in less}
        self.covers[till] |= {key: n for key, n in export.covers.items() if key[0] not in less}
        for day, numbers in export.checks.items():
            self.checks[till].setdefault(day, set()).update(numbers)
        self.days.setdefault(till, {}).update({d: dict(v) for d, v in days.items() if d not in less})

    def _without(self, till: str, days: Set[str]) -> None:
        self.sold[till] = {key: n for key, n in self.sold[till].items() if key[0] not in days}
        self.covers[till] = {key: n for key, n in self.covers[till].items() if key[0] not in days}

    def _till_of(self, export: Export, days: Days) -> str:
        """The till whose sales these are: by its checks, its days, its name, or as somebody says."""
        both = {till: days.keys() & theirs.keys() for till, theirs in self.days.items()}
        both = {till: shared for till, shared in both.items() if shared}
        for till, shared in list(both.items()):
            told = [(export.checks.get(day), self.checks[till].get(day)) for day in shared]
            if any(a & b for a, b in told if a and b):
                return till
            if all(a and b for a, b in told):
                del both[till]  # other checks on the same days: it is another
        name, known = export.name, self.out.asker.known
        key = f"till {name}" if name else f"till from {min(days)}"
        if not both:
            till = _meant(known.get(key, name))
            return till if till not in self._busy(days) else self._free(name)
        if name and key in known:
            return _meant(known[key])
        same = {till: _likeness(days, self.days[till], shared) for till, shared in both.items()}
        best = max(same, key=lambda till: (same[till], till == name))
        if same[best] == 1 or (not name and same[best] >= ALIKE):
            return best
        if (name and name in both) or (not name and _is_fuller(days, self.days[best], both[best])):
            return name or best
        return self._asked(export, key, both, best if same[best] >= ALIKE else None)

    def _asked(self, export: Export, key: str, both: Mapping[str, Set[str]], best: str | None) -> str:
        labels = {till or (SAME if len(both) == 1 else UNNAMED): till for till in both}
        n = plural(len(set().union(*both.values())), "of its days is", "of its days are")
        file = Path(export.sheet.place).name
        text = f"{file}: {n} in the books with other sales. The same till corrected, or another till?"
        likely = next((label for label, till in labels.items() if till == best), ANOTHER)
        asker = self.out.asker
        answer = asker.settle(Question(key, text, (*labels, ANOTHER), likely))
        till = self._free(export.name) if answer == ANOTHER else labels.get(answer, _meant(answer))
        for answers in (asker.given, asker.guessed):  # by its name, for next week's export
            if answers.get(key) == ANOTHER:
                answers[key] = till
        if answer == ANOTHER:
            self.out.told.append(f"{file} is another till ('{till}' in the books): its sales are added")
        return till

    def _busy(self, days: Days) -> set[str]:
        return {till for till, theirs in self.days.items() if days.keys() & theirs.keys()}

    def _free(self, name: str) -> str:
        """The name itself where no till has it, else with the next number."""
        names = [name, *(f"{name} {n}".strip() for n in range(2, 100))]
        return next(one for one in names if one and one not in self.days)


def _meant(answer: str) -> str:
    return "" if answer in (SAME, UNNAMED) else answer


def _by_day(sold: Sold) -> dict[str, dict[str, float]]:
    """Portions by day and dish, whatever the service: its hours may have been corrected since."""
    found: dict[str, dict[str, float]] = defaultdict(lambda: defaultdict(float))
    for (day, _, dish), amount in sold.items():
        if amount > 0:
            found[day][dish] += amount
    return {day: dict(dishes) for day, dishes in found.items()}


def _likeness(days: Days, theirs: Days, shared: Set[str]) -> float:
    """The share of dishes sold as often on the days in both: 1 where all are, 0.5 where half of them are.

    Of names given to other dishes since, some are in one of the two only: the shorter counts.
    """
    if all(days[day] == theirs[day] for day in shared):
        return 1.0
    alike = sum(theirs[day].get(dish) == n for day in shared for dish, n in days[day].items())
    rows = min(sum(len(one[day]) for day in shared) for one in (days, theirs))
    return min(alike / rows, 0.99) if rows else 0.0


def _is_fuller(days: Days, theirs: Days, shared: Set[str]) -> bool:
    """Whether one day alone is in both, and was cut short in the books."""
    if len(shared) > 1:
        return False
    (day,) = shared
    return all(days[day].get(dish, 0.0) >= n for dish, n in theirs[day].items())
