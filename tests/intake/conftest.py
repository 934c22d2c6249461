"""A garden for the tests that leave it as it is."""

from __future__ import annotations

import pandas as pd
import pytest

import perennia as pn
from perennia.intake import read
from tests.intake.bad_books import good
from tests.intake.books import TODAY, garden_in


@pytest.fixture(scope="module")
def garden(tmp_path_factory: pytest.TempPathFactory) -> pn.Garden:
    """One garden for all that is refused, and for what is known once it was taken in."""
    garden = garden_in(tmp_path_factory.mktemp("bad input"))
    assert read(garden, pd.DataFrame(good()), "picked", book="k", today=TODAY).stored == 1
    return garden
