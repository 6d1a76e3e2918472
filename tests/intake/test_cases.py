"""Files as vendors, tills and cooks write them, and what an import makes of each.

A folder of `cases` is one file, or several, in a shape of its own, invented: `command.txt` is what is typed
after `ordering import`, other `*.yaml` lie over those of `house`, and `expected.txt` has what is said, then
every file of the house or the books that changed. `NAME.xlsx.csv` is saved as a workbook of that kind first
(`.xls` and `.ods` as well), numbers and dates as such; a sheet begins with `=== TITLE`. `NAME.latin.csv` and
`NAME.utf16.csv` are written in that encoding. Each is imported twice: the second time nothing may change.

To write the expected texts anew after a change: `PYTHONPATH=tests:. python tests/intake/test_cases.py`.
"""

import csv
import re
import shlex
import shutil
import sys
import tempfile
from datetime import date, datetime
from pathlib import Path

import openpyxl
import pytest
import xlwt
from odf.opendocument import OpenDocumentSpreadsheet
from odf.table import Table, TableCell, TableRow
from odf.text import P

from ordering.faults import Refused
from ordering.intake.bring import ImportTerms, bring
from ordering.read.house_folder import read_house

HERE = Path(__file__).parent
CASES = sorted(path.name for path in (HERE / "cases").iterdir())
ON = date(2026, 11, 26)


def typed(text):
    """A cell as a spreadsheet would hold it."""
    if re.fullmatch(r"-?\d{1,9}(\.\d+)?", text) and not (
        text.startswith("0") and text.isdigit() and text != "0"
    ):
        return float(text) if "." in text else int(text)
    if re.fullmatch(r"\d{4}-\d\d-\d\d", text):
        return date.fromisoformat(text)
    if re.fullmatch(r"\d{4}-\d\d-\d\d \d\d:\d\d", text):
        return datetime.fromisoformat(text)
    return text


def sheets_in(text):
    """(title, rows) of a source text."""
    parts = re.split(r"^=== (.*)\n", text, flags=re.MULTILINE)
    named = zip(parts[1::2], parts[2::2], strict=True) if len(parts) > 1 else [("Sheet1", text)]
    return [(title, list(csv.reader(body.splitlines()))) for title, body in named]


def save_xlsx(sheets, path):
    book = openpyxl.Workbook()
    book.remove(book.active)
    for title, rows in sheets:
        sheet = book.create_sheet(title)
        for row in rows:
            sheet.append([typed(cell) if cell else None for cell in row])
    book.save(path)


def save_xls(sheets, path):
    book = xlwt.Workbook()
    style = xlwt.easyxf(num_format_str="yyyy-mm-dd")
    for title, rows in sheets:
        sheet = book.add_sheet(title)
        for n, row in enumerate(rows):
            for m, cell in enumerate(row):
                if cell:
                    value = typed(cell)
                    sheet.write(n, m, value, style) if isinstance(value, date) else sheet.write(n, m, value)
    book.save(str(path))


def save_ods(sheets, path):
    book = OpenDocumentSpreadsheet()
    for title, rows in sheets:
        table = Table(name=title)
        for row in rows:
            line = TableRow()
            for cell in row:
                value = typed(cell)
                if isinstance(value, date):
                    made = TableCell(valuetype="date", datevalue=value.isoformat())
                elif isinstance(value, str):
                    made = TableCell(valuetype="string") if value else TableCell()
                else:
                    made = TableCell(valuetype="float", value=value)
                made.addElement(P(text=cell))
                line.addElement(made)
            table.addElement(line)
        book.spreadsheet.addElement(table)
    book.save(str(path))


SAVERS = {".xlsx": save_xlsx, ".xls": save_xls, ".ods": save_ods}
ENCODINGS = {".latin": "cp1252", ".utf16": "utf-16", ".bom": "utf-8-sig"}


def laid_out(case, target):
    """The house in `target/config`, the files to import in `target`."""
    config = target / "config"
    shutil.copytree(HERE / "house", config)
    for source in (HERE / "cases" / case).iterdir():
        inner = Path(source.stem).suffix
        if source.suffix == ".yaml":
            shutil.copy(source, config)
        elif inner in SAVERS:
            SAVERS[inner](sheets_in(source.read_text("utf-8")), target / source.stem)
        elif inner in ENCODINGS:
            (target / source.stem).with_suffix(".csv").write_text(source.read_text("utf-8"), ENCODINGS[inner])
        elif source.name not in ("command.txt", "expected.txt"):
            shutil.copy(source, target)
    return config


def files_in(target):
    return {
        path.relative_to(target).as_posix(): path.read_text("utf-8")
        for folder in ("config", "books")
        for path in sorted((target / folder).rglob("*"))
        if path.suffix in (".yaml", ".csv")
    }


def imported(case, target, is_yes=None):
    """What the command of a case says, and its status."""
    typed_words = shlex.split((HERE / "cases" / case / "command.txt").read_text("utf-8"))
    vendor = typed_words[typed_words.index("--vendor") + 1] if "--vendor" in typed_words else ""
    words = [w for w in typed_words if not w.startswith("--") and w != vendor]
    yes = "--yes" in typed_words if is_yes is None else is_yes
    terms = ImportTerms(ON, vendor, yes, "--dry-run" in typed_words)
    try:
        paths = [target / name for name in words[1:]]
        report = bring(target / "config", target / "books", words[0], paths, terms)
    except Refused as refused:
        return [*map(str, refused.faults)], 2
    return list(report.lines), report.status


def outcome(case, target):
    laid_out(case, target)
    before = files_in(target)
    lines, status = imported(case, target)
    text = "".join(f"{line}\n" for line in lines) + f"status {status}\n"
    for name, content in files_in(target).items():
        if before.get(name) != content:
            old = set(before.get(name, "").splitlines())
            shown = (
                content
                if name not in before
                else "".join(f"{x}\n" for x in content.splitlines() if x not in old)
            )
            text += f"--- {name}\n{shown}"
    return text.replace(f"{target.as_posix()}/", "")


@pytest.mark.parametrize("case", CASES)
def test_each_file_is_understood_as_expected_and_twice_changes_nothing(case, tmp_path):
    assert outcome(case, tmp_path) == (HERE / "cases" / case / "expected.txt").read_text("utf-8")
    before = files_in(tmp_path)
    imported(case, tmp_path)
    assert files_in(tmp_path) == before
    assert read_house(tmp_path / "config")[1] == []


if __name__ == "__main__":
    for one in sys.argv[1:] or CASES:
        with tempfile.TemporaryDirectory() as scratch:
            text = outcome(one, Path(scratch))
        (HERE / "cases" / one / "expected.txt").write_text(text, "utf-8")
        sys.stdout.write(f"== {one}\n{text}")
