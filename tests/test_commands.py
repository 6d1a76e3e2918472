"""The command line: help, exit status, refusals without a traceback, and the manual beside it."""

import io
import subprocess
import sys
from datetime import date, datetime, time, timedelta
from pathlib import Path

import pytest

from ordering import cli
from ordering.records.report import Report

ROOT = Path(__file__).parent.parent


@pytest.mark.parametrize("command", cli.COMMANDS, ids=lambda c: c.name)
def test_every_command_has_help_with_a_real_example(command, capsys):
    with pytest.raises(SystemExit) as stop:
        cli.main([command.name, "--help"])
    assert stop.value.code == 0
    text = capsys.readouterr().out
    assert f"ordering {command.name}" in text.replace("\n", " ")
    assert "Example:" in text


@pytest.mark.parametrize("command", cli.COMMANDS, ids=lambda c: c.name)
def test_the_readme_has_a_row_for_every_command(command):
    """The table in README.md cannot drift from `--help`."""
    row = f"| `ordering {command.name}` | {command.help} |"
    assert row in (ROOT / "README.md").read_text("utf-8")


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["check", "--on", "26.11.2026"], "is not a date; write year-month-day: 2026-11-26"),
        (["check", "--on", "9999-12-30"], "is too far away"),
        (["order", "--at", "quarter past"], "is not a time; write 15:00"),
        (["order", "--at", "3pm"], "is not a time; write 15:00"),
        (["forecast", "--days", "0"], "is not a number of days"),
        (["oder"], "there is no 'oder' here; did you mean 'order'?"),
        (["order", "--onn", "2026-11-26"], "'--onn 2026-11-26' is not known here"),
    ],
)
def test_a_wrong_option_is_said_with_what_would_be_right(words, said, capsys):
    with pytest.raises(SystemExit) as stop:
        cli.main(words)
    assert stop.value.code == 2
    assert said in capsys.readouterr().err


def on_of(folder, zone, monkeypatch):
    """The day a command is given where --on is not typed and the house names this zone."""
    (folder / "house.yaml").write_text(f"name: A\n{zone}")
    days = []
    monkeypatch.setattr("ordering.loading.check", lambda config, books, on: days.append(on) or Report(()))
    assert cli.main(["check", "--config", str(folder)]) == 0
    return days[0]


def test_today_is_the_day_where_the_house_is(tmp_path, monkeypatch):
    """Between these two places lie 25 hours: they never have the same day."""
    west = on_of(tmp_path, "timezone: Pacific/Pago_Pago\n", monkeypatch)
    east = on_of(tmp_path, "timezone: Pacific/Kiritimati\n", monkeypatch)
    assert timedelta(1) <= east - west <= timedelta(2)
    assert on_of(tmp_path, "", monkeypatch) in (west, west + timedelta(1), east)
    for odd in ("timezone: Nowhere/At_All\n", "timezone: ../../etc\n", "timezone: [a]\n", "timezone: {\n"):
        assert west <= on_of(tmp_path, odd, monkeypatch) <= east


@pytest.mark.parametrize(
    ("words", "at"),
    [
        ([], time(15, 42)),
        (["--on", "2026-11-26"], time(0, 0)),
        (["--at", "09:00"], time(9, 0)),
        (["--on", "2026-11-26", "--at", "09:00"], time(9, 0)),
    ],
)
def test_without_a_day_a_run_is_made_as_of_now(words, at, monkeypatch):
    """In the afternoon the cut-offs of noon have passed; a day asked for is taken from its start."""
    seen = []
    monkeypatch.setattr(cli, "_now", lambda config: datetime(2026, 11, 26, 15, 42, 31))
    monkeypatch.setattr("ordering.runs.order", lambda *given: seen.append(given) or Report(("done",)))
    assert cli.main(["order", *words]) == 0
    (_, _, _, on, terms), *_ = seen
    assert (on, terms.at) == (date(2026, 11, 26), at)


