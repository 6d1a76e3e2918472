"""Everything that is printed for a British and an American house, held to the language of a kitchen.

One small house lives a week twice, through every command: once in the US, once in Britain. The demo house's
own pages are read where they are made, in `test_demo_run`.
"""

from __future__ import annotations

import contextlib
import io
import re
import shutil
from pathlib import Path

import pytest
from plain_words import NEVER, assert_american, assert_british, assert_plain, texts_of

from ordering.cli import main
from ordering.commands import COMMANDS
from ordering.days import american
from ordering.group.one_house import run_house

TESTS = Path(__file__).parent
HOUSE = TESTS / "us_house"
BRITISH = {
    "country: US": "country: GB",
    "currency: USD": "currency: GBP",
    "America/New_York": "Europe/London",
    "allergens: [egg]": "allergens: [eggs]",
}
LIST = "Item,Description,Pack,Price\nG1,Heavy cream,12/1 qt,61.50\nG9,Butter unsalted,36/1 lb,98.00\n"
DOOR = """delivered_on,vendor,code,packs,quantity,unit,price,use_by
2026-10-30,prairie-meats,P1,1,22.5,lb,9.10,2026-11-05
"""
WASTE = "date,item,quantity,unit,reason\n2026-10-30,short-rib,3,lb,past its date\n"
BATCHES = "started_on,recipe,drawn,drawn_unit,made,unit\n2026-10-29,braised-short-rib,14,lb,15,each\n"
COUNT = "counted_on,item,quantity,unit,use_by\n2026-11-04,short-rib,9,lb,2026-11-06\n2026-11-04,egg,4,each,\n"


def lived(folder: Path, words: dict[str, str]) -> dict[str, str]:
    """What every command prints and writes, by command, in a week of the house with these words changed."""
    shutil.copytree(HOUSE, folder, dirs_exist_ok=True)
    for file in (folder / "config").iterdir():
        text = file.read_text("utf-8")
        for old, new in words.items():
            text = text.replace(old, new)
        file.write_text(text, "utf-8")
    for name, text in (("prices", LIST), ("door", DOOR), ("waste", WASTE), ("batches", BATCHES)):
        (folder / f"{name}.csv").write_text(text, "utf-8")
    (folder / "filled.csv").write_text(COUNT, "utf-8")
    (folder / "group.yaml").write_text(
        "name: Two ladles\nhouses:\n  ladle: {config: config, books: books, runs: group-runs}\n", "utf-8"
    )
    where = [f"--{name}={folder / name}" for name in ("config", "books", "runs")]
    said: dict[str, str] = {}

    def do(name: str, on: str, *arguments: str | Path) -> None:
        command = [name, *map(str, arguments), "--on", f"2026-{on}", *where]
        before = {path for path in folder.rglob("*") if path.is_file()}
        with contextlib.redirect_stdout(io.StringIO()) as out, contextlib.redirect_stderr(out):
            main(command)
        new = sorted(path for path in folder.rglob("*") if path.is_file() and path not in before)
        said[f"{name} {len(said)}"] = "\n".join(
            [out.getvalue(), *(t for path in new for t in texts_of(path))]
        )

    do("check", "10-29")
    do("forecast", "10-29", "--days", "5")
    do("order", "10-29")
    for item in ("short-rib", "braised-short-rib", "short-rib-plate", "G1", "parsley", "nothing-like-it"):
        do("explain", "10-29", "2026-10-29", item)
    do("place", "10-29", "2026-10-29")
    do("receive", "10-30", "--out", folder / "delivery.xlsx")
    do("receive", "10-30", folder / "door.csv", "--invoice", "77", "--total", "204.75")
    do("receive", "11-03", "--as-ordered", "PO-0003")
    do("count", "10-31", "--out", folder / "count.xlsx")
    for name, on in (("waste", "10-30"), ("batches", "10-30"), ("filled", "11-04")):
        do("count", on, folder / f"{name}.csv")
    do("order", "11-05")
    do("place", "11-05", "2026-11-05")
    do("place", "11-05", "2026-11-05", "--cancel", "green-county")
    do("check", "11-05", "--prices")
    do("review", "11-05", "--out", folder / "review")
    do("backtest", "10-29", "--out", folder / "backtest")
    do("rehearse", "10-29", "--days", "2", "--out", folder / "rehearsal")
    do("import", "10-29", "prices", folder / "prices.csv", "--vendor", "green-county", "--yes")
    do("new", "10-29", folder / "larch", "--yes")
    with pytest.MonkeyPatch.context() as here:  # in this process: where a house runs changes no word
        here.setattr("ordering.grouping.workers", lambda *_: contextlib.nullcontext())
        here.setattr(
            "ordering.grouping.run_all", lambda _, tasks, *__: {h: run_house(tasks[h]) for h in tasks}
        )
        do("group", "11-05", folder / "group.yaml", "--out", folder / "groups")
    return said


