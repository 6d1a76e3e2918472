"""What a value in a house's YAML may be: small named types, each from a plain string.

Every refusal is a `PydanticCustomError` whose context has `wrong` and `right`, in words.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable
from datetime import date, time
from decimal import Decimal
from typing import Any
from zoneinfo import ZoneInfo, available_timezones

from pydantic_core import PydanticCustomError

from ordering import units
from ordering.days import WEEKDAY_NAMES, WEEKDAYS
from ordering.faults import nearest
from ordering.read import suggestions
from ordering.records.house import MissedCost
from ordering.texts import with_article

MAX_TEXT = 200
MAX_NOTES = 4000
MAX_COUNT = 100_000
MAX_MONEY = Decimal(10_000_000)
MAX_TIMES = 100
FIRST_YEAR, LAST_YEAR = 1900, 2100

_ID = re.compile(r"[a-z0-9]+(-[a-z0-9]+)*", re.ASCII)
_DECIMAL = re.compile(r"[0-9]{1,9}(\.[0-9]{1,9})?", re.ASCII)
_DATE = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}", re.ASCII)
_TIME = re.compile(r"([01][0-9]|2[0-3]|[0-9]):([0-5][0-9])", re.ASCII)
_TIMES = re.compile(r"([0-9.]+) ?x( margin)?", re.ASCII)
_PHONE = re.compile(r"\+?[0-9(][0-9 ()./-]{2,28}[0-9]", re.ASCII)
_EMAIL = re.compile(r"[A-Za-z0-9.!#$%&'*+/=?^_`{|}~-]{1,64}@[A-Za-z0-9-]+(\.[A-Za-z0-9-]+)+", re.ASCII)
_CURRENCIES = {"$": "USD", "€": "EUR", "£": "GBP"}
_CONTROL = re.compile("[\x00-\x1f\x7f-\x9f\u2028\u2029\u202a-\u202e\u2066-\u2069]")


def refuse(kind: str, wrong: str, right: str) -> PydanticCustomError:
    """An error that says what is wrong and what would be right."""
    return PydanticCustomError(kind, "{wrong}", {"wrong": wrong, "right": right})


def shown(value: object) -> str:
    """A value short enough and plain enough for a message."""
    text = " ".join(str(value).split())
    return "".join(c for c in text if unicodedata.category(c)[0] != "C")[:60]


def _scalar(value: object, example: str) -> str:
    if value is None or value == "":
        raise refuse("empty-value", "nothing is written", f"write {example}, or take the line out")
    if not isinstance(value, str):
        raise refuse("wrong-shape", "one value is expected, not a list or a mapping", f"write {example}")
    return value.strip()


def a_text(value: object, limit: int = MAX_TEXT, is_long: bool = False) -> str:
    """Text of one line (or several, `is_long`) without control characters."""
    text = _scalar(value, "a few words")
    if len(text) > limit:
        raise refuse("long-text", f"{len(text)} characters are too many", f"keep it below {limit}")
    checked = text.replace("\n", " ") if is_long else text
    if _CONTROL.search(checked):
        raise refuse("control-character", "a line break or control character in it", "retype it in one line")
    return text


def a_note(value: object) -> str:
    """Text of several lines."""
    return a_text(value, MAX_NOTES, is_long=True)


def an_id(value: object) -> str:
    """Lower-case words joined by hyphens, at most 60 characters."""
    text = _scalar(value, "an id such as ox-cheek")
    if len(text) > 60 or not _ID.fullmatch(text):
        plain = unicodedata.normalize("NFKD", text.lower()).encode("ascii", "ignore").decode()
        if "," in text:
            wrong, right = f"'{shown(text)}' is not an id", "write several in brackets: [lunch, dinner]"
            raise refuse("bad-id", wrong, right)
        suggestion = re.sub(r"[^a-z0-9]+", "-", plain).strip("-")[:60].strip("-") or "ox-cheek"
        raise refuse(
            "bad-id", f"'{shown(text)}' is not an id", f"write lower-case words and hyphens: {suggestion}"
        )
    return text


def a_code(value: object) -> str:
    """A vendor's code, at most 40 characters."""
    text = a_text(value)
    if len(text) > 40:
        raise refuse("long-text", f"{len(text)} characters are too many for a code", "keep it below 40")
    return text


def an_email(value: object) -> str:
    """An e-mail address, at most 120 characters."""
    text = _scalar(value, "an address such as orders@vendor.example")
    if len(text) > 120 or not _EMAIL.fullmatch(text):
        wrong = f"'{shown(text)}' is not an e-mail address"
        raise refuse("bad-email", wrong, "write one: orders@vendor.example")
    return text


