"""`group.yaml`: what it may say, and what is refused with its line."""

import pytest

from ordering.faults import Refused
from ordering.read.group_file import read_group, suppliers_of

TWO = """name: Two
houses:
  a: {config: a, books: a/books, runs: a/runs}
  b: {config: b, books: b/books, runs: b/runs}
"""


def written(tmp_path, text):
    path = tmp_path / "group.yaml"
    path.write_text(text, "utf-8")
    return path


def faults_of(tmp_path, text):
    with pytest.raises(Refused) as refused:
        read_group(written(tmp_path, text))
    return [(f.kind, f.line) for f in refused.value.faults]


def test_folders_are_seen_from_the_folder_of_the_file(tmp_path):
    group = read_group(written(tmp_path, TWO + "shared: common\n"))
    assert group.members["a"].books == tmp_path / "a" / "books"
    assert group.shared == tmp_path / "common"


def test_a_van_reaches_the_houses_named_with_it(tmp_path):
    text = TWO + "  c: {config: c, books: c/books, runs: c/runs}\nvans: [[a, b]]\n"
    group = read_group(written(tmp_path, text))
    assert group.are_in_reach("a", "b")
    assert not group.are_in_reach("a", "c")


def test_without_vans_every_house_is_in_reach(tmp_path):
    assert read_group(written(tmp_path, TWO)).are_in_reach("a", "b")


def test_every_fault_is_said_at_once_with_its_line(tmp_path):
    text = TWO.replace("b/books", "a/books") + "central: kitchen\nvans: [a, quay]\n"
    assert faults_of(tmp_path, text) == [("equal-folders", 4), ("no-house", 5), ("no-house", 6)]


def test_a_group_without_houses_is_refused(tmp_path):
    assert faults_of(tmp_path, "name: None yet\nhouses: {}\n") == [("no-house", 2)]


def test_a_file_that_is_not_there_is_refused(tmp_path):
    with pytest.raises(Refused, match="no such file"):
        read_group(tmp_path / "group.yaml")


def test_a_house_buys_from_the_houses_its_vendors_are(tmp_path):
    (tmp_path / "common").mkdir()
    (tmp_path / "a").mkdir()
    (tmp_path / "common" / "vendors.yaml").write_text(
        "cook: {name: Cook, house: kitchen}\nbaker: {name: Baker, house: bakery}\n", "utf-8"
    )
    (tmp_path / "a" / "vendors.yaml").write_text("baker: none\nfarm: {name: Farm}\n", "utf-8")
    group = read_group(written(tmp_path, TWO + "shared: common\n"))
    assert suppliers_of(group.members["a"], group.shared) == {"kitchen"}
