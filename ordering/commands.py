"""The commands; each one calls one library function and returns its report. Options are in `options.py`.

Modules that load the numerical libraries are imported inside the command that needs them, so that
`--help` and `check` answer at once.
"""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from ordering.records.report import Report

Tell = Callable[[str], None]


def check(a: Namespace, tell: Tell) -> Report:
    """Check the house's files and books."""
    from ordering.loading import check

    if a.prices:
        from ordering.pricing import check_prices

        return check_prices(a.config, a.books, a.on, a.yes)
    return check(a.config, a.books, a.on)


def forecast(a: Namespace, tell: Tell) -> Report:
    """Forecast covers and dishes per service."""
    from ordering.forecasting import forecast_days

    return forecast_days(a.config, a.books, a.on, a.days, a.out)


def order(a: Namespace, tell: Tell) -> Report:
    """Work out what to order and start, into a new run folder."""
    from ordering.runs import RunTerms, order

    return order(a.config, a.books, a.runs, a.on, RunTerms(a.at, tell, a.is_coloured))


def place(a: Namespace, tell: Tell) -> Report:
    """Record a run's orders as placed."""
    from ordering.bookkeeping import PlacingTerms, place

    terms = PlacingTerms(tuple(a.without), tuple(a.instead), a.also, tuple(a.only), tuple(a.cancel), a.yes)
    return place(a.config, a.books, a.runs, a.run_name, terms, a.on)


def receive(a: Namespace, tell: Tell) -> Report:
    """Write a sheet of what is to come, or book in what came."""
    from ordering.bookkeeping import (
        Ahead,
        CreditNote,
        Invoice,
        credit,
        receive,
        receive_as_ordered,
        receive_out,
    )
    from ordering.records.documents import Meant

    meant, invoice = Meant(a.corrects, a.also, a.yes), Invoice(a.invoice, a.total)
    if a.credit:
        return credit(a.config, a.books, CreditNote(a.credit, a.reason, invoice), a.on, meant)
    if a.as_ordered:
        return receive_as_ordered(a.config, a.books, a.as_ordered, a.on, meant, invoice)
    if a.file is not None:
        return receive(a.config, a.books, a.file, a.on, meant, invoice, Ahead(a.runs, a.at))
    return receive_out(a.config, a.books, a.on, a.out or Path(f"delivery-{a.on.isoformat()}.xlsx"))


def count(a: Namespace, tell: Tell) -> Report:
    """Write a count sheet, or book in a filled one."""
    from ordering.bookkeeping import count_in, count_out
    from ordering.records.documents import Meant

    if a.file is not None:
        return count_in(a.config, a.books, a.file, a.on, Meant(a.corrects, a.also, a.yes))
    out = a.out or Path(f"count-{a.on.isoformat()}.xlsx")
    return count_out(a.config, a.books, a.on, out, a.expected)


def explain(a: Namespace, tell: Tell) -> Report:
    """Print the chain behind one line of a run."""
    from ordering.explaining import explain

    return Report(tuple(explain(a.runs, a.run_name, a.item)))


def review(a: Namespace, tell: Tell) -> Report:
    """Compare forecast with actual, orders with use."""
    if a.group is not None:
        from ordering.grouping import GroupTerms, group_review

        terms = GroupTerms(n_workers=a.workers, scheduler=a.scheduler, only=tuple(a.only), tell=tell)
        return group_review(a.group, a.on, (a.first_on, a.last_on), a.out, terms)
    from ordering.reviewing import review

    return review(a.config, a.books, a.on, a.first_on, a.last_on, a.out, tell)


def backtest(a: Namespace, tell: Tell) -> Report:
    """Measure forecast accuracy on the house's own past."""
    from ordering.backtesting import backtest_past

    return backtest_past(a.config, a.books, a.on, a.out, tell)


def rehearse(a: Namespace, tell: Tell) -> Report:
    """Replay the past under pars alone, this program and foresight."""
    from ordering.rehearse import rehearse_past

    return rehearse_past(a.config, a.books, a.on, a.days, a.out, tell, a.tune)


def group(a: Namespace, tell: Tell) -> Report:
    """Run every house of a group."""
    from ordering.grouping import GroupTerms, group_order

    terms = GroupTerms(a.at, a.workers, a.scheduler, tuple(a.only), a.out, tell)
    return group_order(a.file, a.on, terms)


def bring(a: Namespace, tell: Tell) -> Report:
    """Import files a kitchen already has."""
    from ordering.intake.bring import ImportTerms, bring

    terms = ImportTerms(a.on, a.vendor, a.yes, a.dry_run, a.ask)
    return bring(a.config, a.books, a.what, a.files, terms)


def new(a: Namespace, tell: Tell) -> Report:
    """Begin a house."""
    from ordering.intake.begin import begin

    return begin(a.directory, a.ask, a.yes)


def timezone_of(config: Path) -> str:
    """The time zone the house's days are meant in, empty where it names none."""
    from ordering.read.house_folder import timezone_of

    return timezone_of(config)


def is_american(config: Path) -> bool:
    """Whether days are said with the month first where the house is."""
    from ordering.read.house_folder import is_american

    return is_american(config)


@dataclass(frozen=True, slots=True)
class Command:
    """One command: its name, what it runs, a line of help and an example of use."""

    name: str
    run: Callable[[Namespace, Tell], Report]
    help: str
    example: str


COMMANDS = (
    Command(
        "new",
        new,
        "begin a house: a dozen questions, commented files, and what to import next",
        "ordering new larch-house",
    ),
    Command(
        "import",
        bring,
        "read price lists, recipes, menus, exports of till (POS) and bookings, counts, as they are",
        "ordering import prices north-foods.xlsx --vendor north-foods",
    ),
    Command(
        "check",
        check,
        "check the house's files and books: every fault with file and line, then what looks doubtful",
        "ordering check --config config --books demo --on 2026-11-26",
    ),
    Command(
        "forecast",
        forecast,
        "covers and dishes of the coming days, each with its range",
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
        "ordering explain 2026-11-26 rib",
    ),
    Command(
        "review",
        review,
        "for the owner: was it a good month, forecast and what came, money lost, prices",
        "ordering review --books demo --on 2026-11-26 --from 2026-10-01",
    ),
    Command(
        "backtest",
        backtest,
        "how good the forecast would have been on the house's own past, beside last week's same day",
        "ordering backtest --books demo --on 2026-11-26 --out backtest",
    ),
    Command(
        "rehearse",
        rehearse,
        "replay past weeks: shortages, waste and spend under pars alone and under this program",
        "ordering rehearse --books demo --on 2026-11-26 --days 28",
    ),
    Command(
        "group",
        group,
        "every house of a group: its order, then what they buy together and could pass on to each other",
        "ordering group group.yaml --on 2026-11-26",
    ),
)
