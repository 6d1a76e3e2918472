"""A recipe line's amount in a unit that its goods or its sub-recipe can take."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction

from ruamel.yaml.comments import CommentedMap

from ordering.amounts import shown
from ordering.intake import measures
from ordering.intake.bridges import bridge, can_become, measure_of, put_each
from ordering.intake.card_words import MEASURED, Makes
from ordering.intake.housefiles import offers_of
from ordering.intake.offer_terms import weight_in
from ordering.intake.outcome import Outcome, Question
from ordering.intake.recipe_lines import HOLDERS, Said
from ordering.intake.recipe_tables import Written
from ordering.packs import parse_pack, pieces_in
from ordering.units import UNITS, Quantity, UnitError, format_number, kind_of, parse_quantity

_PIECES = ("head", "bulb", "sheet", "slice", "fillet", "portion")
Fitted = tuple[Quantity, str]


@dataclass(slots=True)
class Amounts:
    """What lines are fitted with: what the recipes of a file make, and the lines of each.

    `pieces` is the one kind of piece (`each`, `bunch`) of an ingredient that is counted by weight; `of_one`
    what a portion of a recipe weighs, and why that is a guess.
    """

    out: Outcome
    makes: Mapping[str, Makes]
    found: Mapping[str, Written]
    pieces: dict[str, str] = field(default_factory=dict)
    of_one: dict[str, tuple[Quantity, str]] = field(default_factory=dict)

    def of_line(self, item: str, where: str, one: Written, line: Said) -> Fitted | None:
        """The amount as the goods or the sub-recipe can take it; None where it is left out, and said."""
        assert line.quantity is not None
        quantity, recipes = line.quantity, self.out.house.entries("recipes")
        if item in self.makes or item in recipes:
            made = self.makes.get(item)
            own = made.quantity.unit if made else measure_of(recipes[item], True)
            fitted = of_recipe(recipes.get(item), own, line)
            if fitted is None and kind_of(quantity.unit) in MEASURED and self._is_weighed(item, one, line):
                fitted = of_recipe(None, "g", line)
        else:
            entry = self.out.house.entries("ingredients")[item]
            fitted = self.of_goods(item, entry, line) or self._asked(entry, item, one, line)
            self.out.house.changed.add("ingredients")
        if fitted is None:
            self.out.left.append(f"{where}: {one.name}: {_said(line)}: {self._missing(item, quantity)}")
        return fitted

    def of_goods(self, item: str, entry: CommentedMap, line: Said) -> Fitted | None:
        """The line's amount where the ingredient can take it, else its weight as bought or as published."""
        assert line.quantity is not None
        quantity, own, name = line.quantity, measure_of(entry), str(entry.get("name") or item)
        kind, piece = kind_of(quantity.unit), self.pieces.get(item, "")
        piece = kind_of(own) if kind_of(own) not in MEASURED else piece
        if piece == "each" and (kind in _PIECES or kind in name.lower().split()):  # `Radish bunch`, each
            return Quantity(quantity.amount, "each"), ""
        if packed := _as_bought(quantity, entry, own, line):
            return packed
        if kind == "each" and kind_of(own) not in (*MEASURED, "each"):
            return Quantity(quantity.amount, own), f"{quantity.amount} taken as so many {own}"
        if kind not in MEASURED and piece not in ("", kind):
            return _as_weight(quantity, line, name, entry, own)
        if any(bridge(entry, one, quantity.unit, own, line.note) for one in (name, line.name)):
            if kind not in MEASURED:
                self.pieces.setdefault(item, kind)
            return quantity, ""
        return _as_weight(quantity, line, name, entry, own)

    def _asked(self, entry: CommentedMap, item: str, one: Written, line: Said) -> Fitted | None:
        """The amount as somebody says what one piece weighs, or what one of the goods holds."""
        assert line.quantity is not None
        quantity, said = line.quantity, f"{one.name}: {_said(line)}"
        named, own, piece = entry.get("name") or item, measure_of(entry), _named(quantity.unit)
        if {kind_of(quantity.unit), kind_of(own)} == {"mass", "volume"}:
            best, key = _as_water(own, quantity.unit), f"holds {own} {item}"
            text = f"{said}: how much {quantity.unit} is one {own} of {named}?"
            piece = own
        elif kind_of(quantity.unit) in MEASURED and kind_of(own) not in MEASURED:
            best, key = "", f"holds {own} {item}"
            text = f"{said}: how much {named} is in one {_named(own)}?"
        else:
            best, key = likely_weight(quantity, entry), f"weighs {quantity.unit} {item}"
            text = f"{said}: what does one {piece} of {named} weigh?"
        fitted = answered(quantity, self.out.asker.settle(Question(key, text, (), best)), own)
        if fitted is not None and self.out.asker.is_guess(key):
            fitted = fitted[0], f"one {piece} taken to be {best}: weigh one"
        return fitted

    def _is_weighed(self, item: str, one: Written, line: Said) -> bool:
        """Whether a portion of a recipe has a weight: as written, else as what goes in, which is asked."""
        entry = self.out.house.entries("recipes").get(item)
        made = self.makes.get(item) or Makes(parse_quantity(str(entry["makes"])))
        if item in self.of_one or made.of_one is not None or (entry is not None and entry.get("each")):
            return True
        key, batch = f"weighs {item}", shown(float(made.quantity.amount), made.quantity.unit)
        best = weight_of(self.found[item].lines, self.out.country != "US") if item in self.found else ""
        text = f"{one.name}: {_said(line)}, which makes {batch}: what do {batch} weigh?"
        answer = self.out.asker.settle(Question(key, text, (), best))
        try:
            weight = parse_quantity(answer)
        except UnitError:
            return False
        if kind_of(weight.unit) != "mass":
            return False
        why = (
            f"{batch} taken to weigh what goes in, {answer}: weigh them"
            if self.out.asker.is_guess(key)
            else ""
        )
        self.of_one[item] = Quantity(weight.amount / made.quantity.amount, weight.unit), why
        if entry is not None:
            put_each(entry, *self.of_one[item])
            self.out.house.changed.add("recipes")
        return True

    def _missing(self, item: str, quantity: Quantity) -> str:
        """What nobody says, so that a line is left out."""
        if kind_of(quantity.unit) not in MEASURED:
            return f"nothing says what one {_named(quantity.unit)} weighs"
        entry = self.out.house.entries("ingredients").get(item)
        if entry is not None:
            return f"nothing says how much is in one {_named(measure_of(entry))}"
        made = self.makes.get(item)
        batch = shown(float(made.quantity.amount), made.quantity.unit) if made else "its portions"
        return f"nothing says what {batch} of it weigh"


