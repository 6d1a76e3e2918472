"""A recipe line's amount in a unit that its goods or its sub-recipe can take."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction

from ruamel.yaml.comments import CommentedMap

from ordering.intake import measures
from ordering.intake.bridges import bridge, can_become, measure_of, put_each
from ordering.intake.goods_names import Match, match, tokens
from ordering.intake.housefiles import offers_of
from ordering.intake.offer_terms import weight_in
from ordering.intake.recipe_lines import HOLDERS, Said
from ordering.packs import parse_pack, pieces_in
from ordering.units import UNITS, Quantity, UnitError, format_number, kind_of, parse_quantity

_OTHER_THING = {"ground", "dried", "powder", "frozen", "smoked", "pickled", "canned", "candied"}
PLAIN = ("mass", "volume")
_PIECES = ("head", "bulb")
Fitted = tuple[Quantity, str]


@dataclass(slots=True)
class Amounts:
    """`pieces` is the one kind of piece (`each`, `bunch`) that each ingredient is counted in."""

    pieces: dict[str, str] = field(default_factory=dict)

    @classmethod
    def of(cls, items: Mapping[str, object]) -> Amounts:
        """The kinds of piece that known ingredients are counted in."""
        known = {str(key): kind_of(measure_of(e)) for key, e in items.items() if isinstance(e, CommentedMap)}
        return cls({key: kind for key, kind in known.items() if kind not in PLAIN})

    def of_goods(self, item: str, entry: CommentedMap, line: Said) -> Fitted | None:
        """The line's amount where the ingredient can take it, else its weight as bought or as published."""
        assert line.quantity is not None
        quantity, own, name = line.quantity, measure_of(entry), str(entry.get("name") or item)
        kind = kind_of(quantity.unit)
        if kind in _PIECES and self.pieces.get(item) == "each":
            return Quantity(quantity.amount, "each"), ""
        if packed := _as_bought(quantity, entry, own, line):
            return packed
        if kind not in PLAIN and self.pieces.get(item, kind) != kind:
            return _as_weight(quantity, line, name, entry, own)
        if any(bridge(entry, one, quantity.unit, own, line.note) for one in (name, line.name)):
            if kind not in PLAIN:
                self.pieces.setdefault(item, kind)
            return quantity, ""
        return _as_weight(quantity, line, name, entry, own)


def _as_bought(quantity: Quantity, entry: CommentedMap, own: str, line: Said) -> Fitted | None:
    """A tin or a pack as what one of them holds where it is bought; a bird as what one of a case weighs."""
    kind = kind_of(quantity.unit)
    if kind_of(own) not in PLAIN or (kind not in HOLDERS and kind != "each"):
        return None
    piece = _piece(entry) if kind == "each" else None
    inner = piece or _inner(entry)[0]
    if inner is None or not can_become(entry, inner.unit, own):
        return None
    if kind == "each" and piece is None:
        published = measures.piece(line.name, "each", line.note)
        grams = inner.amount * UNITS[inner.unit][1]
        is_weighed = published is not None and kind_of(inner.unit) == "mass"
        if published is None or not is_weighed or not grams / 2 <= published.grams <= 2 * grams:
            return None
    if piece is not None and not entry.get("each"):
        put_each(entry, piece, "as its vendor says")
        return quantity, ""
    why = f"{format_number(quantity.amount)} {quantity.unit} of {inner}, as it is bought"
    return Quantity(quantity.amount * inner.amount, inner.unit), why


def _piece(entry: CommentedMap) -> Quantity | None:
    """What one piece weighs as its vendor says: of those weighed at the door, or named (`Sole 400-500 g`)."""
    for _, _, offer in offers_of(CommentedMap({"": entry})):
        try:
            pack = parse_pack(str(offer.get("pack", "")))
        except UnitError:
            continue
        if pack.expected is not None and kind_of(pack.content.unit) == "each":
            return Quantity(pack.expected.amount / pack.content.amount, pack.expected.unit)
        one = weight_in(str(offer.get("description", "")))
        grams = 0 if one is None else one.amount * UNITS[one.unit][1]
        whole = pack.content.amount * UNITS[pack.content.unit][1]
        if one is not None and kind_of(pack.content.unit) == "mass" and 2 * grams <= whole:
            return one
    return None


def _inner(entry: CommentedMap) -> tuple[Quantity | None, int]:
    """What one tin, bag or bird of the first offer that says so holds, and how many there are."""
    for _, _, offer in offers_of(CommentedMap({"": entry})):
        try:
            pack = parse_pack(str(offer.get("pack", "")))
            n = pieces_in(pack.written)
        except UnitError:
            continue
        if kind_of(pack.content.unit) in PLAIN and n:
            return Quantity(pack.content.amount / n, pack.content.unit), n
    return None, 0


