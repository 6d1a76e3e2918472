"""What one pack of an offer holds, as a house writes it.

`n/m` before a unit is a count and a size, as vendors print it, and never a fraction: `1/50 LB` is one sack
of 50 lb. Where the trade also means a part by it (`1/2 LB`), nothing is taken and both are said.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from ordering.units import LARGEST, Quantity, UnitError, kind_of, parse_quantity, unit_name

_EXAMPLE = "6 x 1 kg"
_BETWEEN = re.compile(r"\s+[x×]\s+|(?<=[0-9])[x×](?=[0-9 .])|\s*/\s*", re.IGNORECASE)
_PART_OF = {"1/2": "half a", "1/3": "a third of a", "2/3": "two thirds of a"}
_PART_OF |= {"1/4": "a quarter", "3/4": "three quarters of a"}
_LAST_STROKE = re.compile(r"(.*?)(?<![0-9.])([0-9]+)\s*/\s*([0-9]+)\s*([^0-9/.][^0-9/]*)", re.ASCII)


@dataclass(frozen=True, slots=True)
class Pack:
    """What one pack holds: `content` in total, and for catch weight the `expected` weight of it."""

    written: str
    content: Quantity
    expected: Quantity | None = None


def parse_pack(text: str) -> Pack:
    """Read `25 kg`, `6 x 1 kg`, `12/1 LB`, `4 x 6 x 330 ml`, and catch weight: `1 each ~ 4.2 kg`.

    After `~` stands the expected weight of the whole pack.

    Raises
    ------
    UnitError : not a pack, an empty pack, one that may be two things, or an expected weight that is no mass
    """
    nominal, tilde, weight = text.partition("~")
    _refuse_parts(nominal.strip()[:80])
    *counts, last = _BETWEEN.split(nominal.strip()[:80])
    inner = parse_quantity(last, _EXAMPLE)
    amount = inner.amount
    for count in counts:
        if not re.fullmatch(r"[0-9]{1,6}", count.strip(), re.ASCII):
            raise UnitError(f"'{count[:40]}' is not a whole number of units in a pack", f"write {_EXAMPLE}")
        amount *= int(count)
    if not 0 < amount <= LARGEST:
        raise UnitError(f"the pack '{text[:40]}' holds nothing or too much", f"write {_EXAMPLE}")
    expected = parse_quantity(weight, "1 each ~ 4.2 kg") if tilde else None
    if expected is not None and (kind_of(expected.unit) != "mass" or not expected.amount):
        raise UnitError(
            f"'{weight.strip()[:40]}' is not a weight", "write what one pack weighs: 1 each ~ 4.2 kg"
        )
    return Pack(" ".join(text.split()), Quantity(amount, inner.unit), expected)


def pieces_in(pack: str) -> int:
    """How many pieces a pack as written holds: 12 of `12 x 500 g`, 24 of `4 x 6 x 330 ml`, 5 of `5 each`."""
    nominal = pack.partition("~")[0].strip()
    *counts, last = _BETWEEN.split(nominal)
    n = math.prod(int(count) for count in counts)
    inner = parse_quantity(last, _EXAMPLE)
    is_piece = kind_of(inner.unit) not in ("mass", "volume")
    return n * int(inner.amount) if is_piece and inner.amount == int(inner.amount) else n


def _refuse_parts(nominal: str) -> None:
    """UnitError where the last stroke may part a count from a size, or be that of a fraction."""
    match = _LAST_STROKE.fullmatch(nominal)
    if match is None:
        return
    head, n, m, word = (part.strip() for part in match.groups())
    unit = unit_name(word)
    part = _PART_OF.get(f"{n}/{m}")
    if part and not head:
        half = f"{int(n) / int(m):.3g}"
        right = f"write {n} x {m} {unit}, or {half} {unit}"
        raise UnitError(f"'{nominal}' may be {n} x {m} {unit} or {part} {unit}", right)
    if head and (part or not head.endswith("/")):
        right = f"write decimals and count x size: 1.5 kg, {_EXAMPLE}"
        raise UnitError(f"'{nominal}' can be read two ways", right)