def _as_bought(quantity: Quantity, entry: CommentedMap, own: str, line: Said) -> Fitted | None:
    """A tin or a pack as what one of them holds where it is bought; a bird as what one of a case weighs."""
    kind = kind_of(quantity.unit)
    if kind_of(own) not in MEASURED or (kind not in HOLDERS and kind not in ("each", "portion")):
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
        put_each(entry, piece, "")
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
        if kind_of(pack.content.unit) in MEASURED and n:
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
    if quantity.unit == "each" and kinds[1] not in MEASURED:
        return Quantity(quantity.amount, own), ""
    if isinstance(entry, CommentedMap) and bridge(entry, str(entry.get("name") or ""), quantity.unit, own):
        return quantity, ""
    if kinds[0] == kinds[1]:
        return quantity, ""
    if set(kinds) == {"mass", "volume"}:  # cooked together, it weighs about what water does
        metric, other = ("g", "oz") if kinds[1] == "mass" else ("ml", "fl oz")
        unit = metric if quantity.unit[-1:] in "gl" else other
        amount = Quantity(quantity.amount * UNITS[quantity.unit][1] / UNITS[unit][1], unit)
        return amount, f"{quantity} as water"
    return None


def _as_water(own: str, unit: str) -> str:
    """So many of a unit as one of another weighs of water: a gram is a millilitre."""
    return f"{float(UNITS[own][1] / UNITS[unit][1]):.3g} {unit}"


def answered(quantity: Quantity, answer: str, own: str) -> Fitted | None:
    """So many pieces of the weight that was answered, or so many of the goods that each hold so much."""
    try:
        one = parse_quantity(answer)
    except UnitError:
        return None
    if kind_of(quantity.unit) not in MEASURED:
        return Quantity(quantity.amount * one.amount, one.unit), ""
    if kind_of(one.unit) != kind_of(quantity.unit) or not one.amount:
        return None
    return Quantity(quantity.amount * UNITS[quantity.unit][1] / (one.amount * UNITS[one.unit][1]), own), ""


def weight_of(lines: Sequence[tuple[str, Said]], is_metric: bool) -> str:
    """What goes into a recipe weighs, as written or as published; empty where nothing says any of it."""
    grams = Fraction(0)
    for _, line in lines:
        if line.quantity is None:
            continue
        kind, size = UNITS[line.quantity.unit]
        if kind == "volume":
            known = measures.density(line.name, line.note)
            size *= known.grams if known else 1
        elif kind != "mass":
            published = measures.piece(line.name, line.quantity.unit, line.note)
            size = published.grams if published else Fraction(0)
        grams += line.quantity.amount * size
    unit = "kg" if is_metric else "lb"
    return f"{float(grams / UNITS[unit][1]):.3g} {unit}" if grams else ""


def likely_weight(quantity: Quantity, entry: object) -> str:
    """What one of a unit may weigh where nothing was published: a piece as bought, a measure as water."""
    if not isinstance(entry, CommentedMap) or kind_of(measure_of(entry)) not in MEASURED:
        return ""
    if kind_of(quantity.unit) == "volume":
        return f"{format_number(Fraction(f'{float(UNITS[quantity.unit][1]):.3g}'))} g"
    inner, n = _inner(entry)
    is_one = quantity.unit in HOLDERS or (kind_of(quantity.unit) == "each" and n > 1)
    return str(inner) if inner is not None and is_one else ""


def _said(line: Said) -> str:
    return f"{line.quantity} {line.name}".replace(" each ", " ", 1)


def _named(unit: str) -> str:
    return "piece" if unit == "each" else unit


def as_cooked(quantity: Quantity) -> str:
    """An amount as a cook writes it: thirds, quarters and eighths, else four figures."""
    amount = quantity.amount
    if amount.denominator in (2, 3, 4, 8):
        whole, part = divmod(amount.numerator, amount.denominator)
        number = f"{whole} {part}/{amount.denominator}" if whole else f"{part}/{amount.denominator}"
        return f"{number} {quantity.unit}"
    return str(Quantity(Fraction(f"{float(amount):.4g}"), quantity.unit))
