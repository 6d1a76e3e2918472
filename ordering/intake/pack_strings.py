"""Pack strings as vendors print them: how many of what size, and what has to be asked.

`n/m` and `n x m` are count and size and never a fraction (bushels apart). `#` after a number is pounds,
before it a can size or a grade. A size grade (16/20, U/10, 5x6, 88 CT) beside a weight is no part of
the pack. Common practice of the trade, no source.
"""

from __future__ import annotations

import re
from dataclasses import replace
from fractions import Fraction

from ordering.intake.pack_readings import Reading, doubted, settled
from ordering.units import UNITS, kind_of

_NUM = r"(?:\d+(?:\.\d+)?|\.\d+)"
_WORDS = """
lb: lbs lb pound pounds
oz: oz ozs ounce ounces
fl oz: floz fz fo
gallon: gallons gallon gal ga gl
quart: quarts quart qts qt
pint: pints pint pts pt
each: each ea ct cnt count pcs pc sheets sheet head heads st stk stuks stück uds ud pieces piece
dozen: dozen doz dz
bunch: bunches bunch bundle bundles bchs bch bund botte bns bn bunchs buns bun
kg: kgs kg kilo kilos
g: grams gram grm gms gm gr g
ml: ml
cl: cl
l: litres liters litre liter ltrs ltr lt l
peck: peck
hg: hg
roll: rolls roll rl rls
"""
SPELLED = {
    word: unit
    for line in _WORDS.split("\n")
    if ": " in line
    for unit, words in [line.split(": ")]
    for word in words.split()
}
UNIT_WORDS = "|".join(sorted(SPELLED, key=len, reverse=True))
_PIECES = "ct|cnt|count|ea|each|pcs?|pieces?|sheets?|stk|st|stuks|/\\s*cs"
HELD = "(?:tray|pack|pk|pkt|box|crate|carton|ctn|punnet|net|bag|sleeve)"
_CANS = "10|5 squat|5|3 cyl|3 vac|2\\.5|2|303|300|1 tall|1 picnic"
_CAN = re.compile(rf"(?:#\s*|\bno\.?\s*|\ba(?=10\b))({_CANS})\b(?:\s*(?:cans?|tins?|cns?)\b)?")
_CAN_WORD = re.compile(rf"(\d+)\s*/\s*({_CANS})\s*(?:cans?|tins?|cns?)")
_ONE = re.compile(
    rf"(?P<counts>(?:\d+\s*[/x]\s*)*)(?P<size>{_NUM})(?:\s*-\s*(?P<high>{_NUM}))?\s*(?:(?P<unit>{UNIT_WORDS})(?![a-z]))?"
)
_GRADES = re.compile(
    r"(?:\bu\s*/?\s*\d+\b|\b\d+/\d+(?:\s*p&d)?(?=\s+\d)|\b\d+x\d+(?=\s+\d+\s*lb)|\b\d+\s*ct(?=\s+\d)"
    r"|\b4-1(?=\s)|#\d\b(?=\s+\d))"
)
_ABOUT = re.compile(
    r"\b(?:approx|aprox|about|abt|avg|ave?|average|circa|ca|c(?=\.)|env|cw|rw|catch\s*wt|random)\b\.?|~|\bup\b|\bdn\b|\bdown\b"
)
_BUSHEL = re.compile(r"(?:1\s*x\s*)?(?:(\d+)[\s-]+)?(?:(\d+)\s*/\s*)?(\d+)\s*(?:bushels?|bush?|bsh|bu)\b")
_SHRIMP = " 6/8 8/12 10/15 13/15 16/20 20/30 21/25 26/30 31/35 31/40 36/40 41/50 51/60 61/70 "


def read_pack(
    text: str, um: str = "", country: str = "", is_liquid: bool | None = None, is_graded: bool = False
) -> Reading:
    """A vendor's pack string. `um` is the price list's unit column, `country` the house's ISO code.

    `is_liquid` says of an ounce or a pint what the product's own words tell, None where they do not;
    `is_graded` whether it is sold by pieces to the pound, as shrimp are.
    Never raises: what cannot be read comes back without a size, with `ask` saying what to ask.
    """
    word = _plain(text)
    um = um.strip().lower()
    if not word or len(word) > 80:
        return _bare(um) or Reading(ask="what is in a pack?")
    reading = _can(word, text) or _bushel(word) or _fixed(word, um, is_graded) or _measured(word, text, um)
    return settled(reading, word, text, country, is_liquid)


