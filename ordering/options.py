"""The options of the commands, and what may be written after each."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from datetime import date, datetime, time
from decimal import Decimal
from pathlib import Path

from ordering.read import suggestions


def common_options(sub: argparse.ArgumentParser) -> None:
    """Options of every command that reads a house: where its files and records are."""
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


def _new_options(sub: argparse.ArgumentParser) -> None:
    sub.add_argument(
        "directory", type=Path, metavar="DIR", help="folder of the house: config and books in it"
    )
    sub.add_argument("--yes", action="store_true", help="ask nothing; what is usual, to be changed later")


def _import_options(sub: argparse.ArgumentParser) -> None:
    kinds = ("prices", "recipes", "menu", "sales", "bookings", "counts")
    sub.add_argument("what", choices=kinds, metavar="WHAT", help=f"one of {', '.join(kinds)}")
    sub.add_argument("files", type=Path, nargs="+", metavar="FILE", help="csv, xlsx, xls or ods, as it is")
    sub.add_argument("--vendor", default="", metavar="ID", help="whose price list it is")
    sub.add_argument("--yes", action="store_true", help="take the best reading, marked; ask nothing")
    sub.add_argument("--dry-run", action="store_true", help="say what would change; write nothing")


def _check_options(sub: argparse.ArgumentParser) -> None:
    sub.add_argument(
        "--prices", action="store_true", help="prices in the files that lag behind what was invoiced"
    )
    sub.add_argument("--yes", action="store_true", help="with --prices: write them into the files")


def _forecast_options(sub: argparse.ArgumentParser) -> None:
    sub.add_argument("--days", type=_n_days, default=14, metavar="N", help="days ahead (default: 14)")
    sub.add_argument("--out", type=Path, metavar="FILE", help="write a forecast.csv here as well")


def _order_options(sub: argparse.ArgumentParser) -> None:
    sub.add_argument(
        "--at",
        type=_clock,
        default=None,
        metavar="HH:MM",
        help="time of the run: cut-offs before it have passed (default: now; with --on, start of that day)",
    )


def _place_options(sub: argparse.ArgumentParser) -> None:
    sub.add_argument("run_name", metavar="RUN", help="name of the run folder")
    sub.add_argument(
        "--only",
        action="append",
        default=[],
        metavar="VENDOR[,DAY]",
        help="place only this; may be repeated",
    )
    sub.add_argument(
        "--without",
        action="append",
        default=[],
        metavar="VENDOR[,DAY]",
        help="leave out; may be repeated",
    )
    sub.add_argument(
        "--cancel",
        action="append",
        default=[],
        metavar="VENDOR[,DAY]",
        help="cancel what was placed; may be repeated",
    )
    sub.add_argument(
        "--instead",
        action="append",
        default=[],
        metavar="RUN",
        help="takes the place of what was placed of that run, or under that number; may be repeated",
    )
    sub.add_argument("--yes", action="store_true", help="place entries that look wrong, too")
    sub.add_argument(
        "--also", action="store_true", help="order on top of what other runs have on order already"
    )


def _receive_options(sub: argparse.ArgumentParser) -> None:
    sub.add_argument(
        "file", type=Path, nargs="?", metavar="FILE", help="what came, as csv or a filled sheet, to book in"
    )
    sub.add_argument("--out", type=Path, metavar="FILE", help="where to write the empty sheet")
    sub.add_argument(
        "--as-ordered",
        type=_ids,
        default=[],
        metavar="NUMBER,...",
        help="book in these orders whole, as they were placed",
    )
    sub.add_argument(
        "--credit",
        default="",
        metavar="VENDOR[,CODE]",
        help="book in a credit of money with no goods: --total, --reason, the note's number as --invoice",
    )
    sub.add_argument("--reason", default="", metavar="TEXT", help="why money is credited")
    sub.add_argument("--invoice", default="", metavar="NUMBER", help="number of the vendor's invoice")
    sub.add_argument(
        "--total",
        type=_money,
        default=None,
        metavar="MONEY",
        help="its total of goods, to check lines by",
    )
    _paper_options(sub)


def _count_options(sub: argparse.ArgumentParser) -> None:
    sub.add_argument(
        "file",
        type=Path,
        nargs="?",
        metavar="FILE",
        help="a filled count, to book in; or rows of waste or batches",
    )
    sub.add_argument("--out", type=Path, metavar="FILE", help="where to write the empty count sheet")
    sub.add_argument("--expected", action="store_true", help="print what there should be (default: blind)")
    _paper_options(sub)


def _paper_options(sub: argparse.ArgumentParser) -> None:
    sub.add_argument("--yes", action="store_true", help="book in entries that look wrong, too")
    sub.add_argument(
        "--corrects",
        default="",
        metavar="NUMBER",
        help="the file takes the place of what was booked under this number",
    )
    sub.add_argument(
        "--also", action="store_true", help="the file adds to what looks like it and was booked before"
    )


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
    sub.add_argument("--group", type=Path, metavar="FILE", help="every house of a group.yaml, side by side")
    _workers_options(sub)


def _backtest_options(sub: argparse.ArgumentParser) -> None:
    sub.add_argument(
        "--out", type=Path, default=Path("backtest"), metavar="DIR", help="folder (default: backtest)"
    )


def _rehearse_options(sub: argparse.ArgumentParser) -> None:
    sub.add_argument("--days", type=_n_days, default=28, metavar="N", help="days replayed (default: 28)")
    sub.add_argument(
        "--out", type=Path, default=Path("rehearsal"), metavar="DIR", help="folder (default: rehearsal)"
    )
    sub.add_argument(
        "--tune", action="store_true", help="try what other costs of a missed portion would have kept"
    )


def _group_options(sub: argparse.ArgumentParser) -> None:
    sub.add_argument("file", type=Path, metavar="FILE", help="group.yaml: the houses and their folders")
    _workers_options(sub)
    sub.add_argument(
        "--out", type=Path, default=Path("groups"), metavar="DIR", help="group folders (default: groups)"
    )
    _order_options(sub)


def _workers_options(sub: argparse.ArgumentParser) -> None:
    sub.add_argument(
        "--workers", type=_n_workers, default=2, metavar="N", help="processes on this machine (default: 2)"
    )
    sub.add_argument(
        "--scheduler", default="", metavar="ADDRESS", help="join a running Dask scheduler, tcp://HOST:PORT"
    )
    sub.add_argument(
        "--only", type=_ids, default=[], metavar="ID,...", help="only these houses (default: all)"
    )


OWN_OPTIONS: dict[str, Callable[[argparse.ArgumentParser], None]] = {
    "new": _new_options,
    "import": _import_options,
    "check": _check_options,
    "forecast": _forecast_options,
    "order": _order_options,
    "place": _place_options,
    "receive": _receive_options,
    "count": _count_options,
    "explain": _explain_options,
    "review": _review_options,
    "backtest": _backtest_options,
    "rehearse": _rehearse_options,
    "group": _group_options,
}


def _day(text: str) -> date:
    try:
        day = date.fromisoformat(text)
    except ValueError:
        meant = " or ".join(day.isoformat() for day in suggestions.dates(text))
        right = f"write year-month-day: {meant or '2026-11-26'}"
        raise argparse.ArgumentTypeError(f"'{text}' is not a date; {right}") from None
    if not 1990 <= day.year <= 2190:
        raise argparse.ArgumentTypeError(f"the year of '{text}' is too far away")
    return day


def _clock(text: str) -> time:
    try:
        return datetime.strptime(text, "%H:%M").time()
    except ValueError:
        meant = suggestions.clock(text) or "15:00"
        raise argparse.ArgumentTypeError(f"'{text}' is not a time; write {meant}") from None


def _money(text: str) -> Decimal:
    try:
        return Decimal(text).quantize(Decimal("0.01"))
    except ArithmeticError:
        raise argparse.ArgumentTypeError(f"'{text}' is not an amount; write 123.45") from None


def _ids(text: str) -> list[str]:
    return [part.strip() for part in text.split(",") if part.strip()]


def _n_workers(text: str) -> int:
    if not text.isdigit() or not 1 <= int(text) <= 256:
        raise argparse.ArgumentTypeError(f"'{text}' is not a number of workers from 1 to 256")
    return int(text)


def _n_days(text: str) -> int:
    if not text.isdigit() or not 1 <= int(text) <= 366:
        raise argparse.ArgumentTypeError(f"'{text}' is not a number of days from 1 to 366")
    return int(text)
