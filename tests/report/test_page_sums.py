"""What the page says of a garden as a whole holds for each plant in it: counted and weighed crops, plants not seen,
divided plants, and acts that nobody wrote down."""

from __future__ import annotations

import sys

import pytest
from matplotlib.text import Text

import perennia as pn
from perennia.report.page import season_report
from tests.report.page_reader import read, said

TODAY = "2024-08-15"
DAHLIA, PEPPER, BEAN = "Dahlia x hybrida", "Capsicum annuum", "Phaseolus coccineus"


@pytest.fixture(scope="module")
def garden(tmp_path_factory: pytest.TempPathFactory) -> pn.Garden:
    """Dahlias and peppers that were counted and never weighed; one dahlia divided in spring, one bean not seen."""
    garden = pn.Garden.create(tmp_path_factory.mktemp("mixed") / "garden")
    records: list[pn.records.Record] = [
        pn.Site("home", latitude=52.0), pn.Bed("wall", "home", area_m2=4), pn.Bed("long", "home", area_m2=6),
        *(pn.Sown(label, "2023-03-10", crop=PEPPER, bed="long") for label in ("C1", "C2")),
        *(pn.Picked(label, f"2023-08-{day:02d}", count=6) for label in ("C1", "C2") for day in (1, 8, 15)),
        *(pn.Sown(label, "2023-05-10", crop=BEAN, bed="long") for label in ("B1", "B2")),
        *(pn.Picked(label, f"2023-08-{day:02d}", 200) for label in ("B1", "B2") for day in (1, 8, 15)),
        pn.Mulched("B1", "2023-11-15"), pn.Mulched("B2", "2023-11-15"), pn.Regrew("B1", "2024-05-01"),
        pn.Picked("B1", "2024-07-20", 300),
        # lost in the winter before the season before: no change since that season
        pn.Sown("B0", "2022-05-10", crop=BEAN, bed="long"), pn.Picked("B0", "2022-08-01", 200),
        pn.Lifted("B0", "2022-11-01"), pn.Stored("B0", "2022-11-01", "bare root"), pn.Died("B0", "2023-02-01"),
        pn.AlreadyHere("O1", "2022-05", crop="Oxalis tuberosa", bed="wall"),
    ]  # fmt: skip
    for label in ("D1", "D2"):
        records += [
            pn.Acquired(label, "2023-04-10", crop=DAHLIA, kind="root", bed="wall"),
            *(pn.Picked(label, f"2023-08-{day:02d}", count=4) for day in (1, 8, 15)),
            pn.Lifted(label, "2023-11-12"), pn.Stored(label, "2023-11-14", "bare root", "frost-free", box="box"),
        ]  # fmt: skip
    garden.record(
        *records, pn.Replanted("D1", "2024-05-02", bed="wall"), pn.Picked("D1", "2024-08-05", count=3),
        pn.Picked("D1", "2024-08-09", 0, count=0),
        pn.Divided("D2", "2024-04-20", into=("D4", "D5"), mother_continues=False, bed="wall"),
        pn.BooksKept("wall", "2024-04-01", "2024-08-12"),
    )  # fmt: skip
    return garden


@pytest.fixture(scope="module")
def sections(garden: pn.Garden) -> dict[str, str]:
    """The text of each section, drawn without figures."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setitem(sys.modules, "matplotlib.axes", None)
        page = read(season_report(garden, today=TODAY))
    return {part.get("aria-labelledby") or "": said(part) for part in page.all("section")}


def test_no_more_seasons_run_than_plants_grow_and_those_not_seen_are_told_apart(sections: dict[str, str]) -> None:
    assert "2 plants in growth in season 2024; for 2 of them the season is still running." in sections["year"]
    # B2, C1, C2, O1 and the parts D4 and D5; D2 was divided up
    assert "Nothing is written down of the growth of 6 more plants in it." in sections["year"]
    assert "1 more plant ended before growing in it." in sections["year"]
    assert "Oxalis tuberosa: no growth of any plant is written down." in sections["year"]


def test_a_crop_that_was_counted_is_told_in_pieces_and_never_as_no_weight(sections: dict[str, str]) -> None:
    assert f"{DAHLIA}: 1 of 1 plant in growth was picked, 3 pieces in all, on 5 August 2024." in sections["year"]
    assert f"{BEAN}: 1 of 1 plant in growth was picked, 0.3 kg in all, on 20 July 2024." in sections["year"]
    assert "0.0 kg" not in sections["year"]
    assert "0.0" not in sections["changed"]


def test_a_plant_divided_in_spring_is_none_that_the_winter_took(sections: dict[str, str]) -> None:
    assert f"Divided before it grew again: 1 plant ({DAHLIA}): D2." in sections["changed"]
    assert "Did not come through the winter" not in sections["changed"]


def test_what_was_lost_before_the_season_before_is_no_change_since(sections: dict[str, str]) -> None:
    assert "B0" not in sections["changed"]


def test_a_regrowth_that_nobody_wrote_down_is_none_of_the_latest_entries(sections: dict[str, str]) -> None:
    lately = sections["changed"].partition("Written down lately")[2]
    assert "picked" in lately
    assert "regrew" not in lately


def test_a_look_at_nothing_ripe_is_no_picking(sections: dict[str, str]) -> None:
    lately = sections["changed"].partition("Written down lately")[2]
    looked, picked = lately.index("2024-08-09"), lately.index("2024-08-05")
    assert "looked, nothing ripe" in lately[looked:picked]
    assert "picked" not in lately[looked:picked]


def test_plants_never_picked_do_not_make_a_counted_crop_one_by_weight(garden: pn.Garden) -> None:
    kept = pn.keep_list(garden.up_to(TODAY), 2024, crop=DAHLIA)
    assert kept.measure == "count"
    # 2024 still runs
    assert "the mean of those on record that are over (2023)" in kept.method
    assert kept.table.set_index("label").loc["D1", "mean_crop"] == 7.5


def test_the_keep_list_says_what_each_crop_is_in_and_puts_every_crop_under_its_name(sections: dict[str, str]) -> None:
    listed = sections["keep"]
    assert "g a plant" not in listed.partition("The keep list")[2].partition("In the column keep")[0]
    assert "pieces" in listed
    assert "Oxalis tuberosa: " not in listed
    assert f"{PEPPER}, {DAHLIA}, Oxalis tuberosa, {BEAN}: of 2, 2, 3 and 1 plant seasons nothing" in listed


def test_plants_never_picked_stand_in_the_figure_among_those_of_their_crop(garden: pn.Garden) -> None:
    drawn = pn.plot(pn.season_summary(garden.up_to(TODAY), seasons=[2024]))
    titles = [title for axes in drawn.axes if (title := axes.get_title(loc="left"))]
    assert titles == [PEPPER, DAHLIA, "Oxalis tuberosa", BEAN]
    # B1 and D1 grow; of the others nothing is written down
    assert any("2 seasons still running" in text.get_text() for text in drawn.findobj(Text))
