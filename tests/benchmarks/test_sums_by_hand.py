"""The script that season_summary is measured against works out the same figures, so that the race is a fair one."""

from __future__ import annotations

from pathlib import Path

import pandas as pd
import pytest

import perennia as pn
from tests.benchmarks.curves import files_of, filled
from tests.benchmarks.sums_by_hand import pandas_seasons


def test_the_script_of_pandas_finds_the_same_seasons(tmp_path: Path) -> None:
    plot = filled(tmp_path / "plot", 500)
    by_hand = pandas_seasons(files_of(plot)).set_index(["label", "year"])
    with pn.Garden.open(plot, read_only=True) as garden:
        own = pn.season_summary(garden).table.set_index(["label", "season"]).loc[by_hand.index]
    # the last season still runs, so that its shares and its peak are withheld
    over = own["finished"].astype(bool)
    assert over.sum() >= 20
    assert own["total_g"].tolist() == pytest.approx(by_hand["total_g"].tolist())
    assert own["picks"].tolist() == by_hand["picks"].tolist()
    for name in ("first_pick", "last_pick"):
        assert pd.to_datetime(own[name]).tolist() == pd.to_datetime(by_hand[name]).tolist(), name
    for name in ("t10", "t50", "t90"):
        assert pd.to_datetime(own.loc[over, name]).tolist() == pd.to_datetime(by_hand.loc[over, name]).tolist(), name
    rates = own.loc[over, "peak_per_day"], by_hand.loc[over, "peak_g_per_day"]
    assert rates[0].tolist() == pytest.approx(rates[1].tolist())
