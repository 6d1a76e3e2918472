"""The library function behind `group`: every house's run on workers, then what the group adds up."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, time
from pathlib import Path

from ordering.amounts import plural
from ordering.faults import Fault, Refused, nearest
from ordering.group.one_house import Task
from ordering.group.together import joint_orders
from ordering.group.transfers import transfers
from ordering.group.workers import run_all
from ordering.pages.group_tables import houses_table, transfers_table, vendors_table
from ordering.pipeline import Step
from ordering.read.group import read_group
from ordering.records.group import Group, HouseRun
from ordering.records.report import Report
from ordering.write.documents import documents_bytes
from ordering.write.folder import write_run


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
    members = [group.members[i] for i in group.members if not terms.only or i in terms.only]
    tasks = {member.id: Task(member, group.shared, on, terms.at) for member in members}
    runs = run_all(tasks, terms.n_workers, terms.scheduler, terms.tell)
    joint = joint_orders(runs.values())
    moves = transfers(group, runs.values())
    files = documents_bytes(
        {
            "houses.csv": houses_table(runs.values()),
            "vendors.csv": vendors_table(runs.values(), joint),
            "transfers.csv": transfers_table(moves),
        }
    )
    folder = write_run(terms.out, on.isoformat(), files)
    return Report((*_told(group, runs), f"Written to {folder}"), _status(runs), (folder,))


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


def _told(group: Group, runs: dict[str, HouseRun]) -> list[str]:
    refused = [run for run in runs.values() if run.exit == 2]
    look = [run for run in runs.values() if run.exit == 1]
    lines = [f"{group.name}: {plural(len(runs), 'house')}, {len(look)} to look at, {len(refused)} refused"]
    for run in refused:
        lines += [f"  {run.house}: refused", *(f"    {fault}" for fault in run.faults)]
    return lines
