"""Which service a sale or a booking belongs to: by its meal period, by the clock, or as the only one."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Mapping, Sequence
from datetime import date, timedelta
from typing import Any

from ordering.days import WEEKDAYS
from ordering.intake.goods_match import LIKELY, likeness
from ordering.intake.goods_names import tokens
from ordering.intake.outcome import Outcome, Question

NIGHT = 4 * 60  # what is rung up before 4 a.m. belongs to the evening before
_USUAL = {"breakfast": 420, "brunch": 600, "lunch": 660, "tea": 870, "dinner": 990, "late": 1320}  # minutes
_SAME = {
    "supper": "dinner",
    "evening": "dinner",
    "pm": "dinner",
    "midday": "lunch",
    "noon": "lunch",
    "am": "breakfast",
}


class Services:
    """The services of the house, and how this file's times and names are read as them."""

    def __init__(self, out: Outcome) -> None:
        self.out = out
        house = out.house.entries("house")
        written = house.get("services") or {}
        self.days = {str(key): _weekdays(one) for key, one in written.items()}
        self.names = {str(k).lower(): str(v) for k, v in (house.get("service_names") or {}).items()}
        self.starts = self._starts()
        self.by_clock: Counter[str] = Counter()
        self.by_name: dict[str, str] = {}

    def _starts(self) -> Mapping[str, int]:
        """When each service begins, in minutes: as answered, else as usual for its name."""
        found = {}
        for key in self.days:
            words = [_SAME.get(w, w) for w in tokens(key.replace("-", " "))]
            usual = next((_USUAL[w] for w in words if w in _USUAL), None)
            answer = self.out.asker.known.get(f"{key} begins", "")
            hour, _, minute = answer.partition(":")
            found[key] = int(hour) * 60 + int(minute or 0) if hour.isdigit() else usual
        return {key: start for key, start in found.items() if start is not None}

    def of(self, day: date, moment: int | None, name: str, is_business: bool = False) -> tuple[str, date]:
        """(service, the day it is of); no service where neither name nor clock tells.

        After midnight it is still the day before, unless the date is that of the business already.
        """
        if moment is not None and moment < NIGHT:
            day, moment = day if is_business else day - timedelta(days=1), moment + 24 * 60
        if name and (found := self._named(name, day)):
            return found, day
        open_on = [key for key, days in self.days.items() if day.weekday() in days]
        if len(open_on) == 1:
            return open_on[0], day
        if moment is not None and (key := self.at(moment, open_on)):
            return key, day
        return (self._of_all(open_on) if moment is None and not name else ""), day

    def at(self, moment: int, among: Sequence[str] = ()) -> str:
        """The service that has begun last at that minute; empty where nothing says when they begin."""
        timed = sorted((k for k in among or self.days if k in self.starts), key=lambda key: self.starts[key])
        begun = [key for key in timed if self.starts[key] <= moment]
        key = begun[-1] if begun else timed[0] if timed else ""
        self.by_clock[key] += bool(key)
        return key

    def _of_all(self, open_on: Sequence[str]) -> str:
        """The one service that a file without times or meal periods is of, as somebody says."""
        if not self.days:
            return ""
        text = "The file names neither service nor time where several are open: which service is it of?"
        most = max(self.days, key=lambda key: len(self.days[key]))
        answer = self.out.asker.settle(Question("service of all", text, tuple(self.days), most))
        return answer if answer in open_on or not open_on else ""

    def _named(self, name: str, day: date) -> str:
        """The service a meal period stands for; of several (lunch, sunday lunch) the one open that day."""
        low = name.lower().strip()
        if (cached := self.by_name.get(low)) is not None:
            key = cached
        else:
            key = self.by_name[low] = self._placed(name, low)
        if key and day.weekday() not in self.days.get(key, ()):
            longer = [k for k, days in self.days.items() if k.endswith(key) and day.weekday() in days]
            return longer[0] if len(longer) == 1 else key
        return key

    def called(self, text: str) -> str:
        """The service that a text is the whole name of; empty for any other text."""
        low = " ".join(text.lower().strip(" :-").split())
        plain = "-".join(_SAME.get(word, word) for word in low.split())
        key = low.replace(" ", "-")
        return self.names.get(low) or (key if key in self.days else plain if plain in self.days else "")

    def of_tab(self, title: str) -> str:
        """The one service that a tab or a report is named after; empty where it names none or several."""
        own = {key for word in re.findall(r"[^\W\d_]+", title) if (key := self.called(word))}
        return self.called(title) or (own.pop() if len(own) == 1 else "")

    def named(self, text: str) -> str:
        """The service that a line of a report is the name of; empty for any other line."""
        plain = " ".join(_SAME.get(word, word) for word in text.lower().strip(" :-").split())
        alike = (key for key in self.days if likeness(plain, key.replace("-", " ")) >= LIKELY)
        return self.called(text) or next(alike, "")

    def _placed(self, name: str, low: str) -> str:
        if known := self.names.get(low) or (self.named(low) if low.replace(" ", "-") in self.days else ""):
            return known
        plain = " ".join(_SAME.get(word, word) for word in low.split())
        scored = sorted(((likeness(plain, key.replace("-", " ")), key) for key in self.days), reverse=True)
        best = scored[0][1] if scored and scored[0][0] >= LIKELY else ""
        if len(self.days) == 1 and not best:
            best = next(iter(self.days))
        if best and low in best:
            return best
        text = f"The file's meal period '{name}': which service is that?"
        return self.out.asker.settle(Question(f"service {low}", text, tuple(self.days), best))

    def told(self) -> list[str]:
        """Which meal periods and times of the file were taken for which service."""
        lines = [f"'{name}' is {key}" for name, key in self.by_name.items() if key and key != name]
        if self.by_clock:
            by_start = sorted(self.starts.items(), key=lambda one: one[1])
            begins = ", ".join(f"{key} from {start // 60}:{start % 60:02}" for key, start in by_start)
            lines.append(
                f"by the clock: {begins} (else sources: {{{self.out.name}: {{SERVICE begins: 17:00}}}})"
            )
        return lines


def _weekdays(written: Any) -> set[int]:
    days = written.get("days") if isinstance(written, Mapping) else written
    listed = [days] if isinstance(days, str) else list(days or [])
    return {WEEKDAYS.index(str(one).lower()[:3]) for one in listed if str(one).lower()[:3] in WEEKDAYS}
