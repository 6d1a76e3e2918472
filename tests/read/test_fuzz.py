"""Whatever bytes a file holds, the readers answer with faults and never with an exception."""

import io
import zipfile

import openpyxl
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from ordering.faults import Fault
from ordering.read.book_table import COLUMNS
from ordering.read.books_folder import read_books, read_counts, read_deliveries
from ordering.read.csv_table import parse_csv
from ordering.read.house_folder import read_house
from ordering.read.nodes import parse_yaml

TIMES = settings(max_examples=60)
FILES = ("house", "vendors", "ingredients", "recipes", "menu", "calendar")
YAML_WORDS = st.sampled_from(
    [
        "name",
        "unit",
        "kg",
        "offers",
        "vendor",
        "code",
        "pack",
        "price",
        "from",
        "item",
        "quantity",
        "1",
        "d",
        "36",
        "h",
        "2026-11-26",
        "thu",
        "true",
        "no",
        "null",
        "~",
        "dinner",
        "soup",
        "carrot",
        "services",
        "days",
        "deliveries",
        "order_by",
        "makes",
        "takes",
        "each",
        "yield",
        "{",
        "}",
        "[",
        "]",
        "-",
        ":",
        ",",
        "#",
        "&",
        "*",
        "!",
        "|",
        ">",
        "'",
        '"',
        "%",
    ]
)
SEPARATORS = st.sampled_from([" ", "\n", "\n  ", "\n    ", ": ", "\n  - ", ", ", "\t", "\r\n"])
YAML_TEXT = st.lists(st.tuples(YAML_WORDS, SEPARATORS), max_size=40).map(lambda p: "".join(map("".join, p)))
CELLS = st.one_of(
    st.sampled_from(
        ["2026-11-26", "dinner", "soup", "carrot", "farm", "C-1", "3", "kg", "", "-1", "1e9", "=1", '"']
    ),
    st.text(max_size=6),
)
CSV_ROWS = st.lists(st.lists(CELLS, max_size=9), max_size=6)


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    return tmp_path_factory.mktemp("fuzz")


@pytest.fixture(scope="module")
def house(tmp_path_factory):
    config = tmp_path_factory.mktemp("config")
    (config / "house.yaml").write_text("name: Test\nservices: {dinner: {days: [thu]}}\n")
    (config / "vendors.yaml").write_text("farm: {name: Farm}\n")
    (config / "ingredients.yaml").write_text(
        "carrot: {unit: kg, offers: [{vendor: farm, code: C-1, pack: 1 kg}]}\n"
    )
    (config / "recipes.yaml").write_text("soup: {makes: 1 l, from: [{item: carrot, quantity: 1 kg}]}\n")
    (config / "menu.yaml").write_text("soup: {recipe: soup, portion: 100 ml}\n")
    found, faults = read_house(config)
    assert faults == []
    return found


def check(result):
    """A value or faults, each of them with a place and words; never both nor neither."""
    value, faults = result
    assert all(isinstance(fault, Fault) and fault.place and fault.wrong and fault.right for fault in faults)
    assert all("\n" not in str(fault) for fault in faults)
    return value, faults


@TIMES
@given(content=st.binary(max_size=300), stem=st.sampled_from(FILES))
@example(content=b"\xff\xfe\x00", stem="house")
@example(content=b"a: &a [*a]\n", stem="menu")
@example(content=b"[" * 5000, stem="recipes")
@example(content=b"- " * 5000, stem="recipes")
@example(content=b"? " * 5000, stem="recipes")
@example(content=b"? {a: 1}\n: 2\n", stem="vendors")
def test_any_bytes_as_a_file_of_the_house(folder, content, stem):
    for name in FILES:
        (folder / f"{name}.yaml").write_bytes(content if name == stem else b"name: x\n" * (name == "house"))
    value, faults = check(read_house(folder))
    assert (value is None) == bool(faults)


@TIMES
@given(texts=st.lists(YAML_TEXT, min_size=6, max_size=6))
def test_any_arrangement_of_yaml_as_a_house(folder, texts):
    for name, text in zip(FILES, texts, strict=True):
        (folder / f"{name}.yaml").write_text(text, "utf-8")
    value, faults = check(read_house(folder))
    assert (value is None) == bool(faults)


NODES = st.recursive(
    st.sampled_from(["", "1", "thu", "3 kg", "2026-11-26", "soup", "0.9", "{}", "[]", "dinner"]),
    lambda inner: st.one_of(
        st.lists(inner, max_size=3).map(lambda items: "[" + ", ".join(items) + "]"),
        st.dictionaries(
            st.sampled_from(
                [
                    "name",
                    "services",
                    "days",
                    "item",
                    "quantity",
                    "from",
                    "offers",
                    "pack",
                    "price",
                    "code",
                    "vendor",
                    "dates",
                    "date",
                ]
            ),
            inner,
            max_size=4,
        ).map(lambda items: "{" + ", ".join(f"{key}: {value}" for key, value in items.items()) + "}"),
    ),
    max_leaves=12,
)
KEYS = {
    "house": "name services order_day policy holidays consumables headers dish_names service_names budget",
    "vendors": "name email deliveries minimum closed",
    "ingredients": "unit keeps yield par each density allergens offers",
    "recipes": "makes takes keeps from also_makes largest",
    "menu": "recipe portion price services from like",
    "calendar": "closures events",
}


