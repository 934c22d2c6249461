"""Corrections of beds, and tables that nobody's to_tables made, through the garden's door."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any

import pyarrow as pa
import pytest

import perennia as pn
from perennia.errors import RefusedError
from perennia.store.schemas import to_tables

TODAY = date(2025, 6, 1)
PLACES = (pn.Site("home"), pn.Bed("b", "home", area_m2=4))


def test_a_corrected_bed_is_the_bed_from_then_on(tmp_path: Path) -> None:
    sown, picked = pn.Sown("A1", "2023-05-10", crop="Oca", bed="b"), pn.Picked("A1", "2023-08-01", 90)
    with pn.Garden.create(tmp_path / "plot") as garden:
        bed_id = garden.record(*PLACES, sown, picked, today=TODAY).record_ids[1]
        (new_id,) = garden.correct(bed_id, pn.Bed("b", "home", area_m2=9), reason="measured", today=TODAY).record_ids
        assert new_id != bed_id
        assert garden.sql("select g_per_m2 from season_summary")["g_per_m2"].tolist() == [10.0]
        garden.record(pn.Moved("A1", "2023-09-01", "b"), today=TODAY)
        garden.correct(new_id, pn.Bed("b", "home", area_m2=3), reason="measured again", today=TODAY)
        assert garden.sql("select g_per_m2 from season_summary")["g_per_m2"].tolist() == [30.0]
        with pytest.raises(RefusedError, match="1 record names the site 'home'"):
            garden.correct(garden_id(garden), reason="gone", today=TODAY)


def garden_id(garden: pn.Garden) -> str:
    """The id of the site, by which it can be corrected."""
    return garden.record(PLACES[0], today=TODAY).record_ids[0]


@pytest.mark.parametrize(
    "spoiled",
    [
        lambda life: life.drop_columns(["record_id"]),
        lambda life: life.drop_columns(["batch_position"]),
        lambda life: life.to_pandas(),
        lambda life: life.drop_columns(["on_to"]).append_column("on_to", pa.array(["2023-05-10"])),
    ],
)
def test_a_misshapen_table_is_refused_in_words(tmp_path: Path, spoiled: Callable[[pa.Table], Any]) -> None:
    life = to_tables([pn.Sown("A1", "2023-05-10", crop="Oca")])["life"]
    with (
        pn.Garden.create(tmp_path / "plot") as garden,
        pytest.raises(RefusedError, match=r"nothing was stored.*\n.*table life.*\[B6\]"),
    ):
        garden.record_tables({"life": spoiled(life)}, today=TODAY)
