"""What a vendor's pack string says: count, size, unit, and what has to be asked."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from ordering.units import UNITS, Quantity, kind_of


@dataclass(frozen=True, slots=True)
class Reading:
    """`count` packs of `size` (to `high`) `unit`; `ask` is what cannot be known, empty where it is sure.

    `unit` is one of `units.UNITS`, or bushel, dry pint, peck or carcass, which hold no known amount.
    `size` is None where the string does not say what is in the pack.
    """

    count: int | None = None
    size: Fraction | None = None
    unit: str = ""
    high: Fraction | None = None
    is_catch_weight: bool = False
    ask: str = ""
    total: Quantity | None = None

    @property
    def content(self) -> Quantity | None:
        """What the pack holds in all, of a range the middle; None where that cannot be known."""
        if self.total is not None:
            return self.total
        if self.count is None or self.size is None or self.unit not in UNITS:
            return None
        return Quantity(self.count * (self.size + (self.high or self.size)) / 2, self.unit)

    @property
    def written(self) -> str:
        """The pack as a house file has it; empty where its content is not known."""
        content = self.content
        if content is None or not content.amount:
            return ""
        if self.is_catch_weight:
            return f"{self.count} each ~ {content}"
        if self.total is not None or self.count == 1:
            return str(content)
        size = str(Quantity(self.size or Fraction(1), self.unit))
        return (
            f"{self.count} {self.unit}"
            if size.startswith("1 ") and kind_of(self.unit) not in ("mass", "volume") and self.unit != "dozen"
            else f"{self.count} x {size}"
        )