def a_phone(value: object) -> str:
    """A telephone number as it is dialled: digits, spaces, brackets and hyphens, a plus in front."""
    text = _scalar(value, "a telephone number such as 01632 960110")
    if len(text) > 30 or not _PHONE.fullmatch(text):
        wrong = f"'{shown(text)}' is not a telephone number"
        raise refuse("bad-phone", wrong, "write digits and spaces: 01632 960110")
    return text


def a_decimal(text: str, example: str) -> Decimal:
    """A plain number, zero or more."""
    if _DECIMAL.fullmatch(text):
        return Decimal(text)
    if re.match(r"-\s*[0-9]", text):
        raise refuse("negative-number", f"'{shown(text)}' cannot be negative", f"write {example}")
    if re.fullmatch(r"[0-9]+,[0-9]+", text):
        right = f"write decimals with a point: {text.replace(',', '.')}"
        raise refuse("bad-number", f"'{shown(text)}' has a comma", right)
    if plain := suggestions.amount(text):
        raise refuse("bad-number", f"'{shown(text)}' is not a plain number", f"write {plain}")
    raise refuse("bad-number", f"'{shown(text)}' is not a plain number", f"write {example}")


def money(value: object) -> Decimal:
    """An amount without sign of currency, zero or more."""
    amount = a_decimal(_scalar(value, "an amount such as 31.20"), "a plain amount such as 31.20")
    if amount > MAX_MONEY:
        raise refuse("bad-number", f"{amount} is too much", "check the amount")
    return amount


def missed_cost(value: object) -> MissedCost:
    """What a missed portion costs beyond its margin: `2 x margin`, or an amount of money."""
    text = _scalar(value, "2 x margin, or an amount such as 12.00")
    if times := _TIMES.fullmatch(text):
        number = a_decimal(times[1], "a number such as 2 before 'x margin'")
        if number > MAX_TIMES:
            raise refuse("out-of-range", f"{number} times the margin is too much", "write 2 x margin or so")
        return MissedCost(times=float(number))
    return MissedCost(money=float(money(text)))


def within(low: Decimal, high: Decimal, example: str) -> Callable[[object], float]:
    """A reader of numbers from `low` to `high`, both included."""

    def read(value: object) -> float:
        number = a_decimal(_scalar(value, example), f"a number such as {example}")
        if not low <= number <= high:
            wrong = f"{shown(value)} is not between {low} and {high}"
            raise refuse("out-of-range", wrong, f"write a number such as {example}")
        return float(number)

    return read


def whole(low: int, high: int, example: str) -> Callable[[object], int]:
    """A reader of whole numbers from `low` to `high`, both included."""

    def read(value: object) -> int:
        number = a_decimal(_scalar(value, example), f"a number such as {example}")
        if number != int(number) or not low <= number <= high:
            wrong = f"{shown(value)} is not a whole number from {low} to {high}"
            raise refuse("out-of-range", wrong, f"write a whole number such as {example}")
        return int(number)

    return read


def a_yield(value: object) -> float:
    """EP over AP: above zero, at most 20 (dried goods that take up water)."""
    text = _scalar(value, "a fraction such as 0.85")
    if re.fullmatch(r"[0-9.]+\s*%", text):
        as_fraction = a_decimal(text.rstrip("% "), "0.85") / 100
        raise refuse("bad-number", f"'{shown(text)}' is a percentage", f"write {as_fraction}")
    number = a_decimal(text, "a fraction such as 0.85")
    if 20 < number <= 100:
        raise refuse(
            "out-of-range",
            f"a yield of {number} cannot be right",
            f"if per cent is meant, write {number / 100}",
        )
    if not 0 < number <= 20:
        raise refuse("out-of-range", f"a yield of {number} cannot be right", "write a fraction such as 0.85")
    return float(number)


def truth(value: object) -> bool:
    """`true` or `yes`, `false` or `no`."""
    word = _scalar(value, "true or false").lower()
    if word in ("true", "yes"):
        return True
    if word in ("false", "no"):
        return False
    raise refuse("bad-word", f"'{shown(value)}' is neither true nor false", "write true or false")


def one_of(
    kind: str, words: tuple[str, ...], hint: Callable[[str], str] | None = None
) -> Callable[[object], str]:
    """A reader of one word out of a few; `hint` says what to write for another."""

    def read(value: object) -> str:
        text = _scalar(value, f"one of {', '.join(words)}")
        if text not in words:
            right = hint(text) if hint else nearest(text, words) or f"write one of {', '.join(words)}"
            raise refuse("bad-word", f"'{shown(text)}' is not {with_article(kind)}", right)
        return text

    return read


