"""What the words on a recipe's card are: labels with what they say, yields, names with yields, steps."""

from __future__ import annotations

import re
from collections.abc import Sequence

from ordering.intake.recipe_lines import quantity_in

_LABELS = {
    "name": r"(?:recipe|dish|menu item|item) ?(?:name|title)|recipe|dish|name|title",
    "part": r"portion (?:size|cost|weight|price)",
    "makes": r"(?:portions?|servings?)(?: ?/ ?|, | or )yields?|yields?(?: ?/ ?|, | or )(?:portions|servings)"
    r"|(?:recipe |total |batch )?(?:makes|yields?|serves|batch(?: size)?|portions?|servings?|covers)"
    r"|n(?:umber|o\.?|r\.?) of (?:portions|servings|covers)|pour|ergibt|(?:for|per)(?=\W*\d)",
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
_SAYS_YIELD = re.compile(r"(?:makes|yields?|serves|for|batch(?: of)?)\b\s*:?\s*", re.IGNORECASE)
STEP = re.compile(r"\s*(?:\d+[.)]\s+[A-Za-z]|step \d+)", re.IGNORECASE)
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
        is_open = (
            not rest.strip(" %")
            or rest.lstrip()[0] in ":=-–"
            or (kind in ("makes", "keeps") and bool(_SO_MANY.match(rest)))
        )
        is_open = is_open or (kind == "other" and bool(re.fullmatch(r"[. ]+\S*\d\S*", rest)))
        is_open = is_open or (kind == "method" and rest.startswith("."))
        before = pairs[-1] if pairs else ("", "")
        if kind == before[0] == "makes" and not rest and before[1].isdigit():  # `Yield | 24 | portions`
            pairs[-1] = kind, f"{before[1]} {cell}"
        elif kind and is_open:
            pairs.append((kind, rest.lstrip(" :=-–.\t\n").rstrip()))
        elif cell.endswith(":") and len(cell) < 30 and not re.match(r"(?i)for\b", cell) and len(cells) > 1:
            pairs.append(("other", ""))
        elif pairs:
            kind, value = pairs[-1]
            pairs[-1] = kind, f"{value} {cell}".strip()
        else:
            return []
    return pairs


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
