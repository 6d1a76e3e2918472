"""What houses that are alike sell, so that a new dish or a new house can lean on its sisters.

The group writes it into the books of each of them (`sisters.csv`): a house run alone then leans on the same.
"""

from __future__ import annotations

import csv
import io
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path

import numpy as np
import pandas as pd

from ordering.amounts import EPS
from ordering.faults import Refused
from ordering.forecast.new_dishes import HALF_LIFE_DAYS, LIKE_PART, USUAL_VARIANCE
from ordering.loading import load
from ordering.read.nodes import read_yaml
from ordering.records.books import Books, SisterShare
from ordering.records.group import Member
from ordering.records.house import House
from ordering.write.folder import write_file

# Variance of the log share between houses, before they show theirs: as between a dish and one it is `like`.
USUAL_BETWEEN = LIKE_PART * USUAL_VARIANCE


@dataclass(frozen=True, slots=True)
class Sold:
    """What a house has sold of a dish at a service: log of portions a cover, and portions' information."""

    house: str
    service: str
    dish: str
    log_share: float
    information: float


def sold_of(member: Member, shared: Path | None, on: date) -> tuple[Sold, ...]:
    """What a house has sold lately; nothing where it is not alike, or its files are refused."""
    try:
        loaded = load(member.config, member.books, on, shared)
    except (Refused, OSError):
        return ()
    return _sold(member.id, loaded.house, loaded.books, on) if loaded.house.is_alike else ()


def _sold(house_id: str, house: House, books: Books, on: date) -> tuple[Sold, ...]:
    today = pd.Timestamp(on)
    table = books.sales.merge(books.covers, on=["date", "service"], validate="many_to_one")
    table = table[(table["date"] < today) & ~table["sold_out"] & (table["covers"] > 0)]
    found = []
    for (service, dish), rows in table.groupby(["service", "dish"]):
        if dish not in house.dishes:
            continue
        weight = 0.5 ** ((today - rows["date"]).dt.days.to_numpy() / HALF_LIFE_DAYS)
        sold, covers = rows["sold"].to_numpy(), rows["covers"].to_numpy()
        ratio = max(1.0, float(sold.var() / max(sold.mean(), EPS)))
        information = float((weight * sold).sum()) / ratio
        if information > 0:
            share = float((weight * sold).sum() / (weight * covers).sum())
            found.append(Sold(house_id, str(service), str(dish), float(np.log(share)), information))
    return tuple(found)


def shares_for(house: str, sold: Iterable[Sold]) -> dict[tuple[str, str], SisterShare]:
    """By service and dish, what one house may expect to sell from what its sisters did.

    Notes
    -----
    A random-effects mean: each sister weighs 1 / (its own variance + the variance between houses), which is
    estimated by moments (DerSimonian and Laird, "Meta-analysis in clinical trials", Controlled Clinical
    Trials 7, 1986, from memory) and drawn to `USUAL_BETWEEN` as by one sister more. The spread is of a house
    not yet seen: the variance between houses and that of the mean.
    """
    by_dish: dict[tuple[str, str], list[Sold]] = defaultdict(list)
    for one in sold:
        if one.house != house:
            by_dish[one.service, one.dish].append(one)
    return {key: _pooled(theirs) for key, theirs in sorted(by_dish.items())}


def _pooled(theirs: Sequence[Sold]) -> SisterShare:
    log_share = np.array([one.log_share for one in theirs])
    variance = 1 / np.array([one.information for one in theirs])
    n, fixed = len(theirs), 1 / variance
    between = USUAL_BETWEEN
    if n > 1:
        centre = (fixed * log_share).sum() / fixed.sum()
        scatter = float((fixed * (log_share - centre) ** 2).sum())
        scale = float(fixed.sum() - (fixed**2).sum() / fixed.sum())
        moments = max(0.0, (scatter - (n - 1)) / scale)
        between = (USUAL_BETWEEN + (n - 1) * moments) / n
    weight = 1 / (variance + between)
    mean = float((weight * log_share).sum() / weight.sum())
    return SisterShare(float(np.exp(mean)), float(np.sqrt(between + 1 / weight.sum())))


def say_alike(shared: Path | None) -> bool:
    """Whether the shared files say that the houses are alike."""
    path = shared / "house.yaml" if shared else None
    node = read_yaml(path)[0] if path is not None and path.is_file() else None
    word = (node.keys or {}).get("alike") if node is not None else None
    return word is not None and (word.text or "").lower() in {"true", "yes"}


def write_sisters(books: Path, shares: Mapping[tuple[str, str], SisterShare]) -> None:
    """Write `sisters.csv` into a house's books, unless it says the same already or there is nothing to say.

    Raises
    ------
    OSError : the disk refuses; what was there stays
    """
    path = books / "sisters.csv"
    text = io.StringIO()
    rows = csv.writer(text, lineterminator="\n")
    rows.writerow(("service", "dish", "per_cover", "spread"))
    rows.writerows((s, d, f"{one.per_cover:.6f}", f"{one.spread:.6f}") for (s, d), one in shares.items())
    content = text.getvalue().encode()
    if (shares or path.is_file()) and not (path.is_file() and path.read_bytes() == content):
        write_file(path, content)
