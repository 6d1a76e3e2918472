"""Who came to the demo house and what they ate: covers, sales and bookings, all of it invented.

Every day draws from its own seed, so asking for more days leaves the earlier ones as they are.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date, timedelta

import holidays
import numpy as np

from ordering.records.house import Dish, House, Party

FIRST_DAY = date(2023, 11, 27)
SEED = 20231127
LEADS = (28, 21, 14, 10, 7, 5, 3, 2, 1, 0)
COMING_DAYS = 60

# Covers of an ordinary week in 2026, Monday to Sunday, and the most the house can seat and serve.
BASE = {
    "lunch": (0, 0, 0, 27, 35, 49, 0),
    "sunday-lunch": (0, 0, 0, 0, 0, 0, 74),
    "dinner": (0, 27, 33, 40, 57, 66, 0),
}
MOST = {"lunch": 84, "sunday-lunch": 110, "dinner": 96}
# By month: quiet after Christmas, full in the sailing season, festive in December.
SEASON = (0.80, 0.86, 0.93, 1.0, 1.05, 1.08, 1.14, 1.17, 1.04, 0.97, 0.93, 1.10)
BOOKED_SHARE = {"lunch": 0.42, "sunday-lunch": 0.74, "dinner": 0.63}
EVENTS = {
    "Ellowmouth regatta": 1.40,
    "Oyster weekend": 1.22,
    "Mothering Sunday": 1.35,
    "Valentine's": 1.40,
    "New Year's Eve": 1.35,
}
# Shares of the mains at lunch, Sunday lunch and dinner; a rib for two feeds two.
MAINS: Mapping[str, tuple[float, float, float]] = {
    "fish-and-chips": (24, 0, 0),
    "burger": (19, 0, 0),
    "confit-duck": (11, 0, 0),
    "mussels-chips": (10, 0, 0),
    "chicken-pie": (12, 0, 0),
    "fish-pie": (8, 9, 0),
    "ox-cheek": (9, 0, 13),
    "squash-barley": (8, 0, 7),
    "summer-barley": (8, 0, 7),
    "trout": (7, 0, 8),
    "roast-beef": (0, 48, 0),
    "roast-pork": (0, 30, 0),
    "nut-roast": (0, 11, 0),
    "rib-steak": (0, 0, 17),
    "rib-to-share": (0, 0, 3),
    "duck": (0, 0, 17),
    "hake": (0, 0, 15),
    "roast-chicken": (0, 0, 10),
    "lamb": (0, 0, 11),
    "pork-belly": (0, 0, 10),
    "venison": (0, 0, 8),
}
# Portions per cover of everything else.
EXTRAS: Mapping[str, tuple[float, float, float]] = {
    "bread": (0.34, 0.28, 0.46),
    "almonds": (0.07, 0, 0.12),
    "oysters": (0.06, 0, 0.11),
    "smoked-trout": (0.10, 0.14, 0.16),
    "cured-trout": (0.05, 0, 0.09),
    "celeriac-soup": (0.14, 0.17, 0.10),
    "garden-soup": (0.14, 0.17, 0.10),
    "rillettes": (0.06, 0, 0.10),
    "liver-parfait": (0.06, 0.12, 0.10),
    "beetroot": (0.06, 0.08, 0.09),
    "mussels": (0, 0, 0.10),
    "leeks": (0.05, 0.07, 0.08),
    "potted-crab": (0, 0, 0.09),
    "chips": (0.11, 0, 0.21),
    "greens": (0.10, 0.17, 0.27),
    "red-cabbage": (0, 0.20, 0.14),
    "leaf-salad": (0.12, 0, 0.11),
    "date-pudding": (0.10, 0.22, 0.17),
    "chocolate-tart": (0.07, 0.10, 0.12),
    "crumble": (0, 0.19, 0.10),
    "ice-cream": (0.08, 0.12, 0.08),
    "pavlova": (0.05, 0, 0.09),
    "posset": (0.05, 0, 0.09),
    "cheese": (0.03, 0, 0.09),
}
WARM = {"leaf-salad": 0.35, "ice-cream": 0.4, "pavlova": 0.3, "oysters": 0.15, "mussels-chips": 0.1}
COLD = {"garden-soup": 0.35, "celeriac-soup": 0.2, "date-pudding": 0.25, "crumble": 0.2, "ox-cheek": 0.15}
RUNS_OUT = {"rib-steak": 0.06, "rib-to-share": 0.06, "duck": 0.06, "hake": 0.05, "oysters": 0.05}
SERVICES = ("lunch", "sunday-lunch", "dinner")


@dataclass(frozen=True, slots=True)
class Sitting:
    """One service as it went: what was sold, what ran out, and who was on the books when.

    `booked` has covers on the books by days before; parties are in `sold` and `covers`, not in `booked`.
    """

    day: date
    service: str
    covers: int
    sold: Mapping[str, int] = field(default_factory=dict)
    sold_out: frozenset[str] = frozenset()
    booked: tuple[tuple[int, int], ...] = ()


@dataclass(frozen=True, slots=True)
class Mood:
    """What a day brings besides its date: weather (cold and wet cannot be negative) and the run of trade."""

    weather: float
    trade: float


def moods(until: date) -> Iterator[tuple[date, Mood]]:
    """Each day from the first with its weather and trade, both slow to change."""
    weather = trade = 0.0
    day = FIRST_DAY
    while day <= until:
        draw = np.random.default_rng([SEED, day.toordinal()]).standard_normal(2)
        weather = 0.7 * weather + 0.714 * float(draw[0])
        trade = 0.97 * trade + 0.243 * float(draw[1])
        yield day, Mood(weather, trade)
        day += timedelta(days=1)


def _warmth(day: date) -> float:
    """About 1 in late July, about -1 in late January."""
    return float(np.cos(2 * np.pi * (day.timetuple().tm_yday - 205) / 365.25))


def _season(day: date) -> float:
    """The month's level, sliding between mid-months."""
    ahead = (day.day - 15) / 30
    other = (day.month if ahead > 0 else day.month - 2) % 12
    return SEASON[day.month - 1] * (1 - abs(ahead)) + SEASON[other] * abs(ahead)


