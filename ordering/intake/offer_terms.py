"""What a line of a price list comes to: what is open about its pack, what its price is for, a unit's cost."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from statistics import median

from ruamel.yaml.comments import CommentedMap

from ordering.intake.outcome import Outcome, Question, money
from ordering.intake.pack_readings import Reading
from ordering.intake.price_lines import PriceLine
from ordering.packs import parse_pack
from ordering.units import UNITS, Quantity, UnitError, kind_of

_WEIGHT = re.compile(r"(\d+(?:\.\d+)?)\s*(?:-\s*(\d+(?:\.\d+)?))?\s*(kg|lbs?|#|g|oz)(?![a-z])")
_ONE = re.compile(r"(?i)\W*(?:per )?(?:ea|pcs?|piece|st|stk|stück)\b\.?")  # `each` alone may be the pack
_PRICED_BY = {"mass": ("kg", "lb", "g", "oz"), "volume": ("l", "gallon")}
_NEAR = 0.2  # a piece alone costs a little more than in its pack
OFF = 10  # times: the slip of a decimal point, or of a count read as a fraction
_OF_ITS_FORM = {  # what is open about a pack and decided for all that are written alike
    "so many pieces?",
    "pieces, lb or kg?",
    "least quantity, and is a case of fixed weight?",
    "cans No. 10, or pounds?",
    "British pints?",
}


def as_answered(
    line: PriceLine, reading: Reading, lines: Sequence[PriceLine], out: Outcome
) -> tuple[Reading, bool]:
    """The reading with what had to be asked; whether its line is a guess. Nothing where it cannot be read.

    `lines` are all of the list, whose packs may be written alike.
    """
    if not reading.ask or _needs_no_answer(reading):
        return reading, False
    if reading.ask in _OF_ITS_FORM and reading.written and _is_form_meant(line, reading, lines, out):
        return reading, False
    key, best = f"pack {line.code} {line.pack}", reading.written
    end = "" if reading.ask.endswith(("?", ":")) else "?"
    text = f"{line.name}, {line.pack or 'no pack'}: {reading.ask}{end} Write the pack as in 6 x 5 lb."
    answer = out.asker.settle(Question(key, text, (), best))
    if not answer:
        held = f" ({line.pack or line.um})" if line.pack or line.um else ""
        out.left.append(f"row {line.row}: {line.name}{held}: {reading.ask}")
        return Reading(), False
    if answer == best:
        return reading, out.asker.is_guess(key)
    try:
        pack = parse_pack(answer)
    except UnitError as error:
        out.left.append(f"row {line.row}: {line.name}: the pack '{answer}' given: {error}")
        return Reading(), False
    content = pack.expected or pack.content
    return Reading(1, content.amount, content.unit, is_catch_weight=pack.expected is not None), False


def _is_form_meant(line: PriceLine, reading: Reading, lines: Sequence[PriceLine], out: Outcome) -> bool:
    """Whether all packs of a list that are written alike are meant as they were read."""
    shape = re.sub(r"\d+", "n", line.pack)
    n = sum(re.sub(r"\d+", "n", one.pack) == shape for one in lines)
    such = f"{n} lines have packs such as" if n > 1 else "the pack is"
    text = f"{line.name}: {such} '{line.pack}': {reading.ask} Taken as {reading.written}."
    return out.asker.settle(Question(f"packs {shape}", text, ("yes", "no"), "yes")) == "yes"


def _needs_no_answer(reading: Reading) -> bool:
    """What is open but does not change what a pack holds as it is counted: cans, bunches, pieces."""
    return (
        bool(reading.written)
        and reading.unit in UNITS
        and (
            (kind_of(reading.unit) not in ("mass", "volume", "each") and "?" not in reading.ask)
            or "weight of one, if" in reading.ask
            or "pieces a case for this item" in reading.ask
            or reading.ask == "pieces a case"
        )
    )


def same_content(one: Quantity, other: Quantity) -> bool:
    """Whether two packs hold the same, within a hundredth."""
    if kind_of(one.unit) != kind_of(other.unit):
        return False
    a, b = (q.amount * UNITS[q.unit][1] for q in (one, other))
    return abs(float(a / b) - 1) < 0.01


def counted_in(content: Quantity) -> str:
    """What a new ingredient is counted in: as the pack is, in the larger unit where it holds one."""
    larger = {"g": ("kg", 1000), "ml": ("l", 1000), "cl": ("l", 100), "oz": ("lb", 16), "dozen": ("each", 0)}
    unit, least = larger.get(content.unit, (content.unit, 0))
    return unit if content.amount >= least else content.unit


def weighed(line: PriceLine, reading: Reading) -> Reading:
    """Pieces priced by weight, with the weight of one that their name tells; else that is asked.

    `Chicken, whole, 1.6-1.8kg`, box of 8, at 3.60 a kilo.
    """
    content, per = reading.content, _weight_unit(line)
    if content is None or kind_of(content.unit) != "each" or not per or not content.amount:
        return reading
    one = weight_in(line.name)
    if one is None:
        return replace(reading, size=None, ask="priced by weight: what does a pack weigh?")
    return Reading(int(content.amount), Fraction(one.amount), one.unit, is_catch_weight=True)


def weight_in(name: str) -> Quantity | None:
    """The weight of one that a name tells, of a range the middle: `Chicken, whole, 1.6-1.8kg`."""
    found = list(_WEIGHT.finditer(name.lower().replace(",", ".")))
    if not found:
        return None
    low, high, unit = found[-1].groups()
    middle = (Fraction(low) + Fraction(high or low)) / 2
    return Quantity(middle, "lb" if unit in ("#", "lb", "lbs") else unit)


def with_pack_prices(lines: Sequence[PriceLine], readings: Mapping[str, Reading]) -> list[PriceLine]:
    """The lines with the price of the pack as their price, that of a unit of it where no other is given.

    Which of two columns is the pack's is told by what they come to: it is the other times what a pack holds.
    """
    both = [line for line in lines if line.price and line.unit_price]
    n_plain = sum(_is_times(line.price, line.unit_price, readings[line.code]) for line in both)
    n_swapped = sum(_is_times(line.unit_price, line.price, readings[line.code]) for line in both)
    if n_swapped > n_plain:
        lines = [replace(line, price=line.unit_price, unit_price=line.price) for line in lines]
    return [_by_unit(line, readings[line.code]) for line in lines]


def _is_times(price: Decimal | None, unit_price: Decimal | None, reading: Reading) -> bool:
    """Whether a pack's price is about that of a piece, a weight or a volume times what the pack holds."""
    content = reading.content
    if not price or not unit_price or content is None:
        return False
    held = {float(reading.count or 1)}
    base = float(content.amount * UNITS[content.unit][1])
    held |= {base / float(UNITS[unit][1]) for unit in _PRICED_BY.get(kind_of(content.unit), ())}
    ratio = float(price / unit_price)
    return any(one > 0 and abs(ratio / one - 1) < _NEAR and abs(one - 1) > _NEAR for one in held)


