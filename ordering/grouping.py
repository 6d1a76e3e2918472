"""The library function behind `group`: every house's run on workers, then what the group adds up."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, time
from graphlib import CycleError, TopologicalSorter
from pathlib import Path

from ordering.days import american
from ordering.faults import Fault, Refused, nearest
from ordering.group.one_house import Task
from ordering.group.sisters import say_alike, shares_for, write_sisters
from ordering.group.supply import days_ahead
from ordering.group.together import joint_orders
from ordering.group.transfers import transfers
from ordering.group.workers import review_all, run_all, sold_everywhere, workers
from ordering.pages.group_sections import GroupView, group_leaves, review_pages, run_pages
from ordering.pages.section_sheets import sections_workbook
from ordering.pages.sections import PageContent, sections_page
from ordering.pages.tables import houses_table, transfers_table, vendors_table
from ordering.pipeline import Step
from ordering.read.group_file import read_group, suppliers_of
from ordering.read.house_folder import read_house
from ordering.records.group import Group, HouseRun
from ordering.records.page import Workbook
from ordering.records.report import Report
from ordering.reviewing import span_of
from ordering.texts import wrapped
from ordering.write.document_bytes import documents_bytes
from ordering.write.folder import write_run
from ordering.write.outputs import write_outputs
from ordering.write.xlsx import workbook_bytes

WIDTH = 80


@dataclass(frozen=True, slots=True)
class GroupTerms:
    """How a group is run: time of day, workers here or a scheduler elsewhere, which houses."""

    at: time = time(0, 0)
    n_workers: int = 2
    scheduler: str = ""
    only: Sequence[str] = ()
    out: Path = Path("groups")
    tell: Step = lambda _: None


def group_order(file: Path, on: date, terms: GroupTerms | None = None) -> Report:
    """Run every house's order that has not been run on this day, and write the group's folder.

    Raises
    ------
    Refused : `group.yaml` has faults, or a house asked for is none of its houses
    """
    terms = terms or GroupTerms()
    group = read_group(file)
    _check_only(group, file, terms.only)
    customers = _customers(group, file)
    tasks = _tasks(group, customers, on, terms)
    with workers(terms.n_workers, terms.scheduler) as client:
        if say_alike(group.shared):
            terms.tell("what the houses sold")
            sold = sold_everywhere(client, group.members.values(), group.shared, on)
            for task in tasks.values():
                write_sisters(task.member.books, shares_for(task.member.id, sold))
        found = run_all(client, tasks, customers, terms.tell)
    runs = {i: found[i] for i in group.members if i in found}
    joint = joint_orders(runs.values())
    moves = transfers(group, runs.values())
    content = run_pages(GroupView(group, [*runs.values()], joint, moves), on)
    files = documents_bytes(
        {
            "houses.csv": houses_table(runs.values()),
            "vendors.csv": vendors_table(runs.values(), joint),
            "transfers.csv": transfers_table(moves),
            "group-book.xlsx": _book(content, on),
        }
    )
    files["group.html"] = sections_page(content).encode()
    folder = write_run(terms.out, on.isoformat(), files)
    return Report((*_told(content, runs), f"Written to {folder}"), _status(runs), (folder,))


def group_review(
    file: Path, on: date, days: tuple[date | None, date | None], out: Path, terms: GroupTerms
) -> Report:
    """The same days of every house side by side, as a workbook and a page.

    `days` : first and last, None as for one house's review.

    Raises
    ------
    Refused : `group.yaml` has faults, or the days are still to come
    """
    group = read_group(file)
    _check_only(group, file, terms.only)
    span = span_of(on, *days)
    members = [m for i, m in group.members.items() if not terms.only or i in terms.only]
    with workers(terms.n_workers, terms.scheduler) as client:
        runs = review_all(client, [Task(member, group.shared, on) for member in members], span)
    content = review_pages(GroupView(group, runs), span)
    stem = f"group-review-{span[0].isoformat()}-{span[1].isoformat()}"
    workbook, page = out / f"{stem}.xlsx", out / f"{stem}.html"
    write_outputs({workbook: workbook_bytes(_book(content, on)), page: sections_page(content).encode()})
    refused = [_hanging(fault, "  ") for run in runs for fault in run.faults]
    sentences = [line for text in (content.headline, *content.others) for line in wrapped(text, WIDTH)]
    told = [content.title, *refused, *sentences]
    lines = (*_turned(content, told), f"Written to {workbook} and {page}")
    return Report(lines, 1 if refused else 0, (workbook, page))


def _book(content: PageContent, on: date) -> Workbook:
    paper = "letter" if content.is_american else "a4"
    return sections_workbook(content, group_leaves(content), on, paper, content.title)


def _turned(content: PageContent, lines: Sequence[str]) -> list[str]:
    """Lines of the terminal, in a group of the US with its days."""
    return [american(line) if content.is_american else line for line in lines]


def _customers(group: Group, file: Path) -> dict[str, frozenset[str]]:
    """By house that cooks for others, those that buy from it.

    Raises
    ------
    Refused : a vendor is a house that is not in the group, or houses buy from each other in a circle
    """
    buys = {i: suppliers_of(member, group.shared) - {i} for i, member in group.members.items()}
    unknown = [
        Fault(
            (group.members[i].config / "vendors.yaml").as_posix(),
            0,
            i,
            f"'{supplier}' is not a house of {group.name}",
            nearest(supplier, group.members) or "write the id of a house of group.yaml after 'house:'",
            "no-house",
        )
        for i, suppliers in buys.items()
        for supplier in suppliers
        if supplier not in group.members
    ]
    if unknown:
        raise Refused(unknown)
    try:
        TopologicalSorter(buys).prepare()
    except CycleError as error:
        way = " -> ".join(reversed(error.args[1]))
        wrong, right = f"houses buy from each other in a circle: {way}", "let one of them buy elsewhere"
        raise Refused([Fault(file.as_posix(), 0, "houses", wrong, right, "circle")]) from None
    suppliers = sorted({one for some in buys.values() for one in some} | ({group.central} - {""}))
    return {one: frozenset(i for i, some in buys.items() if one in some) for one in suppliers}


def _tasks(
    group: Group, customers: dict[str, frozenset[str]], on: date, terms: GroupTerms
) -> dict[str, Task]:
    """What each house's worker is told, every house before those it buys from."""
    buys: dict[str, set[str]] = {i: set() for i in group.members}
    for supplier, theirs in customers.items():
        for customer in theirs:
            buys[customer].add(supplier)
    ahead = {supplier: _ahead(group, supplier) for supplier in customers}
    wanted = [i for i in group.members if not terms.only or i in terms.only]
    sequence = [i for i in reversed([*TopologicalSorter(buys).static_order()]) if i in wanted]
    return {
        i: Task(group.members[i], group.shared, on, terms.at, max((ahead[one] for one in buys[i]), default=0))
        for i in sequence
    }