@pytest.fixture(scope="module")
def us(tmp_path_factory: pytest.TempPathFactory) -> dict[str, str]:
    return lived(tmp_path_factory.mktemp("us"), {})


@pytest.fixture(scope="module")
def gb(tmp_path_factory: pytest.TempPathFactory) -> dict[str, str]:
    return lived(tmp_path_factory.mktemp("gb"), BRITISH)


def test_every_command_was_run(us: dict[str, str]) -> None:
    assert {name.split()[0] for name in us} == {command.name for command in COMMANDS}
    assert not any("the program itself failed" in text for text in us.values())


def test_a_week_reads_as_a_kitchen_speaks(us: dict[str, str], gb: dict[str, str]) -> None:
    assert_plain([*us.values(), *gb.values()])


def test_a_review_beyond_the_books_says_where_they_end(us: dict[str, str]) -> None:
    review = next(text for name, text in us.items() if name.startswith("review"))
    assert "to Wed Oct 28: the covers of the days after are not in the books yet" in " ".join(review.split())
    assert "700 covers, as many as" not in review


def test_a_time_of_day_on_paper_is_said_as_on_the_terminal(us: dict[str, str], gb: dict[str, str]) -> None:
    """Once on the terminal, on Today and on the phone; no cell with a format of its own says `3:00 PM`."""
    assert us["order 2"].count("Thu Oct 29 3 pm") >= 3
    assert gb["order 2"].count("Thu 29 Oct 15:00") >= 3


def test_an_american_house_reads_in_its_own_days_clock_and_measures(us: dict[str, str]) -> None:
    together = "\n".join(text for name, text in us.items() if not name.startswith("new"))
    assert_american(together)
    assert "Thu Oct 29" in together
    assert "Thu Oct 29 3 pm" in together
    assert "by 3 pm" in together, "in the calendar"
    assert "case of 12 x 3" in together
    assert not re.search(r"(?<!x )\b[0-9]+ (?:kg|quart)\b", us["order 2"])


def test_a_british_house_reads_in_its_own(gb: dict[str, str]) -> None:
    assert_british("\n".join(gb.values()))


def test_help_is_plain(capsys: pytest.CaptureFixture[str]) -> None:
    for command in COMMANDS:
        with pytest.raises(SystemExit):
            main([command.name, "--help"])
    assert_plain([capsys.readouterr().out])


def test_readme_and_messages_are_plain() -> None:
    for path in (TESTS.parent / "README.md", *(TESTS / "faults").rglob("expected.txt")):
        text = re.sub(r"`[^`]*`", "", path.read_text("utf-8"))
        assert not [word for word in NEVER if word in text], path


def test_days_turn_in_place() -> None:
    text = "Thu 26 Nov, Friday 27 November 2026 and 3 Dec"
    assert american(text) == "Thu Nov 26, Friday, November 27, 2026 and 3 Dec"
    assert american("by Thu 3 Dec 15:00  Mill") == "by Thu Dec 3 3 pm   Mill"
    assert american("Thu 26 Nov 15:30   Mill, Fri 27 Nov 12:00") == "Thu Nov 26 3:30 pm Mill, Fri Nov 27 noon"
