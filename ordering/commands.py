"""The commands and their options; each one calls one library function and returns its report.

Modules that load the numerical libraries are imported inside the command that needs them, so that
`--help` and `check` answer at once.
"""

from __future__ import annotations

import argparse
from argparse import Namespace
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime, time
from pathlib import Path

from ordering.records.report import Report

Tell = Callable[[str], None]


def check(a: Namespace, tell: Tell) -> Report:
    """Validate configuration and books."""
    from ordering.loading import check

    return check(a.config, a.books, a.on)


def forecast(a: Namespace, tell: Tell) -> Report:
    """Forecast covers and dishes per service."""
    from ordering.forecasting import forecast_days

    return forecast_days(a.config, a.books, a.on, a.days, a.out)


def order(a: Namespace, tell: Tell) -> Report:
    """Work out what to order and start, into a new run folder."""
    from ordering.runs import Terms, order

    return order(a.config, a.books, a.runs, a.on, Terms(a.at, tell, a.is_coloured))


def place(a: Namespace, tell: Tell) -> Report:
    """Record a run's orders as placed."""
    from ordering.bookkeeping import Terms, place

    terms = Terms(tuple(a.without), tuple(a.instead), a.also)
    return place(a.config, a.books, a.runs, a.run_name, terms, a.on)


def receive(a: Namespace, tell: Tell) -> Report:
    """Write a sheet of what is to come, or book in what came."""
    from ordering.bookkeeping import receive, receive_out

    if a.file is not None:
        return receive(a.config, a.books, a.file, a.on, a.yes)
    return receive_out(a.config, a.books, a.on, a.out or Path(f"delivery-{a.on.isoformat()}.xlsx"))


def count(a: Namespace, tell: Tell) -> Report:
    """Write a count sheet, or book in a filled one."""
    from ordering.bookkeeping import count_in, count_out

    if a.file is not None:
        return count_in(a.config, a.books, a.file, a.on, a.yes)
    return count_out(a.config, a.books, a.on, a.out or Path(f"count-{a.on.isoformat()}.xlsx"))


def explain(a: Namespace, tell: Tell) -> Report:
    """Print the chain behind one line of a run."""
    from ordering.explaining import explain

    return Report(tuple(explain(a.runs, a.run_name, a.item)))


def review(a: Namespace, tell: Tell) -> Report:
    """Compare forecast with actual, orders with use."""
    from ordering.reviewing import review

    return review(a.config, a.books, a.on, a.first_on, a.last_on, a.out)


def backtest(a: Namespace, tell: Tell) -> Report:
    """Measure forecast accuracy on the house's own past."""
    from ordering.backtesting import backtest_past

    return backtest_past(a.config, a.books, a.on, a.out, tell)


def rehearse(a: Namespace, tell: Tell) -> Report:
    """Replay the past under pars alone, this program and foresight."""
    from ordering.rehearse import rehearse_past

    return rehearse_past(a.config, a.books, a.on, a.days, a.out, tell)


def timezone_of(config: Path) -> str:
    """The time zone the house's days are meant in, empty where it names none."""
    from ordering.read.house import timezone_of

    return timezone_of(config)


@dataclass(frozen=True, slots=True)
class Command:
    name: str
    run: Callable[[argparse.Namespace, Tell], Report]
    help: str
    example: str


COMMANDS = (
    Command(
        "check",
        check,
        "validate configuration and books: every fault with file and line, then what looks doubtful",
        "ordering check --config config --books demo --on 2026-11-26",
    ),
    Command(
        "forecast",
        forecast,
        "covers and dishes per service for the coming days, with intervals",
        "ordering forecast --books demo --on 2026-11-26 --days 7",
    ),
    Command(
        "order",
        order,
        "the Thursday order: what to order, what to start, what is short, into a new run folder",
        "ordering order --books demo --on 2026-11-26",
    ),
    Command(
        "place",
        place,
        "record a run's orders as placed, reading back quantities changed in the sheets",
        "ordering place 2026-11-26 --books demo --on 2026-11-26",
    ),
    Command(
        "receive",
        receive,
        "write a sheet of what is due, or book in a delivery: weights, prices, shorts",
        "ordering receive delivery.csv --books demo --on 2026-11-28",
    ),
    Command(
        "count",
        count,
        "write a count sheet by storage area, or book in a filled one",
        "ordering count --books demo --on 2026-11-26 --out count.xlsx",
    ),
    Command(
        "explain",
        explain,
        "the chain behind one line: from covers to packs",
        "ordering explain 2026-11-26 rib-of-beef",
    ),
    Command(
        "review",
        review,
        "forecast against actual, orders against use, for the owner",
        "ordering review --books demo --on 2026-11-26 --from 2026-10-01",
    ),
    Command(
        "backtest",
        backtest,
        "forecast accuracy on the house's own past, against seasonal naive",
        "ordering backtest --books demo --on 2026-11-26 --out backtest",
    ),
    Command(
        "rehearse",
        rehearse,
        "replays past weeks: shortages, waste and spend under pars alone and under this program",
        "ordering rehearse --books demo --on 2026-11-26 --days 28",
    ),
)


