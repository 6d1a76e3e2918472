"""The order book: every sheet, its links and charts, and Today on one page whatever the day holds."""

from __future__ import annotations

import io
from dataclasses import replace
from datetime import datetime, timedelta
from decimal import Decimal

import openpyxl
import pytest
import sample_plan
from hostile import NAMES

from ordering.faults import answer_code
from ordering.pages.parts import dish_name, item_name
from ordering.pages.run_files import order_book
from ordering.pages.start_list import start_list
from ordering.pages.today import placings, today_sheet
from ordering.records.page import Sheet
from ordering.records.plan import Expiring, Plan, Shortage
from ordering.write.paging import INCHES, points_wide, scale_of, with_room
from ordering.write.styles import properties
from ordering.write.xlsx import workbook_bytes

HOUSE = sample_plan.house()
PLAN = sample_plan.plan(HOUSE)


def column(sheet: Sheet, head: str) -> list[object]:
    """Values under a heading, to the end of its table."""
    for table in sheet.tables:
        names = [cell.value for cell in sheet.rows[table.first_row]]
        if head in names:
            at = names.index(head)
            return [row[at].value for row in sheet.rows[table.first_row + 1 : table.last_row + 1]]
    raise AssertionError(f"no column {head}")


def busy(plan: Plan) -> Plan:
    """A day with thirty orders, forty starts, thirty shortages, twenty lots to use up and twenty doubts."""
    line = plan.buying.orders[0]
    orders = tuple(
        replace(line, order_by=datetime(2026, 11, 26, 8) + timedelta(hours=n), code=f"c{n}")
        for n in range(30)
    )
    short = tuple(
        Shortage(
            sample_plan.SAT,
            f"thing-{n}",
            1.5,
            "kg",
            "A dish with a long name: 9 portions; B",
            "no-time",
            "x" * 150,
        )
        for n in range(30)
    )
    return replace(
        plan,
        buying=replace(plan.buying, orders=orders),
        netting=replace(
            plan.netting,
            starts=plan.netting.starts[:1] * 40,
            expiring=(Expiring("aged-rib", sample_plan.SAT, 7.2, 3.1, cost=88.0),) * 20,
        ),
        shortages=short,
        doubts=("This is doubtful for a reason that takes a whole sentence to say. " * 3,) * 20,
    )


def test_sheets_stand_in_the_sequence_a_chef_turns_to_them() -> None:
    assert [sheet.title for sheet in order_book(HOUSE, PLAN).sheets] == [
        *("Today", "Short", "Use first", "Orders", "Ageing", "Forecast", "Dishes", "Allergens"),
    ]


@pytest.mark.parametrize("name", NAMES.values(), ids=NAMES.keys())
def test_any_name_of_house_vendor_item_and_dish_makes_a_book(name: str) -> None:
    ids = ("house", "hollow-mill", "reed-quay", "flour", "trout", "loaf", "bread", "rib-plate")
    house = sample_plan.house(dict.fromkeys(ids, name))
    plan = replace(sample_plan.plan(house), doubts=(name,))
    found = openpyxl.load_workbook(io.BytesIO(workbook_bytes(order_book(house, plan))))
    assert len(found.sheetnames) == len({title.casefold() for title in found.sheetnames}) == 8
    formulas = [cell for sheet in found for row in sheet.iter_rows() for cell in row if cell.data_type == "f"]
    assert formulas == []


SHEETS = [
    *((9.0, sheet) for plan in (PLAN, busy(PLAN)) for sheet in order_book(HOUSE, plan).sheets),
    *((10.0, sheet) for plan in (PLAN, busy(PLAN)) for sheet in start_list(HOUSE, plan).sheets),
]


@pytest.mark.parametrize(("least", "sheet"), SHEETS, ids=[sheet.title for _, sheet in SHEETS])
@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_letters_can_be_read_at_arms_length(paper: str, least: float, sheet: Sheet) -> None:
    """Nine points on paper, ten on the wall but for the sources: no sheet is shrunk to fit its page."""
    scale = scale_of(with_room(sheet, is_american=paper == "letter"), paper)
    cells = [cell for row in sheet.rows for cell in row]
    sources = [cell for cell in cells if str(cell.value).startswith("Sources: [1]")]
    sizes = {float(str(properties(c.style)["font_size"])) for c in cells if c not in sources}
    assert not sheet.fit_tall
    assert min(sizes) * scale >= least
    assert all(float(str(properties(c.style)["font_size"])) * scale >= 9.0 for c in sources)


@pytest.mark.parametrize("sheet", [sheet for _, sheet in SHEETS], ids=[sheet.title for _, sheet in SHEETS])
@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_the_width_of_the_page_is_used(paper: str, sheet: Sheet) -> None:
    """Columns are as wide as the page has room for: no text wraps that need not."""
    assert points_wide(sheet) >= 0.75 * INCHES[paper][1 if sheet.is_landscape else 0] * 72


def test_what_does_not_fit_today_is_counted_and_found_elsewhere() -> None:
    texts = [str(cell.value) for row in today_sheet(HOUSE, busy(PLAN)).rows for cell in row]
    assert "and 26 more: see Short" in texts
    assert "and 15 more: see Use first" in texts
    assert sum(text.startswith("This is doubtful") for text in texts) == 20, "what to check is all there"


def test_a_doubt_has_the_code_that_answers_it() -> None:
    texts = [str(cell.value) for row in today_sheet(HOUSE, PLAN).rows for cell in row]
    (asked,) = [text for text in texts if "never counted" in text]
    assert asked.endswith(f"[{answer_code(PLAN.doubts[0])}]")
    assert any("answered" in text and "house.yaml" in text for text in texts)


def test_placings_come_by_cut_off_with_their_fees() -> None:
    found = placings(HOUSE, PLAN)
    assert [(one.vendor, one.n_lines, one.amount, one.fee) for one in found] == [
        ("reed-quay", 1, Decimal("60.80"), Decimal(0)),
        ("hollow-mill", 2, Decimal("61.25"), Decimal("8.00")),
        ("hollow-mill", 1, Decimal("34.20"), Decimal("8.00")),
    ]
    assert list(found) == sorted(found, key=lambda one: one.order_by)


def test_nothing_to_do_is_said_today_and_takes_no_sheet() -> None:
    plan = replace(
        PLAN,
        buying=replace(PLAN.buying, orders=(), outlook=(), pars=(), notes=()),
        netting=replace(PLAN.netting, starts=(), warnings=(), expiring=()),
        opening=replace(PLAN.opening, lots=(), scheduled=()),
        shortages=(),
        pegging=(),
        doubts=(),
    )
    today, *others = order_book(HOUSE, plan).sheets
    for words in ("Nothing to order", "Nothing to start", "Nothing should run short"):
        assert words in str(today)
    assert [sheet.title for sheet in others] == ["Forecast", "Dishes", "Allergens"]
    assert workbook_bytes(order_book(HOUSE, plan))


def test_an_item_and_a_dish_of_one_id_keep_their_own_names() -> None:
    home = replace(HOUSE, dishes=HOUSE.dishes | {"flour": replace(HOUSE.dishes["bread"], name="A dish")})
    assert item_name(home, "flour") == "Strong white flour"
    assert dish_name(home, "flour") == "A dish"
    assert item_name(home, "bread") == "bread"


def test_two_runs_give_the_same_bytes() -> None:
    again = sample_plan.plan(sample_plan.house())
    assert workbook_bytes(order_book(HOUSE, PLAN)) == workbook_bytes(order_book(sample_plan.house(), again))
