"""A group's run: each house as it would be alone, whatever happens to its neighbours and its worker."""

import filecmp
import os
import shutil
import signal
from pathlib import Path

import psutil
import pytest
from distributed.core import Status
from group import kitchens
from group.kitchens import THU, rows

from ordering import cli
from ordering.faults import Refused
from ordering.group.one_house import Task, run_house
from ordering.group.workers import DEATHS_ALLOWED, RESTART_MS, run_all, workers
from ordering.grouping import GroupTerms, group_order
from ordering.read.group_file import read_group
from ordering.runs import RunTerms, order


def tasks_of(file: Path) -> dict[str, Task]:
    group = read_group(file)
    return {i: Task(member, group.shared, THU) for i, member in group.members.items()}


def same_files(one: Path, other: Path) -> bool:
    names = sorted(p.relative_to(one) for p in one.rglob("*") if p.is_file())
    assert names == sorted(p.relative_to(other) for p in other.rglob("*") if p.is_file())
    return all(filecmp.cmp(one / name, other / name, shallow=False) for name in names)


def test_a_house_is_given_up_neither_by_bad_luck_nor_after_an_age():
    """Common practice, no source: trouble has half a minute to pass, a bad house no more than one.

    Where every second worker is killed, one house in a million is given up that is not to blame.
    """
    assert 0.5 ** (DEATHS_ALLOWED + 1) < 1e-6
    assert 30 <= DEATHS_ALLOWED * RESTART_MS / 1000 <= 60


def test_a_house_of_a_group_runs_exactly_as_it_does_alone(tmp_path):
    file = kitchens.group(tmp_path / "group", 1)
    (task,) = tasks_of(file).values()
    books = shutil.copytree(task.member.books, tmp_path / "books")
    run_house(task)
    alone = tmp_path / "alone"
    order(task.member.config, books, alone, THU, RunTerms(shared=task.shared))
    assert same_files(task.member.runs / THU.isoformat(), alone / THU.isoformat())


def test_a_house_that_is_refused_stops_nobody_and_says_why(tmp_path):
    file = kitchens.group(tmp_path, 2)
    (tmp_path / "h0" / "config" / "menu.yaml").write_text("flatbread: {portion: 2 kilometres}\n", "utf-8")
    runs = [run_house(task) for task in tasks_of(file).values()]
    assert [run.exit for run in runs] == [2, 1]
    assert "h0/config/menu.yaml:1: flatbread" in runs[0].faults[0]
    assert not (tmp_path / "h0" / "runs").exists()


def test_a_house_that_was_run_is_told_from_its_folder(tmp_path):
    (task,) = tasks_of(kitchens.group(tmp_path, 1)).values()
    first, again = run_house(task), run_house(task)
    assert (first.was_there, again.was_there, again.seconds) == (False, True, None)
    assert again.lines == first.lines != ()
    assert [p.name for p in task.member.runs.iterdir()] == [THU.isoformat()]


def test_a_run_that_was_never_booked_is_run_again(tmp_path):
    """As a worker leaves it that dies between the folder and the ledger."""
    (task,) = tasks_of(kitchens.group(tmp_path, 1)).values()
    run_house(task)
    (task.member.books / "ledger.sqlite").unlink()
    again = run_house(task)
    assert (again.was_there, again.exit) == (False, 1)
    assert same_files(task.member.runs / THU.isoformat(), Path(again.folder))


def test_workers_that_are_killed_are_replaced_and_their_houses_run_again(tmp_path):
    """Two workers are killed in the midst of it; the folders are those of a run that nobody disturbed."""
    tasks = tasks_of(kitchens.group(tmp_path, 5))
    for task in tasks.values():
        run_house(task)
        task.member.runs.rename(task.member.books / "calm")
        (task.member.books / "ledger.sqlite").unlink()
    n_left = [2]

    def kill_one(_: str) -> None:
        children = psutil.Process().children(recursive=True)
        alive = (p for p in children if p.status() != psutil.STATUS_ZOMBIE)
        workers = [p for p in alive if "spawn_main" in " ".join(p.cmdline())]
        if n_left[0] and workers:
            n_left[0] -= 1
            os.kill(workers[-1].pid, signal.SIGKILL)

    with workers(2) as client:
        runs = run_all(client, tasks, {}, kill_one)
    assert n_left == [0]
    assert [run.exit for run in runs.values()] == [1] * 5
    for task in tasks.values():
        assert [p.name for p in task.member.runs.iterdir()] == [THU.isoformat()]
        assert same_files(task.member.runs / THU.isoformat(), task.member.books / "calm" / THU.isoformat())


def test_a_worker_that_is_given_up_is_started_again(tmp_path):
    """Dask gives up a worker that dies while it starts: the group would wait for ever."""
    (task,) = tasks_of(kitchens.group(tmp_path, 1)).values()
    with workers(1) as client:
        (worker,) = client.cluster.workers.values()
        client.cluster.sync(worker.kill)
        worker.status = Status.failed
        assert client.submit(run_house, task).result(timeout=300).exit == 1


@pytest.mark.usefixtures("by_hand")
def test_the_group_folder_adds_up_what_the_houses_order(tmp_path):
    file = kitchens.group(tmp_path, 2)
    report = group_order(file, THU, GroupTerms(out=tmp_path / "groups"))
    assert report.status == 1
    (folder,) = report.written
    assert [row["house"] for row in rows(folder / "houses.csv")] == ["h0", "h1"]
    lines = rows(folder / "vendors.csv")
    assert {row["vendor"] for row in lines} == {"miller"}
    assert {row["lacking"] for row in lines} == {"0.00"}
    assert float(lines[0]["total"]) >= 100
    assert all(float(row["amount"]) < 100 for row in lines), "no house reaches the minimum alone"


@pytest.mark.usefixtures("by_hand")
def test_only_some_houses(tmp_path):
    file = kitchens.group(tmp_path, 2)
    report = group_order(file, THU, GroupTerms(out=tmp_path / "groups", only=("h1",)))
    assert [row["house"] for row in rows(report.written[0] / "houses.csv")] == ["h1"]
    with pytest.raises(Refused, match="'h9' is no house of the group"):
        group_order(file, THU, GroupTerms(out=tmp_path / "groups", only=("h9",)))


def test_a_group_that_is_refused_writes_nothing(tmp_path, capsys):
    file = tmp_path / "group.yaml"
    file.write_text("name: Nobody\nhouses: {}\n", "utf-8")
    assert cli.main(["group", str(file), "--on", "2026-11-26", "--out", str(tmp_path / "groups")]) == 2
    assert "group.yaml:2" in capsys.readouterr().err
    assert not (tmp_path / "groups").exists()
