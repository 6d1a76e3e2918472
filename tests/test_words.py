"""Every key and column is in `words.csv` with unit and meaning, and no word there is unused."""

from decimal import Decimal
from fractions import Fraction
from typing import get_args

import pytest
from pydantic import BaseModel

from ordering.pages import tables
from ordering.read import yaml_schema
from ordering.read.book_table import COLUMNS, OPTIONAL
from ordering.words import REQUIRED, meaning, words, words_of

FILES = {
    "house.yaml": yaml_schema.HouseIn,
    "vendors.yaml": yaml_schema.VendorIn,
    "ingredients.yaml": yaml_schema.IngredientIn,
    "recipes.yaml": yaml_schema.RecipeIn,
    "menu.yaml": yaml_schema.DishIn,
    "calendar.yaml": yaml_schema.CalendarIn,
}
OUT = {
    "forecast.csv": tables.FORECAST_COLUMNS,
    "orders.csv": tables.ORDERS_COLUMNS,
    "outlook.csv": tables.ORDERS_COLUMNS,
    "starts.csv": tables.STARTS_COLUMNS,
    "shortages.csv": tables.SHORTAGES_COLUMNS,
    "projection.csv": tables.PROJECTION_COLUMNS,
    "pegging.csv": tables.PEGGING_COLUMNS,
    "pars.csv": tables.PARS_COLUMNS,
}


def part_in(annotation):
    """The model within a list or mapping type, if there is one."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    return next((found for arg in get_args(annotation) if (found := part_in(arg))), None)


def keys_of(model, where):
    """(where, key, field) of a model and, one level down, of its parts."""
    for name, field in model.model_fields.items():
        key = field.alias or name
        yield where, key, field
        part = part_in(field.annotation)
        if part is not None:
            yield from keys_of(part, f"{where}: {key}")


SCHEMA_KEYS = [key for where, model in FILES.items() for key in keys_of(model, where)]


def as_written(value):
    """A schema's default as `words.csv` has it."""
    if value in (None, "") or isinstance(value, (dict, BaseModel)):
        return ""
    if isinstance(value, list):
        return {3: "thu", "*": "*"}[value[0]] if value else ""
    if isinstance(value, bool):
        return "true" if value else "false"
    return f"{float(value):g}" if isinstance(value, (int, float, Decimal, Fraction)) else str(value)


def test_every_key_and_column_is_a_word_and_no_word_is_unused():
    expected = {(where, key) for where, key, _ in SCHEMA_KEYS}
    expected |= {(book, column) for book, columns in COLUMNS.items() for column in columns}
    expected |= {(name, column) for name, columns in OUT.items() for column in columns}
    written = [(word.where, word.name) for word in words()]
    assert len(written) == len(set(written))
    assert set(written) - expected == set(), "unused words"
    assert expected - set(written) == set(), "words that lack"


@pytest.mark.parametrize(
    ("where", "key", "field"), SCHEMA_KEYS, ids=lambda v: v if isinstance(v, str) else ""
)
def test_the_default_in_words_is_the_default_in_the_schema(where, key, field):
    word = next(word for word in words_of(where) if word.name == key)
    default = REQUIRED if field.is_required() else as_written(field.get_default(call_default_factory=True))
    assert word.default == default


@pytest.mark.parametrize("word", words(), ids=lambda word: f"{word.where} {word.name}")
def test_every_word_has_type_unit_and_meaning(word):
    assert word.type
    assert word.unit
    assert word.meaning[0].isupper()
    assert not word.meaning.endswith(".")


def test_optional_columns_are_not_required_and_the_others_are():
    for book, columns in COLUMNS.items():
        for column in columns:
            word = next(word for word in words_of(book) if word.name == column)
            assert (word.default == REQUIRED) == (column not in OPTIONAL.get(book, ())), (
                book,
                column,
            )


def test_a_word_that_is_not_there_is_a_key_error():
    assert meaning("sales", "service") == "Service"
    with pytest.raises(KeyError, match="sales"):
        meaning("sales", "covers")
