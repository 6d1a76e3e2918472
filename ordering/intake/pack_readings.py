"""What a vendor's pack string says, and what one of its form leaves open: which ounces, which pint."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from fractions import Fraction

from ordering.units import UNITS, Quantity, format_number, kind_of

_PARTS = {"1/2", "1/3", "2/3", "1/4", "3/4"}
_WHICH_OZ = "weight or fluid ounces?"
_LIQUID_OZ = {46, 64, 128}


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


def doubted(one: Reading, word: str, text: str, um: str, is_up: bool) -> Reading:
    """The reading with what a string of its form leaves open."""
    raw = text.strip().lower()
    pair = re.match(r"(\d+)\s*/\s*(\d+)\s*(?:[a-z#]|$)", raw)
    ask = "" if re.search(r" in all$|\b(?:case|box),? (?:avg|about)\b", raw) else one.ask
    n, m = (int(pair[1]), int(pair[2])) if pair else (0, 0)
    if not one.unit:
        part = "a pack of two or a half" if f"{n}/{m}" in _PARTS else "a count or a size"
        return replace(one, ask=f"which unit, and {part}?")
    if f"{n}/{m}" in _PARTS and one.high is None:
        ask = (
            f"one pack of {m} {one.unit}, or {n}/{m} {one.unit}?"
            if n == 1
            else f"{n} packs of {m} {one.unit}, or {n}/{m} {one.unit}?"
        )
    elif (
        pair
        and n < m <= n + max(2, n // 2)
        and one.unit in ("oz", "lb")
        and one.total is None
        and (one.unit == "oz" or one.is_catch_weight or um == "lb")
    ):
        ask = f"{n} of {m} {one.unit}, or pieces of {n} to {m} {one.unit}?"
        one = replace(one, is_catch_weight=one.unit == "lb")
    elif (is_up and not pair) or re.match(r"case \(|\d-1 ", raw):
        ask = "pieces a case"
    elif one.unit == "dozen" and (one.count or 1) * (one.size or 1) > 60:
        ask = f"a case of {format_number(one.size or 1)} dozen, {one.count} times?"
    elif (
        one.unit == "each"
        and not pair
        and re.fullmatch(r"(?:#\d )?\d+ ?(?:ct|cnt|count)", raw)
        and (one.size or 0) <= 150
    ):
        ask = "pieces a case for this item?"
    elif re.fullmatch(r"\d+[.,]\d{3} ?(?:kg|l)", raw):
        ask = (
            f"{format_number(one.size or 0)} {one.unit} or "
            f"{format_number((one.size or 0) * 1000)} {one.unit}?"
        )
    return replace(one, ask=ask)


def settled(one: Reading, word: str, text: str, country: str, is_liquid: bool | None) -> Reading:
    """Ounces and pints of what may be a liquid; bunches, whose weight has to be asked."""
    size = one.size or Fraction(0)
    if one.unit == "bunch" and not one.ask:
        return replace(one, ask="weight of one bunch")
    if one.unit == "oz" and one.total is None and not one.ask:
        looks_liquid = size in _LIQUID_OZ
        if is_liquid is not None:
            return replace(one, unit="fl oz" if is_liquid else "oz")
        if (
            looks_liquid
            or size == 32
            or (size < 2 and (one.count or 1) > 1)
            or (one.count == 24 and size == 8)
        ):
            return replace(one, unit="fl oz" if looks_liquid else "oz", ask=_WHICH_OZ)
    if one.unit == "pint":
        return _pint(one, word, text, country, is_liquid)
    if country == "GB" and f"imp {one.unit}" in UNITS and "/" not in text:
        return replace(one, unit=f"imp {one.unit}")
    return one


def _pint(one: Reading, word: str, text: str, country: str, is_liquid: bool | None) -> Reading:
    if re.search(r"clam|flat|basket|berr", word):
        return replace(one, unit="dry pint", ask="weight of one pint of this fruit")
    if "/" in text or country == "US":
        return one if is_liquid or one.ask else replace(one, ask="liquid or dry pint?")
    is_sure = country == "GB" or "pint" in word
    return replace(one, unit="imp pint", ask="" if is_sure else "British pints?")
