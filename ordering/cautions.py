"""Hazards and allergens a recipe or ingredient may carry, and the usual caution for each hazard.

Section numbers and values of the model food code were read in state codes that reproduce its numbering
(Delaware, Michigan, Minnesota, Nevada, Oklahoma, Tennessee, Washington, Wisconsin); what comes from memory
says so. The texts remind; they decide nothing.
"""

from __future__ import annotations

from dataclasses import dataclass

HAZARDS = (
    "raw-fish",
    "cured-fish",
    "raw-meat",
    "raw-egg",
    "shellfish",
    "long-ageing",
    "curing",
    "smoking",
    "reduced-oxygen",
    "garlic-in-oil",
    "slow-cooling",
    "date-mark",
    "sprouting",
)

# Regulation (EU) No 1169/2011, Annex II; read in memory of the list, 14 groups.
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

# FDA Food Code 2022, 1-201.10(B) "major food allergen", 9 groups, in this house's words.
ALLERGENS_US = ("milk", "eggs", "fish", "crustaceans", "nuts", "peanuts", "wheat", "soya", "sesame")

ALLERGENS = tuple(dict.fromkeys((*ALLERGENS_EU, *ALLERGENS_US)))

DEFER = "Local code and licensed practice decide. No sheet can say that food is safe."

ALLERGEN_WARNING = (
    "Only as good as the recipes: worked out from the allergens written on ingredients and recipes. "
    "Nothing is known of traces, shared oil, boards and friers, or of a product bought in place of the usual "
    "one. Read the labels and ask before you answer a guest. " + DEFER
)


@dataclass(frozen=True, slots=True)
class Caution:
    """What is usually minded with one hazard; `source` names the published text."""

    hazard: str
    title: str
    text: str
    source: str


_ALL = (
    Caution(
        "raw-fish",
        "Fish served raw or lightly cooked",
        "Freeze against parasites before it is served: -20 °C / -4 °F or below for 168 hours (7 days); or "
        "-35 °C / -31 °F until solid, then 15 hours at -35 °C or 24 hours at -20 °C. An ordinary freezer "
        "at -18 °C does not do it. In the EU -20 °C for 24 hours or -35 °C for 15 hours, in all parts "
        "(times from memory). Some tunas, molluscs and farmed fish are exempt: keep the supplier's "
        "statement.",
        "FDA Food Code 2022, 3-402.11; Reg. (EC) 853/2004, Annex III, Section VIII (am. Reg. (EU) 1276/2011)",
    ),
    Caution(
        "cured-fish",
        "Fish cured, marinated or cold-smoked",
        "Counts as raw: salt, sugar and acid as a kitchen uses them do not replace freezing. -20 °C / -4 "
        "°F or below for 168 hours (7 days), or -35 °C / -31 °F until solid, then 15 hours at -35 °C or "
        "24 hours at -20 °C, unless exempt. Hold at 5 °C / 41 °F or below.",
        "FDA Food Code 2022, 3-402.11 and 3-501.16; Reg. (EC) 853/2004, Annex III, Section VIII",
    ),
    Caution(
        "raw-meat",
        "Raw meat",
        "Hold at 5 °C / 41 °F or below, under and away from what is ready to eat. In the middle: whole "
        "cuts 63 °C / 145 °F for 15 seconds, minced or injected 68 °C / 155 °F for 15 seconds (17 in "
        "later editions, from memory), poultry and stuffed meat 74 °C / 165 °F. Less than that only where "
        "the law and the guest allow it.",
        "FDA Food Code 2022, 3-401.11 and 3-501.16",
    ),
    Caution(
        "raw-egg",
        "Egg raw or soft",
        "Eggs cooked to order: 63 °C / 145 °F for 15 seconds. Where a sauce or dessert keeps them raw, "
        "pasteurised egg is the usual way, always for children, the old, the ill and the pregnant.",
        "FDA Food Code 2022, 3-401.11; 3-302.13 and 3-801.11 (these two from memory)",
    ),
    Caution(
        "shellfish",
        "Live shellfish",
        "Keep the tag on its container until it is empty, write on it the day the last was sold or "
        "served, and keep it 90 days from then. Do not mix lots. A tank for display or holding needs a "
        "variance.",
        "FDA Food Code 2022, 3-203.12 and 3-502.11",
    ),
    Caution(
        "long-ageing",
        "Dry ageing of whole cuts",
        "Hold at 5 °C / 41 °F or below, apart from other food, with temperature and humidity written "
        "down. Dry ageing is not among the processes named as needing a variance and a HACCP plan, but "
        "the authority may ask for both: ask before you hang anything.",
        "FDA Food Code 2022, 3-501.16 and 3-502.11 (reading of the list of processes)",
    ),
    Caution(
        "curing",
        "Curing meat or fish",
        "Needs a variance and a HACCP plan from the authority before you begin. Weigh curing salts, twice.",
        "FDA Food Code 2022, 3-502.11; weighing twice: common practice, no source",
    ),
    Caution(
        "smoking",
        "Smoking",
        "Smoking to preserve (not for flavour alone) needs a variance and a HACCP plan. Hot-smoked food "
        "is cooked food: fish 63 °C / 145 °F for 15 seconds in the middle, then cooled in time and date "
        "marked.",
        "FDA Food Code 2022, 3-502.11, 3-401.11, 3-501.14 and 3-501.17",
    ),
    Caution(
        "reduced-oxygen",
        "Vacuum packing, bagged cooking, other reduced-oxygen packing",
        "Without a variance only under a HACCP plan: 5 °C / 41 °F or below, with a second barrier such as "
        "water activity 0.91 or less or pH 4.6 or less, and 30 days at the most (14 in some places). "
        "Otherwise a variance. Label with contents and date.",
        "FDA Food Code 2022, 3-502.11 and 3-502.12; 14 days: Nevada 446.184",
    ),
    Caution(
        "garlic-in-oil",
        "Garlic, herbs or vegetables in oil",
        "Can grow the botulism germ without smell or taste. Hold at 5 °C / 41 °F or below from the moment "
        "it is mixed. Advice on how long differs (4, 7 or 10 days): take the shortest your authority "
        "gives, and throw away the rest. Never at room temperature unless acidified by a tested method.",
        "FDA Food Code 2022, 1-201.10 (time/temperature control for safety food) and 3-501.16",
    ),
    Caution(
        "slow-cooling",
        "Cooling large or thick batches",
        "From 57 °C / 135 °F to 21 °C / 70 °F within 2 hours, and to 5 °C / 41 °F within 6 hours in all; "
        "what is made from things at room temperature, to 5 °C within 4 hours. Shallow pans, ice, "
        "stirring; write down both times.",
        "FDA Food Code 2022, 3-501.14",
    ),
    Caution(
        "date-mark",
        "Date marking",
        "Ready to eat and held over 24 hours: mark it. The day it was made is day 1 and the last day is "
        "day 7, six days later, at 5 °C / 41 °F or below. A mixture keeps the date of its oldest part. "
        "Freezing stops the count, it does not start it anew.",
        "FDA Food Code 2022, 3-501.17",
    ),
    Caution(
        "sprouting",
        "Sprouting seeds or beans",
        "Needs a variance and a HACCP plan from the authority before you begin.",
        "FDA Food Code 2022, 3-502.11",
    ),
)

CAUTIONS = {caution.hazard: caution for caution in _ALL}