def _ahead(group: Group, supplier: str) -> int:
    """Days that a house looks ahead; nothing where its files are refused, which its own run will say."""
    house, _ = read_house(group.members[supplier].config, group.shared)
    return 0 if house is None else days_ahead(house)


def _check_only(group: Group, file: Path, only: Sequence[str]) -> None:
    known = list(group.members)
    faults = [
        Fault(
            file.as_posix(),
            0,
            "--only",
            f"'{house}' is no house of the group",
            nearest(house, known),
            "no-house",
        )
        for house in only
        if house not in known
    ]
    if faults:
        raise Refused(faults)


def _status(runs: dict[str, HouseRun]) -> int:
    return 1 if any(run.exit for run in runs.values()) else 0


def _told(content: PageContent, runs: dict[str, HouseRun]) -> list[str]:
    """The headline, then every house that needs a call; those refused with all their faults."""
    lines = [content.title, *wrapped(content.headline, WIDTH)]
    calls, *_ = content.sections
    lines += [_hanging(f"{name}: {why}", "  ") for name, why in calls.rows]
    lines += [_hanging(fault, "    ") for run in runs.values() for fault in run.faults[1:]]
    return _turned(content, lines)


def _hanging(text: str, indent: str) -> str:
    """Lines of the terminal, those after the first set in by two more."""
    return indent + f"\n{indent}  ".join(wrapped(text, WIDTH - len(indent) - 2))
