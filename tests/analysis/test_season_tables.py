"""What season_summary adds when asked: the weight of what was left for seed."""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pandas as pd
import pytest

import perennia as pn

TODAY = date(2025, 6, 1)
ARTICHOKE = "Cynara cardunculus var. scolymus"


@pytest.fixture
def garden(tmp_path: Path) -> pn.Garden:
    garden = pn.Garden.create(tmp_path / "plot")
    sown = [pn.Sown(label, "2024-05-01", "Phaseolus coccineus", bed="b") for label in ("A1", "A2", "A3", "A4")]
    garden.record(
        pn.Site("home"), pn.Bed("b", "home"), *sown,
        pn.Picked("A1", "2024-08-01", 90, count=10), pn.LeftForSeed("A1", "2024-09-01", 4),
        pn.Picked(["A2", "A3"], "2024-08-01", 120, count=10), pn.Picked("A2", "2024-08-05", 40, count=10),
        pn.LeftForSeed("A3", "2024-09-01", 5),
        pn.Picked("A4", "2024-08-01", 90), pn.LeftForSeed("A4", "2024-09-01", 3), today=TODAY,
    )  # fmt: skip
    return garden


def test_a_season_runs_for_plants_in_growth_and_those_not_seen_yet_are_counted_apart(tmp_path: Path) -> None:
    garden = pn.Garden.create(tmp_path / "roots")
    roots = [
        record for label in ("A1", "A2", "A3") for record in (
            pn.Sown(label, "2023-05-01", "Phaseolus coccineus", bed="b"), pn.Picked(label, "2023-08-01", 90),
            pn.Lifted(label, "2023-11-01"), pn.Stored(label, "2023-11-02", "bare root", "frost-free"),
        )
    ]  # fmt: skip
    garden.record(
        pn.Site("home", latitude=51.5), pn.Bed("b", "home"), *roots, pn.Replanted("A1", "2024-04-20", bed="b"),
        pn.Regrew("A1", "2024-05-02"), pn.Picked("A1", "2024-07-01", 60), today=TODAY,
    )  # fmt: skip
    cautions = pn.season_summary(garden.up_to("2024-07-05"), seasons=[2024]).cautions
    assert any(caution.startswith("1 season still running") for caution in cautions), cautions
    assert "2 seasons of plants of whose growth in it nothing is on record yet." in cautions


def test_what_dates_rates_and_curves_do_not_show_is_said(tmp_path: Path) -> None:
    garden = pn.Garden.create(tmp_path / "plot")
    steady = [pn.Picked("A1", f"2023-07-{number:02}", 90) for number in range(10, 31, 4)]
    late = [pn.Picked("A2", f"2023-07-{number:02}", 10 if number < 26 else 200) for number in range(10, 31, 4)]
    garden.record(
        pn.Site("home"), pn.Bed("b", "home"),
        *(pn.Sown(label, "2023-05-01", "Phaseolus coccineus", bed="b") for label in ("A1", "A2", "A3")), *steady, *late,
        pn.Picked("A3", "2023-08-20", count=9, clearance=True), pn.Picked("A2", "2023-08", 300),
        pn.Picked("A2", "2023-08-20", 900, clearance=True),
        pn.Noted("2024-02-01", bed="b", what="dug"), today=TODAY,
    )  # fmt: skip
    found = pn.season_summary(garden, seasons=[2023])
    vague = "1 picking dated too vaguely (over 14 days): in the totals, but dates and rates go by the other pickings."
    assert vague in found.cautions
    # A1 gave alike from the first picking on, A2 did not
    early = "1 peak reaching back to the first picking or before: how long that crop took is its usual gap, not seen."
    assert early in found.cautions
    curves = pn.season_curves(garden, seasons=[2023]).cautions
    assert "2 plant seasons with a clearance: the cumulative crop rises by it, the rate does not." in curves


