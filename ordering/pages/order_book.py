"""The order book, the chef's own copy of a run: Today first, then everything behind it."""

from __future__ import annotations

from collections import Counter

from ordering.pages.ageing import ageing_sheet
from ordering.pages.allergens import allergen_sheet
from ordering.pages.caution_block import cautions_sheet
from ordering.pages.forecast_page import dishes_sheet, forecast_sheet
from ordering.pages.parts import paper
from ordering.pages.short_page import shortages_sheet
from ordering.pages.start_list import starts_sheet
from ordering.pages.tables import local
from ordering.pages.today import today_sheet
from ordering.pages.vendor_page import vendor_sheet
from ordering.pages.why_page import doubts_sheet, pars_sheet, why_sheet
from ordering.records.house import House
from ordering.records.page import Workbook
from ordering.records.plan import Plan

OWN_TITLES = (
    *("Today", "Starts", "Short", "Ageing", "Forecast", "Dishes", "Dishes high", "Pars", "Why"),
    *("Allergens", "Cautions", "Doubts"),
)


def order_book(house: House, plan: Plan) -> Workbook:
    """Today, starts, shortages, ageing, forecast, pars, why, allergens, cautions, doubts; each vendor."""
    titles = vendor_titles(house, plan)
    return Workbook(
        title=f"Order book of {house.name}, {plan.on.isoformat()}",
        sheets=(
            today_sheet(house, plan, titles),
            starts_sheet(house, plan),
            shortages_sheet(house, plan),
            ageing_sheet(house, plan),
            forecast_sheet(house, plan),
            dishes_sheet(house, plan),
            dishes_sheet(house, plan, is_high=True),
            pars_sheet(house, plan),
            why_sheet(house, plan),
            allergen_sheet(house),
            cautions_sheet(house, plan),
            doubts_sheet(house, plan),
            *(vendor_sheet(house, plan, house.vendors[v], title) for v, title in titles.items()),
        ),
        created=local(plan.now),
        author=house.name,
        paper=paper(house),
    )


def vendor_titles(house: House, plan: Plan) -> dict[str, str]:
    """A sheet title for each vendor with an order, an outlook or something on its way.

    It is the vendor's name, with its id where two vendors, or a vendor and a sheet, share one.
    """
    lines = (*plan.buying.orders, *plan.buying.outlook)
    busy = {line.vendor for line in lines} | {due.vendor for due in plan.opening.scheduled}
    vendors = [vendor for vendor in house.vendors.values() if vendor.id in busy]
    taken = Counter([*OWN_TITLES, *(vendor.name for vendor in vendors)])
    return {v.id: v.name if taken[v.name] == 1 else f"{v.id}: {v.name}" for v in vendors}
