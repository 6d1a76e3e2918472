"""The lines of a vendor's price list: code, words, pack, price, whatever the columns are called."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal

from ordering.intake.goods_names import id_of, kind_words
from ordering.intake.headings import Found
from ordering.intake.outcome import Outcome, money
from ordering.intake.pack_strings import UNIT_WORDS
from ordering.intake.price_columns import PACK_IN_NAME

_MARKET = re.compile(r"\b(?:mkt|market|mp|call|tba|poa|n/a|tbc)\b", re.IGNORECASE)
_SIZE_IN_NAME = re.compile(
    r"(?<![-–\d.,])(?:\d+(?:[.,]\d+)?|\.\d+)\s?(?:kg|g|ml|cl|ltr|lt|l|lb|oz|gal)\b", re.IGNORECASE
)
_HOLDS = re.compile(
    r"(?:ctn|carton|case|cs|box|outer|pack|pk)(?: of| x)? ?(\d{1,3})|x ?(\d{1,3})"
    r"|(\d{1,3}) ?(?:/|per ) ?(?:ctn|carton|case|cs|box|outer)",
    re.IGNORECASE,
)
_ALL_FOR = re.compile(r"\bprices?\b[^.;]*?(?:/|\bper\b)\s*(kg|kilo|lb|pound)s?\b", re.IGNORECASE)
_FOR = re.compile(
    r"(?:/|\bper\b)\s*(?:(lbs?|kgs?|kilos?|pounds?|l|litres?)\b|(?:cs|case|ea|each|pack|packet|ctn|carton|box|crate|bag|sack"
    r"|tray|bottle|piece|pc|unit|tin|can|jar|tub)\b)",
    re.IGNORECASE,
)
_DECIMAL_COMMA = re.compile(r"\D{0,4}\d{1,3}(?:\.\d{3})*,\d\d?\D{0,4}")
_SOLD_BY = re.compile(r",\s*(kgs?|lbs?|each|ea|bunch|bundle|dozen|doz|pc)$", re.IGNORECASE)
_THREE_DECIMALS = re.compile(r"(?<![\d.,])(\d{1,3}),(?=\d{3}(?![\d,]))")


@dataclass(frozen=True, slots=True)
class PriceLine:
    """One line of a price list; `price` None where it says market or nothing."""

    row: int
    code: str
    name: str
    pack: str
    um: str
    price: Decimal | None
    per: str
    section: str
    unit_price: Decimal | None = None
    unit_per: str = ""


def lines_of(table: Found, out: Outcome) -> Iterator[PriceLine]:
    """The lines of a price list, each under the section it stands in."""
    section = ""
    per, unit_per = (_price_is_for(table.head_of(role)) for role in ("price", "unit_price"))
    of_all = next((f[1].lower() for row in table.above for c in row if (f := _ALL_FOR.search(c))), "")
    has_commas = any(_DECIMAL_COMMA.fullmatch(cell) for _, row in table.body() for cell in row)
    for n, row in table.body():
        if has_commas:
            row = [cell if at == table.columns["name"] else _with_point(cell) for at, cell in enumerate(row)]
        filled = [cell for cell in row if cell]
        name, code = table.cell(row, "name"), table.cell(row, "code")
        price, unit_price = table.cell(row, "price"), table.cell(row, "unit_price")
        if not price and len(set(filled)) == 1:
            section = filled[0]
            continue
        if not name or (money(price) is None and money(unit_price) is None and not _MARKET.search(price)):
            if name and (code or table.cell(row, "pack")):
                out.left.append(f"row {table.sheet.line(n)}: {name}: no price in this row")
            continue
        name = _with_grade(name, table.cell(row, "grade"))
        sold_by = None if table.cell(row, "pack") or table.cell(row, "um") else _SOLD_BY.search(name)
        name, sold = (name[: sold_by.start()], sold_by[1].lower()) if sold_by else (name, "")
        pack, um = _pack_text(table, row, name)
        of_list = per or (of_all if _SIZE_IN_NAME.search(pack) or not pack else "")
        own_per = _own_per(table, row, price) or of_list
        pack, own_per = _by_weight(table, row, (name, pack, own_per, sold))
        if pack != table.cell(row, "pack"):
            name = _without_pack(name, pack)
        yield PriceLine(
            row=table.sheet.line(n),
            code=(code or id_of(name))[:40],
            name=name,
            pack=pack,
            um=um,
            price=money(price),
            per=own_per,
            section=table.cell(row, "section") or section,
            unit_price=money(unit_price),
            unit_per=_price_is_for(unit_price) or unit_per or "each",
        )


def _with_grade(name: str, grade: str) -> str:
    """The name with a grade that it does not say."""
    is_new = re.search(r"\w", grade) and grade.lower() not in name.lower()
    return f"{name}, {grade.lower()}" if is_new else name


def _own_per(table: Found, row: Sequence[str], price: str) -> str:
    """What a line's own price is for, as it, the column beside it or a remark says; empty where none does."""
    return _price_is_for(price) or _unit_behind(price) or table.cell(row, "per") or _remarked(table, row)


