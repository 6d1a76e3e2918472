"""The cautions carry the published figures, by country, and nothing that was not read in its source.

Sources, each with edition and section beside the figure. US, state rules that reproduce the model Food
Code's sections: Virginia 12VAC5-421 (Department of Health, amended 10 June 2021; section 830 in the text to
January 2017) and 2VAC5-585 (Department of Agriculture, 2017 edition text, 2021); Washington WAC 246-215
(2017 edition, in force 1 March 2022; section 03400 in the archive of 2021); Wisconsin Food Code, ATCP 75
Appendix (in force 1 August 2020); Minnesota Rules 4626 (2019); Wyoming Food Safety Rule chapter 3 (2019);
Nevada NAC 446; Alaska 18 AAC 31. UK: SI 2013/2996, WSI 2006/31, SSI 2006/3, Schedule 4 of each; Food
Standards Agency, "Freezing fish and fishery products" (31 January 2024), vacuum packing training (module
3), factsheet on vacuum packs; Food Standards Scotland, guidance on less than thoroughly cooked beef
burgers; East Suffolk Council. EU: AESAN (Spanish food safety agency), Anisakis page; EFSA opinion of 19
January 2023 as the ZHAW reproduces it. Local code and licensed practice decide.
"""

import csv
import io
import pkgutil
import re

import pytest

from ordering.cautions import (
    ALLERGENS,
    ALLERGENS_EU,
    ALLERGENS_US,
    FOOD_LAWS,
    HAZARDS,
    allergens_under,
    caution,
    food_law_of,
)

ROWS = list(csv.DictReader(io.StringIO(pkgutil.get_data("ordering", "cautions.csv").decode())))

# (hazard, country, figure, document and section it was read in)
SAID = [
    ("raw-fish", "US", "-4 °F (-20 °C) or below for 168 hours", "2VAC5-585-730 A"),  # model 3-402.11(A)(1)
    ("raw-fish", "US", "15 hours at -31 °F or 24 hours at -4 °F", "2VAC5-585-730 A"),  # (A)(2) and (3)
    ("raw-fish", "US", "keep them 90 days after service", "18 AAC 31.335"),
    ("chilled", "US", "On receipt 41 °F (5 °C) or below", "12VAC5-421-340"),
    ("chilled", "US", "Hold at 41 °F (5 °C) or below", "3-501.16"),
    ("raw-fish", "US", "says which dish is raw and reminds guests", "3-603.11"),
    ("raw-fish", "EU", "-20 °C for at least 24 hours, or -35 °C for at least 15 hours", "AESAN"),
    ("raw-fish", "EU", "60 °C for 1 minute throughout", "AESAN"),
    ("raw-fish", "GB", "60 °C in the middle for 1 minute", "Freezing fish and fishery products"),
    ("raw-meat", "US", "155 °F (68 °C) for 17 seconds", "12VAC5-421-700 A 1 to 3"),  # 2017 edition text
    ("raw-meat", "US", "Where an older edition is law, 15 seconds", "4626.0340"),
    ("raw-meat", "US", "Intact meat: 145 °F (63 °C) for 15 seconds", "12VAC5-421-700 A 1 to 3"),
    (
        "raw-meat",
        "US",
        "145 °F (62.8 °C) for 4 minutes, or 130 °F (54.4 °C) for 112 minutes",
        "03400 table 3-3",
    ),
    ("raw-meat", "US", "Nothing raw or rare in a hospital", "4626.0447"),  # model 3-801.11
    ("shellfish", "US", "Never raw in a hospital", "4626.0447"),
    ("cured-fish", "US", "keep them 90 days after service", "18 AAC 31.335"),
    ("raw-meat", "US", "Apart from ready-to-eat food", "4626.0235"),  # model 3-302.11
    ("raw-meat", "GB", "70 °C in the middle for 2 minutes", "Food Standards Scotland"),
    ("chilled", "GB", "8 °C or below in England and Wales", "SI 2013/2996 Schedule 4 paragraph 2"),
    ("raw-poultry", "US", "165 °F (74 °C) in the middle", "12VAC5-421-700 A 1 to 3"),
    ("raw-egg", "US", "155 °F (68 °C) for 17 seconds", "12VAC5-421-700 A 1 to 3"),
    ("raw-egg", "US", "Pasteurized egg in place of raw", "WAC 246-215-03312"),
    ("shellfish", "US", "keep it 90 days from then", "WAC 246-215-03290"),
    ("shellfish", "US", "No tag, not accepted", "3-12"),
    ("shellfish", "GB", "for 60 days", "East Suffolk Council"),
    ("long-ageing", "EU", "up to 35 days at 3 °C or below", "EFSA opinion of 19 January 2023"),
    ("long-ageing", "US", "not among the processes named", "2VAC5-585-860"),
    ("curing", "US", "variance and a plan", "2VAC5-585-860"),
    ("smoking", "US", "145 °F (63 °C) for 15 seconds", "12VAC5-421-700 A 1 to 3"),
    ("reduced-oxygen", "US", "water activity 0.91 or less, pH 4.6 or less", "WAC 246-215-03540"),
    ("reduced-oxygen", "US", "by day 30 from packing", "WAC 246-215-03540"),
    ("reduced-oxygen", "US", "14 days in Nevada and Wyoming", "NAC 446.184"),
    ("reduced-oxygen", "GB", "At most 10 days at 3 to 8 °C", "factsheet on vacuum packs"),
    ("reduced-oxygen", "GB", "90 °C for 10 minutes", "vacuum packing training, module 3"),
    ("garlic-in-oil", "US", "41 °F (5 °C) or below, 7 days", "Multnomah County"),
    ("slow-cooling", "US", "135 to 70 °F (57 to 21 °C) within 2 hours", "4626.0385"),  # model 3-501.14(A)(1)
    ("slow-cooling", "US", "41 °F (5 °C) within 6 hours in all", "4626.0385"),  # (A)(2)
    ("slow-cooling", "US", "to 41 °F within 4 hours", "4626.0385"),  # (B)
    ("date-mark", "US", "The day it is prepared, not the day it is ready, is day 1", "12VAC5-421-830"),
    ("date-mark", "US", "the last day is day 7", "12VAC5-421-830"),
    ("date-mark", "US", "Freezing stops the count", "2VAC5-585-840"),
]
# Figures heard or seen that were not read in their source: (country, what must not stand there).
NOT_READ = [
    ("GB", r"-20 °C|-35 °C|82 °C|75 °C|80 °C for 6|3\.5 %|0\.97|seven-day|35 days"),
    ("EU", r"90 days|60 days|7 days|85 %|8 °C|63 °C|41 °F"),
    ("US", r"nitrite|ppm|35 days"),
]
FIGURE = re.compile(r"\d+(?:\.\d+)? ?(?:°|days?\b|hours?\b|minutes?\b|seconds?\b|%|ppm)")


