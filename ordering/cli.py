"""Commands, exit status and printing. The only place that asks the time.

Modules that load the numerical libraries are imported inside the command that needs them, so that
`--help` and `check` answer at once.
"""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time
from pathlib import Path

from ordering import __version__
from ordering.faults import Fault, Refused

DONE, LOOK, REFUSED = 0, 1, 2


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command; the exit status: 0 done, 1 done but look, 2 refused and nothing written."""
    arguments = parser().parse_args(argv)
    command: Callable[[argparse.Namespace], int] = arguments.run
    try:
        return command(arguments)
    except Refused as refused:
        _complain(refused.faults)
        return REFUSED
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return DONE
    except OSError as error:
        _complain([Fault(str(error.filename or "file"), 0, "", str(error.strerror or error).lower())])
        return REFUSED
    except KeyboardInterrupt:
        print("stopped; nothing was written", file=sys.stderr)
        return REFUSED


def check(arguments: argparse.Namespace) -> int:
    """Validate configuration and books."""
    from ordering.loading import load

    loaded = load(arguments.config, arguments.books, arguments.on)
    for doubt in loaded.doubts:
        print(f"doubt: {doubt}")
    house = loaded.house
    print(
        f"{house.name}: {len(house.dishes)} dishes, {len(house.recipes)} recipes, "
        f"{len(house.ingredients)} ingredients, {len(house.vendors)} vendors. No faults, "
        f"{len(loaded.doubts)} doubts."
    )
    return LOOK if loaded.doubts else DONE


def forecast(arguments: argparse.Namespace) -> int:
    """Forecast covers and dishes per service."""
    from ordering import runs

    report = runs.forecast_days(
        arguments.config, arguments.books, arguments.on, arguments.days, arguments.out
    )
    return _say(report)


def order(arguments: argparse.Namespace) -> int:
    """Work out what to order and start, into a new run folder."""
    from ordering import runs

    with _Progress() as tell:
        report = runs.order(
            arguments.config,
            arguments.books,
            arguments.runs,
            arguments.on,
            runs.Terms(arguments.at, tell, _colour()),
        )
    return _say(report)


def place(arguments: argparse.Namespace) -> int:
    """Record a run's orders as placed."""
    from ordering import bookkeeping

    report = bookkeeping.place(
        arguments.config,
        arguments.books,
        arguments.runs,
        arguments.run_name,
        tuple(arguments.without),
        arguments.on,
    )
    return _say(report)


def receive(arguments: argparse.Namespace) -> int:
    """Book in a delivery."""
    from ordering import bookkeeping

    return _say(bookkeeping.receive(arguments.config, arguments.books, arguments.file, arguments.on))


def count(arguments: argparse.Namespace) -> int:
    """Write a count sheet, or book in a filled one."""
    from ordering import bookkeeping

    if arguments.file is None:
        out = arguments.out or Path(f"count-{arguments.on.isoformat()}.xlsx")
        return _say(bookkeeping.count_out(arguments.config, arguments.books, arguments.on, out))
    return _say(
        bookkeeping.count_in(
            arguments.config, arguments.books, arguments.file, arguments.on, arguments.yes
        )
    )


def explain(arguments: argparse.Namespace) -> int:
    """Print the chain behind one line of a run."""
    from ordering import explaining

    for line in explaining.explain(arguments.runs, arguments.run_name, arguments.item):
        print(line)
    return DONE


def review(arguments: argparse.Namespace) -> int:
    """Compare forecast with actual, orders with use."""
    from ordering import reviewing

    return _say(
        reviewing.review(
            arguments.config,
            arguments.books,
            arguments.on,
            arguments.first_on,
            arguments.last_on,
            arguments.out,
        )
    )


def backtest(arguments: argparse.Namespace) -> int:
    """Measure forecast accuracy on the house's own past."""
    from ordering import runs

    with _Progress() as tell:
        report = runs.backtest_past(
            arguments.config, arguments.books, arguments.on, arguments.out, tell
        )
    return _say(report)


@dataclass(frozen=True, slots=True)
class _Command:
    name: str
    run: Callable[[argparse.Namespace], int]
    help: str
    example: str


COMMANDS = (
    _Command(
        "check",
        check,
        "validate configuration and books: every fault with file and line, then what looks doubtful",
        "ordering check --config config --books demo --on 2026-11-26",
    ),
    _Command(
        "forecast",
        forecast,
        "covers and dishes per service for the coming days, with intervals",
        "ordering forecast --books demo --on 2026-11-26 --days 7",
    ),
    _Command(
        "order",
        order,
        "the Thursday order: what to order, what to start, what is short, into a new run folder",
        "ordering order --books demo --on 2026-11-26",
    ),
    _Command(
        "place",
        place,
        "record a run's orders as placed, reading back quantities changed in the sheets",
        "ordering place 2026-11-26 --books demo --on 2026-11-26",
    ),
    _Command(
        "receive",
        receive,
        "book in a delivery: weights, prices, shorts",
        "ordering receive delivery.csv --books demo --on 2026-11-28",
    ),
    _Command(
        "count",
        count,
        "write a count sheet by storage area, or book in a filled one",
        "ordering count --books demo --on 2026-11-26 --out count.xlsx",
    ),
    _Command(
        "explain",
        explain,
        "the chain behind one line: from covers to packs",
        "ordering explain 2026-11-26 rib-of-beef",
    ),
    _Command(
        "review",
        review,
        "forecast against actual, orders against use, for the owner",
        "ordering review --books demo --on 2026-11-26 --from 2026-10-01",
    ),
    _Command(
        "backtest",
        backtest,
        "forecast accuracy on the house's own past, against seasonal naive",
        "ordering backtest --books demo --on 2026-11-26 --out backtest",
    ),
)


