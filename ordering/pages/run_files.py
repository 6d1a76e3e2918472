"""Every document of a run, as values, by the name of its file."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from ordering.pages.ageing import ageing_sheet, spans
from ordering.pages.calendar import calendar
from ordering.pages.food_safety import allergen_sheet
from ordering.pages.forecast_page import dishes_sheets, forecast_sheet
from ordering.pages.letter import letter
from ordering.pages.line_reasons import lines_sheet
from ordering.pages.order_sheet import order_sheet
from ordering.pages.parts import workbook
from ordering.pages.phone_page import today_html
from ordering.pages.short_and_over import shortages_sheet, use_first_sheet
from ordering.pages.start_list import start_list
from ordering.pages.tables import (
    forecast_table,
    orders_table,
    pars_table,
    pegging_table,
    projection_table,
    shortages_table,
    starts_table,
)
from ordering.pages.today import today_sheet
from ordering.pages.ubl import machine_orders
from ordering.records.buying import DeliveryKey
from ordering.records.house import House
from ordering.records.ledger import Placed
from ordering.records.page import Document, Gone, Text, Workbook
from ordering.records.plan import Plan
from ordering.records.vendor_orders import orders_of


def run_files(
    house: House,
    plan: Plan,
    numbers: Mapping[DeliveryKey, str] | None = None,
    standing: Iterable[Placed] = (),
    former: Sequence[Gone] = (),
) -> dict[str, Document]:
    """All files of a run folder but `run.json`: tables, orders, order book, start list, calendar, phone page.

    Parameters
    ----------
    numbers : of the orders, by vendor and day of the delivery
    standing : what is on order already
    former : entries of the calendar of the run before
    """
    numbers = numbers or {}
    orders = orders_of(house, plan.buying.orders, numbers, standing, plan.buying.placed)
    documents: dict[str, Document] = {
        "forecast.csv": forecast_table(plan.forecast),
        "orders.csv": orders_table(plan.buying.orders, numbers),
        "outlook.csv": orders_table(plan.buying.outlook),
        "starts.csv": starts_table(plan.netting.starts),
        "shortages.csv": shortages_table(plan.shortages, house.is_american),
        "projection.csv": projection_table(house, plan),
        "pegging.csv": pegging_table(plan.pegging),
        "pars.csv": pars_table(house, plan),
    }
    for vendor in sorted({order.vendor for order in orders}):
        mine = [order for order in orders if order.vendor == vendor]
        sheet = order_sheet(house, house.vendors[vendor], mine, plan.now)
        machine = machine_orders(house, house.vendors[vendor], mine, plan.now)
        draft = letter(house, house.vendors[vendor], mine, plan.now, sheet, False, machine)
        documents[f"orders/{vendor}.xlsx"] = sheet
        documents[f"orders/{vendor}.eml"] = draft
        documents |= {f"orders/{name}": order for name, order in machine.items()}
    documents["order-book.xlsx"] = order_book(house, plan)
    documents["start-list.xlsx"] = start_list(house, plan)
    documents["calendar.ics"] = calendar(house, plan, former)
    documents["today.html"] = Text(today_html(house, plan))
    return documents


def order_book(house: House, plan: Plan) -> Workbook:
    """Today, short, use first, orders, ageing, forecast, dishes, allergens; none that has nothing to say.

    What another sheet holds is not printed here again: starts and cautions stand in the start list, what each
    vendor brings in its order sheet, pars in `pars.csv`, the sum behind a line in `explain`.
    """
    return workbook(
        house,
        f"Order book of {house.name}, {plan.on.isoformat()}",
        plan.now,
        today_sheet(house, plan),
        *([shortages_sheet(house, plan)] if plan.shortages else []),
        *([use_first_sheet(house, plan)] if plan.netting.expiring else []),
        *([lines_sheet(house, plan)] if plan.buying.orders else []),
        *([ageing_sheet(house, plan)] if spans(house, plan) else []),
        forecast_sheet(house, plan),
        *dishes_sheets(house, plan),
        allergen_sheet(house, plan.on),
    )
