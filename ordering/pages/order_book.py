"""The order book, the chef's own copy of a run: Today first, then everything behind it."""

from __future__ import annotations

from ordering.pages.ageing import ageing_sheet
from ordering.pages.allergen_sheet import allergen_sheet
from ordering.pages.caution_block import cautions_sheet
from ordering.pages.forecast_page import dishes_sheets, forecast_sheet
from ordering.pages.parts import paper
from ordering.pages.short_page import shortages_sheet
from ordering.pages.start_list import starts_sheet
from ordering.pages.tables import local
from ordering.pages.today import today_sheet
from ordering.pages.use_up import use_up_sheet
from ordering.pages.vendor_page import busy_vendors, vendors_sheet
from ordering.pages.why_page import doubts_sheet, pars_sheet, why_sheet
from ordering.records.house import House
from ordering.records.page import Workbook
from ordering.records.plan import Plan


def order_book(house: House, plan: Plan) -> Workbook:
    """Today, starts, short, use up, ageing, forecast, vendors, pars, why, allergens, cautions, doubts."""
    busy = busy_vendors(house, plan)
    vendors = vendors_sheet(house, plan, busy)
    begins = dict(zip((vendor.id for vendor in busy), vendors.parts, strict=True))
    return Workbook(
        title=f"Order book of {house.name}, {plan.on.isoformat()}",
        sheets=(
            today_sheet(house, plan, begins),
            starts_sheet(house, plan),
            shortages_sheet(house, plan),
            use_up_sheet(house, plan),
            ageing_sheet(house, plan),
            forecast_sheet(house, plan),
            *dishes_sheets(house, plan),
            vendors,
            pars_sheet(house, plan),
            why_sheet(house, plan),
            allergen_sheet(house),
            cautions_sheet(house, plan),
            doubts_sheet(house, plan),
        ),
        created=local(plan.now),
        author=house.name,
        paper=paper(house),
    )
