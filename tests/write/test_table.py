"""Csv files: plain numbers, ISO dates, no formula."""

from __future__ import annotations

import csv
import io
from datetime import UTC, date, datetime
from decimal import Decimal

import numpy as np
import pytest
from hostile import NAMES
from hypothesis import example, given
from hypothesis import strategies as st

from ordering.write.table import csv_bytes, number, plain


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (0.0, "0"),
        (-0.0, "0"),
        (3, "3"),
        (2.5, "2.5"),
        (1 / 3, "0.333333"),
        (12345.678, "12345.7"),
        (1234567.8, "1234568"),
        (0.1 + 0.2, "0.3"),
        (1e-7, "0.0000001"),
        (-4.2, "-4.2"),
        (1e-20, "0"),
        (999999.7, "1000000"),
        (float("nan"), ""),
        (float("inf"), ""),
    ],
)
def test_numbers_are_plain_decimals(value: float, text: str) -> None:
    assert number(value) == text


def test_values_of_every_kind() -> None:
    moment = datetime(2026, 11, 26, 15, 0, tzinfo=UTC)
    values = (None, True, False, Decimal("31.20"), date(2026, 11, 28), moment, "flour, white")
    text = csv_bytes(tuple("abcdefg"), [values]).decode()
    assert text == 'a,b,c,d,e,f,g\n,yes,no,31.20,2026-11-28,2026-11-26T15:00,"flour, white"\n'


@pytest.mark.parametrize("name", NAMES.values(), ids=NAMES.keys())
def test_no_text_is_a_formula_and_every_text_reads_back(name: str) -> None:
    ((cell,),) = csv.reader(
        io.StringIO(csv_bytes(("name",), [(name,)]).decode().split("\n", 1)[1], newline="")
    )
    assert not cell.startswith(("=", "+", "-", "@", "\t", "\r"))
    assert cell.removeprefix("'") == name


@example([("", "\r", 0.0), ("\n", "a\r\nb", 0.0), ("x\r", "\r\n", 0.0)])
@given(st.lists(st.tuples(st.text(), st.text(), st.floats(allow_nan=False)), max_size=5))
def test_commas_quotes_and_line_breaks_stay_in_their_field(rows: list[tuple[str, str, float]]) -> None:
    text = csv_bytes(("one", "two", "three"), rows).decode("utf-8", "surrogatepass")
    head, *found = csv.reader(io.StringIO(text, newline=""))
    assert head == ["one", "two", "three"]
    assert found == [[plain(value) for value in row] for row in rows]


def test_a_negative_number_is_no_text() -> None:
    assert plain(-3.5) == "-3.5"
    assert plain("-3.5") == "'-3.5"


def test_numbers_of_another_library_are_numbers() -> None:
    assert [plain(np.float64(2.5)), plain(np.int64(3)), plain(np.str_("=x"))] == ["2.5", "3", "'=x"]  # type: ignore[arg-type]
    with pytest.raises(TypeError, match="no csv text"):
        plain(b"x")  # type: ignore[arg-type]


def test_a_row_of_another_length_is_refused() -> None:
    with pytest.raises(ValueError, match="1 values for 2 columns"):
        csv_bytes(("a", "b"), [("x",)])


@pytest.mark.parametrize(
    ("value", "text"),
    [(0.40750000000000003, "0.4075"), (0.1 + 0.2, "0.3"), (-1e-17, "0"), (1234567.8, "1234568"), (3.0, "3")],
)
def test_no_noise_of_binary_fractions_is_written(value: float, text: str) -> None:
    assert plain(value) == text
