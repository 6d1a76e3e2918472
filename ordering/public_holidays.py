"""Public holidays of a country and its parts, as the library `holidays` carries them.

The library is imported only once a house names a country: it brings some 300 modules with it, one a
country, and cannot be had in parts.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date
from functools import lru_cache


@lru_cache(maxsize=32)
def parts_of(country: str) -> tuple[str, ...] | None:
    """Parts of a country with holidays of their own; None when the country is not known.

    country : ISO 3166 code of two or three letters, or another code in use, such as UK
    """
    import holidays

    known = holidays.list_supported_countries()
    return tuple(known[country]) if country in known else None


def holidays_of(country: str, subdivision: str, years: Iterable[int]) -> Mapping[date, str]:
    """Names of the public holidays by day, in the country's own language whatever the machine's.

    subdivision : empty for the whole country

    Raises
    ------
    LookupError : the country is not known, or has no such part
    """
    import holidays

    if parts_of(country) is None:
        raise LookupError(f"no public holidays are known for {country}")
    entity = getattr(holidays, country)
    try:
        found = entity(subdiv=subdivision or None, years=years, language=entity.default_language)
    except NotImplementedError as unknown:
        raise LookupError(f"{subdivision} is not a part of {country} with holidays of its own") from unknown
    return dict(sorted(found.items()))
