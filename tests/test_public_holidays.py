"""Public holidays by country code: aliases, parts, and names that do not follow the machine's language."""

from datetime import date

import holidays
import pytest

from ordering.public_holidays import holidays_of, parts_of

CODES = sorted(holidays.list_supported_countries())


@pytest.mark.parametrize("code", CODES)
def test_every_code_of_the_library_is_known(code):
    assert set(holidays_of(code, "", [2026])) == set(holidays.country_holidays(code, years=2026))
    assert parts_of(code) == tuple(getattr(holidays, code).subdivisions)


@pytest.mark.parametrize("alias", ["UK"])
def test_an_alias_is_the_country(alias):
    assert holidays_of(alias, "SCT", [2026]) == holidays_of("GB", "SCT", [2026])


@pytest.mark.parametrize("word", ["ZZ", "", "gb", "utils", "date", "country_holidays", "XNYS", "__doc__"])
def test_what_is_no_country_is_not_known(word):
    """Neither are the library's own functions, nor its stock exchanges."""
    assert parts_of(word) is None
    with pytest.raises(LookupError):
        holidays_of(word, "", [2026])


def test_a_part_nobody_knows_is_said():
    with pytest.raises(LookupError, match="ENGL is not a part of GB"):
        holidays_of("GB", "ENGL", [2026])


def test_names_are_the_countrys_own_whatever_the_language_of_the_machine(monkeypatch):
    before = holidays_of("DE", "BY", [2026])
    monkeypatch.setenv("LANGUAGE", "en_US")
    assert holidays_of("DE", "BY", [2026]) == before
    assert before[date(2026, 1, 1)] == "Neujahr"