def _special(house: House, day: date, service: str, bank: Mapping[date, str]) -> float:
    factor = 1.0
    if day in bank:
        factor *= 1.18
    elif day + timedelta(days=1) in bank:
        factor *= 1.15
    elif day - timedelta(days=1) in bank:
        factor *= 0.9
    for event in house.events:
        fits = not event.services or service in event.services
        if day in event.dates and fits:
            factor *= EVENTS.get(event.name, 1.0)
    return factor


def mean_covers(house: House, day: date, service: str, mood: Mood, bank: Mapping[date, str]) -> float:
    """Walk-ins to be expected at a service, before chance has its say."""
    years = (day - date(2026, 11, 26)).days / 365.25
    level = BASE[service][day.weekday()] * (1 + 0.055 * years) * _season(day)
    wet = (0.09 if service != "dinner" else 0.05) * mood.weather
    return level * _special(house, day, service, bank) * float(np.exp(wet + 0.05 * mood.trade))


def _taste(dish: Dish, day: date, is_oysters: bool) -> float:
    warmth = _warmth(day)
    factor = 1 + WARM.get(dish.id, 0.0) * warmth - COLD.get(dish.id, 0.0) * warmth
    if dish.from_on is not None and day >= dish.from_on:
        factor *= 1 + 0.3 * float(np.exp(-(day - dish.from_on).days / 12))
    return factor * (2.6 if is_oysters and dish.id == "oysters" else 1.0)


def _portions(rng: np.random.Generator, covers: int, offered: list[Dish], sitting: int, day: date,
              is_oysters: bool) -> dict[str, int]:  # fmt: skip
    """What the room asks for: one main each, the rest as it comes."""
    mains = [d for d in offered if d.id in MAINS]
    pull = np.array([MAINS[d.id][sitting] * _taste(d, day, is_oysters) for d in mains])
    pull = pull * rng.gamma(40.0, 1 / 40.0, len(mains))
    asked = dict(zip((d.id for d in mains), rng.multinomial(covers, pull / pull.sum()), strict=True))
    asked["rib-to-share"] = asked.get("rib-to-share", 0) // 2 + asked.get("rib-to-share", 0) % 2
    for dish in offered:
        if dish.id in EXTRAS:
            rate = EXTRAS[dish.id][sitting] * _taste(dish, day, is_oysters) * rng.gamma(30.0, 1 / 30.0)
            asked[dish.id] = int(rng.poisson(covers * rate))
    return {d.id: int(asked.get(d.id, 0)) for d in offered}


