"""`ordering new DIR`: a dozen questions, and the commented files of a house that begins."""

from __future__ import annotations

import json
import re
import shlex
import tempfile
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path

from ordering.days import WEEKDAYS
from ordering.faults import Fault, Refused
from ordering.intake.dates import minutes
from ordering.intake.goods_names import id_of
from ordering.intake.outcome import Ask, Question, money
from ordering.read.house_folder import read_house
from ordering.records.report import Report
from ordering.write.folder import write_file

_CURRENCIES = {"US": "USD", "GB": "GBP", "IE": "EUR", "FR": "EUR", "DE": "EUR", "CA": "CAD", "AU": "AUD"}
_ZONES = {"US": "America/New_York", "GB": "Europe/London", "IE": "Europe/Dublin", "FR": "Europe/Paris"}
_ZONES |= {"DE": "Europe/Berlin", "CA": "America/Toronto", "AU": "Australia/Sydney"}
_NEXT = """\
Next, in this order, each with the files as you have them:
  ordering import prices LIST --vendor ID    one for each vendor
  ordering import recipes WORKBOOK
  ordering import menu FILE
  ordering import sales TILL-EXPORT
  ordering import bookings EXPORT
  ordering check                             what is missing, what was guessed
  ordering count                             a count sheet to fill in
  ordering order"""


def begin(directory: Path, ask: Ask | None, is_yes: bool) -> Report:
    """Ask about a house and write its folders `config` and `books`.

    Without a person to ask, and without `is_yes`, the questions are listed, nothing is written, status 1.

    Raises
    ------
    Refused : there is a house already, or an answer cannot be used; nothing is written
    """
    config = directory / "config"
    if (config / "house.yaml").exists():
        right = "choose another folder"
        raise Refused(
            [Fault((config / "house.yaml").as_posix(), 0, "", "there is a house here", right, "file-there")]
        )
    if ask is None and not is_yes:
        asked: list[Question] = []

        def listed(question: Question) -> str:
            asked.append(question)
            return question.best

        _answers(listed)
        lines = [f"question: {one.text} (with --yes: {one.best or 'left empty'})" for one in asked]
        return Report((*lines, "Nothing was written: answer on a terminal, or take these with --yes."), 1)
    files = _files(_answers(ask if ask is not None and not is_yes else lambda q: q.best, _faults))
    if faults := _faults(files):
        raise Refused(faults)
    for name, text in files.items():
        write_file(config / name, text.encode())
    (directory / "books").mkdir(parents=True, exist_ok=True)
    return Report((f"Written: {', '.join(files)} in {config.as_posix()}.", *_next(directory)))


def _next(directory: Path) -> list[str]:
    """What to type next; first into the house's folder, where the later commands look for `config`."""
    head, *steps = _NEXT.splitlines()
    return [head, *([] if directory == Path() else [f"  cd {shlex.quote(str(directory))}"]), *steps]


def _faults(files: Mapping[str, str]) -> list[Fault]:
    """What cannot be read of files as they would be written."""
    with tempfile.TemporaryDirectory() as scratch:
        for name, text in files.items():
            (Path(scratch) / name).write_text(text, "utf-8")
        faults = read_house(Path(scratch))[1]
    return [Fault(Path(f.place).name, f.line, f.subject, f.wrong, f.right, f.kind) for f in faults]


def _answers(
    ask: Callable[[Question], str], check: Callable[[Mapping[str, str]], Sequence[Fault]] = lambda _: ()
) -> dict[str, str]:
    """What was answered, by key; vendors one by one until none is named.

    An answer with which `check` finds a fault in the files so far is asked for again, with what is wrong.
    """
    found: dict[str, str] = {}

    def put(key: str, text: str, best: str = "") -> str:
        asked = text
        while True:
            found[key] = ask(Question(key, asked, (), best)).strip() or best
            faults = check(_files(found)) if found[key] != best else ()
            if not faults:
                return found[key]
            wrong, right = re.sub(r"^\w+: ", "", faults[0].wrong), faults[0].right
            asked = f"{wrong[:1].upper()}{wrong[1:]}: {right}{'' if right.endswith('?') else '.'} {text}"

    put("name", "What is the house called?", "My house")
    put("address", "Where are deliveries to go? (address)")
    country = put("country", "In which country is it? (US, GB, ...)", "US").upper()
    put("currency", "In which currency are prices? (USD, GBP, ...)", _CURRENCIES.get(country, "USD"))
    put("timezone", "In which time zone?", _ZONES.get(country, "UTC"))
    put("email", "From which e-mail address do orders go out?")
    put("services", "Which services, on which days? (lunch thu-sun; dinner tue-sat)", "dinner tue-sat")
    put("order_day", "On which day is the big order made? (thu, or mon and thu)", "thu")
    put("budget", "What may be spent with vendors in a week? (Enter: no limit)")
    n = 1
    while name := put(f"vendor {n}", "A vendor's name? (Enter: no more)"):
        put(f"vendor {n} email", f"Where do orders to {name} go? (e-mail)")
        put(f"vendor {n} days", f"On which days does {name} deliver? (tue, fri)", "tue, fri")
        put(f"vendor {n} by", f"By what time the day before must {name} have the order?", "15:00")
        put(f"vendor {n} minimum", f"{name}'s minimum order, in money?", "0")
        n += 1
    return found