@TIMES
@given(data=st.data(), stem=st.sampled_from(FILES))
def test_any_shape_of_value_under_any_key(folder, data, stem):
    """Lists for words, mappings for lists, nothing for something."""
    lines = [f"  {key}: {data.draw(NODES)}\n" for key in KEYS[stem].split(" ")]
    text = "".join(lines) if stem in ("house", "calendar") else "soup:\n" + "".join(lines)
    for name in FILES:
        (folder / f"{name}.yaml").write_text(text if name == stem else "name: x\n" * (name == "house"))
    value, faults = check(read_house(folder))
    assert (value is None) == bool(faults)


@TIMES
@given(text=st.text(max_size=200))
def test_any_text_as_yaml_nodes(text):
    check(parse_yaml(text, "x.yaml"))


@TIMES
@given(
    content=st.binary(max_size=300),
    book=st.sampled_from([*COLUMNS]),
    suffix=st.sampled_from([".csv", ".xlsx"]),
)
@example(content=b"PK\x03\x04", book="counts", suffix=".xlsx")
@example(content=b'date,service,covers\n"\n', book="covers", suffix=".csv")
def test_any_bytes_as_a_book(folder, house, content, book, suffix):
    directory = folder / "books"
    directory.mkdir(exist_ok=True)
    for path in directory.iterdir():
        path.unlink()
    path = directory / f"{book}{suffix}"
    path.write_bytes(content)
    value, faults = check(read_books(directory, house))
    assert (value is None) == bool(faults)
    for read in (read_counts, read_deliveries):
        value, faults = check(read(path, house))
        assert (value == ()) == bool(faults)


@TIMES
@given(rows=CSV_ROWS, book=st.sampled_from([*COLUMNS]), mark=st.sampled_from(",;\t"))
def test_any_rows_under_the_right_heading(folder, house, rows, book, mark):
    directory = folder / "rows"
    directory.mkdir(exist_ok=True)
    for path in directory.iterdir():
        path.unlink()
    heading = mark.join(COLUMNS[book])
    text = "\n".join([heading, *(mark.join(row) for row in rows)])
    path = directory / f"{book}.csv"
    path.write_bytes(text.encode("utf-8", "replace"))
    for known in (house, None):
        check(read_books(directory, known))
    check(read_counts(path, house))
    check(read_deliveries(path, house))
    check(parse_csv(text, "x.csv", book, {}))


@TIMES
@given(
    rows=st.lists(st.lists(st.sampled_from(["2026-11-26", "dinner", "3", " ", ""]), min_size=3, max_size=3))
)
def test_plain_and_quoted_texts_give_the_same_table(rows):
    """The quick way through a text without quotes and the way through quotes agree, lines included."""
    text = "".join(",".join(row) + "\n" for row in [COLUMNS["covers"], *rows])
    quick, slow = (
        parse_csv(one, "covers.csv", "covers", {}) for one in (text, text.replace("date", '"date"'))
    )
    assert (quick[0] is None, quick[1]) == (slow[0] is None, slow[1])
    if quick[0] is not None and slow[0] is not None:
        assert {k: [*v] for k, v in quick[0].columns.items()} == {k: [*v] for k, v in slow[0].columns.items()}
        assert [*quick[0].lines] == [*slow[0].lines]


VALUES = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(),
    st.floats(allow_nan=False, allow_infinity=False),
    st.dates(),
    st.datetimes(),
    st.times(),
    st.sampled_from(["dinner", "carrot", "kg", "=A1", "=1+", "#N/A", ""]),
)


@settings(max_examples=40)
@given(
    rows=st.lists(st.lists(VALUES, max_size=6), max_size=5),
    cut=st.integers(0, 400),
    flip=st.integers(0, 10**6),
)
def test_any_workbook_whole_or_damaged(folder, house, rows, cut, flip):
    book = openpyxl.Workbook()
    book.active.append(COLUMNS["counts"])
    for row in rows:
        book.active.append(row)
    content = io.BytesIO()
    book.save(content)
    whole = content.getvalue()
    at = flip % len(whole)
    flipped = bytes([*whole[:at], whole[at] ^ 0x55, *whole[at + 1 :]])
    for damaged in (whole, whole[: len(whole) - cut], flipped, _with_damaged_sheet(whole, flip)):
        path = folder / "count.xlsx"
        path.write_bytes(damaged)
        check(read_counts(path, house))


def _with_damaged_sheet(whole, flip):
    """The same package with one byte of its first sheet changed before it was packed."""
    content = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(whole)) as old, zipfile.ZipFile(content, "w") as new:
        for part in old.infolist():
            text = old.read(part)
            if part.filename.endswith("sheet1.xml"):
                at = flip % len(text)
                text = text[:at] + b"<" + text[at + 1 :]
            new.writestr(part.filename, text)
    return content.getvalue()
