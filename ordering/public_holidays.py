"""Public holidays of a country and its parts, as the library `holidays` carries them.

The library is imported only once a house names a country, and then no more of it than that country.
"""

from __future__ import annotations

import sys
from collections.abc import Iterable, Mapping
from datetime import date
from functools import lru_cache
from pathlib import Path
from types import ModuleType
from typing import Any

_COUNTRIES = "holidays.countries"


@lru_cache(maxsize=32)
def _entity(country: str) -> Any:
    """The library's class of a country; None when the country is not known.

    The library's package of countries imports all 290 for any one of them, which is most of its time. An
    empty package in its place, that only says where they lie, lets it load the one it is asked for.
    """
    import holidays
    from holidays.registry import EntityLoader

    if _COUNTRIES not in sys.modules:
        package = ModuleType(_COUNTRIES)
        package.__path__ = [str(Path(place) / "countries") for place in holidays.__path__]
        sys.modules[_COUNTRIES] = package
    return getattr(holidays, country) if country in EntityLoader.get_country_codes() else None


def parts_of(country: str) -> tuple[str, ...] | None:
    """Parts of a country with holidays of their own; None when the country is not known.

    country : ISO 3166 code of two or three letters, or another code in use, such as UK
    """
    entity = _entity(country)
    return None if entity is None else tuple(entity.subdivisions)


def holidays_of(country: str, subdivision: str, years: Iterable[int]) -> Mapping[date, str]:
    """Names of the public holidays by day, in the country's own language whatever the machine's.

    subdivision : empty for the whole country

    Raises
    ------
    LookupError : the country is not known, or has no such part
    """
    entity = _entity(country)
    if entity is None:
        raise LookupError(f"no public holidays are known for {country}")
    try:
        found = entity(subdiv=subdivision or None, years=years, language=entity.default_language)
    except NotImplementedError as unknown:
        raise LookupError(f"{subdivision} is no part of {country} with holidays of its own") from unknown
    return dict(sorted(found.items()))
