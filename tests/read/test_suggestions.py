"""What may have been meant is said where it is sure, and both where it is not."""

import re
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ordering.cautions import ALLERGENS
from ordering.read import suggestions


@pytest.mark.parametrize(
    ("written", "days"),
    [
        ("26/11/2026", [date(2026, 11, 26)]),
        ("11/26/2026", [date(2026, 11, 26)]),
        ("5/6/2026", [date(2026, 5, 6), date(2026, 6, 5)]),
        ("11-11-2026", [date(2026, 11, 11)]),
        ("10.12.2026", [date(2026, 12, 10)]),  # with points the day stands first
        ("2026/11/6", [date(2026, 11, 6)]),
        ("2026-11-26 19:42", [date(2026, 11, 26)]),
        ("26 November 2026", [date(2026, 11, 26)]),
        ("Dec 25, 2026", [date(2026, 12, 25)]),
        ("31/31/2026", []),
        ("26/11/26", []),
        ("26 Smarch 2026", []),
        ("soon", []),
    ],
)
def test_a_date_in_another_order(written, days):
    assert sorted(suggestions.dates(written)) == days


@pytest.mark.parametrize(
    ("written", "plain"),
    [
        *(("$4.65", "4.65"), ("310.00 USD", "310.00"), ("EUR 12", "12"), ("26 €", "26")),
        *(("1,500.00", "1500.00"), ("1,250,000", "1250000"), ("£1,500.50", "1500.50")),
        *(("1 500", "1500"), ("1\u202f250\u202f000", "1250000"), ("1’500", "1500")),
        *(("１２", "12"), ("٥٠", "50")),
        *(("5²", ""), ("1 50", "")),
        *(("1,500", ""), ("17,-", ""), ("4.65", ""), ("a lot", "")),
    ],
)
def test_an_amount_with_its_sign(written, plain):
    assert suggestions.amount(written) == plain


@pytest.mark.parametrize(
    ("written", "time"),
    [
        *(("6pm", "18:00"), ("12am", "00:00"), ("12pm", "12:00"), ("noon", "12:00"), ("15.30", "15:30")),
        *(("1530", "15:30"), ("17h", "17:00"), ("7:30 am", "07:30"), ("25:00", ""), ("9", ""), ("late", "")),
    ],
)
def test_a_time_of_day(written, time):
    assert suggestions.clock(written) == time


def test_a_city_stands_for_its_time_zone():
    known = {"America/Chicago", "Europe/London", "UTC"}
    assert suggestions.time_zone("Chicago", known) == "did you mean 'America/Chicago'?"
    assert suggestions.time_zone("Europe/Londn", known) == "did you mean 'Europe/London'?"
    assert suggestions.time_zone("Mars", known) == ""


@pytest.mark.parametrize(
    ("written", "said"),
    [
        ("shellfish", "write those on the label: crustaceans, molluscs"),
        ("tree nuts", "write nuts"),
        ("tree-nuts", "write nuts"),
        ("soy", "write soya"),
        ("Dairy", "write milk"),
        ("egg", "did you mean 'eggs'?"),
        ("nut", "did you mean 'nuts'?"),
        ("cellery", "did you mean 'celery'?"),
        *((word, f"write one of {', '.join(ALLERGENS)}") for word in ("nits", "pine nuts", "fush", "beans")),
    ],
)
def test_a_hint_never_leads_from_one_allergen_to_another(written, said):
    assert suggestions.allergen(written) == said


@given(
    st.sampled_from(ALLERGENS), st.sampled_from(["", "tree ", "shell", "ground", "no ", "x"]), st.booleans()
)
def test_no_form_of_an_allergen_s_name_leads_to_another(name, before, is_one):
    """`shellfish` led to fish and `tree nuts` to peanuts: an id inside a word is not that word."""
    word = before + (name.removesuffix("s") if is_one else name)
    hint = suggestions.allergen(word)
    led_to = re.findall(r"'([a-z]+)'", hint)
    assert set(led_to) <= {name}
