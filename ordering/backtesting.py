"""The library function behind `backtest`: read, forecast the past, write."""

from __future__ import annotations

from datetime import date
from pathlib import Path

from ordering.forecast.regression_effects import effects
from ordering.forecast.rolling_origins import backtest, pasts_of
from ordering.loading import load
from ordering.pages.backtest import backtest_table, backtest_text
from ordering.pages.backtest_book import backtest_workbook
from ordering.pipeline import Step
from ordering.records.report import Report
from ordering.write.outputs import write_outputs
from ordering.write.table import csv_bytes
from ordering.write.xlsx import workbook_bytes


def backtest_past(config: Path, books_dir: Path, on: date, out: Path, tell: Step) -> Report:
    """Forecast accuracy on the house's own past: lines, `backtest.csv` and `backtest.xlsx` in `out`.

    Where the past is too short there is nothing to write: it is said how much is needed.

    Raises
    ------
    Refused : the input has faults; nothing has been written
    """
    loaded = load(config, books_dir, on)
    house = loaded.house
    made = backtest(house, loaded.books, on, tell=tell)
    if not made.rows:
        return Report((*backtest_text(house, made), "", "Nothing is written."), 1)
    moved = [effect for past in pasts_of(house, loaded.books, on) for effect in effects(house, past)]
    table, book = backtest_table(made), backtest_workbook(house, made, moved)
    written = (out / "backtest.csv", out / "backtest.xlsx")
    content = (csv_bytes(table.columns, table.rows), workbook_bytes(book))
    write_outputs(dict(zip(written, content, strict=True)))
    lines = (*backtest_text(house, made), "", *(f"Written to {path}" for path in written))
    return Report(lines, 0, written)
