"""run.json: the same facts read back, and a line for each thing a person may look for."""

from __future__ import annotations

import json

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ordering.write.facts import facts_bytes

VALUES = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False, allow_infinity=False) | st.text(),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(), inner, max_size=3),
    max_leaves=12,
)


@settings(max_examples=40)
@given(st.dictionaries(st.text(), VALUES, max_size=4))
def test_what_is_written_reads_back_the_same(facts: dict[str, object]) -> None:
    assert json.loads(facts_bytes(facts)) == facts


def test_each_item_has_a_line_of_its_own() -> None:
    facts = {
        "when": "2026-11-26T00:00",
        "notes": ["a", "b"],
        "why": {"items": {"rib": {"opening": 1.5, "coming": [1, 2]}, "leek": {}}},
    }
    assert facts_bytes(facts).decode() == (
        '{\n "when": "2026-11-26T00:00",\n "notes": ["a", "b"],\n "why": {\n  "items": {\n'
        '   "rib": {"opening": 1.5, "coming": [1, 2]},\n   "leek": {}\n  }\n }\n}\n'
    )


def test_what_json_cannot_hold_is_refused() -> None:
    with pytest.raises(ValueError, match="not JSON compliant"):
        facts_bytes({"gap": float("nan")})
    with pytest.raises(TypeError, match="not JSON serializable"):
        facts_bytes({"gap": object()})