def test_a_plant_moved_under_cover_within_a_season_is_told(tmp_path: Path) -> None:
    garden = pn.Garden.create(tmp_path / "plot")
    garden.record(
        pn.Site("home"), pn.Bed("b", "home"), pn.Bed("tunnel", "home", cover="tunnel"),
        *(pn.Sown(label, "2023-05-01", "Capsicum annuum", bed="b") for label in ("A1", "A2")),
        pn.Moved("A1", "2023-08-20", bed="tunnel"), *(pn.Picked(label, "2023-09-10", 300) for label in ("A1", "A2")),
        pn.Moved("A2", "2023-09-20", bed="tunnel"), pn.Noted("2024-02-01", bed="b", what="dug"), today=TODAY,
    )  # fmt: skip
    found = pn.season_summary(garden, seasons=[2023])
    assert found.table["moved"].tolist() == [True, False]
    assert any(caution.startswith("1 season in which a plant stood in a second bed") for caution in found.cautions)
    assert not any("second bed" in caution for caution in pn.season_summary(garden, labels=["A2"]).cautions)


def test_crops_that_are_counted_are_held_to_their_number_and_others_to_their_weight(tmp_path: Path) -> None:
    garden = pn.Garden.create(tmp_path / "plot")
    pepper, bean = "Capsicum annuum", "Phaseolus coccineus"
    garden.record(
        pn.Site("home"), pn.Bed("b", "home"), pn.Sown("A1", "2023-05-01", ARTICHOKE, bed="b"),
        pn.Sown("A2", "2023-05-01", ARTICHOKE, bed="b"), pn.Sown("B1", "2023-05-01", bean, bed="b"),
        pn.Sown("C1", "2023-05-01", pepper, bed="b"), pn.Picked("A1", "2023-08-01", count=4),
        pn.Picked("A2", "2023-08-01", 900), pn.Picked("B1", "2023-08-01", count=9), pn.Picked("C1", "2023-08-01", 90),
        # of what nobody picked nothing was left unweighed
        pn.Sown("B2", "2023-05-01", bean, bed="b"), pn.Emerged("B2", "2023-05-20"), today=TODAY,
    )  # fmt: skip
    said = [text for text in pn.season_summary(garden, seasons=[2023]).cautions if "missing" in text]
    assert said == [
        "1 season with a picking that was not weighed: the total weight is missing.",
        "1 season of a crop that is counted, with a picking that was not: the total number is missing.",
    ]


def test_curves_that_nobody_has_are_said_to_be_none(garden: pn.Garden) -> None:
    assert pn.season_curves(garden, labels=["nobody"]).findings == ("No curve matches.",)


@pytest.mark.parametrize(
    "question",
    [
        pn.season_summary, pn.plant_seasons, pn.season_curves, pn.group_curves, pn.flushes, pn.project_totals,
        pn.fit_curves,
    ],
)
def test_names_that_nobody_has_are_told_with_those_near_them(garden: pn.Garden, question: Any) -> None:
    known = garden.table("plants")
    label, crop, plant = (str(known[name][0]) for name in ("label", "crop", "plant"))
    asked = question(garden, labels=[f"{label}x", label, plant, f"{label}x"], crops=[crop, f"{crop}e"])
    told = [text for text in asked.cautions if text.startswith("No plant here")]
    assert len(told) == 2
    assert told[0].startswith(f"No plant here has the label {label}x; near it: {label}")
    assert told[1].startswith(f"No plant here is of the crop {crop}e; near it: {crop}")
    assert not [text for text in question(garden).cautions if text.startswith("No plant here")]


def test_a_peak_that_begins_on_the_day_of_the_first_picking_rests_on_its_gap_as_well(tmp_path: Path) -> None:
    garden = pn.Garden.create(tmp_path / "plot")
    # 30 g a day on the days up to the first picking, then 100, then 10: the best week begins with that picking
    given = {10: 90, 13: 300, 16: 300, 20: 40, 24: 40}
    garden.record(
        pn.Site("home"), pn.Bed("b", "home"), pn.Sown("A1", "2023-05-01", "Phaseolus coccineus", bed="b"),
        *(pn.Picked("A1", f"2023-07-{day:02}", grams) for day, grams in given.items()),
        pn.Noted("2024-02-01", bed="b", what="dug"), today=TODAY,
    )  # fmt: skip
    found = pn.season_summary(garden, seasons=[2023])
    assert found.table["peak_from"][0] == found.table["first_pick"][0] == pd.Timestamp("2023-07-10")
    assert any(caution.startswith("1 peak reaching back to the first picking") for caution in found.cautions)


