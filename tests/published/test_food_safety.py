"""The cautions carry the published figures, and the lists of allergens the published groups.

Sources, read in state codes that reproduce the model code's numbering unless said otherwise:
Washington 246-215-03525, Delaware 16 DAC 3-501.14, Tennessee 0080-04-09-.03, Minnesota 4626.0340, .0400,
.0408 and .0420, Wisconsin ATCP 75 3-502.12, Nevada 446.184, Oklahoma 310:257-5-20; Southern Nevada Health
District (parasites, date cases); a North Carolina handout (freezing and date marks); Reg. 1169/2011 Annex II
in the list of the Luxembourg ministry of agriculture. Local code and licensed practice decide.
"""

import pytest

from ordering.cautions import ALLERGENS, ALLERGENS_EU, ALLERGENS_US, CAUTIONS

# (hazard, section, what must be said). Values as printed in the sections.
SAID = [
    ("raw-fish", "3-402.11", "-20 °C"),  # 3-402.11(A)(1): freeze and hold at -20 C
    ("raw-fish", "3-402.11", "168 hours"),  # for 168 hours at the least
    ("raw-fish", "3-402.11", "15 hours at -35 °C"),  # (A)(2): solid at -35 C, then 15 hours
    ("raw-fish", "3-402.11", "24 hours at -20 °C"),  # (A)(3): solid at -35 C, then 24 hours at -20 C
    ("raw-fish", "3-402.11", "freezer at -18 °C does not do it"),  # colder than that is asked for
    ("raw-fish", "853/2004", "or -35 °C for 15 hours, in all parts"),  # times from memory
    ("raw-fish", "853/2004", "In the EU -20 °C for 24 hours"),  # Annex III Section VIII; times from memory
    ("cured-fish", "3-402.11", "168 hours"),
    ("raw-meat", "3-501.16", "5 °C / 41 °F or below"),  # (A)(2)
    ("raw-meat", "3-401.11", "63 °C / 145 °F for 15 seconds"),
    ("raw-meat", "3-401.11", "68 °C / 155 °F for 15 seconds"),
    ("raw-meat", "3-401.11", "17 in later editions"),  # 2017 and later, edition from memory
    ("raw-meat", "3-401.11", "74 °C / 165 °F"),
    ("raw-egg", "3-401.11", "63 °C / 145 °F for 15 seconds"),
    ("shellfish", "3-203.12", "90 days"),  # from the day the last was sold or served
    ("shellfish", "3-502.11", "tank for display or holding needs a variance"),
    ("long-ageing", "3-502.11", "ask before"),  # not named; "another method determined by the authority"
    ("curing", "3-502.11", "variance and a HACCP plan"),
    ("smoking", "3-502.11", "variance and a HACCP plan"),
    ("sprouting", "3-502.11", "variance and a HACCP plan"),
    ("reduced-oxygen", "3-502.12", "30 days"),  # (B)(4)
    ("reduced-oxygen", "3-502.12", "water activity 0.91"),  # (B)(2)(a)
    ("reduced-oxygen", "3-502.12", "pH 4.6"),  # (B)(2)(b)
    ("reduced-oxygen", "446.184", "14 in some places"),  # Nevada
    ("garlic-in-oil", "1-201.10", "5 °C / 41 °F or below"),
    ("garlic-in-oil", "1-201.10", "4, 7 or 10 days"),  # advice differs
    ("slow-cooling", "3-501.14", "57 °C / 135 °F to 21 °C / 70 °F within 2 hours"),  # (A)(1)
    ("slow-cooling", "3-501.14", "within 6 hours in all"),  # (A)(2)
    ("slow-cooling", "3-501.14", "5 °C within 4 hours"),  # (B)
    ("date-mark", "3-501.17", "over 24 hours"),  # (A)
    ("date-mark", "3-501.17", "day 1 and the last day is day 7"),
    ("date-mark", "3-501.17", "oldest part"),  # (C)
    ("date-mark", "3-501.17", "Freezing stops the count"),
]


@pytest.mark.parametrize(("hazard", "section", "said"), SAID)
def test_a_caution_carries_the_published_figure_and_section(hazard, section, said):
    assert said in CAUTIONS[hazard].text
    assert section in CAUTIONS[hazard].source


@pytest.mark.parametrize(
    ("celsius", "fahrenheit"), [(5, 41), (57, 135), (63, 145), (68, 155), (74, 165), (21, 70)]
)
def test_both_scales_are_printed_for_one_temperature(celsius, fahrenheit):
    """The code prints rounded pairs: each is within one degree Fahrenheit of the exact conversion."""
    assert abs(celsius * 9 / 5 + 32 - fahrenheit) <= 1
    assert any(f"{celsius} °C / {fahrenheit} °F" in caution.text for caution in CAUTIONS.values())


def test_the_lists_of_allergens_have_the_published_groups():
    """Fourteen in Reg. 1169/2011 Annex II; nine in the US since sesame joined on 2023-01-01 (FASTER Act)."""
    assert len(set(ALLERGENS_EU)) == len(ALLERGENS_EU) == 14
    assert len(set(ALLERGENS_US)) == len(ALLERGENS_US) == 9
    assert "sesame" in ALLERGENS_US
    assert {"celery", "mustard", "lupin", "sulphites", "molluscs"} <= set(ALLERGENS_EU) - set(ALLERGENS_US)
    assert set(ALLERGENS) == {*ALLERGENS_EU, *ALLERGENS_US}
