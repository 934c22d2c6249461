"""What was planted in the invented garden lies inside the intervals that the library prints for it."""

from __future__ import annotations

import runpy
from pathlib import Path
from typing import Any

import pandas as pd
import pytest

import perennia as pn
from perennia.analysis.decisions.comparing.stock import compare_units
from tests.demo_gardens import demo_garden

ROOT = Path(__file__).parent.parent.parent
PLANTED = runpy.run_path(str(ROOT / "datasets" / "demo_garden" / "truth.py"))
TRUTH: dict[str, Any] = PLANTED["TRUTH"]
BEAN, ROCOTO = PLANTED["BEAN"], PLANTED["ROCOTO"]


@pytest.fixture(scope="module")
def garden(tmp_path_factory: pytest.TempPathFactory) -> pn.Garden:
    return demo_garden(tmp_path_factory.mktemp("truth") / "demo")


def survivors(table: pd.DataFrame) -> pd.Series:
    (row,) = (row for _, row in table[table["basis"] == "per survivor"].iterrows())
    return row


@pytest.mark.parametrize("season", [2021, 2022, 2023])
def test_overwintered_beans_crop_more_and_sooner(garden: pn.Garden, season: int) -> None:
    crop = survivors(pn.compare_stock(garden, season=season, crop=BEAN).table)
    assert crop["ratio_low"] <= TRUTH["bean"]["overwintered_ratio"] <= crop["ratio_high"]
    assert crop["p"] <= 0.05
    first = survivors(pn.compare_stock(garden, season=season, crop=BEAN, measure="first_pick").table)
    assert first["shift_low"] <= TRUTH["bean"]["overwintered_days"] <= first["shift_high"]


def test_the_demo_prints_intervals_that_hold_the_truth(garden: pn.Garden) -> None:
    from perennia.cli.demo import DEMO_CROP, DEMO_SEASON

    assert (DEMO_CROP, DEMO_SEASON) == (BEAN, 2023), "the season tested above is the one the demo prints"


def test_roots_in_the_tunnel_without_a_control_are_refused(garden: pn.Garden) -> None:
    frame = garden.sql("select * from season_summary where crop = ? and season between 2022 and 2023", [BEAN])
    kept = frame[(frame["bed"] == "Tunnel bed") | ((frame["bed"] == "Gate bed") & (frame["stock"] == "fresh"))]
    result = compare_units(kept, season=2023)
    row = survivors(result.table)
    assert row["tested_arm"] == 0
    assert pd.isna(row["p"])
    assert pd.isna(row["shift"])
    assert "bed" in row["confounded_with"]
    assert "cover" in row["confounded_with"]
    assert row["raw_gap"] > 0


def test_rocoto_crops_more_in_its_second_season_where_it_stayed(garden: pn.Garden) -> None:
    result = pn.compare_seasons(garden, crop=ROCOTO)
    row = survivors(result.table[result.table["plant_season"] == 2])
    assert row["ratio_low"] <= TRUTH["rocoto"]["season_ratio"][2] <= row["ratio_high"]
    assert row["changed_place"] == len(TRUTH["rocoto"]["moved_to_open"])
    assert row["tested_pairs"] == len(TRUTH["rocoto"]["stayed"])
    assert row["missing"] == 1, "nothing shows that R10, a cutting, cropped nothing in its first season"


@pytest.mark.parametrize(
    ("winters", "wintering", "crop"),
    [("stored_bare_root", "bare root%", BEAN), ("stored_in_pot", "pot%", ROCOTO)],
)
def test_roots_put_by_and_lost_are_counted(garden: pn.Garden, winters: str, wintering: str, crop: str) -> None:
    found = garden.sql(
        "select season, count(*) as kept, count(*) filter (not grew and ended_how = 'died') as lost from plant_seasons "
        "where kept_root and wintering like ? and crop = ? group by season order by season",
        [wintering, crop],
    )
    counted = {int(row.season): (int(row.kept), int(row.lost)) for row in found.itertuples()}
    assert counted == TRUTH["survival"][winters]
