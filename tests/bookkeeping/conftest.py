"""The tiny kitchen, fresh for each test."""

import pytest
from kitchens import Kitchen


@pytest.fixture
def kitchen(tmp_path):
    return Kitchen(tmp_path)