def common_options(sub: argparse.ArgumentParser) -> None:
    sub.add_argument(
        "--config", type=Path, default=Path("config"), metavar="DIR", help="house files (default: config)"
    )
    sub.add_argument(
        "--books", type=Path, default=Path("books"), metavar="DIR", help="records (default: books)"
    )
    sub.add_argument(
        "--runs", type=Path, default=Path("runs"), metavar="DIR", help="run folders (default: runs)"
    )
    sub.add_argument(
        "--on", type=_day, default=None, metavar="DATE", help="day (default: today, where the house is)"
    )


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
    sub.add_argument(
        "--instead",
        action="append",
        default=[],
        metavar="RUN",
        help="takes the place of what was placed of that run; may be repeated",
    )
    sub.add_argument(
        "--also", action="store_true", help="order on top of what other runs have on order already"
    )


def _receive_options(sub: argparse.ArgumentParser) -> None:
    sub.add_argument(
        "file", type=Path, nargs="?", metavar="FILE", help="what came, as csv or a filled sheet, to book in"
    )
    sub.add_argument("--out", type=Path, metavar="FILE", help="where to write the empty sheet")
    sub.add_argument("--yes", action="store_true", help="book in entries that look wrong, too")


def _count_options(sub: argparse.ArgumentParser) -> None:
    sub.add_argument(
        "file",
        type=Path,
        nargs="?",
        metavar="FILE",
        help="a filled count, to book in; or rows of waste or batches",
    )
    sub.add_argument("--out", type=Path, metavar="FILE", help="where to write the empty count sheet")
    sub.add_argument("--yes", action="store_true", help="book in entries that look wrong, too")


def _explain_options(sub: argparse.ArgumentParser) -> None:
    sub.add_argument("run_name", metavar="RUN", help="name of the run folder")
    sub.add_argument("item", metavar="ITEM", help="ingredient, recipe, dish or vendor's code")


def _review_options(sub: argparse.ArgumentParser) -> None:
    sub.add_argument(
        "--from", dest="first_on", type=_day, metavar="DATE", help="first day (default: 4 weeks)"
    )
    sub.add_argument("--to", dest="last_on", type=_day, metavar="DATE", help="last day (default: yesterday)")
    sub.add_argument(
        "--out", type=Path, default=Path("review"), metavar="DIR", help="folder (default: review)"
    )


def _backtest_options(sub: argparse.ArgumentParser) -> None:
    sub.add_argument(
        "--out", type=Path, default=Path("backtest"), metavar="DIR", help="folder (default: backtest)"
    )


def _rehearse_options(sub: argparse.ArgumentParser) -> None:
    sub.add_argument("--days", type=_n_days, default=28, metavar="N", help="days replayed (default: 28)")
    sub.add_argument(
        "--out", type=Path, default=Path("rehearsal"), metavar="DIR", help="folder (default: rehearsal)"
    )


OWN_OPTIONS: dict[str, Callable[[argparse.ArgumentParser], None]] = {
    "forecast": _forecast_options,
    "order": _order_options,
    "place": _place_options,
    "receive": _receive_options,
    "count": _count_options,
    "explain": _explain_options,
    "review": _review_options,
    "backtest": _backtest_options,
    "rehearse": _rehearse_options,
}


def _day(text: str) -> date:
    try:
        day = date.fromisoformat(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f"'{text}' is not a date; write 2026-11-26") from None
    if not 1990 <= day.year <= 2190:
        raise argparse.ArgumentTypeError(f"the year of '{text}' lies too far away")
    return day


def _clock(text: str) -> time:
    try:
        return datetime.strptime(text, "%H:%M").time()
    except ValueError:
        raise argparse.ArgumentTypeError(f"'{text}' is not a time; write 15:00") from None


def _n_days(text: str) -> int:
    if not text.isdigit() or not 1 <= int(text) <= 366:
        raise argparse.ArgumentTypeError(f"'{text}' is not a number of days from 1 to 366")
    return int(text)
