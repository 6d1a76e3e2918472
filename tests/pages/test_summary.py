"""What the terminal says: at a glance, within its columns, without need of colour."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date

import pytest
import sample_plan
from hostile import NAMES

from ordering.faults import answer_code
from ordering.pages.phone_page import today_html
from ordering.pages.short_and_over import shortages_by_item
from ordering.pages.summary import summary
from ordering.pages.today import today_sheet
from ordering.records.plan import Plan, Shortage
from ordering.texts import cells_wide

HOUSE = sample_plan.house()
PLAN = sample_plan.plan(HOUSE)


def empty(plan: Plan) -> Plan:
    return replace(
        plan,
        buying=replace(plan.buying, orders=()),
        netting=replace(plan.netting, starts=(), expiring=()),
        shortages=(),
        doubts=(),
    )


def test_it_reads_at_a_glance() -> None:
    assert summary(HOUSE, PLAN) == [
        "The Heron and Reed, Thu 26 Nov                                next run Thu 3 Dec",
        "",
        "Order today",
        "  Thu 26 Nov 12:00  Reed Quay Fish & Sons  for Sat 28 Nov     1 line       60.80",
        "  Thu 26 Nov 15:00  Hollow Mill            for Sat 28 Nov    2 lines       69.25",
        "Order before the next run",
        "  Mon 30 Nov 15:00  Hollow Mill            for Tue 1 Dec      1 line       42.20",
        "                    3 orders, GBP                            4 lines      172.25",
        "",
        "Needs attention",
        "  - ageing room: 9 of 10 ribs hang on 4 Dec",
        "",
        "Start today",
        "         15 kg  Rib of beef, 35 days  ready Thu 31 Dec",
        "          2 kg  Levain                ready Fri 27 Nov",
        "            12  Seeded loaf           ready Fri 27 Nov",
        "",
        "Running short",
        "  Sat 5 Dec   4.2 kg Rib of beef, 35 days: too late to start",
        "              for Aged rib for two: 7 portions",
        "              -> take 7 portions off",
        "",
        "Use first",
        "  Wed 2 Dec   3.1 of 7.5 kg Rib of beef, 35 days, in the house",
        "              -> push Aged rib for two",
        "",
        "Check these (1; all of them in order-book.xlsx)",
        f"  - salt was never counted: taken as none [{answer_code(PLAN.doubts[0])}]",
    ]


def test_what_a_person_must_see_to_is_said_before_the_starts() -> None:
    low = "Hollow Mill, Sat 28 Nov: 61.25 is 38.75 under the minimum order of 100.00"
    plan = replace(PLAN, buying=replace(PLAN.buying, warnings=(low, *["w"] * 9)))
    lines = summary(HOUSE, plan)
    at = lines.index("Needs attention")
    assert lines[at + 1 : at + 6] == [f"  - {low}", *["  - w"] * 4]
    assert lines[at + 6] == "  and 6 more in order-book.xlsx"
    assert at < lines.index("Start today")
    usual = replace(PLAN, netting=replace(PLAN.netting, warnings=()))
    assert "Needs attention" not in summary(HOUSE, usual), (
        "how good the decision is known to be asks for nothing"
    )


def test_a_long_text_with_no_remedy_behind_it_begins_beside_its_dash() -> None:
    long = " ".join(["guests"] * 60)
    lines = summary(HOUSE, replace(PLAN, buying=replace(PLAN.buying, warnings=(long,))))
    assert lines[lines.index("Needs attention") + 1].startswith("  - guests guests")
    assert " ".join(lines).count("guests") == 60


def test_nothing_to_do_is_said() -> None:
    text = "\n".join(summary(HOUSE, empty(PLAN)))
    for words in ("nothing before the next run", "nothing", "Nothing should run short", "Nothing to check"):
        assert words in text


@pytest.mark.parametrize("name", NAMES.values(), ids=NAMES.keys())
@pytest.mark.parametrize("width", [72, 80])
def test_no_name_breaks_the_columns_or_the_terminal(name: str, width: int) -> None:
    names = dict.fromkeys(("house", "hollow-mill", "loaf", "levain", "aged-rib"), name)
    house = sample_plan.house(names)
    plan = replace(sample_plan.plan(house), doubts=(name,))
    lines = summary(house, plan, width)
    assert max(cells_wide(line) for line in lines) <= width
    assert all(c.isprintable() for line in lines for c in line)


def test_colour_only_where_asked_and_never_alone() -> None:
    plain, loud = summary(HOUSE, PLAN), summary(HOUSE, PLAN, colour=True)
    assert not any("\033" in line for line in plain)
    bare = [line.replace("\033[1m", "").replace("\033[31m", "").replace("\033[0m", "") for line in loud]
    assert bare == plain
    assert "\033[1m\033[31mRunning short\033[0m" in loud


def test_much_is_counted_not_listed() -> None:
    many = tuple(
        Shortage(sample_plan.SAT, f"item-{n:02}", 1.0, "kg", "", "no-delivery", "") for n in range(20)
    )
    starts = PLAN.netting.starts[:1] * 20
    plan = replace(
        PLAN,
        shortages=many,
        netting=replace(PLAN.netting, starts=starts, expiring=PLAN.netting.expiring[:1] * 9),
        doubts=("d",) * 9,
    )
    lines = summary(HOUSE, plan)
    assert "  and 15 items more in order-book.xlsx" in lines
    assert "  and 8 more in start-list.xlsx" in lines
    assert "  and 6 more lots in order-book.xlsx" in lines
    assert sum(line.startswith("  - d [") for line in lines) == 3
    assert len(lines) < 54


def test_what_is_left_out_is_seen_to_be_left_out() -> None:
    """Of a doubt of many lines the middle is cut; a name of 200 letters does not fill the screen."""
    home = sample_plan.house({"reed-quay": "q" * 200})
    plan = replace(sample_plan.plan(home), doubts=("never counted: " + ", ".join(["salt"] * 60),))
    lines = summary(home, plan)
    assert 1 <= sum("qqq" in line for line in lines) <= 2
    assert lines[-2].endswith(" ...")
    assert re.fullmatch(r"    \[\w+\]", lines[-1])
    assert all(cells_wide(line) <= 80 for line in lines)


@pytest.mark.parametrize(("n", "is_whole"), [(1, True), (10, True), (20, False), (60, False)])
def test_what_to_do_about_a_doubt_is_never_cut(n: int, is_whole: bool) -> None:
    """Up to four lines it stands whole; beyond, the middle goes."""
    remedy = "costs follow the invoices; 'ordering check --prices' lists them, with --yes it writes them"
    said = f"config/ingredients.yaml: {' and '.join(['prices'] * n)} differ from the last invoice; {remedy}"
    told = " ".join(" ".join(summary(HOUSE, replace(PLAN, doubts=(said,)))).split())
    assert ("..." not in told) == is_whole
    assert re.search(r"'ordering check --prices' lists them, with --yes it writes them \[\w+\]$", told)


@pytest.mark.parametrize(
    "remedy",
    [
        "give those you keep in stock a par; the others do no harm",
        "write the day of the count in the box at its head, or on each line; with --yes it is today's",
        "is it right? It is used as it stands; correct the row if it is wrong",
    ],
)
def test_nor_is_a_remedy_of_two_parts(remedy: str) -> None:
    said = f"config/recipes.yaml: nothing asks for {', '.join(['Estuary broth'] * 30)}; {remedy}"
    told = summary(HOUSE, replace(PLAN, doubts=(said,)))
    lines = told[told.index("Check these (1; all of them in order-book.xlsx)") + 1 :]
    text = " ".join(" ".join(lines).split())
    assert re.search(rf"\.\.\. {re.escape(remedy)} \[\w+\]$", text)
    assert len(lines) <= 4


def test_what_loses_most_is_told_first_and_what_is_optional_last() -> None:
    """Oysters for a whole weekend stand before a garnish of today, an optional one last of all."""
    early, later = sample_plan.ON, sample_plan.SAT
    garnish = Shortage(early, "garnish", 5.0, "oz", "Plate: 2 portions", "no-delivery", "", 2.0, 30.0)
    spare = Shortage(early, "spare", 1.0, "oz", "Plate can go without", "no-delivery", "", is_optional=True)
    paper = Shortage(later, "paper", 1.0, "each", "", "no-delivery", "")
    oysters = [
        Shortage(day, "oysters", 60.0, "each", "Oysters: 10 portions", "no-delivery", "", 10.0, 20.0)
        for day in (later, early)
    ]
    told = shortages_by_item(replace(PLAN, shortages=(spare, garnish, paper, *oysters)))
    assert [(short.item, short.date) for short in told] == [
        ("oysters", early),
        ("garnish", early),
        ("paper", later),
        ("spare", early),
    ]


def test_what_is_short_on_several_days_is_told_with_the_last_of_them() -> None:
    """Three bunches in all over three weeks are not three bunches on the first day."""
    days = (date(2026, 11, 27), date(2026, 12, 4), date(2026, 12, 11))
    short = [Shortage(day, "parsley", 0.7, "bunch", "", "expires", "buy 1 bunch locally") for day in days]
    plan = replace(PLAN, shortages=tuple(short))
    lines = summary(HOUSE, plan)
    assert "  Fri 27 Nov  3 bunches parsley until Fri 11 Dec: past its use-by" in lines
    said = [cell.value for row in today_sheet(HOUSE, plan).rows for cell in row]
    assert "Fri 27 Nov to Fri 11 Dec: 3 bunches parsley. Buy 1 bunch locally." in said
    assert "Fri 27 Nov to Fri 11 Dec: past its use-by" in today_html(HOUSE, plan)


def test_a_narrower_terminal_breaks_lines_itself_rather_than_lose_a_column() -> None:
    assert summary(HOUSE, PLAN, 40) == summary(HOUSE, PLAN, 72)
    assert summary(HOUSE, PLAN, 73) != summary(HOUSE, PLAN, 72)
