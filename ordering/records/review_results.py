"""What a review of a stretch of time has found, before it is laid out on pages."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from decimal import Decimal


@dataclass(frozen=True, slots=True)
class Pair:
    """One service's forecast as issued beside what came.

    `naive` is None where no earlier week shows one; `scale` is the mean change from one week to the next
    in all that was known when the forecast was issued, None where no two weeks were. `is_remade`: none was
    issued on that day, and this is the one that would have been.
    """

    served_on: date
    service: str
    dish: str
    issued_on: date
    actual: float
    mean: float
    q05: float
    q10: float
    q90: float
    q95: float
    naive: float | None = None
    scale: float | None = None
    is_remade: bool = False

    @property
    def lead_days(self) -> int:
        """Days from the forecast to the service."""
        return (self.served_on - self.issued_on).days


@dataclass(frozen=True, slots=True)
class Score:
    """Accuracy of one service or dish at one lead time; fractions of one, None where nothing shows it.

    `bias` is (forecast - actual) / actual of the totals, above zero when too much was forecast.
    `naive_wape` is that of the same weekday's last known week, on the services where there is one, and
    `gain` how much smaller WAPE is than that on the same services. `mase` is not a fraction: the mean miss in
    weekly changes, below 1 when the misses were smaller than the change from one week to the next.
    """

    name: str
    lead: str
    n: int
    actual: float
    forecast: float
    bias: float | None
    wape: float | None
    inside_80: float | None
    inside_90: float | None
    naive_wape: float | None
    gain: float | None
    mase: float | None = None


@dataclass(frozen=True, slots=True)
class RanOut:
    """A dish that was 86'd: portions missed (forecast less sold) and the margin in them."""

    dish: str
    n_services: int
    missed: float
    money: Decimal


@dataclass(frozen=True, slots=True)
class Thrown:
    """What was thrown away of an item, at cost."""

    item: str
    quantity: float
    unit: str
    money: Decimal
    reasons: str


@dataclass(frozen=True, slots=True)
class Week:
    """Monday to Sunday, cut at the ends of the review. `budget` is for the days in it, None without one.

    `bought` are goods less what was credited, `fees` for their deliveries: the budget is for both, as an
    order is held against it.
    """

    first_on: date
    last_on: date
    placed: Decimal
    bought: Decimal
    theoretical: Decimal
    budget: Decimal | None
    revenue: Decimal = Decimal(0)
    fees: Decimal = Decimal(0)

    @property
    def spent(self) -> Decimal:
        """What vendors ask for the goods and for bringing them."""
        return self.bought + self.fees


@dataclass(frozen=True, slots=True)
class FoodCost:
    """Money of the whole stretch. `used` is stock at the start and goods bought less stock at the end.

    `fees` are for the deliveries in which the goods came, by the vendors' terms; `bought` is without them,
    and less `credited`: money that vendors credited with no goods.
    """

    revenue: Decimal
    theoretical: Decimal
    bought: Decimal
    fees: Decimal
    wasted: Decimal
    stock_first: Decimal | None
    stock_last: Decimal | None
    credited: Decimal = Decimal(0)

    @property
    def used(self) -> Decimal | None:
        """Money of what was used up; None where a stock is not known."""
        if self.stock_first is None or self.stock_last is None:
            return None
        return self.stock_first + self.bought - self.stock_last


NO_COST = FoodCost(Decimal(0), Decimal(0), Decimal(0), Decimal(0), Decimal(0), None, None)


@dataclass(frozen=True, slots=True)
class ItemUse:
    """An ingredient's orders against its use; quantities in `unit`, `money` what was bought of it.

    `used` is what the dishes sold should have taken; `variance` counted less expected, all counts added.
    """

    item: str
    unit: str
    placed: float
    received: float
    used: float
    wasted: float
    variance: float | None
    variance_money: Decimal
    money: Decimal


