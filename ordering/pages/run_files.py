"""Every document of a run, as values, by the name of its file."""

from __future__ import annotations

from ordering.pages.calendar import calendar
from ordering.pages.letter import letter
from ordering.pages.order_book import order_book
from ordering.pages.order_sheet import order_sheet
from ordering.pages.start_list import start_list
from ordering.pages.tables import (
    forecast_table,
    orders_table,
    pegging_table,
    projection_table,
    shortages_table,
    starts_table,
)
from ordering.records.house import House
from ordering.records.page import Document
from ordering.records.plan import Plan


def run_files(house: House, plan: Plan) -> dict[str, Document]:
    """All files of a run folder but `run.json`: tables, order sheets, letters, order book, calendar."""
    documents: dict[str, Document] = {
        "forecast.csv": forecast_table(plan.forecast),
        "orders.csv": orders_table(plan.buying.orders),
        "outlook.csv": orders_table(plan.buying.outlook),
        "starts.csv": starts_table(plan.netting.starts),
        "shortages.csv": shortages_table(plan.shortages),
        "projection.csv": projection_table(house, plan),
        "pegging.csv": pegging_table(plan.pegging),
    }
    for vendor in sorted({line.vendor for line in plan.buying.orders}):
        sheet = order_sheet(house, plan, house.vendors[vendor])
        documents[f"orders/{vendor}.xlsx"] = sheet
        documents[f"orders/{vendor}.eml"] = letter(house, plan, house.vendors[vendor], sheet)
    documents["order-book.xlsx"] = order_book(house, plan)
    documents["start-list.xlsx"] = start_list(house, plan)
    documents["calendar.ics"] = calendar(house, plan)
    return documents
