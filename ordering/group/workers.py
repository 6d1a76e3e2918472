"""The houses of a group on Dask distributed: it places the work, replaces workers that die, runs again.

Nothing here schedules or retries. A run folder appears whole or not at all, so a house whose worker died is
simply run once more.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Iterator, Mapping
from contextlib import contextmanager
from datetime import date
from pathlib import Path

import dask
from distributed import Client, Future, KilledWorker, LocalCluster, as_completed
from distributed.core import Status
from tornado.ioloop import PeriodicCallback

from ordering.faults import Fault, Refused
from ordering.group.one_house import Task, review_house, run_house
from ordering.group.sisters import Sold, sold_of
from ordering.records.group import HouseRun, Member

# Of workers under one house before that house is given up: a kill is mostly not its fault.
DEATHS_ALLOWED = 20
RESTART_MS = 2000
GIVEN_UP = (Status.failed, Status.closed)
# What a worker's process is started with. Dask's own setting also gives memory back at every turn, which cost
# a third of the time of a house.
ONE_THREAD = {"OMP_NUM_THREADS": 1, "OPENBLAS_NUM_THREADS": 1, "MKL_NUM_THREADS": 1}


def run_all(
    client: Client,
    tasks: Mapping[str, Task],
    customers: Mapping[str, Collection[str]],
    tell: Callable[[str], None] = lambda _: None,
) -> dict[str, HouseRun]:
    """Every house's run, by id in the order of `tasks`, whatever order they ended in.

    Parameters
    ----------
    tasks : by house, each after all that buy from it
    customers : by house, those that buy from it
    tell : told after each house how many are done
    """
    by_house: dict[str, Future[HouseRun]] = {}
    for house, task in tasks.items():
        theirs = [by_house[one] for one in sorted(customers.get(house, ())) if one in by_house]
        by_house[house] = client.submit(run_house, task, *theirs, key=f"house-{house}", pure=False)
    names = {future.key: house for house, future in by_house.items()}
    finished = as_completed(by_house.values())
    by_house.clear()  # a future that nobody holds is let go of, and its worker with it
    done: dict[str, HouseRun] = {}
    for future in finished:
        house = names[future.key]
        done[house] = _result(future, house)
        tell(f"{len(done)} of {len(tasks)} houses, {house}")
    return {house: done[house] for house in tasks}


def _result(future: Future[HouseRun], house: str) -> HouseRun:
    try:
        return future.result()
    except KilledWorker:
        wrong = f"{DEATHS_ALLOWED} workers died while running it; run it alone with 'ordering order'"
        return HouseRun(house, 2, faults=(wrong,))


def review_all(client: Client, tasks: Iterable[Task], span: tuple[date, date]) -> list[HouseRun]:
    """How the days of `span` went in every house, in the order of `tasks`."""
    found: list[HouseRun] = client.gather([client.submit(review_house, t, span, pure=False) for t in tasks])
    return found


def sold_everywhere(client: Client, members: Iterable[Member], shared: Path | None, on: date) -> list[Sold]:
    """What all houses that are alike have sold lately."""
    futures = [client.submit(sold_of, member, shared, on, pure=False) for member in members]
    return [one for some in client.gather(futures) for one in some]


@contextmanager
def workers(n_workers: int, scheduler: str = "") -> Iterator[Client]:
    """A client of the scheduler named, or of one started here and stopped again.

    Parameters
    ----------
    n_workers : processes started on this machine, where no `scheduler` is given
    scheduler : address of a running Dask scheduler (`tcp://...`) whose workers see the same folders

    Raises
    ------
    Refused : the scheduler cannot be reached, or has no worker
    """
    if scheduler:
        try:
            joined = Client(scheduler, timeout="10s")
        except (OSError, ValueError) as error:
            wrong, right = f"no scheduler answers at {scheduler}", "start it, or leave --scheduler out"
            raise Refused([Fault("--scheduler", 0, "", wrong, right, "no-scheduler")]) from error
        with joined as client:
            if not client.scheduler_info()["workers"]:
                wrong, right = f"no worker has joined {scheduler}", f"start some: dask worker {scheduler}"
                raise Refused([Fault("--scheduler", 0, "", wrong, right, "no-worker")])
            yield client
        return
    settings = {
        "distributed.scheduler.allowed-failures": DEATHS_ALLOWED,
        "distributed.logging.distributed": "critical",
        "distributed.worker.daemon": False,
        "distributed.worker.profile.enabled": False,
        "distributed.nanny.pre-spawn-environ": ONE_THREAD,
    }
    with (
        dask.config.set(settings),
        LocalCluster(
            n_workers=n_workers,
            threads_per_worker=1,
            processes=True,
            dashboard_address=":0",
            memory_limit=0,
            silence_logs=50,
        ) as cluster,
        Client(cluster) as client,
    ):
        every_so_often = PeriodicCallback(lambda: _start_given_up(cluster, n_workers), RESTART_MS)
        cluster.loop.add_callback(every_so_often.start)
        yield client
        cluster.loop.add_callback(every_so_often.stop)


def _start_given_up(cluster: LocalCluster, n_workers: int) -> None:
    """Dask starts a worker again that dies at work, but gives up one that dies while it starts."""
    for name in [name for name, worker in cluster.workers.items() if worker.status in GIVEN_UP]:
        del cluster.workers[name]
    cluster.scale(n_workers)
