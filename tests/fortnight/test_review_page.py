"""The page of the review: the workbook's figures, nothing from outside, the same bytes again."""

import re
from datetime import timedelta
from html import unescape

from tiny_oven import FIRST_HEADS, THU, WEEK

from ordering import cli


def test_the_page_shows_the_same_figures_as_the_workbook(fortnight, sheets):
    """Row by row and cell by cell, to the decimals the page prints."""
    page = next((fortnight.folder / "review").glob("*.html")).read_text()
    seen = set()
    for table in page.split("<table")[1:]:
        head, _, body = table.partition("<tbody>")
        heads = [unescape(c) for c in re.findall(r"<th[^>]*>([^<]*)</th>", head)]
        name = next((n for n, first in FIRST_HEADS.items() if tuple(heads[:2]) == first), None)
        if name is None:
            continue
        rows = re.findall(r"<tr>(.*?)</tr>", body.split("</tbody>")[0], re.DOTALL)
        told = [[unescape(c) for c in re.findall(r"<t[hd][^>]*>([^<]*)</t[hd]>", row)] for row in rows]
        assert len(told) == len(sheets[name])
        for cells, row in zip(told, sheets[name], strict=True):
            for head, cell in zip(heads, cells, strict=True):
                assert is_same(cell, row.get(head)), (name, head, cell)
        seen.add(name)
    assert seen == set(sheets)


def is_same(cell, value):
    """Whether the page's text is the workbook's value within half of the last decimal it prints.

    A plain number is printed without zeros at its end, so it is good to three decimals.
    """
    if value is None or isinstance(value, str):
        return cell == (value or "")
    unit = 0.01 if cell.endswith("%") else 1.0
    digits = cell.rstrip("%").replace(",", "")
    n_decimals = len(digits.partition(".")[2])
    return abs(float(digits) * unit - value) <= 0.5001 * unit * 10.0**-n_decimals


def test_the_page_needs_nothing_but_itself(fortnight):
    page = next((fortnight.folder / "review").glob("*.html")).read_text()
    assert not re.search(r"""(?:src|href)\s*=\s*["'](?!#)|url\((?!#)|<script|<link|@import|https?://""", page)
    assert page.count("<svg") == page.count("</svg>") >= 2
    assert page.count("<caption>") == page.count("<table")


def test_the_review_again_is_the_same_bytes(fortnight, tmp_path):
    before = {p.name: p.read_bytes() for p in (fortnight.folder / "review").iterdir()}
    places = [f"--{name}={fortnight.folder / name}" for name in ("config", "books", "runs")]
    days = [f"--from={THU}", f"--to={THU + 2 * WEEK - timedelta(1)}", f"--on={THU + 2 * WEEK}"]
    assert cli.main(["review", *places, *days, f"--out={tmp_path}"]) == 0
    assert {p.name: p.read_bytes() for p in tmp_path.iterdir()} == before
