"""Every document of a run, as text, against the file that was read and found good."""

from __future__ import annotations

import pytest
from golden_text import GOLDEN, golden_texts

TEXTS = golden_texts()


@pytest.mark.parametrize("name", TEXTS)
def test_a_document_says_what_it_said(name: str) -> None:
    assert TEXTS[name] == (GOLDEN / name).read_text(encoding="utf-8")


def test_no_golden_file_is_left_over() -> None:
    assert sorted(path.name for path in GOLDEN.glob("*.txt")) == sorted(TEXTS)
