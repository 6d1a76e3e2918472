"""Everything that is printed for a British and an American house, held to the language of a kitchen.

It reads what people read: the terminal, sheets, letters, calendar, phone page, help.
"""

from __future__ import annotations

import email
import email.policy
import re
import shutil
from collections.abc import Iterator
from pathlib import Path

import openpyxl
import pytest

from ordering.cli import main
from ordering.commands import COMMANDS
from ordering.days import american

ROOT = Path(__file__).parents[1]
NEVER = (
    *("nought", "will lack", "lacks", "lacking", "put up", "in vain", "so too", "had better", "falls out"),
    *("falling out", "struck out", "taken back", "call it off", "foreseen", "See to", "Use up", "the spread"),
    *("left over of", "to be ordered by", "not counted on", "reckoned", "be had in time", "is no number"),
    *("below nought", "seasonal naive", "WAPE", "fetch ", "an earlier drop", "put forward"),
)
EACH = re.compile(r"\b[0-9.,/]+ each\b(?! ~)")
GB_DAY = re.compile(r"\b(?:Mon|Tue|Wed|Thu|Fri|Sat|Sun) [0-9]{1,2} [A-Z][a-z]{2}\b")
CLOCK = re.compile(r"(?<![\w:./-])(?:[01][0-9]|2[0-3]):[0-5][0-9](?!\w|:[0-9])")  # 15:00
US_DAY = re.compile(r"\b(?:Mon|Tue|Wed|Thu|Fri|Sat|Sun) [A-Z][a-z]{2} [0-9]{1,2}\b")


def texts_of(path: Path) -> Iterator[str]:
    """What a reader of one file of a run sees; the tables for other programs are not read by people."""
    if path.suffix == ".xlsx":
        for sheet in openpyxl.load_workbook(path):
            yield from (str(c.value) for row in sheet.iter_rows() for c in row if isinstance(c.value, str))
    elif path.suffix == ".eml":
        message = email.message_from_bytes(path.read_bytes(), policy=email.policy.default)
        body = message.get_body()
        assert body is not None
        yield from (str(message["Subject"]), body.get_content())
    elif path.suffix in (".html", ".ics"):
        yield path.read_text("utf-8")


def printed(tmp: Path, config: Path, books: Path, on: str, capsys: pytest.CaptureFixture[str]) -> list[str]:
    kept = tmp / "books"
    shutil.copytree(books, kept)
    common = ["--config", str(config), "--books", str(kept), "--runs", str(tmp / "runs"), "--on", on]
    for command in (["check"], ["order"], ["count", "--out", str(tmp / "count.xlsx")]):
        main([*command, *common])
    out = capsys.readouterr()
    files = [*sorted((tmp / "runs").rglob("*.*")), tmp / "count.xlsx"]
    return [out.out, out.err, *(text for path in files for text in texts_of(path))]


def assert_plain(texts: list[str]) -> None:
    for text in texts:
        for word in NEVER:
            assert word not in text, f"{word!r} in {text[:300]!r}"
        assert not EACH.search(text), text[:300]


def test_the_demo_house_reads_as_a_british_kitchen_speaks(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    texts = printed(tmp_path, ROOT / "config", ROOT / "demo", "2026-11-26", capsys)
    assert_plain(texts)
    assert any(GB_DAY.search(text) for text in texts)
    assert not any(US_DAY.search(text) for text in texts)


def test_an_american_house_reads_in_its_own_days_and_measures(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    house = Path(__file__).parent / "us_house"
    texts = printed(tmp_path, house / "config", house / "books", "2026-10-29", capsys)
    assert_plain(texts)
    together = "\n".join(texts)
    assert "Thu Oct 29" in together
    assert not GB_DAY.search(together)
    assert not CLOCK.search(together), CLOCK.search(together)
    assert "by 3 pm" in together, "in the calendar"
    assert " lb" in together
    assert "case of 12 x 3" in together
    assert not re.search(r"(?<!x )\b[0-9]+ (?:kg|quart)\b", texts[0])


def test_help_is_plain(capsys: pytest.CaptureFixture[str]) -> None:
    for command in COMMANDS:
        with pytest.raises(SystemExit):
            main([command.name, "--help"])
    assert_plain([capsys.readouterr().out])


def test_days_turn_in_place() -> None:
    text = "Thu 26 Nov, Friday 27 November 2026 and 3 Dec"
    assert american(text) == "Thu Nov 26, Friday, November 27, 2026 and 3 Dec"
    assert american("by Thu 3 Dec 15:00  Mill") == "by Thu Dec 3 3 pm   Mill"
    assert american("Thu 26 Nov 15:30   Mill, Fri 27 Nov 12:00") == "Thu Nov 26 3:30 pm Mill, Fri Nov 27 noon"
