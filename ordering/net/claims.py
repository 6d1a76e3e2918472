"""Claims on what is scarce, served in turn from the parcels there are, and who is refused."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from ordering.explode.graph import Use
from ordering.net.lots import EPS, Parcel, draw, in_turn
from ordering.net.making import whole
from ordering.records.plan import Array


@dataclass(slots=True)
class Claim:
    """One draw on an item: rank by the rule, day, what each path needs, pieces (0: any), who claims."""

    rank: tuple[float, int, float, str]
    day: int
    need: Array
    piece: float = 0.0
    dish: str = ""
    slot: int = -1
    use: Use | None = None


def refused(parcels: list[Parcel], claims: list[Claim]) -> Iterable[tuple[Claim, Array]]:
    """Each claim that must do without something, and what it is short of, [path] of the item's unit.

    A claim is given all that can be given beside those before it, whichever parcels these must then draw:
    Monday's stock is for a batch of next week where the guests of this week can have Tuesday's. What can
    be given to several is what they leave nobody without when they draw the earliest date first. What
    makes up no whole piece of what a claim wants is left to those after it, and is short where they take it.
    So what is short adds up to what must be got to meet every claim, and no more.

    claims : in the order they are served
    """
    if not claims:
        return
    given = np.zeros((max(a.day for a in claims) + 1, claims[0].need.size))
    turn, found = in_turn(p for p in parcels if p.first < len(given)), []
    left = _left(turn, given)
    full = np.zeros(given.shape, dtype=np.bool_)  # where nothing more can be had, whoever asks
    for claim in claims:
        need = np.where(full[claim.day], 0.0, claim.need)
        short = need - _taken_off(turn, left, claim.day, need)
        given[claim.day] += need
        is_short = short > EPS
        over = np.zeros_like(need)
        if is_short.any():
            can_move = is_short & (sum(left, np.zeros_like(need)) > EPS)
            moved = short - np.minimum(_nobody_gives(turn, given), short) if can_move.any() else over
            short = np.where(is_short, short - np.where(can_move, moved, 0.0), 0.0)
            if claim.piece:
                over = np.minimum(whole(short / claim.piece) * claim.piece, need) - short
            full[claim.day] |= is_short & (short > 0) & (over <= EPS)
            given[claim.day] -= short + over
            if max(moved.max(), over.max()) > EPS:
                left = _left(turn, given)
        short += claim.need - need
        if short.max() > EPS:
            found.append((claim, short, over))
    yield from _with_pieces(turn, claims, found)


def _left(turn: Sequence[Parcel], given: Array) -> list[Array]:
    """What nobody is given of each parcel, [path]."""
    return [one.left for one in draw(turn, given).taken]


def _with_pieces(
    turn: Sequence[Parcel], claims: Iterable[Claim], found: Sequence[tuple[Claim, Array, Array]]
) -> Iterable[tuple[Claim, Array]]:
    """What is short to meet every claim, [path], shared by those refused.

    What each left to others it is short of first.
    """
    if not any(over.max() > EPS for _, _, over in found):
        yield from ((claim, short) for claim, short, _ in found)
        return
    gross = np.zeros((max(a.day for a in claims) + 1, found[0][1].size))
    for claim in claims:
        gross[claim.day] += claim.need
    rest = np.maximum(_nobody_gives(turn, gross) - sum(short for _, short, _ in found), 0.0)
    for claim, short, over in found:
        more = np.minimum(rest, over)
        rest = rest - more
        yield claim, short + np.where(more > EPS, more, 0.0)


def _nobody_gives(turn: Sequence[Parcel], gross: Array) -> Array:
    """What parcels cannot give of all that is asked, over all days, [path]."""
    unmet = draw(turn, gross).unmet
    short: Array = np.where(unmet > EPS, unmet, 0.0).sum(axis=0)
    return short


def _taken_off(turn: Sequence[Parcel], left: Sequence[Array], day: int, need: Array) -> Array:
    """What nobody has been given yet of what can be used on a day, up to a need, [path]."""
    given = np.zeros_like(need)
    for parcel, rest in zip(turn, left, strict=True):
        if parcel.first <= day <= parcel.last:
            part = np.minimum(rest, need - given)
            rest -= part
            given += part
    return given
