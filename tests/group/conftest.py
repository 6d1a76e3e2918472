"""A group's houses run one after the other in this process, where a test has no need of workers."""

from contextlib import nullcontext

import pytest

from ordering.group.one_house import run_house
from ordering.group.sisters import sold_of


@pytest.fixture
def by_hand(monkeypatch):
    """The houses one after the other in this process: where they run changes nothing for the group."""

    def one_by_one(_, tasks, customers, tell):
        done = {}
        for house, task in tasks.items():
            done[house] = run_house(task, *(done[one] for one in sorted(customers.get(house, ()))))
        return done

    def sold_by_hand(_, members, shared, on):
        return [one for member in members for one in sold_of(member, shared, on)]

    monkeypatch.setattr("ordering.grouping.run_all", one_by_one)
    monkeypatch.setattr("ordering.grouping.sold_everywhere", sold_by_hand)
    monkeypatch.setattr("ordering.grouping.workers", lambda *_: nullcontext())