def _plain(text: str) -> str:
    """Lower case, decimals with a point, `#` after a number as pounds, vulgar fractions written out."""
    word = (
        text.strip().lower().replace("×", "x").replace("½", " 1/2").replace("¼", " 1/4").replace("¾", " 3/4")
    )
    word = re.sub(rf"(?<=\d),(?=\d{{3}}\s*(?:{_PIECES})\b)", "", word)
    word = re.sub(r"(?<=\d),(?=\d{1,3}(?!\d))(?!\d{3},)", ".", word)
    word = re.sub(r"(?<=\d)\s*(?:to|–)\s*(?=\d)", "-", word)
    word = re.sub(r"^(\d+)\s*(?:pcs?|pieces?)\s*/\s*(?=\d)", r"\1 x ", word)
    word = re.sub(r"(?<=\d)\s*#(?!\s*\d)", " lb ", word)
    word = re.sub(r"(?<=\d)\s*lbav?\b", " lb avg", word)
    word = re.sub(r"(?<=\d)\s*[x/]?\s*a10\b", "/#10", word)
    word = re.sub(r"\bfl\.?\s*oz\b\.?", "floz", word)
    word = re.sub(rf"^({_NUM}\s*(?:{UNIT_WORDS}))\s*x\s*(\d+)$", r"\2 x \1", word)
    word = re.sub(rf"^(\d+) ?[x/] ?(?:a|#|no\.? ?)10 \(?({_NUM} ?(?:{UNIT_WORDS}))\)?$", r"\1 x \2", word)
    word = re.sub(r"\bhalf[ -]?(?:a )?do?z(?:en)?\b", "6 ea", word)
    word = re.sub(r"\bhg\b|\bhalf\s*gal\w*", ".5 gal", word)
    return " ".join(word.split())


def _can(word: str, text: str) -> Reading | None:
    """Standard cans: a count and a can size, their content by product."""
    if re.fullmatch(r"6\s*/\s*10\s*lb", word) and "#" in text:
        return Reading(6, Fraction(10), "lb", ask="six 10 lb bags, or six No. 10 cans?")
    if (whole := _CAN_WORD.fullmatch(word)) or (whole := re.fullmatch(r"(\d+)\s*/\s*(10)", word)):
        ask = "net (or drained) weight of one can" if word[-1].isalpha() else "cans No. 10, or pounds?"
        return Reading(int(whole[1]), Fraction(1), f"no. {whole[2]} can", ask=ask)
    match = _CAN.search(word)
    if match is None or (match[1] in ("1", "2") and re.match(r"\s*\d", word[match.end() :])):
        return None
    name = {"3 cyl": "3 cylinder", "3 vac": "3 vacuum"}.get(match[1], match[1])
    rest = word[: match.start()] + word[match.end() :]
    if re.search(_NUM + rf"\s*(?:{UNIT_WORDS})(?![a-z])", rest):
        return None
    count = re.match(r"\s*(\d+)\s*[/x-]?\s*$", word[: match.start()])
    if count is None and word[: match.start()].strip():
        return None
    ask = "net (or drained) weight of one can"
    if name == "5":
        ask = "squat can of 64 to 72 oz, or 56 oz can?"
    return Reading(int(count[1]) if count else 1, Fraction(1), f"no. {name} can", ask=ask)


def _bushel(word: str) -> Reading | None:
    match = _BUSHEL.fullmatch(word) or _BUSHEL.match(word)
    if match is None:
        return None
    whole, over, under = match.groups()
    if not over and not whole and int(under) >= 6:
        return Reading(1, Fraction(int(under)), "bunch", ask="bunches or bushels?")
    size = Fraction(int(whole or 0)) + (Fraction(int(over), int(under)) if over else int(under))
    if weight := re.fullmatch(rf"\s*({_NUM})\s*(lb|kg)s?", word[match.end() :]):
        return Reading(1, Fraction(weight[1]), weight[2], ask="net pounds?")
    return Reading(1, size, "bushel", ask="how many pounds? A bushel weighs something else for every crop:")


_UNKNOWN = (
    (r"(?:1 )?(?:cs|case|ctn|carton)|ct|box|flat|tray", "what is in a case?"),
    (rf"(?:1 )?{HELD}|\d+ (?:trays|packs|boxes|crates|bags|sacks|tubs|nets|punnets)", "what is in one?"),
    (r"1/2 (?:cs|case)", "half a case, or one case of two? how many packs is a case?"),
    (r"1/[234] pan", "weight or portions of one pan"),
    (r"\d+x\d+|\d+x\d+ \d+ lay\w*|\d+ (?:lyr|layer)s?", "weight, or pieces?"),
)