def _by_weight(table: Found, row: Sequence[str], said: tuple[str, str, str, str]) -> tuple[str, str]:
    """(pack, what its price is for) of goods sold by weight: a piece is as heavy as a cell beside it says.

    `said` is the name, the pack, what the price is for and the unit behind the name.
    """
    name, pack, per, sold_by = said
    if re.fullmatch(r"kgs?|lbs?", per) and not _SIZE_IN_NAME.search(f"{pack} {name}"):
        pack = _weight_beside(table, row) or pack
    if re.fullmatch(r"kgs?|lbs?", sold_by):
        per = per or sold_by
    return pack or sold_by or (per if re.fullmatch(r"kgs?|lbs?", per) else ""), per


def _without_pack(name: str, pack: str) -> str:
    """The name without the pack that was read from its words."""
    own_words = rf"(?<!\w){re.escape(pack)}(?!\w)"
    if not pack or not re.search(own_words, name):
        return name
    return re.sub(r"\s+(?:bag|box|case)\b|[\s,]+$", "", re.sub(own_words, "", name).strip())


def _with_point(cell: str) -> str:
    """`10,000` of a list that writes decimals with a comma: ten."""
    return _THREE_DECIMALS.sub(r"\1.", cell)


def _remarked(table: Found, row: Sequence[str]) -> str:
    """What a price is for, where a remark beside it says so: `price per kg`."""
    others = [cell for at, cell in enumerate(row) if at not in table.columns.values()]
    free = [cell for cell in others if not re.search(r"\d", cell)]  # a figure is another price
    return next((found[1] for cell in free if (found := _FOR.search(cell)) and found[1]), "")


def _weight_beside(table: Found, row: Sequence[str]) -> str:
    """The weight that stands alone in a cell nobody knows: `ca. 1,8 kg`; empty where none does."""
    free = [cell for at, cell in enumerate(row) if at not in table.columns.values()]
    found = (re.fullmatch(r"(?i)(?:\w+\.? |~)?(\d+(?:[.,]\d+)? ?(?:kg|g|lb|oz)s?)\.?", cell) for cell in free)
    return next((f"{one[1]} avg" for one in found if one), "")


def _price_is_for(text: str) -> str:
    """The unit that a price or its heading names: `$ / LB`, `6.85/kg`, `92.00 / cs`, `price each`."""
    match = _FOR.search(text)
    if match is None:
        return "each" if re.search(r"\beach\b", text, re.IGNORECASE) else ""
    return match[1].lower() if match[1] else "each"


def _unit_behind(price: str) -> str:
    """The unit that stands behind a price without a stroke: `2.35 ea`; of a case `each`, as all of a pack."""
    found = re.search(r"(?i)\d\s*(lb|kg|ea|pc|each|case|cs|doz)s?\.?$", price)
    unit = found[1].lower() if found else ""
    return "each" if unit in ("case", "cs", "doz") else "ea" if unit == "each" else unit


