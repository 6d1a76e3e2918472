"""The library function behind `forecast`: read, forecast, print and write."""

from __future__ import annotations

from datetime import date
from pathlib import Path

from ordering.days import span
from ordering.forecast.demand import forecast
from ordering.loading import load
from ordering.pages.forecast_page import forecast_text
from ordering.pages.tables import forecast_table
from ordering.records.report import Report
from ordering.write.outputs import write_outputs
from ordering.write.table import csv_bytes


def forecast_days(config: Path, books_dir: Path, on: date, n_days: int, out: Path | None) -> Report:
    """Covers and dishes of the coming days as a table, and as a file where one is asked for.

    Raises
    ------
    Refused : the input has faults; nothing has been written
    """
    loaded = load(config, books_dir, on)
    house = loaded.house
    coming = forecast(house, loaded.books, span(on, n_days), house.policy.seed, house.policy.paths)
    if out is not None:
        table = forecast_table(coming)
        write_outputs({out: csv_bytes(table.columns, table.rows)})
    return Report(tuple(forecast_text(house, coming)), 0, (out,) if out else ())