def _fixed(word: str, um: str, is_graded: bool) -> Reading | None:
    """Forms that are no count and size."""
    if match := re.fullmatch(r"1\s*x\s*(\d+)", word):
        return Reading(1, Fraction(match[1]), "each", ask="so many pieces?")
    for pattern, ask in _UNKNOWN:
        if re.fullmatch(pattern, word):
            return Reading(1 if "1/" not in word else None, ask=ask)
    if match := re.fullmatch(r"(1/[234]|half|quarter|whole) (wheel|lamb|pig|hog|steer|side|carcass)", word):
        is_wheel = match[2] == "wheel"
        part = {"half": "1/2", "quarter": "1/4", "whole": "1"}.get(match[1], match[1])
        size = None if is_wheel else Fraction(part)
        return Reading(
            None if is_wheel else 1, size, "" if is_wheel else "carcass", is_catch_weight=True, ask="weight"
        )
    if re.fullmatch(r"(?:\d+/\d+(?: ct)?|u/?\d+)", word) and (
        um == "lb"
        or word[0] == "u"
        or (f" {word.removesuffix(' ct')} " in _SHRIMP and (is_graded or not word.endswith("ct")))
    ):
        return Reading(1, Fraction(1), "lb", ask="pack weight")
    if match := re.fullmatch(r"1/\d+\s*x\s*\d+ ft", word):
        return Reading(1, Fraction(1), "each")
    if match := re.fullmatch(r"(\d+)/1/2 ?(gal\w*|lb|kg|l)", word):
        return Reading(int(match[1]), None, SPELLED.get(match[2], match[2]), ask=f"{match[1]} halves?")
    if match := re.fullmatch(rf"(\d+)\s*/\s*([137])/([248])\s*({UNIT_WORDS})", word):
        ask = f"{match[1]} of {match[2]}/{match[3]} {SPELLED[match[4]]}?"
        return Reading(int(match[1]), Fraction(int(match[2]), int(match[3])), SPELLED[match[4]], ask=ask)
    if match := re.fullmatch(r"(\d+)/case ([\d.]+) lb.*", word):
        ask = f"is {match[2]} lb one piece or the case?"
        return Reading(int(match[1]), Fraction(match[2]), "lb", is_catch_weight=True, ask=ask)
    return _of_pieces(word) or _bare(word)


def _of_pieces(word: str) -> Reading | None:
    """Pieces in words of their own: `dz bunches`, `200/CS`, `tray of 30`, `48's`."""
    if match := re.fullmatch(r"(?:(\d+)\s*)?(?:dozen|doz|dz) bunch(?:e?s)?", word):
        return Reading(1, 12 * Fraction(match[1] or 1), "bunch")
    if match := re.fullmatch(rf"(\d+)\s*(?:/|per|a)\s*(?:cs|case|{HELD})", word):
        return Reading(1, Fraction(match[1]), "each")
    if match := re.fullmatch(rf"(\d+)\s*{HELD}(?:e?s) of (\d+)", word):  # `8 packs of 6`
        return Reading(int(match[1]), Fraction(match[2]), "each")
    if match := re.fullmatch(r"bunch x (\d+)", word):
        return Reading(1, Fraction(int(match[1])), "bunch")
    of = r"(?:(?:tray|pack|pk|pkt|box|case)(?: of| x)? ?|x ?)"
    if match := re.fullmatch(rf"{of}(\d+)(?: eggs)?", word):
        return Reading(
            1, Fraction(match[1]), "each", ask="pieces, lb or kg?" if word.startswith("box") else ""
        )
    if match := re.fullmatch(r"(?:(\d+)\s*[x/]\s*)?(\d+)\s*'?s", word):
        return Reading(int(match[1] or 1), Fraction(match[2]), "each")
    match = re.fullmatch(rf"(?:(\d+)(?: x |\s*[x/]\s*(?=\d+[ -]?{HELD}$)))?(\d+)(?:[ -]?{HELD})?", word)
    if match and int(match[2]) > 1:  # `80`, `1 x 48`, `8 x 6 pk`, `24 tray`
        return Reading(int(match[1] or 1), Fraction(match[2]), "each", ask="so many pieces?")
    return None


