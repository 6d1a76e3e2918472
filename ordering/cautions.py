"""Hazards and allergens a recipe or ingredient may carry, and the usual caution for each hazard by country.

The rules stand in `cautions.csv`: hazard, country, what is said, and the document in which it was read, with
section and edition. The federal text of the model Food Code was not read: state rules that reproduce its
sections were, and they are what is printed. A value that was not read in its source is not there; its row
names the document to ask for and has no source. The texts remind; they decide nothing.
"""

from __future__ import annotations

import csv
import io
import pkgutil
from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import cache

# Hazard by id, with its title in a British and, where it differs, in an American house.
_TITLES = {
    "raw-fish": ("Fish served raw or lightly cooked", ""),
    "cured-fish": ("Fish cured, marinated or cold-smoked", ""),
    "raw-meat": ("Raw meat", ""),
    "raw-poultry": ("Raw poultry", ""),
    "raw-egg": ("Egg raw or soft", ""),
    "shellfish": (
        "Live molluscs: oysters, clams, mussels, scallops",
        "Live mollusks: oysters, clams, mussels",
    ),
    "long-ageing": ("Dry ageing of whole cuts", "Dry aging of whole cuts"),
    "curing": ("Curing meat or fish", ""),
    "smoking": ("Smoking", ""),
    "reduced-oxygen": ("Vacuum packing, bagged cooking, other packing without air", ""),
    "garlic-in-oil": ("Garlic, herbs or vegetables in oil", ""),
    "slow-cooling": ("Cooling large or thick batches", ""),
    "date-mark": ("Date marking", ""),
    "chilled": ("Chilled food", ""),
    "sprouting": ("Sprouting seeds or beans", ""),
}
HAZARDS = tuple(_TITLES)
TAGGED = "shellfish"  # live molluscs, whose tags or labels are kept

# What carries one of these is chilled food too; its own rule is printed once for all of them.
CHILLED = frozenset(HAZARDS) - {"sprouting", "curing", "shellfish"}
# Degrees Celsius, by whose rules: as the rows `chilled` of cautions.csv print them, with their sources.
CHILLED_AT_MOST = {"US": 5.0, "GB": 8.0}

# The 14 groups of Regulation (EU) No 1169/2011, Annex II, as Rochdale Council (food allergens) and the
# University of Reading (text of the annex, points 1 to 8) give them.
ALLERGENS_EU = (
    "gluten",
    "crustaceans",
    "eggs",
    "fish",
    "peanuts",
    "soya",
    "milk",
    "nuts",
    "celery",
    "mustard",
    "sesame",
    "sulphites",
    "lupin",
    "molluscs",
)

# Names of the major food allergens of 21 USC 321(qq), seen only in notes quoting the act: field names, no
# claim how many there are.
ALLERGENS_US = ("milk", "eggs", "fish", "crustaceans", "nuts", "wheat", "peanuts", "soya", "sesame")

ALLERGENS = tuple(dict.fromkeys((*ALLERGENS_EU, *ALLERGENS_US)))

# Other ids that may be written, with what they stand for, and what an American house reads.
ALLERGEN_ALIASES = {
    "egg": ("eggs",),
    "soy": ("soya",),
    "shellfish": ("crustaceans", "molluscs"),  # a kitchen means both: better one too many than one too few
    "tree-nuts": ("nuts",),
    "peanut": ("peanuts",),
    "sulfites": ("sulphites",),
    "mollusks": ("molluscs",),
}
_AMERICAN = {
    "eggs": "egg",
    "soya": "soy",
    "crustaceans": "shellfish (crustacean)",
    "nuts": "tree nuts",
    "peanuts": "peanut",
    "sulphites": "sulfites",
    "molluscs": "mollusks",
}

US, GB, EU = "US", "GB", "EU"
FOOD_LAWS = (US, GB, EU)
_EU_MEMBERS = frozenset(
    "AT BE BG HR CY CZ DK EE FI FR DE GR HU IE IT LV LT LU MT NL PL PT RO SK SI ES SE".split()  # noqa: SIM905
)
_BY_CURRENCY = {"USD": US, "GBP": GB, "EUR": EU}
_NO_LAW = "No rule of this house's country was read, so no figure is printed. Ask your food authority."

DEFER = "Local code and licensed practice decide. No sheet can say that food is safe."

ALLERGEN_WARNING = (
    "Only as good as the recipes: worked out from the allergens written on ingredients and recipes. "
    "Nothing is known of traces, shared oil, boards and fryers, or of a product bought in place of the usual "
    "one. Read the labels and ask before you answer a guest. " + DEFER
)


@dataclass(frozen=True, slots=True)
class Caution:
    """What is usually minded with one hazard in one country.

    `sources` names the documents in which the text was read; it is empty where nothing was, and the text then
    names what to ask for.
    """

    hazard: str
    title: str
    text: str
    sources: tuple[str, ...]


@cache
def caution(hazard: str, food_law: str = "") -> Caution:
    """The usual caution of a hazard under `US`, `GB` or `EU` rules; without figures under any other.

    Raises
    ------
    KeyError : there is no such hazard
    """
    british, american = _TITLES[hazard]
    title = american if food_law == US and american else british
    said = _rules().get((hazard, food_law), ((_NO_LAW, ""),))
    sources = dict.fromkeys(source for _, source in said if source)
    return Caution(hazard, title, " ".join(text for text, _ in said), tuple(sources))


def food_law_of(country: str, currency: str) -> str:
    """Whose rules hold in an ISO 3166 country, or where it is unknown by currency; empty: none was read."""
    if not country:
        return _BY_CURRENCY.get(currency, "")
    country = country.upper()
    return EU if country in _EU_MEMBERS else country if country in FOOD_LAWS else ""


def allergens_under(food_law: str) -> tuple[str, ...]:
    """Allergens that have to be told to guests there; the longer list where it is unknown."""
    return ALLERGENS_US if food_law == US else ALLERGENS_EU


def allergen_name(allergen: str, food_law: str) -> str:
    """An allergen as a kitchen there calls it."""
    return _AMERICAN.get(allergen, allergen) if food_law == US else allergen


def allergen_id(allergen: str, food_law: str) -> str:
    """The id of an allergen as a house there would write it."""
    other = next((word for word, meant in ALLERGEN_ALIASES.items() if meant == (allergen,)), allergen)
    return other if food_law == US else allergen


def allergens_meant(written: Iterable[str]) -> tuple[str, ...]:
    """The allergens that written ids stand for, each once."""
    return tuple(dict.fromkeys(one for word in written for one in ALLERGEN_ALIASES.get(word, (word,))))


@cache
def _rules() -> dict[tuple[str, str], tuple[tuple[str, str], ...]]:
    """(text, source) of every rule by hazard and country, in the order of the file."""
    found: dict[tuple[str, str], list[tuple[str, str]]] = defaultdict(list)
    for row in _rows("cautions.csv"):
        found[row["hazard"], row["country"]].append((row["text"], row["source"]))
    return {key: tuple(rules) for key, rules in found.items()}


def _rows(name: str) -> Iterator[dict[str, str]]:
    text = (pkgutil.get_data("ordering", name) or b"").decode("utf-8")
    return csv.DictReader(io.StringIO(text))
