"""What the words on a recipe's card are: labels with what they say, yields, names with yields, steps."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from ordering.intake.goods_names import id_of
from ordering.intake.outcome import Outcome, Question
from ordering.intake.recipe_lines import quantity_in
from ordering.units import UNITS, Quantity, UnitError, kind_of, parse_quantity

_LABELS = {
    "name": r"(?:recipe|dish|menu item|item) ?(?:name|title)|recipe|dish|menu item|name|title",
    "part": r"portion (?:size|cost|weight|price)",
    "makes": r"(?:portions?|servings?)(?: ?/ ?|, | or )yields?|yields?(?: ?/ ?|, | or )(?:portions|servings)"
    r"|(?:recipe |total |batch )?(?:makes|yields?|serves|batch(?: size)?|portions?|servings?|covers)"
    r"|n(?:umber|o\.?|r\.?) of (?:portions|servings|covers)|pour|ergibt"
    r"|(?:quantit(?:y|ies)|amounts?) for|(?:for|per)(?=\W*\d)",
    "keeps": r"shelf[- ]life|keeps?(?: for)?|holds?(?: for)?",
    "method": r"method|procedure|instructions?|directions?|steps|preparation",
    "lines": r"ingredients?",
    "other": r"date|chef|station|section|(?:[a-z]+ )?(?:costs?|prices?)|page|menu|category|course|notes?"
    r"|updated|rev(?:ised|ision)?|(?:prepared )?by|allergens?|equipment|source|author|version|totals?|storage"
    r"|plating|code|ref(?:erence)?",
}
_LABEL = re.compile(
    r"\W*(?:" + "|".join(f"(?P<{kind}>{words})" for kind, words in _LABELS.items()) + r")\b\.?(?P<rest>.*)",
    re.IGNORECASE | re.DOTALL,
)
_SERVES = re.compile(
    r"\W*(?:\d+ [a-z ]+[,(/]\s*(?:about )?)?(?:(?:for|per|serves|to serve)\s+)?(\d+(?:\s*-\s*\d+)?\s+"
    r"(?:portions?|servings?|ptns?|covers|guests|people))\W*",
    re.IGNORECASE,
)
_NAMED_WITH = re.compile(
    r"(?P<name>[^(]*?[^\W\d][^(]*?)\s*(?:\((?P<inner>[^)]+)\)|(?:\s[-–—]|[,:|])\s*(?P<after>.+))\s*",
    re.DOTALL,
)
_SO_MANY = re.compile(r"\s+(?:\D{0,12}\d|(?:an?|half|one|two|three|four|five|six) [a-z])", re.IGNORECASE)
_NUMBER = re.compile(r"[. ]+\S*\d\S*")
_NUMBER_OF = re.compile(r"\s*(?:no\.?|#)?\s*\d+\s*[:.–-]\s*(?=\S)", re.IGNORECASE)  # `Recipe 3: Slaw`
_SAYS_YIELD = re.compile(r"(?:makes|yields?|serves|for|batch(?: of)?)\b\s*:?\s*", re.IGNORECASE)
STEP = re.compile(r"\s*(?:\d+[.)]\s+[A-Za-z]|step \d+)", re.IGNORECASE)
LEAST_PORTION_G = 15
MEASURED = ("mass", "volume")
_BEFORE_YIELD = re.compile(r"^(?:(?:about|approx\.?|makes|serves|yields?|feeds|for)\s+)+", re.IGNORECASE)
_SERVED = re.compile(r"(?i)(?:portion|serving|serve|ptn|guest|cover|plate|order|bowl)s?\b|people\b")
# What a tray or a cake is cut into: `tray of 24`, `cake 12`, `(24 portions)`; no `of 500 g`.
_CUT = re.compile(
    r"(?i)(?:\b(of|x|each)|[a-z=,])\s*\(?(?:about )?(\d+)\)?$"
    r"|\b(\d+) (?:portion|serving|piece|slice|square)s?\b(?! (?:of|x) \d)"
)
NUMBERED = re.compile(r"(?:\d+[.)]|(?:recipe )?no\.? ?\d+[.:]?)\s+(?=\D)", re.IGNORECASE)
PART = re.compile(r".*:|for (?:the|each) .*", re.IGNORECASE)
KEPT = re.compile(r"\D{0,12}?(\d+)\s*(d|day|days|h|hrs?|hours|w|wks?|weeks?)\b", re.IGNORECASE)


def labelled(cells: Sequence[str]) -> list[tuple[str, str]]:
    """(kind, value) of each label of a row: `Recipe: | Romesco | Yield | 2 qt`; none for any other row."""
    pairs: list[tuple[str, str]] = []
    for cell in cells:
        found = _LABEL.fullmatch(cell)
        rest = found["rest"] if found else ""
        kind = next((k for k in _LABELS if found and found[k]), "")
        before = pairs[-1] if pairs else ("", "")
        if kind == before[0] == "makes" and not rest and before[1].isdigit():  # `Yield | 24 | portions`
            pairs[-1] = kind, f"{before[1]} {cell}"
        elif kind and _is_said_by(kind, rest):
            rest = _NUMBER_OF.sub("", rest) if kind == "name" else rest
            pairs.append((kind, rest.lstrip(" :=-–.\t\n").rstrip()))
        elif cell.endswith(":") and len(cell) < 30 and not re.match(r"(?i)for\b", cell) and len(cells) > 1:
            pairs.append(("other", ""))
        elif pairs:
            kind, value = pairs[-1]
            pairs[-1] = kind, f"{value} {cell}".strip()
        else:
            return []
    return pairs


def _is_said_by(kind: str, rest: str) -> bool:
    """Whether what follows a label is what it says, and not the rest of a name: `Batch 4 kg`, `Page 12`."""
    if not rest.strip(" %") or rest.lstrip()[0] in ":=-–":
        return True
    if kind == "name":
        return bool(_NUMBER_OF.match(rest))
    if kind in ("makes", "keeps"):
        return bool(_SO_MANY.match(rest))
    return rest.startswith(".") if kind == "method" else kind == "other" and bool(_NUMBER.fullmatch(rest))


def is_sentence(text: str) -> bool:
    """Whether a text tells what to do, as no name does."""
    is_line = quantity_in(text)[0] is not None and not STEP.match(text)
    return not is_line and len(text.split()) > 3 and bool(re.search(r"[a-z)]\.(?:\s|$)", text))


def scale(cell: str) -> str:
    """How many a cell says something is for: `24 portions`, `For 10 covers`; empty for another."""
    found = _SERVES.fullmatch(cell)
    return found[1] if found else ""


def name_and_yield(text: str, is_heading: bool) -> tuple[str, str] | None:
    """`Paste (makes 1.2 kg)`, `Paste - makes 2 l`, over lines `Paste (1.2 kg)`; else None."""
    found = _NAMED_WITH.fullmatch(text)
    if found is None:
        return None
    said = str(found["inner"] or found["after"] or "")
    makes = scale(said) or (_SAYS_YIELD.sub("", said, count=1) if _SAYS_YIELD.match(said) else "")
    if not makes and found["inner"] and (is_heading or found["name"].isupper()):
        makes = said
    return (found["name"], makes) if makes and quantity_in(makes)[0] is not None else None


@dataclass(frozen=True, slots=True)
class Makes:
    """What a recipe makes, why that is a guess (empty where it is written), what one of them weighs."""

    quantity: Quantity
    guess: str = ""
    of_one: Quantity | None = None


def makes_of(name: str, makes: str, out: Outcome) -> Makes:
    """What a recipe makes, as its yield line says; what cannot be read is asked."""
    said = f"the file says '{makes}'"
    quantity, rest = quantity_in(_BEFORE_YIELD.sub("", makes), out.country)
    if quantity is None or quantity.amount <= 0:
        text = f"How much does {name} make? The file says '{makes or 'nothing'}'."
        answer = out.asker.settle(Question(f"makes {id_of(name)}", text, (), "1 portion"))
        try:
            return Makes(parse_quantity(answer), said if makes else "no yield is written")
        except UnitError:
            return Makes(Quantity(Fraction(1), "portion"), f"'{answer}' cannot be read")
    if kind_of(quantity.unit) in MEASURED:
        return Makes(quantity)
    is_portions = quantity.unit == "portion" or (
        quantity.unit == "each" and (not rest or _SERVED.match(rest) is not None)
    )
    if not is_portions and (cut := _CUT.search(makes.strip(" ."))):
        is_of_each = cut[1] is not None and quantity.amount > 1  # `2 trays of 24`
        n = Fraction(cut[2] or cut[3]) * (quantity.amount if is_of_each else 1)
        return Makes(Quantity(n, "portion"), "" if cut[3] and quantity.unit == "each" else said)
    inner = re.search(r"\((?:about )?([^)]*)\)|(?:\bof|@) (?:about )?(\d.*)", rest)
    measured = quantity_in(inner[1] or inner[2], out.country)[0] if inner else None
    kind = kind_of(measured.unit) if measured is not None else ""
    if is_portions:
        each = measured if measured is not None and kind == "mass" and inner else None
        if each is not None and inner and inner[1]:
            each = _of_one(quantity.amount, each)
        return Makes(Quantity(quantity.amount, "portion"), "", each)
    return Makes(measured if measured and kind in MEASURED and inner and inner[1] else quantity)


def _of_one(n: Fraction, weight: Quantity) -> Quantity:
    """What one portion weighs, of a yield that says a weight: of all, unless that makes a crumb of each."""
    each = Quantity(weight.amount / n, weight.unit)
    return weight if each.amount * UNITS[each.unit][1] < LEAST_PORTION_G else each
