"""A grower's own crop profiles, in the garden's folder, are in force in every question and check of that garden."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest
from click.testing import CliRunner

import perennia as pn
from perennia import crops
from perennia.cli import main
from perennia.errors import IntakeError
from perennia.store.healing import heal
from perennia.store.writing import writer
from tests.copies import copied

BEAN = "Phaseolus coccineus"
TODAY = date(2025, 6, 1)
OWN = """
crop = "Phaseolus coccineus"
harvest_unit = "count"
usual_picking_gap_days = { value = 9, source = "my own book" }
season_starts = { value = "03-01", source = "my own book" }
grams_per_plant_day_max = { value = 100, source = "my own book" }

[[cautions]]
text = "The row by the road is not for eating."
source = "my own book"
"""
ULLUCO = """
crop = "Ullucus tuberosus"
common_names = ["ulluco"]
harvest_unit = "count"
harvest_noun = "tubers"

[[cautions]]
text = "Boil it."
source = "my own book"
"""
RECORDS = (
    pn.Site("home", latitude=51.5), pn.Bed("b", "home", area_m2=6),
    pn.Sown("A1", "2023-05-10", crop=BEAN, bed="b"), pn.Sown("A2", "2023-05-10", crop="Ullucus tuberosus", bed="b"),
    pn.Picked("A1", "2023-08-10", 180, 9), pn.Picked("A1", "2023-08-20", 90, 6), pn.Picked("A1", "2023-08-30", 90, 6),
)  # fmt: skip


def _keep(garden: Path, text: str, name: str = "beans.toml") -> None:
    (garden / "crops").mkdir(exist_ok=True)
    (garden / "crops" / name).write_text(text, encoding="utf-8")


def recorded(folder: Path) -> None:
    with pn.Garden.create(folder) as garden:
        assert garden.record(*RECORDS, today=TODAY).doubts == ()


@pytest.fixture
def plot(tmp_path: Path) -> Path:
    """The folder of a garden without profiles of its own."""
    return copied(recorded, tmp_path / "plot")


def test_without_a_folder_or_with_an_empty_one_the_shipped_profiles_are_in_force(plot: Path) -> None:
    assert pn.Garden.open(plot).profiles == crops.profiles()
    (plot / "crops").mkdir()
    assert pn.Garden.open(plot).profiles == crops.profiles()


def test_the_profiles_in_force_cannot_be_changed_from_outside(plot: Path) -> None:
    with pytest.raises(TypeError):
        pn.Garden.open(plot).profiles[BEAN] = crops.profiles()[BEAN]


_SEASON = "select season_name, measure from season_summary where label = 'A1'"
_ALL = """select season_name, measure, (select min("on") from season_curves where label = 'A1') as day,
    (select count(*) from open_questions where kind = 'heavy') as heavy
    from season_summary where label = 'A1'"""


@pytest.mark.parametrize("isolated", [False, True])
def test_every_view_goes_by_them(plot: Path, isolated: bool) -> None:
    def asked() -> tuple[object, ...]:
        with pn.Garden.open(plot, read_only=True) as garden:
            (season,) = garden.sql(_ALL, as_="arrow", isolated=isolated).to_pylist()
        return tuple(season.values())

    assert asked() == ("2023", "g", date(2023, 8, 8), 0)
    _keep(plot, OWN)
    assert asked() == ("2023/24", "count", date(2023, 8, 2), 1)


@pytest.mark.parametrize("written", ["Citrus x paradisi", "Citrus ×paradisi", "× Citrofortunella", "Citrus × paradisi"])
def test_the_sign_of_a_hybrid_is_x_or_a_cross(plot: Path, written: str) -> None:
    _keep(plot, ULLUCO.replace("Ullucus tuberosus", written))
    with pn.Garden.open(plot) as garden:
        crops_by_label = {"C1": written, "C2": written.replace("×", "x"), "C3": written.replace("x", "×")}
        sown = [pn.Sown(label, "2023-05-10", crop=crop, bed="b") for label, crop in crops_by_label.items()]
        assert garden.record(*sown, today=TODAY).doubts == ()
        garden.record(*(pn.Picked(label, "2023-08-10", 80, 3) for label in crops_by_label), today=TODAY)
        found = garden.sql("select distinct measure from season_summary where label like 'C%'")
        assert found["measure"].tolist() == ["count"]


def test_what_is_recorded_is_checked_by_them(plot: Path) -> None:
    _keep(plot, OWN)
    _keep(plot, ULLUCO, "ulluco.toml")
    with pn.Garden.open(plot) as garden:
        picked = pn.Picked("A1", "2023-09-05", 150)
        (doubt,) = garden.record(picked, today=TODAY).doubts
        assert doubt.text.startswith("A1: 150 g picked on 2023-09-05 is more than the 100 g a day")
        (doubt,) = garden.record(pn.Sown("A3", "2024-05-01", crop="Ulluco"), today=TODAY).doubts
        assert "near it: Ullucus tuberosus;" in doubt.text
        record_id = garden.sql("select record_id from harvest where grams = 180")["record_id"][0]
        (doubt,) = garden.correct(record_id, pn.Picked("A1", "2023-08-10", 181), reason="a slip", today=TODAY).doubts
        assert doubt.kind == "heavy"
        assert pn.check(garden).table["kind"].tolist() == ["heavy", "heavy", "crop"]


def test_a_crop_is_compared_in_the_unit_of_its_own_profile(plot: Path) -> None:
    def measure() -> str:
        with pn.Garden.open(plot) as garden:
            return pn.compare_stock(garden, crop=BEAN, arms=("bought plant", "fresh")).measure

    with pn.Garden.open(plot) as garden:
        garden.record(
            pn.Acquired("A4", "2023-05-10", crop=BEAN, kind="plant", bed="b"), pn.Picked("A4", "2023-08-10", 99, 9),
            today=TODAY,
        )  # fmt: skip
    assert measure() == "total_g"
    _keep(plot, OWN)
    assert measure() == "count"


def test_later_seasons_are_compared_in_it_too(plot: Path) -> None:
    with pn.Garden.open(plot) as garden:
        garden.record(
            pn.DiedBack("A1", "2023-11-10"), pn.Regrew("A1", "2024-05-01"), pn.Picked("A1", "2024-08-10", 99, 9),
            pn.DiedBack("A1", "2024-11-10"), today=TODAY,
        )  # fmt: skip
        assert pn.compare_seasons(garden, crop=BEAN).measure == "total_g"
        _keep(plot, OWN)
        garden.refresh()
        assert pn.compare_seasons(garden, crop=BEAN).measure == "count"


def test_the_terminal_cautions_by_them(plot: Path) -> None:
    shown = CliRunner().invoke(main, ["summary", str(plot)]).output
    assert "by the road" not in shown
    _keep(plot, OWN)
    _keep(plot, ULLUCO, "ulluco.toml")
    shown = CliRunner().invoke(main, ["summary", str(plot)]).output
    assert f"- {BEAN}: The row by the road is not for eating. (my own book)" in shown
    assert f"- {BEAN}: Do not eat the root." in shown
    assert "- Ullucus tuberosus: Boil it. (my own book)" in shown


def test_a_changed_file_is_seen_at_the_next_refresh(plot: Path) -> None:
    with pn.Garden.open(plot) as garden:
        assert garden.sql(_SEASON)["season_name"][0] == "2023"
        _keep(plot, OWN)
        assert garden.sql(_SEASON)["season_name"][0] == "2023"
        assert garden.record(pn.Picked("A1", "2023-09-05", 150), today=TODAY).doubts == ()
        garden.refresh()
        assert garden.sql(_SEASON)["season_name"][0] == "2023/24"
        (plot / "crops" / "beans.toml").unlink()
        garden.refresh()
        assert garden.sql(_SEASON)["season_name"][0] == "2023"


def test_an_earlier_state_of_the_books_is_seen_by_todays_profiles(plot: Path) -> None:
    _keep(plot, OWN)
    with pn.Garden.open(plot, as_of="2099-01-01") as garden:
        assert garden.sql(_SEASON)["season_name"][0] == "2023/24"


def test_a_wrong_file_is_told_when_the_garden_is_opened(plot: Path) -> None:
    garden = pn.Garden.open(plot)
    _keep(plot, OWN.replace("value = 9", 'value = "nine"'))
    wrong = r"beans\.toml, usual_picking_gap_days\.value: 'nine' is not a number; write a number without quotes"
    for read_only in (True, False):
        with pytest.raises(IntakeError, match=wrong):
            pn.Garden.open(plot, read_only=read_only)
    with pytest.raises(IntakeError, match=wrong):
        garden.refresh()
    # a garden that was open goes on as it was
    assert garden.sql(_SEASON)["season_name"][0] == "2023"
    result = CliRunner().invoke(main, ["summary", str(plot)])
    assert (result.exit_code, "Traceback" in result.output) == (1, False)
    assert "usual_picking_gap_days" in result.output


def test_nothing_perennia_does_touches_the_folder(plot: Path) -> None:
    _keep(plot, OWN)
    (plot / "crops" / "notes.txt").write_text("mine", encoding="utf-8")
    before = {path: (path.read_bytes(), path.stat().st_mtime_ns) for path in (plot / "crops").iterdir()}
    with pn.Garden.open(plot) as garden:
        garden.record(pn.Picked("A1", "2023-09-06", 20), today=TODAY)
        garden.compact()
    with writer(plot):
        heal(plot)
    assert {path: (path.read_bytes(), path.stat().st_mtime_ns) for path in (plot / "crops").iterdir()} == before


def test_a_gap_that_counts_as_unbroken_and_leads_past_the_early_days_leaves_nothing_to_part(tmp_path: Path) -> None:
    pn.Garden.create(tmp_path / "plot").close()
    _keep(tmp_path / "plot", OWN.replace("value = 9", "value = 25").replace("03-01", "01-01"))
    garden = pn.Garden.open(tmp_path / "plot")
    days = ("2023-12-20", "2024-03-02", "2024-12-20", "2025-01-10")
    garden.record(*RECORDS[:3], *(pn.Picked("A1", day, 90, 6) for day in days), today=TODAY)
    found = pn.season_summary(garden).table.set_index("season")
    assert found["picks"].to_dict() == {2023: 1, 2024: 3, 2025: 0}
    assert not found["parted"].any()
