"""Holidays, named events, closures and parties in the forecast."""

from dataclasses import replace
from datetime import date, timedelta

import pytest
from pasts import ON, books_of, covers_table, days_before, home, ordinary, plate, weekly

from ordering.days import span
from ordering.forecast.demand import forecast
from ordering.records.books import Books
from ordering.records.house import Closure, NamedEvent, Party

DAYS = span(ON, 21)


def test_a_holiday_never_seen_moves_little():
    """100 days without any public holiday, then Christmas: no more than what is usual for holidays."""
    covers = weekly(100, on=date(2026, 12, 20))
    books = Books(covers=covers_table(covers, on=date(2026, 12, 20)))
    days = span(date(2026, 12, 20), 10)
    with_holidays = forecast(home(holiday_country="GB"), books, days, 1, 10)
    without = forecast(home(), books, days, 1, 10)
    assert with_holidays.covers_mean == pytest.approx(without.covers_mean, rel=0.25)


def test_a_holiday_learnt_from_the_past_is_expected():
    covers = weekly(1100)
    for n, day in enumerate(days_before(1100)):
        if (day.month, day.day) == (12, 25):
            covers[n] *= 2.5
    days = span(ON, 35)
    found = forecast(home(holiday_country="GB"), books_of(covers), days, 1, 10)
    plain = forecast(home(), books_of(covers), days, 1, 10)
    at = [n for n, slot in enumerate(found.slots) if (slot.date.month, slot.date.day) == (12, 25)]
    assert found.covers_mean[at] > 1.5 * plain.covers_mean[at]


def test_a_named_event_is_learnt_and_a_new_one_is_said():
    regatta = tuple(date(year, 12, 5) for year in (2023, 2024, 2025, 2026))
    covers = weekly(1100)
    for n, day in enumerate(days_before(1100)):
        if day in regatta:
            covers[n] *= 2
    house = home(events=(NamedEvent("Regatta", regatta), NamedEvent("First fair", (date(2026, 12, 8),))))
    found = forecast(house, books_of(covers), DAYS, 1, 10)
    plain = forecast(home(), books_of(covers), DAYS, 1, 10)
    at = [n for n, slot in enumerate(found.slots) if slot.date == date(2026, 12, 5)]
    assert found.covers_mean[at] > 1.4 * plain.covers_mean[at]
    assert any("First fair" in note for note in found.notes)


@pytest.mark.parametrize(("days", "is_said"), [(59, True), (60, False)])
def test_an_event_never_seen_is_said_within_sixty_days(days, is_said):
    fair = NamedEvent("Fair", (ON + timedelta(days=days),))
    found = forecast(home(events=(fair,)), books_of(weekly(60)), DAYS, 1, 5)
    assert any("Fair has no past date" in note for note in found.notes) == is_said


def test_a_closed_service_has_no_slot():
    house = home(weekdays=frozenset({4, 5}), closures=(Closure(date(2026, 12, 4), date(2026, 12, 4)),))
    found = forecast(house, ordinary()[1], DAYS, 1, 5)
    assert {slot.date.weekday() for slot in found.slots} == {4, 5}
    assert date(2026, 12, 4) not in {slot.date for slot in found.slots}


def test_parties_are_certain():
    """Added to the walk-ins, or in place of them; the same on every path."""
    added = Party("Pilots", date(2026, 12, 1), "dinner", 24, {"duck": 24.0})
    instead = Party("Wedding", date(2026, 12, 2), "dinner", 60, {"pie": 60.0}, is_instead=True)
    house, books = ordinary()
    with_parties = forecast(replace(house, parties=(added, instead)), books, DAYS, 1, 30)
    without = forecast(house, books, DAYS, 1, 30)
    on = {slot.date: n for n, slot in enumerate(with_parties.slots)}
    first, second = on[added.date], on[instead.date]
    assert (with_parties.portions[0, first] == without.portions[0, first] + 24).all()
    assert (with_parties.covers[first] == without.covers[first] + 24).all()
    assert (with_parties.portions[1, second] == 60).all()
    assert (with_parties.portions[0, second] == 0).all()
    assert (with_parties.covers[second] == 60).all()
    assert with_parties.party[0, first] == 24


def test_a_house_without_history_still_plans_its_events():
    party = Party("Opening", date(2026, 11, 28), "dinner", 40, {"duck": 40.0})
    found = forecast(home(plate("duck"), parties=(party,)), Books(), DAYS, 1, 10)
    assert found.mean.sum() == 40
    assert any("only private parties" in note for note in found.notes)
    assert found.unknown == frozenset(range(len(found.slots))), (
        "walk-ins join the party, how many is not known"
    )


def test_a_service_taken_by_a_party_is_known_without_history():
    """Nobody walks in where the party is instead of the service; every other evening is not known."""
    party = Party("Opening", date(2026, 11, 28), "dinner", 40, {"duck": 40.0}, is_instead=True)
    found = forecast(home(plate("duck"), parties=(party,)), Books(), DAYS, 1, 10)
    known = [n for n, slot in enumerate(found.slots) if slot.date == party.date]
    assert found.unknown == frozenset(range(len(found.slots))) - set(known)
    house, books = ordinary()
    assert forecast(house, books, DAYS, 1, 10).unknown == frozenset()
