"""What `explain` finds by a word, and what it asks about."""

import pytest

from ordering.explain.run_facts import RunFacts, find
from ordering.faults import Refused

WHY = {
    "items": {
        "butter": {"name": "Butter", "unit": "kg"},
        "cod": {"name": "Cod", "unit": "kg"},
        "hake": {"name": "Hake", "unit": "kg"},
    },
    "dishes": {},
    "offers": [
        ["dairy", "77", "butter"],
        ["quay", "77", "cod"],
        ["quay", "9", "hake"],
        ["pier", "9", "hake"],
    ],
}
ORDERS = [
    {"code": "77", "item": "butter", "vendor": "dairy"},
    {"code": "77", "item": "cod", "vendor": "quay"},
]


def test_a_code_of_two_vendors_is_asked_about_with_what_each_means():
    told = RunFacts({"orders": ORDERS}, WHY, 80)
    with pytest.raises(Refused) as refused:
        find(told, "77")
    said = str(refused.value.faults[0])
    assert "2 vendors use the code 77" in said
    assert "dairy:77 is Butter, quay:77 is Cod" in said
    assert find(told, "dairy:77") == ("item", "butter")
    assert find(told, "quay:77") == ("item", "cod")


def test_a_code_that_means_the_same_everywhere_needs_no_vendor():
    assert find(RunFacts({}, WHY, 80), "9") == ("item", "hake")


def test_a_run_of_an_earlier_version_knows_its_codes_too():
    why = {"items": WHY["items"], "dishes": {}, "codes": {"9": "hake"}}
    assert find(RunFacts({}, why, 80), "9") == ("item", "hake")
