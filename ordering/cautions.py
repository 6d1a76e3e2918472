"""Hazards and allergens a recipe or ingredient may carry; the ids a house may write."""

from __future__ import annotations

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