def _bare(word: str) -> Reading | None:
    """A unit alone: sold by the pound, the piece, the bunch."""
    unit = SPELLED.get(re.sub(r"^(?:1/|1 |per |by the |a )", "", word))
    if unit is None or word == "ct":
        return None
    ask = "least quantity, and is a case of fixed weight?" if word in ("lb", "kg") else ""
    ask = "weight of one, if it is used by weight" if word in ("ea", "each") else ask
    ask = "pounds: by commodity" if unit == "peck" else ask
    return Reading(1, Fraction(1), unit, ask=ask)


def _measured(word: str, text: str, um: str) -> Reading:
    """Count and size, with grades before it and the trade's words around it."""
    is_about = bool(_ABOUT.search(word))
    word, is_about = _without_remark(word, is_about)
    word = " ".join(_ABOUT.sub(" ", word).replace("p&d", " ").split())
    is_grade = False
    for _ in range(3):
        if (grade := _GRADES.match(word)) and _ONE.search(word[grade.end() :]):
            is_grade = bool(re.match(r"\d+/\d+(?!\s*\d)", grade[0])) or is_grade
            word = word[grade.end() :].strip()
    found = [m for m in _ONE.finditer(word) if m["unit"] or m["counts"]]
    found = [m for m in found if m["unit"]] or found or list(_ONE.finditer(word))
    if len(found) == 1 and re.search(r"x\s*\d+\s*$", word[found[0].end() :]):
        return replace(_one(found[0], um), ask=f"how many in all, for {word}?")
    if not found:
        return Reading(ask="what is in a pack?")
    first, last = _one(found[0], um), _one(found[-1], um)
    if len(found) > 1 and last.unit in UNITS and kind_of(last.unit) == "mass":
        first = _with_weight(first, last, is_about)
    elif first.unit == "each" and re.search(r"\bbun", word):
        first = replace(first, unit="bunch")
    is_up = bool(re.search(r"\b(?:up|dn|down)\b", text.lower()))
    if is_up and not first.unit:
        first = replace(first, unit="lb")
    is_catch = (
        (is_about or (first.high is not None)) and first.unit in UNITS and kind_of(first.unit) == "mass"
    )
    first = replace(first, is_catch_weight=is_catch)
    return doubted(first, word, text, um, is_up)


def _without_remark(word: str, is_about: bool) -> tuple[str, bool]:
    """The pack without what stands in brackets behind it, where that has no unit: `5 kg (approx 16)`."""
    match = re.fullmatch(r"(.*\d.*?)\(([^)]*\d[^)]*)\)\s*", word)
    if match is None or re.search(rf"\d\s*(?:{UNIT_WORDS})(?![a-z])", match[2]):
        return word, is_about
    return match[1], bool(_ABOUT.search(match[1]))


def _one(match: re.Match[str], um: str) -> Reading:
    counts = [int(n) for n in re.findall(r"\d+", match["counts"])]
    count = 1
    for n in counts:
        count *= n
    unit = SPELLED.get(match["unit"] or "", "")
    high = Fraction(match["high"]) if match["high"] else None
    return Reading(count, Fraction(match["size"]), unit, high)


def _with_weight(first: Reading, last: Reading, is_about: bool) -> Reading:
    """`28/6 OZ 10.5 LB`, `4 pc, 18 lb avg`: a weight beside count and size, beside pieces, or a grade."""
    whole, named = first.content, last.content
    if not whole or not named:
        return last
    if kind_of(whole.unit) == "mass":
        ratio = whole.amount * UNITS[whole.unit][1] / (named.amount * UNITS[named.unit][1])
        if abs(ratio - 1) < Fraction(1, 50):
            return replace(first, total=named)
        if is_net(first, last):
            return replace(
                first, size=last.size, unit=last.unit, ask=f"{first.size} {first.unit}, or {named} net?"
            )
        return replace(last, ask="pieces a box")
    n = whole.amount
    if is_about and whole.unit == "each" and last.count == 1 and 1 < n == int(n):
        ask = f"{n} pieces of {named} each, or {named} in all?"
        return replace(last, count=int(n), size=named.amount / n, high=None, ask=ask)
    return last


def is_net(first: Reading, last: Reading) -> bool:
    """Whether a weight behind count and size is what is left of one of them: `10 x 1 kg (800 g net)`."""
    if (first.count or 1) < 2 or last.count != 1 or first.size is None or last.size is None:
        return False
    ratio = last.size * UNITS[last.unit][1] / (first.size * UNITS[first.unit][1])
    return Fraction(1, 2) <= ratio < 1
