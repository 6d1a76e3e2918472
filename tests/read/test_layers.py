"""House files laid over those of a group: key by key, with what overrides what."""

from datetime import date
from pathlib import Path

import pytest

from ordering.loading import check
from ordering.read.house_folder import read_house

HOUSE = "name: Quay\nservices: {dinner: {days: [fri]}}\n"
SHARED = {
    "house.yaml": "name: All houses\ncurrency: GBP\npolicy: {paths: 40, seed: 7}\n",
    "ingredients.yaml": (
        "rice: {unit: kg, par: 6 kg, keeps: 90 d}\nsalt: {unit: kg}\nsaffron: {unit: g, store: safe}\n"
    ),
    "calendar.yaml": "closures: [2026-12-25]\n",
}


@pytest.fixture
def folders(tmp_path):
    (tmp_path / "shared").mkdir()
    (tmp_path / "quay").mkdir()
    for name, text in SHARED.items():
        (tmp_path / "shared" / name).write_text(text, "utf-8")
    (tmp_path / "quay" / "house.yaml").write_text(HOUSE, "utf-8")
    return tmp_path


def quay(folders: Path, **files: str):
    for name, text in files.items():
        (folders / "quay" / f"{name}.yaml").write_text(text, "utf-8")
    return read_house(folders / "quay", folders / "shared")


def test_a_house_begins_from_the_shared_files_and_adds_its_own(folders):
    house, faults = quay(folders, ingredients="kelp: {unit: kg}\n")
    assert faults == []
    assert set(house.ingredients) == {"rice", "salt", "saffron", "kelp"}
    assert (house.name, house.currency) == ("Quay", "GBP")


def test_a_house_writes_only_what_is_different(folders):
    house, _ = quay(folders, ingredients="rice: {par: 20 kg}\n", house=HOUSE + "policy: {seed: 9}\n")
    assert (house.ingredients["rice"].par, house.ingredients["rice"].keeps_days) == (20, 90)
    assert (house.policy.paths, house.policy.seed) == (40, 9)


def test_an_entry_written_as_none_is_taken_out(folders):
    house, _ = quay(folders, ingredients="saffron: none\n")
    assert "saffron" not in house.ingredients


def test_taking_out_what_is_not_shared_is_a_fault(folders):
    _, faults = quay(folders, ingredients="safron: none\n")
    assert [(f.kind, f.subject, f.line) for f in faults] == [("nothing-shared", "safron", 1)]


def test_closures_of_a_house_come_after_those_of_the_group(folders):
    house, _ = quay(folders, calendar="closures: [2026-12-31]\n")
    assert len(house.closures) == 2


def test_a_fault_names_the_file_it_is_in(folders):
    """Of the two files an entry is put together from, the one with the slip in it."""
    _, faults = quay(folders, ingredients="rice: {par: plenty}\n")
    assert [(Path(f.place).parent.name, f.line) for f in faults] == [("quay", 1)]
    (folders / "shared" / "ingredients.yaml").write_text("\nrice: {unit: kg, keeps: soon}\n", "utf-8")
    _, faults = quay(folders, ingredients="rice: {par: 20 kg}\n")
    assert [(Path(f.place).parent.name, f.line) for f in faults] == [("shared", 2)]


def test_a_house_can_name_its_shared_files_itself(folders):
    (folders / "quay" / "house.yaml").write_text(HOUSE + "shared: ../shared\n", "utf-8")
    house, faults = read_house(folders / "quay")
    assert faults == []
    assert "rice" in house.ingredients


def test_a_shared_folder_that_is_not_there_is_a_fault(folders):
    (folders / "quay" / "house.yaml").write_text(HOUSE + "shared: ../shred\n", "utf-8")
    _, faults = read_house(folders / "quay")
    assert [f.kind for f in faults] == ["missing-folder"]


def test_check_says_what_overrides_what(folders):
    (folders / "quay" / "house.yaml").write_text(HOUSE + "shared: ../shared\n", "utf-8")
    (folders / "quay" / "ingredients.yaml").write_text("rice: {par: 20 kg}\nsaffron: none\n", "utf-8")
    (folders / "books").mkdir()
    lines = check(folders / "quay", folders / "books", date(2026, 11, 26)).lines
    own = [line.replace(f"{folders.as_posix()}/quay/", "") for line in lines if line.startswith("own")]
    assert own[1:] == [
        "own: ingredients.yaml:1: rice: par in place of ../shared/ingredients.yaml:1",
        "own: ingredients.yaml:2: saffron taken out in place of ../shared/ingredients.yaml:3",
    ]