def _weight_of(table: Found) -> str:
    """The unit of the column of weights, as its heading or that of a price says; empty where neither does."""
    heads = " ".join(table.head_of(role) for role in ("weight", "price", "unit_price")).lower()
    found = re.search(r"\b(lb|kg)s?\b", heads) if "weight" in table.columns else None
    return found[1] if found else ""


def _counted(count: str, size: str) -> str:
    """So many of a size; words before its number (approx 4.5 lb) go behind it, for no count to be lost."""
    size = re.sub(r"^half\s+(?=[a-z])", "0.5 ", size, flags=re.IGNORECASE)
    if half := re.match(r"1/2\s*(?!bu)(?=[a-z])", size, re.IGNORECASE):
        size = f"0.5 {size[half.end() :]}"  # beside its count in a column of its own it can be no pair
    if size.startswith("#"):
        return f"{count}/{size}"
    if whole := re.fullmatch(
        rf"[^x×/]*\d[^x×/]*[a-wyz]\s+(\d+(?:[.,]\d+)?\s*(?:{UNIT_WORDS}))", size, re.IGNORECASE
    ):
        return f"{count} x {whole[1]}"  # `A10 tin 2.5 kg`
    words = re.match(r"([^\d.#]*)((?:\d|\.\d).*)$", size)
    return f"{count} x {words[2]} {words[1]}".strip() if words else f"{count} {size}"


def _average(table: Found, row: Sequence[str]) -> str:
    """A pack of which a column says what it weighs on average, or what each of its pieces does."""
    pack, weight, unit = table.cell(row, "pack"), table.cell(row, "weight"), _weight_of(table)
    if own := re.fullmatch(r"(?i)(\d+(?:\.\d+)?)\s*(kg|g|lb|oz)s?\.?", weight):
        weight, unit = own[1], own[2].lower()
    is_plain = re.fullmatch(r"\d*(?:\.0)?", pack) and re.fullmatch(r"\d+(?:\.\d+)?", weight)
    if not unit or not is_plain or table.cell(row, "size"):
        return ""
    is_of_one = re.search(r"(?i)\b(?:pc|piece|each|ea|unit)\b", table.head_of("weight"))
    in_all = " in all" if re.search(r"(?i)\b(?:cs|case|ctn|carton|box)\b", table.head_of("weight")) else ""
    if not pack or is_of_one:
        return f"{pack} x {weight} {unit} avg" if pack else f"{weight} {unit} avg"
    return f"{pack} pc, {weight} {unit} avg{in_all}"


def _pack_text(table: Found, row: Sequence[str], name: str) -> tuple[str, str]:
    """The pack as one string: from a column, from two (6 and #10), or from the end of the description."""
    pack, size, um = (table.cell(row, role) for role in ("pack", "size", "um"))
    if average := _average(table, row):
        return average, um
    if not size and re.search(r"\d\s*[a-z]", um, re.IGNORECASE) and re.fullmatch(r"\d+(?:\.0)?", pack):
        size, um = um, ""  # `6` beside `tin 2.5 kg`
    if re.fullmatch(r"\d+(?:\.0)?", size) and re.fullmatch(r"(?i)(?:ea|each|pcs?)\.?", um):
        size = f"{size} each"
    if pack and size:
        if re.fullmatch(r"\d+(?:\.0)?", pack):
            pack = _counted(pack, size)
        elif pack != size and not re.search(r"[a-z#]", pack, re.IGNORECASE):
            pack = f"{pack} {size}"
    pack = pack or size
    sizes = _SIZE_IN_NAME.findall(name)
    if (held := _HOLDS.fullmatch(pack or um)) and sizes:  # `ctn 4` of `Olive oil 4L`
        return f"{held[1] or held[2] or held[3]} x {sizes[-1]}", ""
    has_unit = re.search(r"[a-z#]", re.sub(r"(?<=\d )x(?= [\d.])", "", pack), re.IGNORECASE)
    if pack and not has_unit and um.lower() not in kind_words("sold"):
        pack = f"{pack} {um}".strip()
        um = "" if size else um  # the unit of the size, and of no price
    if not pack and not re.search(r"\d", um) and (found := PACK_IN_NAME.findall(name)):
        pack = found[-1]
    return (pack or um), um