def test_a_run_of_picking_parted_in_the_new_year_is_told_of_both_its_parts_even_when_one_season_is_asked(
    tmp_path: Path
) -> None:
    garden = pn.Garden.create(tmp_path / "plot")
    winter = [date(2023, 12, 1) + timedelta(number) for number in range(0, 120, 3)]
    garden.record(
        pn.Site("home"), pn.Bed("b", "home", cover="tunnel"),
        *(pn.Sown(label, "2023-08-01", "Phaseolus coccineus", bed="b") for label in ("A1", "A2", "A3")),
        *(pn.Picked(label, day, 50) for label in ("A1", "A2") for day in winter),
        *(pn.Picked("A3", day, 50) for day in winter if day < date(2024, 2, 20)), today=TODAY,
    )  # fmt: skip
    parted = "with part of a run of picking only, for it went on unbroken for more than 60 days into the new"
    said = {
        seasons: [text for text in pn.season_summary(garden, seasons=seasons).cautions if "unbroken" in text]
        for seasons in (None, (2023,), (2024,))
    }
    assert all(parted in text and "shares and peaks are of the part" in text for (text,) in said.values())
    heads = {seasons: text.split(" with ")[0] for seasons, (text,) in said.items()}
    assert heads == {
        None: "4 seasons (2023: 2, 2024: 2)", (2023,): "2 seasons (2023: 2)", (2024,): "2 seasons (2024: 2)",
    }  # fmt: skip
    assert not any("unbroken" in text for text in pn.season_summary(garden, labels=["A3"]).cautions)


def test_what_was_left_for_seed_is_weighed_by_the_units_own_mean_and_only_when_asked(garden: pn.Garden) -> None:
    plain, asked = pn.season_summary(garden), pn.season_summary(garden, forgone=True)
    assert "forgone_g" not in plain.table
    table = asked.table.set_index("label")
    # A2 and A3 are one unit: 160 g in 20 pods; A4 was never counted
    forgone = table["forgone_g"].astype(object).where(table["forgone_g"].notna(), None)
    assert forgone.to_dict() == {"A1": 36.0, "A2": None, "A3": 40.0, "A4": None}
    pd.testing.assert_frame_equal(asked.table.drop(columns="forgone_g"), plain.table)
    (alone,) = pn.season_summary(garden, labels=["A3"], forgone=True).table["forgone_g"]
    assert alone == 40.0, "the unit's other plants count, whatever was asked for"
    assert any("is in no total" in caution for caution in asked.cautions)


def test_what_was_left_for_seed_uncounted_is_told_and_not_weighed(garden: pn.Garden) -> None:
    garden.record(pn.LeftForSeed("A1", "2024-09-10"), pn.LeftForSeed("A2", "2024-09-10"), today=TODAY)
    found = pn.season_summary(garden, forgone=True)
    said = "2 seasons in which some of what was left for seed was not counted, and is in no figure here."
    assert said in found.cautions
    table = found.table.set_index("label")
    assert table["left_uncounted"].to_dict() == {"A1": 1, "A2": 1, "A3": 0, "A4": 0}
    assert table["forgone_g"].isna().to_dict() == {"A1": True, "A2": True, "A3": False, "A4": True}
    told = "1 season with something left for seed and no mean pod weight"
    assert any(caution.startswith(told) for caution in found.cautions), "of A4"
    assert not any("not counted" in caution for caution in pn.season_summary(garden, labels=["A3"]).cautions)
    over = garden.record(pn.Noted("2025-02-01", bed="b", what="dug"), today=TODAY)
    assert over.stored == 1
    # A1, A4, and the unit of A2 and A3: pods hold back a crop, counted or not
    assert any("3 units with pods or fruit left for seed" in caution for caution in pn.bearing(garden).cautions)
