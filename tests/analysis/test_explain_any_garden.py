"""Any garden can be asked why its flowers did not set: an answer or a sentence, and never a cause from scraps."""

from __future__ import annotations

import pytest
from hypothesis import HealthCheck, given, settings

from perennia.analysis import explain_shortfall
from perennia.analysis.causes.shortfall.candidates import NAMES
from perennia.errors import PerenniaError
from perennia.records.base import Record
from tests.analysis.built_source import source_over
from tests.lives import cropping_gardens, gardens

pytestmark = pytest.mark.filterwarnings("error")


def _asked_of_all(records: list[Record]) -> None:
    """Of every bed and of every plant, in every season."""
    with source_over(records) as source:
        rows = source.sql("select distinct season, bed, plant from plant_seasons order by all").itertuples()
        names = {(int(row.season), name) for row in rows for name in (row.bed, row.plant) if isinstance(name, str)}
        for season, name in sorted(names)[:6]:
            try:
                result = explain_shortfall(source, name, season, draws=399)
            except PerenniaError:
                # such as two crops in a bed; any other error fails the test
                continue
            assert sorted(result.table["candidate"]) == sorted(NAMES)
            assert result.cause is None
            assert result.n >= 1


@settings(max_examples=5, suppress_health_check=list(HealthCheck))
@given(gardens())
def test_any_garden(records: list[Record]) -> None:
    _asked_of_all(records)


@settings(max_examples=2, suppress_health_check=list(HealthCheck))
@given(cropping_gardens())
def test_plants_that_crop_for_long(records: list[Record]) -> None:
    _asked_of_all(records)
