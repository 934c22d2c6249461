"""Curves worked out a few at a time are those worked out together: no entry is lost where a bucket or a part ends."""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path
from random import Random

import pandas as pd
import pytest

import perennia as pn

TODAY = date(2025, 6, 1)


def test_the_size_of_buckets_and_parts_changes_no_answer(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    chance = Random(20_241_125)
    with pn.Garden.create(tmp_path / "plot") as garden:
        labels = [f"P{number}" for number in range(7)]
        sown = [pn.Sown(label, "2022-05-01", "Phaseolus coccineus", bed="b") for label in labels]
        picked = [
            pn.Picked(label, date(season, 7, 1) + timedelta(chance.randrange(90)), chance.randrange(300), clearance=end)
            for label in labels for season in (2022, 2023, 2024) for end in (*[False] * chance.randrange(9), True)
        ]  # fmt: skip
        garden.record(pn.Site("home"), pn.Bed("b", "home"), *sown, *picked, today=TODAY)
    with pn.Garden.open(tmp_path / "plot", read_only=True) as garden:
        together = pn.season_summary(garden).table
    assert together["t50"].notna().sum() > 10
    for bucket, part in ((1, 1), (3, 2), (20, 5)):
        monkeypatch.setattr("perennia.queries.curve_dates._BUCKET", bucket)
        monkeypatch.setattr("perennia.queries.curve_dates._TOGETHER", part)
        with pn.Garden.open(tmp_path / "plot", read_only=True) as garden:
            pd.testing.assert_frame_equal(pn.season_summary(garden).table, together)