def _days(text: str) -> list[str]:
    """`thu-sun`, `mon and thu`, `every day` as weekdays; what is none stays as written, to be refused."""
    low = text.lower()
    if re.search(r"every|daily|all", low):
        return list(WEEKDAYS)
    found: list[str] = []
    for part in re.split(r"[,;/\s]+|\band\b", re.sub(r"\s*(?:-|–|\bto\b)\s*", "-", low)):
        first, _, last = (word[:3] for word in part.partition("-"))
        if first in WEEKDAYS and last in WEEKDAYS:
            a, b = WEEKDAYS.index(first), WEEKDAYS.index(last)
            found += [WEEKDAYS[(a + n) % 7] for n in range((b - a) % 7 + 1)]
        elif part:
            found.append(first if first in WEEKDAYS else part)
    return list(dict.fromkeys(found))


def _text(value: str) -> str:
    """A value as YAML takes it whatever is in it: quoted as JSON is."""
    return json.dumps(value, ensure_ascii=False)


def _files(given: Mapping[str, str]) -> dict[str, str]:
    """The files of a house as answered; what has not been answered yet is as usual."""
    answer = {"name": "My house", "currency": "USD", "timezone": "UTC", "services": "dinner tue-sat"}
    answer |= {"order_day": "thu", "country": "US", **given}
    house = [
        "# What the house is. Every word is explained in README; a # begins a remark.",
        f"name: {_text(answer['name'])}",
    ]
    house += [f"{key}: {_text(answer[key])}" for key in ("address", "email") if answer.get(key)]
    house += [f"currency: {answer['currency'].upper()}", f"timezone: {answer['timezone']}"]
    house += ["services:                # what is open in an ordinary week"]
    for part in answer["services"].split(";"):
        name, days = _service(part.split())
        if name:
            house.append(f"  {id_of(name)}: {{days: [{', '.join(days or WEEKDAYS)}]}}")
    house += [f"order_day: [{', '.join(_days(answer['order_day']))}]   # the day of the big order"]
    if answer.get("budget"):
        house.append(f"budget: {_amount(answer['budget'])}           # to be spent in a week")
    house += [
        f"holidays: {{country: {answer['country'].upper()}}}   # public holidays that are felt in the house",
        "",
    ]
    return {
        "house.yaml": "\n".join(house),
        "vendors.yaml": "# Who sells to the house: delivery days, each with its cut-off.\n"
        + "".join(_vendors(answer)),
        "ingredients.yaml": "# What is bought. Fill it with: ordering import prices LIST --vendor ID\n",
        "recipes.yaml": "# What is made. Fill it with: ordering import recipes WORKBOOK\n",
        "menu.yaml": "# What is sold. Fill it with: ordering import menu FILE\n",
        "calendar.yaml": "# Closed days and parties:\n# closures: [2026-12-25]\n",
    }


def _service(words: Sequence[str]) -> tuple[str, list[str]]:
    """Name and days of `lunch daily`, `all day tue-sun`: what stands before weekdays is a name."""
    at = [n for n, word in enumerate(words) if word[:3].lower() in WEEKDAYS]
    if at and at[0] > 0 and all(map(_is_days, words[: at[0]])):
        return " ".join(words[: at[0]]), _days(" ".join(words[at[0] :]))
    name = " ".join(word for word in words if not _is_days(word))
    if not name:
        return " ".join(words), []
    return name, _days(" ".join(word for word in words if _is_days(word)))


def _is_days(word: str) -> bool:
    low = word.lower().strip(",")
    return low[:3] in WEEKDAYS or low in ("every", "day", "daily", "all", "and", "to", "-")


def _vendors(answer: Mapping[str, str]) -> list[str]:
    lines: list[str] = []
    n = 1
    while name := answer.get(f"vendor {n}", ""):
        lines += [f"{id_of(name)}:\n", f"  name: {_text(name)}\n"]
        if email := answer.get(f"vendor {n} email"):
            lines.append(f"  email: {_text(email)}\n")
        lines.append("  deliveries:\n")
        for day in _days(answer.get(f"vendor {n} days", "tue, fri")):
            before = WEEKDAYS[WEEKDAYS.index(day) - 1] if day in WEEKDAYS else day
            clock = _clock(answer.get(f"vendor {n} by", "15:00"))
            lines.append(f"    - {{day: {day}, order_by: {before} {clock}}}\n")
        lines.append(f"  minimum: {_amount(answer.get(f'vendor {n} minimum', '0'))}\n")
        n += 1
    return lines


def _clock(text: str) -> str:
    """`3 pm` as 15:00; what is no time stays, to be asked again."""
    found = minutes(text)
    return text if found is None else f"{found // 60}:{found % 60:02}"


def _amount(text: str) -> str:
    """`$250` or `1,500.00` as a plain number; what is none stays, to be asked again."""
    found = money(text)
    return _text(text) if found is None else f"{found}"
