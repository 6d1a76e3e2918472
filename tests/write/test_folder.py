"""Run folders and files appear whole or not at all, and nowhere else."""

from __future__ import annotations

from pathlib import Path

import pytest

from ordering.write import folder
from ordering.write.folder import clear_unfinished, clear_unwritten, mark_booked, write_file, write_run


def test_a_second_run_of_the_day_gets_a_number(tmp_path: Path) -> None:
    files = {"orders.csv": b"a\n", "orders/mill.xlsx": b"x"}
    places = [write_run(tmp_path / "runs", "2026-11-26", files) for _ in range(3)]
    assert [place.name for place in places] == ["2026-11-26", "2026-11-26-2", "2026-11-26-3"]
    assert (places[2] / "orders" / "mill.xlsx").read_bytes() == b"x"
    assert sorted(p.name for p in (tmp_path / "runs").iterdir()) == [place.name for place in places]


@pytest.mark.parametrize(
    "name", ["../x", "/etc/x", "a/../../x", "", ".hidden", "a\\b", "a\0b", "con:1", "orders/.x", "x y"]
)
def test_no_name_leads_out_of_the_folder(tmp_path: Path, name: str) -> None:
    with pytest.raises(ValueError, match="no safe file name"):
        write_run(tmp_path, "2026-11-26", {"a.csv": b"", name: b""})
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("stem", ["..", "a/b", "", "../2026-11-26"])
def test_a_run_has_a_plain_name(tmp_path: Path, stem: str) -> None:
    with pytest.raises(ValueError, match=r"no safe file name|one word"):
        write_run(tmp_path, stem, {"a.csv": b""})
    assert list(tmp_path.iterdir()) == []


def test_a_run_that_fails_half_way_leaves_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    written: list[Path] = []
    honest = folder._write_through

    def full(path: Path, content: bytes) -> None:
        if written:
            raise OSError(28, "No space left on device")
        written.append(path)
        honest(path, content)

    monkeypatch.setattr(folder, "_write_through", full)
    with pytest.raises(OSError, match="No space"):
        write_run(tmp_path, "2026-11-26", {"a.csv": b"1", "b.csv": b"2"})
    assert written
    assert list(tmp_path.iterdir()) == []


def test_a_folder_taken_by_another_run_meanwhile_is_left_alone(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    honest = Path.rename

    def late(self: Path, target: Path) -> Path:
        if target.name == "2026-11-26":
            target.mkdir()
            (target / "theirs.csv").write_bytes(b"theirs")
        return honest(self, target)

    monkeypatch.setattr(Path, "rename", late)
    place = write_run(tmp_path, "2026-11-26", {"a.csv": b"ours"})
    assert place.name == "2026-11-26-2"
    assert [p.name for p in (tmp_path / "2026-11-26").iterdir()] == ["theirs.csv"]


def test_a_file_is_replaced_whole_or_stays(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "new" / "count.xlsx"
    write_file(path, b"one")
    write_file(path, b"two")
    assert path.read_bytes() == b"two"

    def refuse(self: Path, target: Path) -> Path:
        raise OSError(13, "Permission denied")

    monkeypatch.setattr(Path, "replace", refuse)
    with pytest.raises(OSError, match="Permission denied"):
        write_file(path, b"three")
    assert path.read_bytes() == b"two"
    assert [p.name for p in path.parent.iterdir()] == ["count.xlsx"]


def test_a_file_keeps_its_permissions(tmp_path: Path) -> None:
    """A house file that only its owner may read stays so when an import writes it."""
    path = tmp_path / "house.yaml"
    write_file(path, b"old")
    assert path.stat().st_mode & 0o777 == 0o644
    path.chmod(0o600)
    write_file(path, b"new")
    assert path.stat().st_mode & 0o777 == 0o600


def test_a_folder_in_place_of_a_file_is_named(tmp_path: Path) -> None:
    with pytest.raises(IsADirectoryError, match="is a folder; give the name of a file") as refused:
        write_file(tmp_path, b"x")
    assert refused.value.filename == str(tmp_path)
    assert list(tmp_path.iterdir()) == []


def test_runs_that_may_not_be_written_are_named_themselves(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(prefix: str, dir: Path) -> str:
        raise PermissionError(13, "Permission denied", f"{dir}/.building-x")

    monkeypatch.setattr("ordering.write.folder.tempfile.mkdtemp", refuse)
    with pytest.raises(PermissionError, match="Permission denied") as refused:
        write_run(tmp_path, "2026-11-26", {"a.csv": b""})
    assert refused.value.filename == str(tmp_path)


def test_a_run_that_was_never_booked_goes_and_a_booked_one_stays(tmp_path: Path) -> None:
    booked, never, done = (
        write_run(tmp_path, "2026-11-26", {"a.csv": b"1"}, is_booked=False) for _ in range(3)
    )
    mark_booked(done)
    clear_unfinished(tmp_path, lambda folder: folder == booked)
    assert {p.name: [f.name for f in p.iterdir()] for p in tmp_path.iterdir()} == {
        booked.name: ["a.csv"],
        done.name: ["a.csv"],
    }
    assert not never.exists()


def test_what_was_half_written_goes_wherever_it_lies(tmp_path: Path) -> None:
    write_file(tmp_path / "orders" / "mill.eml", b"whole")
    (tmp_path / "orders" / ".writing-mill.eml-k3j2x9_a").write_bytes(b"ha")
    clear_unwritten(tmp_path)
    assert [p.name for p in (tmp_path / "orders").iterdir()] == ["mill.eml"]
