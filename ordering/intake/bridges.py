"""Bridges between the kinds of unit of one ingredient: density and piece weight from published figures."""

from __future__ import annotations

from fractions import Fraction

from ruamel.yaml.comments import CommentedMap

from ordering.intake import measures
from ordering.intake.goods_names import kind_words, tokens
from ordering.intake.housefiles import marked
from ordering.units import (
    UNITS,
    Quantity,
    UnitError,
    factor,
    format_number,
    kind_of,
    parse_density,
    parse_quantity,
)


def measure_of(entry: CommentedMap, is_recipe: bool = False) -> str:
    """The unit an ingredient is counted in, or a recipe makes."""
    written = str(entry.get("makes" if is_recipe else "unit") or "each")
    try:
        return parse_quantity(written).unit if is_recipe else parse_quantity(f"1 {written}").unit
    except UnitError:
        return "each"


def can_become(entry: CommentedMap, unit: str, own: str) -> bool:
    """Whether a quantity in `unit` can be converted to the entry's own unit with what it says now."""
    each_g = density = None
    try:
        if entry.get("each"):
            weight = parse_quantity(str(entry["each"]))
            each_g = weight.amount * UNITS[weight.unit][1]
        if entry.get("density"):
            density = parse_density(str(entry["density"]))
        factor(unit, own, each_g, density)
    except (UnitError, KeyError):
        return False
    return True


def bridge(entry: CommentedMap, name: str, unit: str, own: str, note: str = "") -> bool:
    """Give the entry the density or piece weight that `unit` needs, where a published one is known."""
    if can_become(entry, unit, own):
        return True
    kinds = {kind_of(unit), kind_of(own)}
    before = {key: entry.get(key) for key in ("density", "each")}
    if "volume" in kinds and not entry.get("density"):
        _density(entry, name, note)
    pieces = [k for k in kinds if k not in ("mass", "volume")]
    if len(pieces) == 1 and not entry.get("each"):
        _each(entry, name, pieces[0], note)
    if can_become(entry, unit, own):
        return True
    for key, value in before.items():
        if value is None:
            entry.pop(key, None)
    return False


def _density(entry: CommentedMap, name: str, note: str) -> None:
    weight = measures.density(name, note)
    if weight is not None:
        _put(entry, "density", f"{float(weight.grams):.3g} kg/l")
        marked(entry, "density", f"{weight.food}, {weight.measure}, {weight.source}")
    elif (like := measures.alike(name)) is not None:
        _put(entry, "density", f"{float(like.grams):.3g} kg/l")
        marked(entry, "density", f"like {like.food}, {like.source}: weigh a cup of it")
    elif kind_words("watery") & set(tokens(name)):
        _put(entry, "density", "1 kg/l")
        marked(entry, "density", "as water")


def _each(entry: CommentedMap, name: str, kind: str, note: str) -> None:
    weight = measures.piece(name, kind, note)
    if weight is None and kind == "bunch" and kind_words("herb") & set(tokens(name)):
        _put(entry, "each", "1 oz" if kind_words("woody") & set(tokens(name)) else "2 oz")
        marked(entry, "each", "a bunch of herbs; common practice, no source: weigh one")
    elif weight is not None:
        _put(entry, "each", f"{format_number(weight.grams)} g")
        part = "" if weight.source == measures.NO_SOURCE else "edible part, "
        marked(entry, "each", f"{weight.food}, {weight.measure}, {part}{weight.source}")
    elif ounces := measures.can_ounces(kind):
        low, high = ounces
        _put(entry, "each", f"{format_number((low + high) / 2)} oz")
        marked(
            entry,
            "each",
            f"such cans hold {format_number(low)} to {format_number(high)} oz: take the label's",
        )


def put_each(entry: CommentedMap, weight: Quantity, why: str) -> None:
    """What one piece weighs, and why that is a guess (empty where it is written)."""
    _put(entry, "each", str(Quantity(Fraction(f"{float(weight.amount):.4g}"), weight.unit)))
    if why:
        marked(entry, "each", why)


def _put(entry: CommentedMap, key: str, value: str) -> None:
    """Before the offers or lines, where a reader looks for it."""
    at = next(
        (n for n, word in enumerate(entry) if word in ("offers", "from", "allergens", "hazards")), len(entry)
    )
    entry.insert(at, key, value)
