"""What the stages hand on, from forecast to pegging.

Axes, everywhere in this order: [item or dish, day or slot, path]. Day 0 is the day of the run.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from ordering.records.books import Begun, Lot, OpenOrder
from ordering.records.buying import Buying, OrderLine, Shortfall
from ordering.records.house import RecipeLine

Array = NDArray[np.float64]

QUANTILES = (0.05, 0.10, 0.25, 0.50, 0.75, 0.90, 0.95)


@dataclass(frozen=True, slots=True)
class Slot:
    """One service on one day; `day` is its index on the day axis."""

    date: date
    service: str
    day: int


@dataclass(frozen=True, slots=True)
class Forecast:
    """Covers and portions of the coming services, parties included.

    covers_mean : [slot]; covers_quantiles : [slot, quantile]; covers : [slot, path]
    mean : [dish, slot]; quantiles : [dish, slot, quantile]; portions : [dish, slot, path]
    party : [dish, slot], the certain part of `mean`; booked : [slot], NaN where nothing is known
    notes : what the forecast does not know, said
    unknown : slots without any past; what stands there is of parties and covers booked alone, the least
    quality : per service, one line on how good it has been lately
    """

    days: tuple[date, ...]
    slots: tuple[Slot, ...]
    dishes: tuple[str, ...]
    covers_mean: Array
    covers_quantiles: Array
    covers: Array
    mean: Array
    quantiles: Array
    portions: Array
    party: Array
    booked: Array
    notes: tuple[str, ...] = ()
    quality: tuple[str, ...] = ()
    unknown: frozenset[int] = frozenset()


@dataclass(frozen=True, slots=True)
class Opening:
    """What the house has on the morning of the run, in-process lots and open orders included.

    `begun`: batches not ready before today. `unknown`: items never counted. `doubtful`: those of which more
    went out than counts, receipts and batches written down explain. `oldest`: by item that can come back with
    its date mark and past day, the earliest last day drawn. `past`: what should lie there past its use-by.
    """

    lots: tuple[Lot, ...] = ()
    scheduled: tuple[OpenOrder, ...] = ()
    begun: tuple[Begun, ...] = ()
    unknown: frozenset[str] = frozenset()
    doubts: tuple[str, ...] = ()
    doubtful: frozenset[str] = frozenset()
    oldest: Mapping[tuple[str, date], date] = field(default_factory=dict)
    past: tuple[Lot, ...] = ()


@dataclass(frozen=True, slots=True)
class ItemFlow:
    """One item's expected path: means over the paths, in the item's unit, shape [day].

    `gross` is the sum of `by_parent`, whose keys are recipe ids, `dish:ID` for a dish, `*consumables`.
    `scheduled` are open orders, `in_process` lots that become ready, `by_product` what comes off other
    recipes or comes back. `planned` is what is made (on its ready day) or, for a bought item, the net
    requirement (on the day it is needed); in `Plan.projection`, what is delivered. `expired` is thrown away
    at the end of the day before it, `thrown` the part of it that was planned (None: none was); `projected`
    is on hand at the end of the day: projected[t] = projected[t-1] + scheduled + in_process + by_product +
    planned - expired - gross + short.
    """

    item: str
    opening: float
    gross: Array
    by_parent: Mapping[str, Array]
    scheduled: Array
    in_process: Array
    by_product: Array
    planned: Array
    expired: Array
    projected: Array
    short: Array
    thrown: Array | None = None


@dataclass(frozen=True, slots=True)
class Requirement:
    """What must be bought of one item, cumulative over days, shape [day], item's unit.

    `required[t]` must have been delivered by the morning of day t: the service-level quantile over the paths
    of the cumulative net requirement, `expected` its mean. `stock_left` is what is expected in the house on
    the morning of day t if nothing is bought: what a par is held against. `level` is the service level used,
    `why` how it came about; `enough[t]`: share of the paths on which what is required by day t is enough.
    `given_up[t]` is needed on day t, on the mean, and not required, because a pack costs more than it saves.
    `by_path` [day, path] is each day's own net requirement, kept of what a house of the group supplies.
    """

    item: str
    required: Array
    expected: Array
    stock_left: Array
    level: float
    why: str = ""
    enough: Array | None = None
    given_up: Array | None = None
    by_path: Array | None = None


@dataclass(frozen=True, slots=True)
class TakenForStart:
    """What a start takes of one parcel, for a line of its recipe; `quantity` in the unit of the line's item.

    `use_by` is the parcel's last day, None: no date. `comes_on`: the day it is delivered or comes off another
    recipe, None: it is there. `is_only`: no other parcel could be taken. `is_missing`: none is known.
    `is_freshest`: of several the freshest is to be taken first, not the oldest.
    """

    line: RecipeLine
    quantity: float
    use_by: date | None = None
    comes_on: date | None = None
    is_only: bool = True
    is_missing: bool = False
    is_freshest: bool = False


@dataclass(frozen=True, slots=True)
class Start:
    """Batches to start. `from_lots` says which parcels to take, for stages of several days.

    `use_by` is the last day of what is made, its oldest marked part considered; None: no date. `note` says
    in a few words what is out of the ordinary about it; "": nothing.
    """

    start_on: date
    recipe: str
    batches: float
    quantity: float
    unit: str
    ready_on: date
    from_lots: tuple[TakenForStart, ...] = ()
    hazards: tuple[str, ...] = ()
    use_by: date | None = None
    note: str = ""


@dataclass(frozen=True, slots=True)
class Expiring:
    """A lot in the house, in process or on its way that will likely go past its date before it is used.

    `quantity` is the lot's, `unused` what is expected to be left of it at the end of `use_by`, both in the
    item's unit. `there_on`: the day it comes or is ready, None: it is there. `cost`: of `unused`.
    """

    item: str
    use_by: date
    quantity: float
    unused: float
    there_on: date | None = None
    is_ordered: bool = False
    cost: float | None = None


@dataclass(frozen=True, slots=True)
class Shortage:
    """A row of shortages.csv. `dishes` names the dishes and portions hit.

    `portions` is how many in all, `money` what is lost by not serving them. `is_optional`: it stops nothing.
    """

    date: date
    item: str
    short: float
    unit: str
    dishes: str
    cause: str
    remedy: str
    portions: float = 0.0
    money: float = 0.0
    is_optional: bool = False


@dataclass(frozen=True, slots=True)
class Netting:
    """Everything the middle of the pipeline knows.

    `starts` are of the days a run decides on; `levels`: what a recipe is held at, an ingredient asked for.
    `ageing_gaps`: by recipe, that the row of ages leaves a gap ahead, in words.
    """

    flows: Mapping[str, ItemFlow]
    requirements: Mapping[str, Requirement]
    starts: tuple[Start, ...]
    shortfalls: tuple[Shortfall, ...]
    levels: Mapping[str, float]
    warnings: tuple[str, ...] = ()
    expiring: tuple[Expiring, ...] = ()
    ageing_gaps: Mapping[str, str] = field(default_factory=dict)


CONSUMABLES, SAFETY, PAR, ROUNDING = NO_DISHES = ("*consumables", "*safety", "*par", "*rounding")
"""What a part of an order line is for where no dish is the cause, as it is told behind the dishes."""


class Peg(NamedTuple):
    """A row of pegging.csv: the part of one order line that one cause explains.

    `dish` is a dish id or one of `*safety`, `*par`, `*rounding`, `*consumables`. Rows of one line add up to
    its quantity. A run has thousands of them, so they are tuples, in the sequence of the columns.
    """

    vendor: str
    code: str
    deliver_on: date
    dish: str
    service_date: date | None
    quantity: float
    unit: str


@dataclass(frozen=True, slots=True)
class DeliveryWindow:
    """All lines of one item that come on one day, and what they are for.

    `day` is that day and `until` the last day they must last (indices); `start` is the level of all
    deliveries before and `wanted` what is expected to be needed of deliveries up to `until`; `drawn`, shape
    (n_days,), is the expected need they meet. `drawn.sum() + safety + par + rounding` is their quantity.
    """

    lines: tuple[OrderLine, ...]
    day: int
    until: int
    start: float
    wanted: float
    drawn: Array
    safety: float
    par: float
    rounding: float

    @property
    def item(self) -> str:
        """The item that comes."""
        return self.lines[0].item

    @property
    def quantity(self) -> float:
        """What comes on that day in all, in the item's unit."""
        return sum(line.quantity for line in self.lines)


@dataclass(frozen=True, slots=True)
class Plan:
    """One run, whole.

    `projection` : by bought item, its flow with what this run orders and foresees as `planned`; every
    other item's is in `netting.flows`, where a bought item buys each day what the day is short of.
    `windows` : by item, what its deliveries are for.
    """

    on: date
    now: datetime
    next_run: date
    days: tuple[date, ...]
    forecast: Forecast
    opening: Opening
    netting: Netting
    buying: Buying
    shortages: tuple[Shortage, ...]
    pegging: tuple[Peg, ...]
    doubts: tuple[str, ...] = ()
    projection: Mapping[str, ItemFlow] = field(default_factory=dict)
    windows: Mapping[str, tuple[DeliveryWindow, ...]] = field(default_factory=dict)

    @property
    def needs_attention(self) -> tuple[str, ...]:
        """What needs somebody's attention beside shortages and doubts: of the orders, of the ageing room."""
        return (*self.buying.warnings, *self.netting.ageing_gaps.values(), *self.netting.warnings)