def _as_weight(quantity: Quantity, line: Said, name: str, entry: CommentedMap, own: str) -> Fitted | None:
    """Pieces as grams, where one weighs a published amount and the ingredient can take a weight."""
    found = (measures.piece(one, quantity.unit, line.note) for one in (line.name, name))
    weight = next((one for one in found if one is not None), None)
    if weight is None or not (can_become(entry, "g", own) or bridge(entry, name, "g", own)):
        return None
    each = f"{format_number(quantity.amount)} {quantity.unit} of {format_number(weight.grams)} g"
    return Quantity(quantity.amount * weight.grams, "g"), f"{each}, {weight.food}, {weight.source}"


def of_recipe(entry: object, own: str, line: Said) -> Fitted | None:
    """A sub-recipe's amount in a unit its yield can be turned into."""
    assert line.quantity is not None
    quantity = line.quantity
    kinds = kind_of(quantity.unit), kind_of(own)
    if quantity.unit == "each" and kinds[1] not in PLAIN:
        return Quantity(quantity.amount, own), ""
    if isinstance(entry, CommentedMap) and bridge(entry, str(entry.get("name") or ""), quantity.unit, own):
        return quantity, ""
    if kinds[0] == kinds[1]:
        return quantity, ""
    if set(kinds) == {"mass", "volume"}:
        grams_per_ml = d.grams if (d := measures.density(line.name)) else Fraction(1)
        ratio = UNITS[quantity.unit][1] / UNITS[own][1]
        amount = quantity.amount * ratio * (grams_per_ml if kinds[1] == "mass" else 1 / grams_per_ml)
        return Quantity(amount, own), f"{quantity} as {'water' if grams_per_ml == 1 else 'published'}"
    return None


def answered(quantity: Quantity, answer: str) -> Fitted | None:
    """So many pieces of the weight that was answered."""
    try:
        weight = parse_quantity(answer)
    except UnitError:
        return None
    return Quantity(quantity.amount * weight.amount, weight.unit), ""


def as_fruit(line: Said) -> tuple[Said, str] | None:
    """Juice as so many of the fruit it is pressed from, and how much one gives; None where nothing says."""
    assert line.quantity is not None
    quantity, pressed, density = line.quantity, measures.juice(line.name), measures.density(line.name)
    if pressed is None or density is None or kind_of(quantity.unit) != "volume":
        return None
    fruit, of_one = pressed
    n = quantity.amount * UNITS[quantity.unit][1] * density.grams / of_one.grams
    why = f"{quantity} of juice at {format_number(of_one.grams)} g from one, {of_one.source}"
    return replace(line, name=fruit, quantity=Quantity(Fraction(round(4 * n), 4) or n, "each")), why


def likely_weight(quantity: Quantity, entry: object) -> str:
    """What one of a unit may weigh where nothing was published: a piece as bought, a measure as water."""
    if not isinstance(entry, CommentedMap) or kind_of(measure_of(entry)) not in PLAIN:
        return ""
    if kind_of(quantity.unit) == "volume":
        return f"{format_number(Fraction(f'{float(UNITS[quantity.unit][1]):.3g}'))} g"
    inner, n = _inner(entry)
    is_one = quantity.unit in HOLDERS or (kind_of(quantity.unit) == "each" and n > 1)
    return str(inner) if inner is not None and is_one else ""


def meant(line: Said, known: Mapping[str, Sequence[str]]) -> Match:
    """What a line's goods may be, likeliest first: of tins what comes in tins; its note may tell which."""
    if line.is_tinned and (tinned := match(f"{line.name}, canned", known)).best and not tinned.is_open:
        return replace(tinned, is_sure=tinned.is_sure or match(line.name, known).is_sure)
    if line.quantity is not None and line.quantity.unit in ("bunch", "sprig"):
        dry = {"ground", "dried", "seed", "powder", "flake"}
        known = {one: own for one, own in known.items() if not dry & set(tokens(" ".join((one, *own))))}
    full = match(f"{line.name}, {line.note}", known) if line.note else Match()
    if line.note in _OTHER_THING and measures.is_food(f"{line.note} {line.name}"):
        return full  # `ginger, ground` is another food than ginger
    found = full if full.is_sure else match(line.name, known)
    if not found.is_open:
        return found
    # `tomatoes, whole peeled`: the rest of the line may tell which
    rest = set(tokens(line.note))
    shared = {one: len(rest & set(tokens(" ".join((one, *known[one]))))) for one in found.ids}
    return replace(found, ids=tuple(sorted(found.ids, key=lambda one: -shared[one])))