@pytest.mark.parametrize(("hazard", "country", "said", "read_in"), SAID)
def test_a_caution_carries_the_figure_and_the_document_it_was_read_in(hazard, country, said, read_in):
    rules = [row for row in ROWS if (row["hazard"], row["country"]) == (hazard, country)]
    assert any(said in row["text"] and read_in in row["source"] for row in rules)
    assert said in caution(hazard, country).text
    assert any(read_in in source for source in caution(hazard, country).sources)


@pytest.mark.parametrize("row", ROWS, ids=lambda row: f"{row['hazard']}-{row['country']}")
def test_no_figure_is_printed_without_the_document_it_was_read_in(row):
    assert row["source"] or not FIGURE.search(row["text"])
    assert row["source"] or re.search(r"[Aa]sk|house sets its own|to agree first", row["text"])


@pytest.mark.parametrize(("country", "figures"), NOT_READ)
def test_figures_that_were_not_read_are_not_printed(country, figures):
    for hazard in HAZARDS:
        assert not re.search(figures, caution(hazard, country).text), hazard


def test_no_federal_edition_is_named_that_was_not_read():
    assert not any("Food Code 2022" in row["source"] or "Food Code 2022" in row["text"] for row in ROWS)


def test_every_hazard_has_a_caution_in_every_country_and_none_outside():
    for hazard in HAZARDS:
        for country in FOOD_LAWS:
            assert (hazard, country) in {(row["hazard"], row["country"]) for row in ROWS}
        elsewhere = caution(hazard, "")
        assert not FIGURE.search(elsewhere.text)
        assert elsewhere.sources == ()


@pytest.mark.parametrize(
    ("country", "currency", "law"),
    [("US", "", "US"), ("GB", "EUR", "GB"), ("DE", "GBP", "EU"), ("", "USD", "US"), ("", "GBP", "GB"),
     ("", "EUR", "EU"), ("AU", "USD", ""), ("", "", "")],
)  # fmt: skip
def test_whose_rules_hold_follows_the_country_then_the_currency(country, currency, law):
    assert food_law_of(country, currency) == law


@pytest.mark.parametrize(
    ("celsius", "fahrenheit"), [(5, 41), (57, 135), (63, 145), (68, 155), (74, 165), (21, 70), (-20, -4)]
)
def test_both_scales_are_printed_for_one_temperature(celsius, fahrenheit):
    """The rules print rounded pairs: each is within one degree Fahrenheit of the exact conversion."""
    assert abs(celsius * 9 / 5 + 32 - fahrenheit) <= 1
    said = " ".join(caution(hazard, "US").text for hazard in HAZARDS)
    assert re.search(
        rf"{fahrenheit}(?: to \d+)? °F \((?:\d+ to )?{celsius}(?: to \d+)? °C\)", said
    ) or re.search(rf"to {fahrenheit} °F \(\d+ to {celsius} °C\)", said)


def test_the_lists_of_allergens_have_the_published_groups():
    """Fourteen: Regulation (EU) No 1169/2011, Annex II, as Rochdale Council, "Food allergens", lists them."""
    assert len(set(ALLERGENS_EU)) == len(ALLERGENS_EU) == 14
    assert {"celery", "mustard", "lupin", "sulphites", "molluscs"} <= set(ALLERGENS_EU) - set(ALLERGENS_US)
    assert set(ALLERGENS) == {*ALLERGENS_EU, *ALLERGENS_US}
    assert allergens_under("US") == ALLERGENS_US
    assert allergens_under("GB") == allergens_under("EU") == allergens_under("") == ALLERGENS_EU