def _run_out(
    rng: np.random.Generator, asked: dict[str, int], sitting: int
) -> tuple[dict[str, int], frozenset[str]]:
    """Now and then there was less than was asked for; half of those guests take another main."""
    sold, gone = dict(asked), set()
    for dish, wanted in asked.items():
        if rng.random() < RUNS_OUT.get(dish, 0.006) and wanted >= 4:
            sold[dish] = int(wanted * rng.uniform(0.55, 0.95))
            gone.add(dish)
            left = [d for d in asked if MAINS.get(d, (0, 0, 0))[sitting] > 0 and d not in gone]
            if dish in MAINS and left:
                for d in rng.choice(left, (wanted - sold[dish]) // 2):
                    sold[str(d)] += 1
    return sold, frozenset(gone)


def _booked(rng: np.random.Generator, covers: int, share: float) -> tuple[tuple[int, int], ...]:
    """Covers on the books so many days before: most book in the last week, a tenth a month ahead."""
    n_booked = int(rng.binomial(covers, share))
    leads = rng.gamma(0.75, 9.5, n_booked).astype(int)
    return tuple((lead, int((leads >= lead).sum())) for lead in range(COMING_DAYS + 1))


def _party_at(house: House, day: date, service: str) -> list[Party]:
    return [p for p in house.parties if p.date == day and p.service == service]


def sittings(house: House, until: date) -> Iterator[Sitting]:
    """Every service from the first day to `until`, in order, parties included."""
    years = range(FIRST_DAY.year, until.year + 2)
    bank = holidays.country_holidays(house.holiday_country, subdiv=house.holiday_subdivision, years=years)
    oysters = {d for event in house.events if event.name == "Oyster weekend" for d in event.dates}
    for day, mood in moods(until):
        for n, service in enumerate(SERVICES):
            parties = _party_at(house, day, service)
            rng = np.random.default_rng([SEED, day.toordinal(), n])
            if not house.is_open(day, service):
                if parties:
                    yield _with_parties(Sitting(day, service, 0), parties)
                continue
            mean = mean_covers(house, day, service, mood, bank) * rng.gamma(80.0, 1 / 80.0)
            room = MOST[service] - sum(p.covers for p in parties)
            covers = int(min(rng.poisson(mean), room))
            offered = [d for d in house.dishes.values() if d.is_on(day, service)]
            asked = _portions(rng, covers, offered, n, day, day in oysters)
            sold, gone = _run_out(rng, asked, n)
            booked = _booked(rng, covers, BOOKED_SHARE[service])
            yield _with_parties(Sitting(day, service, covers, sold, gone, booked), parties)


def _with_parties(sitting: Sitting, parties: list[Party]) -> Sitting:
    sold = dict(sitting.sold)
    for party in parties:
        for dish, portions in party.menu.items():
            sold[dish] = sold.get(dish, 0) + round(portions)
    covers = sitting.covers + sum(p.covers for p in parties)
    return Sitting(sitting.day, sitting.service, covers, sold, sitting.sold_out, sitting.booked)


def bookings(
    all_sittings: list[Sitting], on: date, days_back: int = 400
) -> list[tuple[date, date, str, int]]:
    """Rows (taken_on, date, service, booked): at each of `LEADS`, and as the books stand on `on`."""
    rows = []
    for s in all_sittings:
        if not s.booked or (on - s.day).days > days_back:
            continue
        by_lead = dict(s.booked)
        leads = {lead for lead in LEADS if s.day - timedelta(days=lead) <= on}
        if s.day >= on:
            leads.add((s.day - on).days)
        rows += [
            (s.day - timedelta(days=lead), s.day, s.service, by_lead[lead])
            for lead in leads
            if lead in by_lead
        ]
    return sorted(rows)