def _by_unit(line: PriceLine, reading: Reading) -> PriceLine:
    """The line at the price of a unit, where that is of goods weighed at the door or the only one."""
    kind = "" if reading.content is None else kind_of(reading.content.unit)
    is_weighed = reading.is_catch_weight and line.unit_per != "each"
    if line.unit_price is None or (line.price is not None and not is_weighed):
        return line
    if line.unit_per == "each" and (reading.count or 1) > 1:
        return line
    per = "l" if kind == "volume" and line.unit_per.startswith("k") else line.unit_per
    return replace(line, price=line.unit_price, per=per)


def _weight_unit(line: PriceLine) -> str:
    """The unit of weight that a line's price is for, as its own column or price says; empty for none."""
    named = re.fullmatch(r"\W*(?:per\s*)?(lbs?|kgs?|kilos?|pounds?|#)\W*", line.per.lower())
    return "" if named is None else "kg" if named[1][0] == "k" else "lb"


def usual_cost(lines: Sequence[PriceLine], readings: Mapping[str, Reading]) -> float:
    """What a gram costs on a list, the middle of its packs of a fixed weight; 0 where there are none."""
    costs = []
    for line in lines:
        content = readings[line.code].content
        is_fixed = content is not None and kind_of(content.unit) == "mass" and content.amount
        if content is not None and is_fixed and line.price and not readings[line.code].is_catch_weight:
            costs.append(float(line.price / Decimal(float(content.amount * UNITS[content.unit][1]))))
    return median(costs) if costs else 0.0


def priced_per(line: PriceLine, reading: Reading, usual: float) -> tuple[str, bool]:
    """The unit a price is for where that is not the pack, and whether that is a guess.

    Said by the list (a unit, a mark for catch weight); what is weighed at the door is priced by weight,
    unless that made it ten times as dear as a gram usually is on that list.
    """
    content = reading.content
    if content is not None and kind_of(content.unit) == "volume" and line.per in ("l", "litre", "liter"):
        return "l", False
    if content is not None and content.unit == "each" and content.amount > 1 and _ONE.fullmatch(line.per):
        return "each", True
    if content is None or kind_of(content.unit) != "mass" or line.per == "each":
        return "", False
    named = re.search(r"\b(lbs?|kgs?|kilos?|pounds?|#)(?![a-z])", f"{line.per} {line.um}".lower())
    if named and (reading.is_catch_weight or line.um.lower().rstrip("s") in ("lb", "kg") or line.per):
        return "kg" if named[0][0] == "k" else "lb", False
    unit = "kg" if content.unit in ("kg", "g") else "lb"
    if re.search(r"\b(?:cw|c/w|y|yes|x|catch)\b", line.per.lower()):
        return unit, False
    by_unit = float(line.price or 0) / float(UNITS[unit][1])
    if not reading.is_catch_weight or (usual and by_unit > OFF * usual):
        return "", reading.is_catch_weight
    return unit, True


def unit_cost(offer: CommentedMap) -> tuple[str, float] | None:
    """(kind of unit, money a gram, millilitre or piece) of an offer, where price and pack can be read."""
    price = money(str(offer.get("price", "")))
    try:
        pack = parse_pack(str(offer.get("pack", "")))
    except UnitError:
        return None
    content = pack.expected or pack.content
    kind, size = UNITS[content.unit]
    if not price:
        return None
    if per := offer.get("per"):
        return kind, float(price) / float(UNITS[str(per)][1])
    return kind, float(price) / float(content.amount * size)
