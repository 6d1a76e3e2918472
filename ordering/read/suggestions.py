"""What a chef may have meant by a date, an amount or a time that is written otherwise: said, never taken."""

from __future__ import annotations

import re
import unicodedata
from datetime import date

from ordering.cautions import ALLERGENS
from ordering.faults import nearest

_WEEKDAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
_MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
_THREE = re.compile(r"([0-9]{1,4})([./ -])([0-9]{1,2})\2([0-9]{1,4})(?:[T ][0-9:.]+Z?)?", re.ASCII)
_DAY_NAMED = re.compile(r"([0-9]{1,2})[. ]+([a-z]{3})[a-z]*[., ]+([0-9]{4})", re.ASCII)
_MONTH_NAMED = re.compile(r"([a-z]{3})[a-z]*[. ]+([0-9]{1,2})[, ]+([0-9]{4})", re.ASCII)
_AMOUNT = re.compile(r"[0-9]{1,9}(\.[0-9]{1,9})?", re.ASCII)
_GROUPED = re.compile(r"[1-9][0-9]{0,2}(,[0-9]{3})+(\.[0-9]{1,9})?", re.ASCII)
_SPACED = re.compile(r"[1-9][0-9]{0,2}([ '\u2019\u00a0\u202f][0-9]{3})+", re.ASCII)
_SIGNS = re.compile(r"^[$€£¥]\s*|\s*[$€£¥]$|^[A-Z]{3}\s+|\s+[A-Z]{3}$")
_CLOCK = re.compile(r"([0-9]{1,2})(?:[:.h]?([0-9]{2}))?\s*(am|pm|h|a\.m\.|p\.m\.)?", re.ASCII)


def dates(text: str) -> tuple[date, ...]:
    """The days that a date in another order may be: `26/11/2026` one, `5/6/2026` two, others none."""
    text = _digits(text.lower().strip())
    if match := _THREE.fullmatch(text):
        first, mark, second, third = match[1], match[2], int(match[3]), match[4]
        if len(first) == 4:
            return _real([(int(first), second, int(third))])
        if len(third) != 4:
            return ()
        year, day, month = int(third), (int(first), second), (second, int(first))
        return _real([(year, *reversed(day))] if mark == "." else [(year, *month), (year, *day)])
    if match := _DAY_NAMED.fullmatch(text):
        return _real([(int(match[3]), _month(match[2]), int(match[1]))])
    if match := _MONTH_NAMED.fullmatch(text):
        return _real([(int(match[3]), _month(match[1]), int(match[2]))])
    return ()


def day_of_week(text: str) -> date | None:
    """A day named in full whose weekday is the right one: `Fri 27 Nov 2026`, `Fri Nov 27 2026`."""
    name, _, rest = text.strip().partition(" ")
    if not rest or name[:3].lower() not in _WEEKDAYS or name[-1:].isdigit():
        return None
    return next((day for day in dates(rest) if day.weekday() == _WEEKDAYS.index(name[:3].lower())), None)


def _month(name: str) -> int:
    return _MONTHS.index(name) + 1 if name in _MONTHS else 0


def _real(parts: list[tuple[int, ...]]) -> tuple[date, ...]:
    """Those of (year, month, day) that there are, once each, in the order given."""
    found: dict[date, None] = {}
    for year, month, day in parts:
        try:
            found[date(year, month, day)] = None
        except ValueError:
            continue
    return tuple(found)


def amount(text: str) -> str:
    """The plain number in `$4.65`, `310 EUR`, `1 500` or `1,500.00`; empty where none is or it is unsure.

    Digits of other scripts and widths are read as ours.
    """
    bare = _SIGNS.sub("", _digits(text.strip())).strip()
    if _SPACED.fullmatch(bare):
        return re.sub(r"[^0-9]", "", bare)
    if _AMOUNT.fullmatch(bare):
        return bare if bare != text.strip() else ""
    is_sure = "." in bare or bare.count(",") > 1
    return bare.replace(",", "") if is_sure and _GROUPED.fullmatch(bare) else ""


def _digits(text: str) -> str:
    return "".join(str(unicodedata.decimal(c)) if c.isdecimal() else c for c in text)


def clock(text: str) -> str:
    """`6pm` as 18:00, `noon` as 12:00, `15.30` as 15:30; empty where it is not a time."""
    word = text.lower().strip()
    if word in ("noon", "midday"):
        return "12:00"
    match = _CLOCK.fullmatch(word)
    if match is None or not (match[2] or match[3]):
        return ""
    hour, minute, half = int(match[1]), int(match[2] or 0), (match[3] or "h")[0]
    if half in "ap" and 1 <= hour <= 12:
        hour = hour % 12 + (12 if half == "p" else 0)
    return f"{hour:02}:{minute:02}" if hour < 24 and minute < 60 else ""


def time_zone(text: str, known: set[str]) -> str:
    """`Chicago` as a question for America/Chicago; empty where no zone is called so."""
    word = text.strip().lower().replace(" ", "_")
    by_city = {zone.rpartition("/")[2].lower(): zone for zone in sorted(known) if "/" in zone}
    zone = by_city.get(word)
    return f"did you mean '{zone}'?" if zone else nearest(text, known)


_EDITED = 0.85
_LABELLED = {
    "shellfish": ("crustaceans", "molluscs"),
    "seafood": ("fish", "crustaceans", "molluscs"),
    "prawns": ("crustaceans",),
    "shrimp": ("crustaceans",),
    "crab": ("crustaceans",),
    "lobster": ("crustaceans",),
    "mollusks": ("molluscs",),
    "tree nuts": ("nuts",),
    "almonds": ("nuts",),
    "groundnuts": ("peanuts",),
    "dairy": ("milk",),
    "lactose": ("milk",),
    "soy": ("soya",),
    "soybeans": ("soya",),
    "sulfites": ("sulphites",),
    "sulphur dioxide": ("sulphites",),
    "celeriac": ("celery",),
    "cereals": ("gluten", "wheat"),
}


def allergen(text: str) -> str:
    """What to write for a word that is no allergen's id; it never leads from one allergen to another.

    Names of the same group are said, all of them where the word covers several; beyond these only a slip
    of the pen in one id is.
    """
    word = " ".join(text.lower().replace("-", " ").replace("_", " ").split())
    if ids := next((_LABELLED[w] for w in (word, f"{word}s") if w in _LABELLED), None):
        return f"write {ids[0]}" if len(ids) == 1 else f"write those on the label: {', '.join(ids)}"
    plural = next((one for one in ALLERGENS if one == f"{word}s"), "")
    slips = [one for one in ALLERGENS if one[0] == word[:1]]
    right = f"did you mean '{plural}'?" if plural else nearest(word, slips, _EDITED)
    return right or f"write one of {', '.join(ALLERGENS)}"
