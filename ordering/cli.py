"""Where a command begins and ends: options in, lines and an exit status out. The only clock."""

from __future__ import annotations

import argparse
import os
import re
import shutil
import sys
from collections.abc import Callable, Sequence
from datetime import datetime, time
from pathlib import Path
from typing import TYPE_CHECKING, NoReturn, TextIO
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from ordering import __version__
from ordering.commands import COMMANDS, is_american, timezone_of
from ordering.days import american
from ordering.faults import Fault, Refused, nearest
from ordering.memory import collect_rarely
from ordering.options import OWN_OPTIONS, common_options
from ordering.texts import cells_wide, wrapped

if TYPE_CHECKING:  # with it come pydantic and pandas, and --help has no use for either
    from ordering.intake.outcome import Question

REFUSED = 2
LEAST_COLUMNS = 40  # a terminal that says it is narrower is not believed
HANG = "    "


def command() -> None:
    """The console command: `main` in a process of its own, set up for one short piece of work.

    One thread for linear algebra: the matrices are small, so that more threads only wait for each other,
    and sums come out the same on every machine.
    Everything is closed and on disk when `main` returns, so the process ends without taking itself apart.
    """
    for name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
        os.environ.setdefault(name, "1")
    collect_rarely()
    status = main()
    sys.stdout.flush()
    sys.stderr.flush()
    os._exit(status)


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command; the exit status: 0 done, 1 done but look, 2 refused and nothing written."""
    words = sys.argv[1:] if argv is None else list(argv)
    arguments = parser().parse_args(words or ["--help"])
    arguments.ask = _ask if sys.stdin.isatty() and sys.stdout.isatty() else None
    arguments.is_coloured = sys.stdout.isatty() and not os.environ.get("NO_COLOR")
    turned = american if is_american(arguments.config) else str
    try:
        now = _now(arguments.config)
        if getattr(arguments, "at", None) is None:  # a day asked for is taken from its start, today from now
            arguments.at = time() if arguments.on else now.time().replace(second=0, microsecond=0)
        arguments.on = arguments.on or now.date()
        with _Progress() as tell:
            report = arguments.run(arguments, tell)
        for line in report.lines:
            print(_fitted(turned(line), sys.stdout))
        sys.stdout.flush()
        return int(report.status)
    except Refused as refused:
        return _refuse(refused.faults, turned)
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return int(report.status)
    except OSError as error:
        return _refuse(
            [Fault(str(error.filename or "file"), 0, "", str(error.strerror or error).lower())], turned
        )
    except (KeyboardInterrupt, EOFError):
        print("stopped", file=sys.stderr)
        return REFUSED
    except Exception as error:
        if os.environ.get("ORDERING_TRACE"):
            raise
        print(
            f"the program itself failed ({type(error).__name__}: {error}); no run was written. "
            "Set ORDERING_TRACE=1, run it again and send what it prints to whoever looks after it.",
            file=sys.stderr,
        )
        return REFUSED


def _ask(question: Question) -> str:
    """A question on the terminal; the answer by its number, as text, or with Enter the one in brackets."""
    for line in question.said:
        print(f"\r\033[K{_fitted(line, sys.stdout)}")
    print(f"\r\033[K{_fitted(question.text, sys.stdout)}")
    for n, choice in enumerate(question.choices, 1):
        print(f"  {n}  {choice}")
    while True:
        answer = input(f"[{question.best}] " if question.best else "> ").strip() or question.best
        if answer.isdecimal() and 1 <= int(answer) <= len(question.choices):
            return question.choices[int(answer) - 1]
        if not question.choices or answer in question.choices or not answer:
            return answer
        print(f"  write a number from 1 to {len(question.choices)}, or Enter to leave it open")


def _now(config: Path) -> datetime:
    """Day and time where the house is, whatever the machine's clock is set to.

    The machine's own where the house names no time zone, or one not known here: that is refused later.
    """
    zone = timezone_of(config)
    try:
        return datetime.now(ZoneInfo(zone) if zone else None)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        return datetime.now()


class _Parser(argparse.ArgumentParser):
    """Says what is wrong with a command line in one sentence, and where to read on."""

    def error(self, message: str) -> NoReturn:
        said = message.removeprefix("argument ")
        if choice := _NO_CHOICE.match(message):
            known = re.findall(r"[\w-]+", choice[3])
            said = f"there is no '{choice[2]}' here; " + (nearest(choice[2], known) or ", ".join(known))
        elif message.startswith("unrecognized arguments: "):
            said = f"'{message.split(': ', 1)[1]}' is not known here"
        self.exit(REFUSED, f"{self.prog}: {said}\n'{self.prog} --help' says what may be written.\n")


_NO_CHOICE = re.compile(r"argument ([\w/]+): invalid choice: '(.*?)' \(choose from (.*)\)", re.DOTALL)


def parser() -> argparse.ArgumentParser:
    """The whole command line."""
    top = _Parser(
        prog="ordering",
        description="What a restaurant kitchen must buy and start today, and why.",
        epilog="Exit status: 0 done; 1 done, but someone must look; 2 input refused, nothing written.",
    )
    top.add_argument("--version", action="version", version=f"ordering {__version__}")
    commands = top.add_subparsers(title="commands", metavar="COMMAND", required=True)
    for command in COMMANDS:
        sub = commands.add_parser(
            command.name,
            help=command.help,
            description=f"{command.help[0].upper()}{command.help[1:]}.",
            epilog=f"Example: {command.example}",
        )
        sub.set_defaults(run=command.run)
        common_options(sub)
        if command.name in OWN_OPTIONS:
            OWN_OPTIONS[command.name](sub)
    return top


def _refuse(faults: Sequence[Fault], turned: Callable[[str], str]) -> int:
    for fault in faults:
        print(_fitted(turned(str(fault)), sys.stderr), file=sys.stderr)
    n = len(faults)
    print(f"{n} fault{'' if n == 1 else 's'}; nothing was written", file=sys.stderr)
    return REFUSED


def _fitted(line: str, stream: TextIO) -> str:
    """The line broken between words where it is too long for a terminal; in a pipe it stays one line."""
    if not stream.isatty() or (line.isascii() and len(line) <= LEAST_COLUMNS):
        return line
    columns = max(shutil.get_terminal_size().columns, LEAST_COLUMNS)
    if cells_wide(line) <= columns or "\x1b" in line:
        return line
    lead = line[: len(line) - len(line.lstrip())]
    first, *rest = wrapped(line, columns - len(lead) - len(HANG))
    return "\n".join([lead + first, *(lead + HANG + more for more in rest)])


class _Progress:
    """One line on a terminal that says which step is running; silent in a pipe."""

    def __enter__(self) -> Callable[[str], None]:
        self._is_shown = sys.stderr.isatty()
        return self._tell

    def _tell(self, step: str) -> None:
        if self._is_shown:
            print(f"\r\033[K{step} ...", end="", file=sys.stderr, flush=True)

    def __exit__(self, *_: object) -> None:
        if self._is_shown:
            print("\r\033[K", end="", file=sys.stderr, flush=True)


if __name__ == "__main__":
    command()