def test_a_missing_house_is_refused_with_status_2_and_nothing_written(tmp_path, capsys):
    status = cli.main(
        [
            "order",
            "--config",
            str(tmp_path / "none"),
            "--books",
            str(tmp_path),
            "--runs",
            str(tmp_path / "runs"),
        ]
    )
    assert status == 2
    assert "house.yaml" in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("name", ["../../etc", "no-such-run", "", ".."])
def test_a_run_that_is_not_there_is_refused(tmp_path, name, capsys):
    assert cli.main(["explain", "--runs", str(tmp_path), "--", name, "flour"]) == 2
    assert "there is no run" in capsys.readouterr().err


def test_an_order_loads_no_library_that_a_house_may_do_without():
    """Each costs as much time as a stage of the order itself: holidays, workbooks read, groups."""
    seldom = "holidays statsmodels scipy.optimize openpyxl python_calamine rapidfuzz ruamel.yaml distributed"
    code = f"import sys, ordering.runs; sys.exit(bool(set({seldom!r}.split()) & set(sys.modules)))"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


@pytest.mark.parametrize(
    ("words", "heavy"),
    [
        (["--help"], {"numpy", "pandas", "pydantic", "yaml"}),
        (
            ["check", "--config", "config", "--books", "demo", "--on", "2026-11-26"],
            {"statsmodels", "scipy", "highspy", "xlsxwriter", "icalendar", "jinja2"},
        ),
    ],
)
def test_help_and_check_answer_without_the_libraries_they_do_not_need(words, heavy):
    """They must answer at once: a check draws no forecast and writes no document."""
    script = (
        "import sys\nfrom ordering.cli import main\n"
        f"try:\n    main({words!r})\nexcept SystemExit:\n    pass\n"
        f"heavy = {heavy!r} & set(sys.modules)\n"
        "sys.exit(str(heavy) if heavy else 0)\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", script], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr


def test_a_failure_of_the_program_itself_is_one_line_unless_a_trace_is_asked_for(monkeypatch, capsys):
    def broken(*_):
        raise ZeroDivisionError("by the test")

    monkeypatch.setattr("ordering.loading.check", broken)
    assert cli.main(["check"]) == 2
    said = capsys.readouterr().err
    assert "the program itself failed (ZeroDivisionError: by the test)" in said
    assert "Traceback" not in said
    monkeypatch.setenv("ORDERING_TRACE", "1")
    with pytest.raises(ZeroDivisionError, match="by the test"):
        cli.main(["check"])


class Terminal(io.StringIO):
    """A terminal of 80 columns."""

    def isatty(self):
        return True


LONG = "  short: R-1 Ribs: " + "1 of 2 packs came, " * 6 + "it goes on the next order"


@pytest.mark.parametrize("line", [LONG, "plain", "  as ordered", "config/a.yaml:4: " + "wrong " * 30 + "end"])
def test_a_line_too_long_for_a_terminal_is_broken_between_words(line, monkeypatch):
    monkeypatch.setenv("COLUMNS", "80")
    monkeypatch.setattr(sys, "stdout", Terminal())
    monkeypatch.setattr("ordering.loading.check", lambda config, books, on: Report((line,)))
    assert cli.main(["check", "--on", "2026-11-26"]) == 0
    lines = sys.stdout.getvalue().splitlines()
    assert all(len(one) <= 80 for one in lines)
    assert " ".join(lines).split() == line.split()
    lead = len(line) - len(line.lstrip())
    assert all(one.startswith(" " * (lead + 4)) for one in lines[1:])


def test_in_a_pipe_every_line_stays_one(capsys, monkeypatch):
    monkeypatch.setattr("ordering.loading.check", lambda config, books, on: Report((LONG,)))
    cli.main(["check", "--on", "2026-11-26"])
    assert capsys.readouterr().out == f"{LONG}\n"
