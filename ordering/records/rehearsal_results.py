"""What one way of ordering came to over a stretch of days."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from ordering.records.house import MissedCost


@dataclass(frozen=True, slots=True)
class WayResult:
    """Portions, and money of the house. `profit` is revenue less spend, change of stock counted in.

    `lost` : portions not served, by dish.
    """

    way: str
    wanted: float
    served: float
    revenue: float
    lost_revenue: float
    spent: float
    wasted: float
    stock_change: float
    lost: Mapping[str, float] = field(default_factory=dict)

    @property
    def missed(self) -> float:
        """Portions not served."""
        return self.wanted - self.served

    @property
    def profit(self) -> float:
        """Revenue less spend, change of stock counted in."""
        return self.revenue - self.spent + self.stock_change


@dataclass(frozen=True, slots=True)
class Tried:
    """What the program came to at another cost of a missed portion."""

    missed_cost: MissedCost
    outcome: WayResult
