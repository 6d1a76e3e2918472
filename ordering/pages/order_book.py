"""The order book, the chef's own copy of a run: Today first, then what it rests on."""

from __future__ import annotations

from ordering.pages.ageing import ageing_sheet
from ordering.pages.allergen_sheet import allergen_sheet
from ordering.pages.forecast_page import dishes_sheets, forecast_sheet
from ordering.pages.parts import paper
from ordering.pages.short_page import shortages_sheet
from ordering.pages.tables import local
from ordering.pages.today import today_sheet
from ordering.pages.use_first import use_first_sheet
from ordering.records.house import House
from ordering.records.page import Workbook
from ordering.records.plan import Plan


def order_book(house: House, plan: Plan) -> Workbook:
    """Today, short, use first, ageing, forecast, dishes, allergens.

    What another sheet holds is not printed here again: starts and cautions stand in the start list, what each
    vendor brings in its order sheet, pars in `pars.csv`, why a line is ordered in `explain`.
    """
    return Workbook(
        title=f"Order book of {house.name}, {plan.on.isoformat()}",
        sheets=(
            today_sheet(house, plan),
            shortages_sheet(house, plan),
            use_first_sheet(house, plan),
            ageing_sheet(house, plan),
            forecast_sheet(house, plan),
            *dishes_sheets(house, plan),
            allergen_sheet(house, plan.on),
        ),
        created=local(plan.now),
        author=house.name,
        paper=paper(house),
        is_american=house.is_american,
    )