def parser() -> argparse.ArgumentParser:
    """The whole command line."""
    top = argparse.ArgumentParser(
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
        _common_options(sub)
        _OWN_OPTIONS.get(command.name, lambda _: None)(sub)
    return top


def _common_options(sub: argparse.ArgumentParser) -> None:
    sub.add_argument(
        "--config", type=Path, default=Path("config"), metavar="DIR", help="house files (default: config)"
    )
    sub.add_argument(
        "--books", type=Path, default=Path("books"), metavar="DIR", help="records (default: books)"
    )
    sub.add_argument(
        "--runs", type=Path, default=Path("runs"), metavar="DIR", help="run folders (default: runs)"
    )
    sub.add_argument("--on", type=_day, default=date.today(), metavar="DATE", help="day (default: today)")


def _forecast_options(sub: argparse.ArgumentParser) -> None:
    sub.add_argument("--days", type=_n_days, default=14, metavar="N", help="days ahead (default: 14)")
    sub.add_argument("--out", type=Path, metavar="FILE", help="write a forecast.csv here as well")


def _order_options(sub: argparse.ArgumentParser) -> None:
    sub.add_argument(
        "--at",
        type=_clock,
        default=time(0, 0),
        metavar="HH:MM",
        help="time of the run: cut-offs before it have passed (default: start of the day)",
    )


def _place_options(sub: argparse.ArgumentParser) -> None:
    sub.add_argument("run_name", metavar="RUN", help="name of the run folder")
    sub.add_argument(
        "--without", action="append", default=[], metavar="VENDOR", help="leave out; may be repeated"
    )


def _receive_options(sub: argparse.ArgumentParser) -> None:
    sub.add_argument("file", type=Path, metavar="FILE", help="what came, as csv or xlsx")


def _count_options(sub: argparse.ArgumentParser) -> None:
    sub.add_argument("file", type=Path, nargs="?", metavar="FILE", help="a filled count, to book in")
    sub.add_argument("--out", type=Path, metavar="FILE", help="where to write the empty count sheet")
    sub.add_argument("--yes", action="store_true", help="book in entries that look wrong, too")


def _explain_options(sub: argparse.ArgumentParser) -> None:
    sub.add_argument("run_name", metavar="RUN", help="name of the run folder")
    sub.add_argument("item", metavar="ITEM", help="ingredient, recipe, dish or vendor's code")


def _review_options(sub: argparse.ArgumentParser) -> None:
    sub.add_argument("--from", dest="first_on", type=_day, metavar="DATE", help="first day (default: 4 weeks)")
    sub.add_argument("--to", dest="last_on", type=_day, metavar="DATE", help="last day (default: yesterday)")
    sub.add_argument("--out", type=Path, default=Path("review"), metavar="DIR", help="folder (default: review)")


def _backtest_options(sub: argparse.ArgumentParser) -> None:
    sub.add_argument(
        "--out", type=Path, default=Path("backtest"), metavar="DIR", help="folder (default: backtest)"
    )


_OWN_OPTIONS: dict[str, Callable[[argparse.ArgumentParser], None]] = {
    "forecast": _forecast_options,
    "order": _order_options,
    "place": _place_options,
    "receive": _receive_options,
    "count": _count_options,
    "explain": _explain_options,
    "review": _review_options,
    "backtest": _backtest_options,
}


def _day(text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f"'{text}' is no date; write 2026-11-26") from None


def _clock(text: str) -> time:
    try:
        return datetime.strptime(text, "%H:%M").time()
    except ValueError:
        raise argparse.ArgumentTypeError(f"'{text}' is no time; write 15:00") from None


def _n_days(text: str) -> int:
    if not text.isdigit() or not 1 <= int(text) <= 366:
        raise argparse.ArgumentTypeError(f"'{text}' is no number of days from 1 to 366")
    return int(text)


def _colour() -> bool:
    return sys.stdout.isatty() and not os.environ.get("NO_COLOR")


def _say(report: object) -> int:
    from ordering.records.report import Report

    assert isinstance(report, Report)
    for line in report.lines:
        print(line)
    return report.status


def _complain(faults: Sequence[Fault]) -> None:
    for fault in faults:
        print(fault, file=sys.stderr)
    n = len(faults)
    print(f"{n} fault{'s' if n != 1 else ''}; nothing was written", file=sys.stderr)


class _Progress:
    """One line on a terminal that says which step is running; silent in a pipe."""

    def __enter__(self) -> Callable[[str], None]:
        self._shown = sys.stderr.isatty()
        return self._tell

    def _tell(self, step: str) -> None:
        if self._shown:
            print(f"\r\033[K{step} ...", end="", file=sys.stderr, flush=True)

    def __exit__(self, *_: object) -> None:
        if self._shown:
            print("\r\033[K", end="", file=sys.stderr, flush=True)


if __name__ == "__main__":
    sys.exit(main())