@dataclass(frozen=True, slots=True)
class Dearer:
    """A price charged above the one agreed, and what that cost."""

    vendor: str
    code: str
    item: str
    agreed: Decimal
    charged: Decimal
    money: Decimal


@dataclass(frozen=True, slots=True)
class LearntYield:
    """What batches of a recipe really gave.

    `figure` and `seen` are what one unit of the main ingredient makes, as configured and as
    weighed; `learnt` lies between them, nearer to `seen` the more batches there are. `makes` is the
    configured figure of a batch and `better` the one to put in its place. `money` is what the
    difference cost over the review.
    """

    recipe: str
    n: int
    figure: float
    seen: float
    learnt: float
    makes: float
    better: float
    unit: str
    money: Decimal
    is_offered: bool


@dataclass(frozen=True, slots=True)
class AtTheDoor:
    """What was written down of goods as they came: `celsius`, and the condition or the tag.

    `document` is where it is booked, `dishes` are the names of those the goods go into.
    """

    delivered_on: date
    item: str
    document: str
    celsius: float | None
    condition: str
    dishes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Compared:
    """Covers and margin of a stretch: `now`, as long `before`, or the same weeks `last year`.

    `margin` is sales less the ingredients in them, all at today's prices and costs.
    """

    name: str
    first_on: date
    last_on: date
    covers: float
    margin: Decimal


@dataclass(frozen=True, slots=True)
class Hits:
    """Services whose covers fell inside the forecast's 80 % band, above and below it.

    `miss` is the sum of the misses over the sum of covers; `naive_miss` that of the same weekday's last known
    week, None where none is known. `n_remade` of the forecasts were not issued but made afterwards.
    """

    n: int
    inside: int
    above: int
    below: int
    miss: float
    naive_miss: float | None
    n_remade: int


@dataclass(frozen=True, slots=True)
class LostPart:
    """Money lost in one way; None where too little is known to say."""

    name: str
    money: Decimal | None


@dataclass(frozen=True, slots=True)
class Creep:
    """How a vendor's prices moved from the first month to the last, `YYYY-MM`.

    `change` is a fraction, weighed by the spend of the last month; `money` what that month cost more by it.
    """

    vendor: str
    first_month: str
    last_month: str
    n_offers: int
    change: float
    money: Decimal


@dataclass(frozen=True, slots=True)
class Overview:
    """What an owner reads first."""

    compared: tuple[Compared, ...] = ()
    hits: Hits | None = None
    lost: tuple[LostPart, ...] = ()
    consumables: Decimal = Decimal(0)
    creep: tuple[Creep, ...] = ()

    @property
    def lost_money(self) -> Decimal:
        """What was lost in all: the parts that are known and above zero."""
        return sum((part.money for part in self.lost if part.money and part.money > 0), Decimal(0))

    def of(self, name: str) -> Compared | None:
        """The stretch of that name, if the books know it."""
        return next((one for one in self.compared if one.name == name), None)


@dataclass(frozen=True, slots=True)
class Advice:
    """Something worth doing, and the money it is about."""

    money: Decimal
    text: str


@dataclass(frozen=True, slots=True)
class Review:
    """Everything the pages of a review show."""

    first_on: date
    last_on: date
    made_on: date
    covers: tuple[Score, ...] = ()
    dishes: tuple[Score, ...] = ()
    pairs: tuple[Pair, ...] = ()
    ran_out: tuple[RanOut, ...] = ()
    thrown: tuple[Thrown, ...] = ()
    weeks: tuple[Week, ...] = ()
    cost: FoodCost = NO_COST
    overview: Overview = Overview()
    items: tuple[ItemUse, ...] = ()
    dearer: tuple[Dearer, ...] = ()
    yields: tuple[LearntYield, ...] = ()
    advice: tuple[Advice, ...] = ()
    at_the_door: tuple[AtTheDoor, ...] = ()
    notes: tuple[str, ...] = ()
