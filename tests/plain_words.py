"""What people read, and the words and forms that must not come back in it."""

from __future__ import annotations

import email
import email.policy
import re
from collections.abc import Iterable, Iterator
from pathlib import Path

import openpyxl

NEVER = (
    *("nought", "will lack", "lacks", "lacking", "put up", "in vain", "so too", "had better", "falls out"),
    *("falling out", "fall out of", "struck out", "taken back", "call it off", "oreseen", "See to", "Use up"),
    *("the spread", "left over of", "to be ordered by", "not counted on", "eckon", "be had in time"),
    *("is no number", "below nought", "fetch ", "an earlier drop", "put forward", "put down to be"),
    *("tell us where yours differ", "nothing is bought", "taken as not coming", "the ill", "come off it"),
    *(" mend ", "left aside", "hold it against", "held against", "is on no menu"),
    *(
        "leave a hole",
        "if binned",
        "falls into a closure",
        "It is believed",
        "stands there twice",
        "on which it lacks",
    ),
    *("betimes", "whilst", "thereof", "hereby", "as such", "to hand", "cannot be told", "sunday-lunch"),
)
MEASURES = ("WAPE", "MASE", "pinball", "seasonal naive")  # on the last sheet of a backtest alone
EACH = re.compile(r"\b[0-9](?:[0-9.,/]*[0-9])? each\b(?! ~)")
SHARE = re.compile(r"""[0-9]%(?!["0-9;A-F])""")  # `12 %`; `%20` is of an address, `100%"` of a drawing
PENCE = re.compile(r"(?<![0-9.,/-])[0-9]{4,}\.[0-9]{2}\b")  # money has its thousands apart: 4,387.98
GB_DAY = re.compile(r"\b(?:Mon|Tue|Wed|Thu|Fri|Sat|Sun) [0-9]{1,2} [A-Z][a-z]{2}\b")
GB_LONG_DAY = re.compile(r"\b(?:Mon|Tues|Wednes|Thurs|Fri|Satur|Sun)day [0-9]{1,2} [A-Z]")
US_DAY = re.compile(r"\b(?:Mon|Tue|Wed|Thu|Fri|Sat|Sun) [A-Z][a-z]{2} [0-9]{1,2}\b")
GB_CLOCK = re.compile(r"(?<![\w:./-])(?:[01][0-9]|2[0-3]):[0-5][0-9](?!\w|:[0-9])")  # 15:00
NOT_AMERICAN = ("minced", "soya", "geing", "olour", "litre", "molluscs", " labelled", "lavour", "pasteurise")
NOT_BRITISH = ("ground beef", "Aging", " aging", " color", "flavor", "labeled", "mollusks", "liter ")


def texts_of(path: Path) -> Iterator[str]:
    """What a reader of one file sees; the tables for other programs are not read by people."""
    if path.suffix == ".xlsx":
        sheets = openpyxl.load_workbook(path).worksheets
        if path.name == "backtest.xlsx":
            sheets = sheets[:-1]  # for who wants the measures
        for sheet in sheets:
            yield from (str(c.value) for row in sheet.iter_rows() for c in row if isinstance(c.value, str))
    elif path.suffix == ".eml":
        message = email.message_from_bytes(path.read_bytes(), policy=email.policy.default)
        body = message.get_body()
        assert body is not None
        yield from (str(message["Subject"]), body.get_content())
    elif path.suffix in (".html", ".ics"):
        yield re.sub(r"<style>.*?</style>", "", path.read_text("utf-8"), flags=re.DOTALL)


def assert_plain(texts: Iterable[str]) -> None:
    """No word that must not come back; amounts, shares and money as they are written."""
    for text in texts:
        for word in (*NEVER, *MEASURES):
            assert word not in text, f"{word!r} in {_around(text, word)!r}"
        for form in (EACH, SHARE, PENCE):
            assert not (found := form.search(text)), _around(text, found[0])


def assert_british(text: str) -> None:
    assert GB_DAY.search(text)
    assert not (found := US_DAY.search(text)), _around(text, found[0])
    for word in NOT_BRITISH:
        assert word not in text, _around(text, word)


def assert_american(text: str) -> None:
    assert US_DAY.search(text)
    for form in (GB_DAY, GB_LONG_DAY, GB_CLOCK):
        assert not (found := form.search(text)), _around(text, found[0])
    for word in NOT_AMERICAN:
        assert word not in text, _around(text, word)


def _around(text: str, word: str) -> str:
    at = text.index(word)
    return text[max(at - 80, 0) : at + 80]
