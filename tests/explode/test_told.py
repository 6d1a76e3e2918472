"""Loops are refused and circles are told when a house is read, each with its file, line and remedy."""

import re
import shutil
from datetime import date
from pathlib import Path

import pytest

from ordering.faults import Refused
from ordering.loading import check, load

SOUND = Path(__file__).parent.parent / "faults" / "sound"
ON = date(2026, 11, 26)
CONFIG, BOOKS = Path("config"), Path("books")
ABOUT_GLAZE = ("glaze", "5 l", "{item: stock, quantity: 2 l}")


@pytest.fixture(autouse=True)
def folder(tmp_path, monkeypatch):
    """A sound house in the folder we stand in, so that places are named as a chef would see them."""
    monkeypatch.chdir(tmp_path)
    for target in (CONFIG, BOOKS):
        target.mkdir()
    for source in SOUND.iterdir():
        shutil.copy(source, BOOKS if source.suffix == ".csv" else CONFIG)


def write(name, makes, line, also=""):
    """Add a recipe of one line; the line of the file on which it begins."""
    path = CONFIG / "recipes.yaml"
    before = path.read_text("utf-8")
    made = [f"{name}:", f"  name: {name.capitalize()}", f"  makes: {makes}", "  density: 1 kg/l"]
    made += [f"  also_makes: [{also}]"] if also else []
    made += ["  takes: 1 d", "  keeps: 4 d", "  from:", f"    - {line}"]
    path.write_text(before + "\n".join(made) + "\n", "utf-8")
    return before.count("\n") + 1


def doubts(words):
    """The doubts in which these words stand, without the key by which each can be answered."""
    return [re.sub(r" \[\w+\]$", "", x) for x in check(CONFIG, BOOKS, ON).lines if words in x]


def test_a_loop_is_refused_and_spelled_out_once_round():
    write("stock", "5 l", "{item: glaze, quantity: 1 l}")
    at = write(*ABOUT_GLAZE)
    with pytest.raises(Refused) as refused:
        load(CONFIG, BOOKS, ON)
    assert [str(fault) for fault in refused.value.faults] == [
        f"config/recipes.yaml:{at}: glaze: the recipe feeds itself: glaze -> stock -> glaze; "
        "break the loop, or give what is carried over to the next batch a 'returns'"
    ]


def test_a_by_product_that_goes_round_is_told_by_check():
    at = write("stock", "5 l", "{item: carrot, quantity: 1 kg}", "{item: glaze, quantity: 100 ml}")
    write(*ABOUT_GLAZE)
    assert doubts("is not counted on") == [
        f"check: config/recipes.yaml:{at}: stock: the 0.1 l of Glaze that a batch to come leaves over is "
        "not counted on: how much Stock is made depends on how much Glaze is wanted; "
        "count it when it is there; what is in process is counted on"
    ]


def test_a_liquor_that_is_made_with_what_it_is_carried_over_by_is_told_by_check():
    at = write("stock", "5 l", "{item: glaze, quantity: 1 l, returns: 800 ml}")
    write(*ABOUT_GLAZE)
    assert doubts("carried over") == [
        f"check: config/recipes.yaml:{at}: stock: Glaze is carried over from batch to batch, and is itself "
        "made with Stock: none is planned for it, not even what a batch loses; "
        "see that 1 l of it is there for each batch"
    ]


def test_a_starter_fed_with_its_own_last_batch_is_no_circle():
    write("starter", "1 kg", "{item: starter, quantity: 200 g, returns: 200 g}")
    assert doubts("starter: Starter") == []
