"""The fortnight of the tiny house, lived through once, and the tables of its review."""

import openpyxl
import pytest
from tiny_oven import FIRST_HEADS, lived


@pytest.fixture(scope="session")
def fortnight(tmp_path_factory):
    """The house with its story, nothing of it to be changed."""
    return lived(tmp_path_factory.mktemp("fortnight"))


@pytest.fixture(scope="session")
def sheets(fortnight):
    """The tables of the review's workbook by what they are about: rows as mappings of head to value."""
    path = next((fortnight.folder / "review").glob("*.xlsx"))
    tables = {}
    for page in openpyxl.load_workbook(path):
        rows = [[cell.value for cell in row] for row in page.iter_rows()]
        for name, first in FIRST_HEADS.items():
            at = next((n for n, row in enumerate(rows) if tuple(row[:2]) == first), None)
            if at is not None:
                until = next((n for n in range(at, len(rows)) if rows[n][0] is None), len(rows))
                tables[name] = [
                    {head: value for head, value in zip(rows[at], row, strict=True) if head}
                    for row in rows[at + 1 : until]
                ]
    return tables
