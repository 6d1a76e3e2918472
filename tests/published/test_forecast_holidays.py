"""Public holidays: dates that follow from the published rules, as our own calendar reads them.

Rules: Easter by the Gregorian computus, Orthodox Easter by the Julian one in Gregorian dates (recomputed with
dateutil; in 2026 it is 12 April, though a page on the web prints the 19th); Good Friday two days before,
Easter Monday one day after, Ascension 39 and Whit Monday 50 days after; Thanksgiving on the fourth Thursday
of November. Dates of observed days are those of the public holidays' own laws as carried by the library
`holidays`.
"""

from datetime import date

import pytest

from ordering.forecast.regressors import holiday_names, special_days
from ordering.records.house import House

CASES = [
    ("US", "", date(2026, 11, 26), "Thanksgiving"),
    ("US", "", date(2027, 11, 25), "Thanksgiving"),
    ("US", "", date(2026, 7, 3), "observed"),
    ("US", "", date(2026, 7, 4), "Independence"),
    ("US", "", date(2027, 7, 5), "observed"),
    ("US", "", date(2027, 12, 31), "observed"),
    ("US", "", date(2026, 9, 7), "Labor"),
    ("US", "", date(2027, 5, 31), "Memorial"),
    ("GB", "ENG", date(2027, 3, 26), "Good Friday"),
    ("GB", "ENG", date(2027, 3, 29), "Easter Monday"),
    ("FR", "", date(2027, 5, 6), "Ascension"),
    ("DE", "", date(2027, 5, 6), "Himmelfahrt"),
    ("FR", "", date(2027, 5, 17), "Pentecôte"),
    ("DE", "", date(2027, 5, 17), "Pfingstmontag"),
    ("FR", "", date(2027, 3, 29), "Pâques"),
    ("DE", "", date(2027, 3, 29), "Ostermontag"),
    ("PL", "", date(2026, 4, 5), "Wielkanoc"),  # a country that lists the Sunday itself
    ("PL", "", date(2027, 3, 28), "Wielkanoc"),
    ("PL", "", date(2028, 4, 16), "Wielkanoc"),
    ("GR", "", date(2026, 4, 13), "Δευτέρα του Πάσχα"),  # the Monday after; the Sunday itself is not listed
    ("GR", "", date(2027, 5, 3), "Δευτέρα του Πάσχα"),
    ("RO", "", date(2026, 4, 12), "Paștele"),
    ("RO", "", date(2027, 5, 2), "Paștele"),
]


@pytest.mark.parametrize(("country", "subdivision", "day", "name"), CASES)
def test_published_dates(country, subdivision, day, name):
    house = House("x", holiday_country=country, holiday_subdivision=subdivision)
    names, note = holiday_names(house, date(2026, 1, 1), date(2028, 12, 31))
    assert note == ""
    assert name.lower() in names[day].lower()


def test_days_around_a_holiday():
    """Thanksgiving is a Thursday: Friday is both the day after and a bridge."""
    names = {date(2026, 11, 26): "Thanksgiving"}
    special = special_days(names)
    assert dict(special.before) == {date(2026, 11, 25): "Thanksgiving"}
    assert dict(special.after) == {date(2026, 11, 27): "Thanksgiving"}
    assert special.bridge == {date(2026, 11, 27)}


def test_a_country_nobody_knows_is_said():
    names, note = holiday_names(House("x", holiday_country="ZZ"), date(2026, 1, 1), date(2026, 12, 31))
    assert names == {}
    assert "ZZ" in note


def test_no_country_no_holidays():
    assert holiday_names(House("x"), date(2026, 1, 1), date(2026, 12, 31)) == ({}, "")