def weekday(value: object) -> int:
    """`thu` or `Thursday` as 3 (Monday = 0)."""
    text = _scalar(value, "a weekday such as thu").lower()
    full = [name.lower() for name in WEEKDAY_NAMES]
    if text in WEEKDAYS or text in full:
        return WEEKDAYS.index(text[:3])
    days = re.findall("|".join(WEEKDAYS), text)
    if len(days) > 1:
        right = f"write each day, in brackets: [{', '.join(days)}]"
    elif text[:3] in WEEKDAYS:
        right = f"did you mean '{text[:3]}'?"
    else:
        right = f"write one of {', '.join(WEEKDAYS)}"
    raise refuse("bad-weekday", f"'{shown(value)}' is not a weekday", right)


def a_date(value: object) -> date:
    """An ISO 8601 date between 1900 and 2100."""
    text = _scalar(value, "a date such as 2026-11-26")
    if not _DATE.fullmatch(text):
        days = [day.isoformat() for day in suggestions.dates(text)]
        sure = ", the one that is meant" if len(days) > 1 else ""
        right = f"write year-month-day (ISO 8601): {' or '.join(days) or '2026-11-26'}{sure}"
        raise refuse("bad-date", f"'{shown(text)}' is not a date", right)
    try:
        day = date.fromisoformat(text)
    except ValueError:
        raise refuse("bad-date", f"there is no {text}", "check day and month (year-month-day)") from None
    if not FIRST_YEAR <= day.year <= LAST_YEAR:
        raise refuse("bad-date", f"the year of {text} cannot be right", "check the year")
    return day


def a_clock(text: str) -> time:
    """Hours and minutes: `15:00`."""
    match = _TIME.fullmatch(text)
    if match is None:
        right = f"write hours and minutes: {suggestions.clock(text) or '15:00'}"
        raise refuse("bad-time", f"'{shown(text)}' is not a time of day", right)
    return time(int(match[1]), int(match[2]))


def cut_off(value: object) -> tuple[int, time]:
    """`thu 15:00` as weekday and time."""
    text = _scalar(value, "a day and a time: thu 15:00")
    day, _, clock = text.partition(" ")
    if not clock:
        raise refuse("bad-time", f"'{shown(text)}' is not a cut-off", "write a day and a time: thu 15:00")
    if day.lower() not in WEEKDAYS and clock.strip().lower() in WEEKDAYS:
        right = f"write the day first: {clock.strip().lower()} {suggestions.clock(day) or '15:00'}"
        raise refuse("bad-time", f"'{shown(text)}' is not a cut-off", right)
    return weekday(day), a_clock(clock.strip())


def time_zone(value: object) -> str:
    """A time zone by its IANA name."""
    text = _scalar(value, "a time zone such as Europe/London")
    try:
        ZoneInfo(text)
    except (ValueError, OSError, KeyError):
        right = (
            suggestions.time_zone(text, available_timezones())
            or "write a name of the IANA list: Europe/London"
        )
        raise refuse("bad-word", f"'{shown(text)}' is not a time zone", right) from None
    return text


def upper_code(what: str, pattern: str, example: str) -> Callable[[object], str]:
    """A reader of short upper-case codes such as GBP."""

    def read(value: object) -> str:
        text = _scalar(value, example)
        if not re.fullmatch(pattern, text, re.ASCII):
            close = _CURRENCIES.get(text, text.upper())
            is_near = re.fullmatch(pattern, close, re.ASCII) is not None
            right = f"did you mean '{close}'?" if is_near else f"write it as in {example}"
            raise refuse("bad-word", f"'{shown(text)}' is not {with_article(what)}", right)
        return text

    return read


def from_units(read: Callable[[str], Any], example: str) -> Callable[[object], Any]:
    """A reader of `units` as a reader of fields."""

    def reader(value: object) -> Any:
        try:
            return read(_scalar(value, example))
        except units.UnitError as error:
            raise refuse("bad-quantity", error.wrong, error.right) from None

    return reader


def positive(text: str) -> units.Quantity:
    """A quantity above zero. Raises UnitError."""
    quantity = units.parse_quantity(text)
    if quantity.amount <= 0:
        raise units.UnitError(f"'{text}' is zero", "write how much, more than zero")
    return quantity


def of_mass(text: str) -> units.Quantity:
    """A weight above zero. Raises UnitError."""
    quantity = positive(text)
    if units.kind_of(quantity.unit) != "mass":
        raise units.UnitError(f"'{text}' is not a weight", "write what one weighs: 180 g")
    return quantity
