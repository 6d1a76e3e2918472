"""A line of a recipe as a cook writes it: `1 1/2 cups shallots, brunoise`; `2 #10 cans`; `to taste`."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from unicodedata import normalize

from ordering.intake.goods_names import kind_words
from ordering.intake.pack_strings import SPELLED
from ordering.units import UNITS, Quantity, UnitError, unit_name

_VULGAR = re.compile("[¼-¾⅓-⅞]")
_NUMBER = re.compile(
    r"(?:about|approx\.?|ca\.?|~)?\s*(?P<a>\d+\s+\d+/\d+|\d+\s*-\s*\d+/\d+(?=\s)|\d+/\d+|\d+[.,]\d+|\d+|\.\d+)"
    r"(?:\s*(?:-|–|to)\s*(?P<b>\d+\s+\d+/\d+|\d+/\d+|\d+(?:[.,]\d+)?))?\s*",
    re.IGNORECASE,
)
_CAN = re.compile(
    r"(?:#|no\.?\s*)(10|5|2\.5|303|300)\s*(?:cans?|tins?)?\b\.?|a10(?:\s*(?:cans?|tins?))?\b", re.IGNORECASE
)
_SIZED = re.compile(
    r"\(?\s*(\d+(?:\.\d+)?)\s*-?\s*(oz|ounces?|g|kg|lb|ml|l)\.?\s*\)?\s*(?:cans?|tins?|jars?|packs?|pkts?|packages?|bottles?)\b",
    re.IGNORECASE,
)
_WORDS = """
tbsp: T Tb Tbs TB TBSP tbs tbl
tsp: t ts
cup: c C
lb: #
bunch: bn bu bch
clove: cl
pint: pt
dozen: dz
g: gr
each: ct pcs count EA
pack: pkg
head: hd
slice: rasher rashers
portion: serving servings serves ptn ptns covers orders
"""
_SPELLED = {
    word: unit
    for line in _WORDS.strip().split("\n")
    for unit, words in [line.split(": ")]
    for word in words.split()
}
_FOR = r"for (?:the )?(?:pan|frying|greasing|garnish)"
_AFTER = re.compile(r"(\D+?)\s*(?:[-–:]|,|\s)\s*((?:\d|\.\d).*)")
_PARTS = {"juice": "juiced", "zest": "zested", "rind": "zested", "peel": "zested"}
_IN_TIN = re.compile(
    r"\(\s*(?:about\s*)?(\d+(?:[.,]\d+)?)\s*-?\s*(oz|ounces?|g|kg|lb|ml|l)\.?\s*\)\s*", re.IGNORECASE
)
_DESSERTSPOON = re.compile(
    r"(?:dsp|dessert ?spoons?)\b\.?\s*", re.IGNORECASE
)  # 10 ml: common practice, no source
_HELD_IN = re.compile(r"^(?:cans?|tins?|jars?|packs?|pkts?|bottles?|cartons?|bags?)\b\s*", re.IGNORECASE)
_PIECE_OF = re.compile(
    r"\d*\s*(?:cm|mm|inch(?:es)?|in\.?|thumb)[ -]*(?:sized? )?(?:pieces?|knobs?|lumps?|thumbs?)\b",
    re.IGNORECASE,
)
_LENGTH = re.compile(r"(?:inch(?:es)?|cm|thumbs?|knobs?)\b(?: pieces?)?(?: of)?\s*", re.IGNORECASE)
_BULLET = re.compile(r"^[-–—•·*▪□☐]+\s+(?=\S)")
_PART_OF = re.compile(r"(?:the )?(juice|zest|rind|peel) (?:of|from) (?=[\d¼½¾⅓⅔])", re.IGNORECASE)
_ENDS_IN_UNIT = re.compile(
    r"(.*\S)\s+(clove|sprig|stalk|stick|(?<=celery )rib|head|bulb|bunch|ear)(?:s|es)?", re.IGNORECASE
)
_BY_FEEL = re.compile(
    rf"\b(?:to taste|as needed|as req\w*|pinch(?:es)?|dash(?:es)?|a few|tt|q\.?s\.?|n/a|garnish|{_FOR})\b",
    re.IGNORECASE,
)


_SEASONED = re.compile(
    r"(?:(?:sea |black |white |freshly )*(?:salt|peppers?|seasoning)(?:\s*(?:,|&|\+|/|and)\s*|\s*$))+",
    re.IGNORECASE,
)
_STATE = re.compile(
    r"(?:\s+(?:diced|packed|chopped|minced|sliced|peeled|grated|melted|softened))+$", re.IGNORECASE
)


_TINNED = re.compile(r"\b(?:cans?|tins?|canned|tinned|a10)\b|#\s?10\b", re.IGNORECASE)
_NO_PIECE = {"whole", "ground", "cinnamon"}  # whole cloves and cinnamon sticks are spices
HOLDERS = kind_words("holder")


@dataclass(frozen=True, slots=True)
class Said:
    """Amount, goods and the rest of a line; `quantity` None where it is by feel or not written.

    `usable` is the share that is left after trimming, where the recipe says so.
    """

    name: str
    quantity: Quantity | None
    note: str = ""
    is_by_feel: bool = False
    is_tinned: bool = field(default=False, repr=False)
    usable: Fraction | None = field(default=None, repr=False)


def with_yield(said: Said, usable: str, amount_heading: str) -> Said:
    """The line with the usable share of its goods: `85`, `85 %`, `0.85`; of an amount as purchased none."""
    share, _ = amount_in(usable.strip("% "))
    if share is None or re.search(r"(?i)\bap\b|purchased", amount_heading):
        return said
    share = share / 100 if share > 1 else share
    return replace(said, usable=share) if 0 < share < 1 else said


def amount_in(text: str) -> tuple[Fraction | None, str]:
    """The number a text begins with, of a range the middle, and what follows."""
    text = _VULGAR.sub(lambda sign: f" {normalize('NFKC', sign[0]).replace('⁄', '/')}", text)
    text = _BULLET.sub("", text.strip())
    match = _NUMBER.match(text)
    if match is None:
        return None, text
    try:
        low = _number(match["a"])
        high = _number(match["b"]) if match["b"] else low
    except ZeroDivisionError:
        return None, text
    return (low + high) / 2, text[match.end() :]


def _number(text: str) -> Fraction:
    parts = re.split(r"\s+|(?<=\d)\s*-\s*(?=\d+/)", text.strip().replace(",", "."))
    return sum((Fraction(part) for part in parts), Fraction(0))


def unit_in(text: str, country: str = "") -> tuple[str, str]:
    """The unit a text begins with (empty where it begins with none), and what follows."""
    text = text.strip()
    if match := _CAN.match(text):
        return f"no. {match[1] or '10'} can", text[match.end() :].strip()
    for words in (2, 1):
        head = " ".join(text.split()[:words])
        if len(head.split()) < words or not head:
            continue
        rest = text.split(maxsplit=words)[words] if len(text.split()) > words else ""
        bare = head.rstrip(".,")
        name = _SPELLED.get(bare) or _SPELLED.get(bare.lower() if len(bare) > 1 else "")
        if name is None:
            try:
                name = unit_name(bare)
            except UnitError:
                name = SPELLED.get(bare.lower(), "") if words == 1 and len(bare) > 1 else ""
            if name not in UNITS:
                continue
        if country == "GB" and f"imp {name}" in UNITS:
            name = f"imp {name}"
        return name, re.sub(r"^(?:of|\.)\s+", "", rest.strip())
    return "", text


def quantity_in(text: str, country: str = "") -> tuple[Quantity | None, str]:
    """`1 lb 4 oz`, `2 (28 oz) cans`, `6 qt` and what follows; a number alone counts pieces."""
    amount, rest = amount_in(text)
    if amount is None:
        return None, rest
    if sized := _SIZED.match(rest):
        return Quantity(amount * Fraction(sized[1]), unit_name(sized[2])), rest[sized.end() :].strip()
    if spoon := _DESSERTSPOON.match(rest):
        return Quantity(amount * 10, "ml"), rest[spoon.end() :]
    if times := re.match(r"[x×]\s*", rest):
        inner, after = quantity_in(rest[times.end() :], country)
        inner = inner or (Quantity(Fraction(1), word) if (word := unit_in(rest[times.end() :])[0]) else None)
        if inner is not None:
            return Quantity(amount * inner.amount, inner.unit), _HELD_IN.sub("", after)
    unit, rest = unit_in(rest, country)
    if not unit:
        return Quantity(amount, "each"), rest
    if unit in HOLDERS and (sized := _IN_TIN.match(rest)):
        size = Fraction(sized[1].replace(",", "."))
        return Quantity(amount * size, unit_name(sized[2])), rest[sized.end() :]
    more, after = amount_in(rest)
    smaller, after = unit_in(after, country) if more is not None else ("", rest)
    if (
        more is not None
        and smaller
        and UNITS[smaller][0] == UNITS[unit][0]
        and UNITS[smaller][1] < UNITS[unit][1]
    ):
        return Quantity(amount + more * UNITS[smaller][1] / UNITS[unit][1], unit), after
    return Quantity(amount, unit), rest


def line_in(amount: str, unit: str, item: str, note: str = "", country: str = "") -> Said:
    """A line from its columns, whichever of them are filled."""
    text, item = " ".join(part for part in (amount, unit) if part), _BULLET.sub("", item)
    if part := _PART_OF.match(item or text):
        item, note = (item or text)[part.end() :], f"{_PARTS[part[1].lower()]} {note}".strip()
    if text and item:
        quantity, rest = quantity_in(text, country)
        name = f"{rest} {item}".strip() if quantity else item
        note = note if quantity or not text else f"{text} {note}".strip()
    else:
        quantity, name = quantity_in(item or text, country)
        if quantity is None and (after := _AFTER.fullmatch(name)):  # `Pickled daikon - 1 qt`
            quantity, rest = quantity_in(after[2], country)
            name = f"{after[1]} {rest}".strip() if quantity else name
    is_by_feel = bool(_BY_FEEL.search(f"{text} {item} {note}")) and (
        quantity is None or (quantity.unit == "each" and bool(_BY_FEEL.match(name)))
    )
    is_by_feel = is_by_feel or (quantity is None and bool(_SEASONED.fullmatch(name.strip())))
    if quantity is not None and quantity.unit == "each" and (length := _LENGTH.match(name)):
        said = f"{quantity.amount} {length[0].strip()}"
        quantity, name, note = None, name[length.end() :], f"{said} {note}".strip()
    if cut := _PIECE_OF.search(f"{text} {item}"):
        is_by_feel, name, note = True, _PIECE_OF.sub("", name).strip() or item, f"{cut[0]} {note}".strip()
    name, inner = _without_note(_BY_FEEL.sub("", name) if is_by_feel else name)
    ends = _ENDS_IN_UNIT.fullmatch(name)
    if quantity is not None and quantity.unit == "each" and ends and ends[1].lower() not in _NO_PIECE:
        word = {"rib": "stalk", "ear": "each"}.get(ends[2].lower(), ends[2].lower())
        name, quantity = ends[1], Quantity(quantity.amount, word)
    if quantity is not None and quantity.unit == "each" and (sized := _SIZED.match(note.strip())):
        quantity = Quantity(quantity.amount * Fraction(sized[1]), unit_name(sized[2]))
    is_tinned = bool(_TINNED.search(f"{text} {item}"))
    note = " ".join(p for p in (inner, note) if p)
    return Said(name, None if is_by_feel else quantity, note, is_by_feel, is_tinned)


def said_in(cells: Sequence[str], country: str = "", usual: str = "") -> Said:
    """A line from cells under no heading, each told by what stands in it: amount, unit, goods, the rest.

    `usual` is the unit of a bare number.
    """
    rest = list(cells)
    at = next((n for n, cell in enumerate(rest) if _is_amount(cell, country)), None)
    if at is None:
        return line_in("", "", " ".join(cells), "", country)
    amount = rest.pop(at)
    has_unit = bool(unit_in(amount_in(amount)[1])[0])
    unit = rest.pop(at) if not has_unit and at < len(rest) and is_unit(rest[at]) else of_number(amount, usual)
    words = [cell for cell in rest if re.search(r"[^\W\d_]{2}", cell)]
    if not words:
        return line_in("", "", " ".join(cells), "", country)
    if len(words) > 1 and _BY_FEEL.fullmatch(words[0]):  # `1 | pinch | salt`
        unit, words = words[0], words[1:]
    return line_in(amount, unit, words[0], " ".join(words[1:]), country)


def of_number(amount: str, unit: str) -> str:
    """The unit that a list says all of its numbers are in, for an amount that is a number alone."""
    return unit if re.fullmatch(r"[\d.,/ ]+", amount) else ""


def is_unit(cell: str) -> bool:
    """Whether a cell holds a unit and nothing else."""
    unit, rest = unit_in(cell)
    return bool(unit) and not rest.strip(".")


def _is_amount(cell: str, country: str) -> bool:
    quantity, rest = quantity_in(cell, country)
    return quantity is not None and not rest.strip(" .")


def listed(text: str) -> list[str]:
    """The lines that stand in one cell, one under another or one after another; else the cell itself."""
    parts = [part.strip() for part in re.split(r"[\n;•]", text) if part.strip()]
    if len(parts) < 2:
        parts = [part.strip() for part in re.split(r",\s*(?=[\d½¼¾⅓⅔])", text)]
        parts = parts if len(parts) > 2 else [text]
    n_lines = sum(quantity_in(part)[0] is not None for part in parts)
    return parts if len(parts) > 1 and n_lines > len(parts) / 2 else [text]


def _without_note(name: str) -> tuple[str, str]:
    """`shallots, brunoise (about 6)` as shallots and the rest, which is the note; `onions diced` too."""
    match = re.match(r"^([^,(;–]+)[,(;–]\s*(.*)$", name.strip())
    clean = re.sub(r"[*†]+$", "", (match[1] if match else name).strip()).strip(" .:-")
    state = _STATE.search(clean)
    clean, said = (clean[: state.start()], state[0].strip()) if state else (clean, "")
    return clean, " ".join(p for p in (said, match[2].rstrip(") ").strip() if match else "") if p)
