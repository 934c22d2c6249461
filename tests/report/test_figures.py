"""What every figure shows of a garden: as many marks as units, units on the axes, cautions in words; and of any garden
something."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any
from xml.etree import ElementTree

import attrs
import numpy as np
import pandas as pd
import pytest
from hypothesis import HealthCheck, given, settings
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.text import Text

from perennia.analysis import project_totals, season_curves, season_summary
from perennia.analysis.seasons.bearing import bearing_of
from perennia.errors import AnalysisError, ArgumentError
from perennia.records.base import Record
from perennia.records.harvest import Picked
from perennia.records.life import Sown
from perennia.report import as_svg, plot
from perennia.report.calendar_axis import places_of
from perennia.report.look import BLUE, VERMILLION
from tests.analysis import seasons_frame
from tests.analysis.built_source import BuiltSource, source_of
from tests.lives import cropping_gardens
from tests.queries.built_views import built, with_ids
from tests.report.contrast import lost_marks
from tests.report.gardens import ODD, QUESTIONS, multiplied, records

NAMES = sorted(QUESTIONS)


@pytest.fixture(scope="module")
def source() -> Iterator[BuiltSource]:
    with source_of(*records()) as made:
        yield made


@pytest.fixture(scope="module")
def answers(source: BuiltSource) -> dict[str, Any]:
    return {name: ask(source) for name, ask in QUESTIONS.items()}


@pytest.fixture(scope="module")
def figures(answers: dict[str, Any]) -> dict[str, Figure]:
    return {name: plot(answer) for name, answer in answers.items()}


def texts(figure: Figure) -> str:
    """All the words of a figure, a line break a space."""
    figure.draw_without_rendering()
    return " | ".join(text.get_text().replace("\n", " ") for text in figure.findobj(Text) if text.get_text())


def marked(figure: Figure, gid: str) -> list[Line2D]:
    """The lines drawn as what gid names."""
    return [line for line in figure.findobj(Line2D) if line.get_gid() == gid]


def points(figure: Figure, gid: str) -> int:
    return sum(len(np.asarray(line.get_xdata())) for line in marked(figure, gid))


@pytest.mark.parametrize("name", NAMES)
def test_it_is_well_formed_the_same_every_time_and_harms_no_page(
    name: str, answers: dict[str, Any], figures: dict[str, Figure]
) -> None:
    svg = as_svg(figures[name], name)
    ElementTree.fromstring(svg)
    assert svg == as_svg(plot(answers[name]), name)
    assert "<script" not in svg
    assert len(svg) < 300_000


@pytest.mark.parametrize("name", NAMES)
def test_every_mark_stands_out_from_light_paper_and_from_dark(name: str, figures: dict[str, Figure]) -> None:
    assert lost_marks(figures[name]) == []


@pytest.mark.parametrize("name", NAMES)
def test_nothing_on_record_is_one_sentence(name: str, answers: dict[str, Any]) -> None:
    bare = {
        field.name: getattr(answers[name], field.name).iloc[:0] for field in attrs.fields(type(answers[name]))
        if hasattr(getattr(answers[name], field.name), "iloc")
    }  # fmt: skip
    figure = plot(attrs.evolve(answers[name], **bare))
    assert figure.axes == []
    assert len(figure.texts) == 1
    assert figure.texts[0].get_text().endswith(".")


UNITS = {
    "season_curves": "crop, g", "season_summary": "crop, g", "group_curves": "crop a plant, g", "flushes": "date",
    "project_totals": "crop of the season, g", "fit_curves": "day of the growing year", "bearing": "index of alternate",
    "compare_stock": "crop of the season by weight, g a plant", "compare_seasons": "difference, g a plant",
    "compare_change": "difference, g a plant", "survival": "share of plants alive",
    "keep_list": "expected crop next season, g a plant", "plant_lives": "year",
}  # fmt: skip


@pytest.mark.parametrize("name", NAMES)
def test_axes_name_what_they_hold_with_its_unit(name: str, figures: dict[str, Figure]) -> None:
    assert UNITS[name] in texts(figures[name])


def test_the_label_of_a_record_stands_as_it_is_written(figures: dict[str, Figure]) -> None:
    assert ODD in texts(figures["season_curves"])
    assert "&lt;script&gt;$x$" in as_svg(figures["season_curves"], "curves")


def test_curves_have_a_picture_a_plant_in_the_colour_of_its_stock(
    answers: dict[str, Any], figures: dict[str, Figure]
) -> None:
    frame = answers["season_curves"].table
    drawn = [ax for ax in figures["season_curves"].axes if ax.axison]
    assert len(drawn) == frame["plant"].nunique()
    colours = [line.get_color() for ax in drawn for line in ax.lines if len(line.get_xdata()) > 1]  # type: ignore[arg-type]
    stocks = frame.drop_duplicates(["plant", "season"])["stock"].tolist()
    assert colours.count(BLUE) == stocks.count("overwintered")
    assert colours.count(VERMILLION) == stocks.count("fresh")
    running = frame.loc[~frame["finished"]].groupby(["plant", "season"]).ngroups
    said = f"{running} seasons still running: open at its end, and its crop can rise."
    assert said in texts(figures["season_curves"])
    assert "2024, running" in texts(figures["season_curves"])


def test_pictures_of_one_crop_and_measure_have_one_scale(answers: dict[str, Any]) -> None:
    # many seasons that end near one another, whose names need room above the curves of their picture alone
    curves = answers["season_curves"]
    first = curves.table[curves.table["label"].eq("A1") & curves.table["season"].eq(2021)]
    years = [first.assign(season=2021 - back, on=first["on"] - pd.DateOffset(years=back)) for back in range(1, 15)]
    crowded = attrs.evolve(curves, table=pd.concat([curves.table, *years], ignore_index=True))
    drawn = [ax for ax in plot(crowded).axes if ax.axison]
    assert len(drawn) > 10
    assert len({ax.get_ylim() for ax in drawn}) == 1


def test_curves_are_marked_with_days_of_the_summary(source: BuiltSource) -> None:
    curves, summary = season_curves(source, labels=["A1"]), season_summary(source, labels=["A1"])
    said = texts(plot(curves, summary=summary))
    assert "from 10 % to 90 % of the crop in" in said
    assert "g a day" in said
    assert "g a day" not in texts(plot(curves, summary=summary, show="cumulative"))
    with pytest.raises(ArgumentError, match="summary is no answer of season_summary"):
        plot(curves, summary=curves)
    with pytest.raises(AnalysisError, match="show is 'both'; choose one of cumulative, rate"):
        plot(curves, show="both")
    with pytest.raises(ArgumentError, match="options of the figure of season_curves"):
        plot(summary, show="rate")


def test_many_plants_are_drawn_together_and_said_to_be(answers: dict[str, Any]) -> None:
    said = texts(plot(multiplied(answers["season_curves"], 3)))
    assert "Over 24 plants, so all of a kind are drawn together." in said
    assert "n = 24" in said


def test_every_season_with_a_known_crop_is_a_dot(answers: dict[str, Any], figures: dict[str, Figure]) -> None:
    table = answers["season_summary"].table
    known = table.loc[table["grew"].fillna(True), "total_g"].notna().sum()
    assert points(figures["season_summary"], "crop") == known


def test_every_flush_is_a_bar(answers: dict[str, Any], figures: dict[str, Figure]) -> None:
    assert len(marked(figures["flushes"], "flush")) == len(answers["flushes"].table)


def test_every_unit_of_a_comparison_is_a_dot_in_its_stratum(
    answers: dict[str, Any], figures: dict[str, Figure]
) -> None:
    units = answers["compare_stock"].by_unit
    survivors = units[units["basis"] == "per survivor"]
    assert len(survivors) == answers["compare_stock"].n
    assert points(figures["compare_stock"], "units") == survivors["value"].notna().sum()
    said = texts(figures["compare_stock"])
    assert "B1 (plot)" in said
    assert "overwintered, n = 4" in said
    row = answers["compare_stock"].table.query("season == 2022 and basis == 'per survivor'").iloc[0]
    assert f"{row['tested_arm']} against {row['tested_against']}, {100 * row['level']:.4g} % interval" in said


def test_confounding_is_said_in_the_figure() -> None:
    apart = [one for one in records() if not (isinstance(one, Sown) and str(one.label).startswith("F"))]
    moved = [attrs.evolve(one, bed="B2") for one in records() if isinstance(one, Sown) and one.label.startswith("F")]
    with source_of(*apart, *moved) as source:
        figure = plot(QUESTIONS["compare_stock"](source))
    assert "confounded with cover, bed, which may as well be the reason" in texts(figure)
    assert marked(figure, "raw")


def test_pairs_are_drawn_with_those_that_changed_their_place_hollow(
    answers: dict[str, Any], figures: dict[str, Figure]
) -> None:
    units = answers["compare_seasons"].by_unit
    survivors = units[units["basis"] == "per survivor"]
    assert points(figures["compare_seasons"], "units") == survivors[["first", "later"]].notna().sum().sum()
    assert "season 2, n = 8" in texts(figures["compare_seasons"])


def test_the_change_says_what_a_cross_is(figures: dict[str, Figure]) -> None:
    assert "×: gap without an interval" in texts(figures["compare_change"])


def test_survival_shows_shares_steps_and_numbers_at_risk(answers: dict[str, Any], figures: dict[str, Figure]) -> None:
    found, figure = answers["survival"], figures["survival"]
    assert len(marked(figure, "share")) == found.table["share"].notna().sum()
    assert len(marked(figure, "interval")) == found.table["low"].notna().sum()
    at_risk = [text.get_text() for text in figure.findobj(Text) if text.get_gid() == "risk"]
    assert at_risk == [str(number) for number in found.lives["at_risk"]]
    assert "plants at risk" in texts(figure)


def test_the_keep_list_is_in_order_of_rank_with_its_intervals(
    answers: dict[str, Any], figures: dict[str, Figure]
) -> None:
    found, figure = answers["keep_list"].table, figures["keep_list"]
    names = [label.get_text() for label in figure.axes[0].get_yticklabels()]
    assert [name.split("  ")[1] for name in names] == found["label"].tolist()
    assert len(marked(figure, "expected")) == found[["expected", "expected_if_alive"]].notna().any(axis=1).sum()
    assert len(marked(figure, "interval")) == found["low"].notna().sum()


def test_lives_have_a_bar_a_spell_and_a_stroke_a_picking(answers: dict[str, Any], figures: dict[str, Figure]) -> None:
    found, figure = answers["plant_lives"], figures["plant_lives"]
    bars = sum(len(bar.patches) for bar in figure.axes[0].containers)
    assert bars == (found.table["state"] != "ended").sum()
    (strokes,) = marked(figure, "pickings")
    assert len(np.asarray(strokes.get_xdata())) == 3 * len(found.pickings)
    assert points(figure, "died") == 1
    said = texts(figure)
    assert "in store as a bare root" in said
    assert "not written down" in said


@pytest.mark.parametrize("name", [
    "season_curves", "season_summary", "flushes", "project_totals", "fit_curves", "bearing", "keep_list", "plant_lives",
    "compare_stock", "compare_seasons",
])  # fmt: skip
def test_five_thousand_plants_are_summed_up(name: str, answers: dict[str, Any]) -> None:
    figure = plot(multiplied(answers[name], 300))
    assert lost_marks(figure) == []
    assert len(as_svg(figure, name)) < 300_000


def test_a_crowd_in_many_beds_is_summed_up_though_no_bed_holds_many(answers: dict[str, Any]) -> None:
    found = multiplied(answers["compare_stock"], 60)
    units = found.by_unit
    beds = pd.Series(range(len(units)), index=units.index).mod(20).astype("string")
    spread = plot(attrs.evolve(found, by_unit=units.assign(stratum="bed " + beds)))
    assert units.groupby(beds).size().max() < 300
    assert max(len(np.asarray(line.get_xdata())) for line in marked(spread, "units")) <= 12
    said = texts(spread)
    assert "Over 12 units in one line are drawn as their median" in said
    assert said.index("bed 2") < said.index("bed 10")
    assert "A dot is a unit." in said
    assert "A dot is a unit." not in texts(plot(attrs.evolve(found, by_unit=units.assign(stratum="bed 1"))))


def test_beds_without_end_are_no_picture_of_metres_and_those_left_out_are_counted(answers: dict[str, Any]) -> None:
    found = multiplied(answers["compare_stock"], 12)
    beds = "bed " + pd.Series(range(len(found.by_unit)), index=found.by_unit.index).astype("string")
    units = found.by_unit.assign(stratum=beds)
    figure = plot(attrs.evolve(found, by_unit=units))
    assert figure.get_figheight() < 100
    lines = units[units["basis"].eq("per survivor")].groupby(["crop", "seasons", "measure"]).size()
    assert lines.max() > 40
    assert [len(ax.get_yticks()) for ax in figure.axes[::2]] == [min(number, 40) for number in lines]
    assert f"{(lines - 40).clip(lower=0).sum()} more lines of units not drawn" in texts(figure)


@pytest.mark.parametrize(("seasons", "few"), [(5, "; it takes 9 in a row"), (9, "")])
def test_seasons_of_which_no_order_stands_out_are_told_under_the_figure_and_only_few_are_called_few(
    seasons: int, few: str
) -> None:
    rows = [seasons_frame.row("A", 2010 + place, plant="A/2010", total_g=50.0) for place in range(seasons)]
    said = texts(plot(bearing_of(seasons_frame.frame(rows))))
    assert f"bean: no order of its {seasons} seasons could lie above the range of chance{few}." in said


@pytest.mark.parametrize("name", ["bearing", "flushes", "plant_lives"])
def test_figures_of_one_axes_can_be_drawn_in_ones_own(name: str, answers: dict[str, Any]) -> None:
    own = Figure(figsize=(10, 6))
    left, right = own.subplots(1, 2)
    assert plot(answers[name], right) is own
    assert not left.has_data()
    assert right.has_data()
    assert right.get_title(loc="left")


def test_what_is_no_figure_says_what_is(source: BuiltSource) -> None:
    from perennia.analysis import plant_seasons

    with pytest.raises(AnalysisError, match=r"plot plant_lives\(garden\)"):
        plot(plant_seasons(source))


@settings(max_examples=2, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large], deadline=None)
@given(cropping_gardens(labels=2, most=8))
def test_any_garden_can_be_drawn(drawn: list[Record]) -> None:
    with built(with_ids(drawn)) as connection:
        for name, ask in QUESTIONS.items():
            ElementTree.fromstring(as_svg(plot(ask(BuiltSource(connection))), name))


def test_a_leap_day_makes_no_upright_stroke() -> None:
    on = pd.Series(pd.date_range("2024-02-27", "2024-03-03"))
    steps = np.diff(places_of(on, pd.Series([2023] * len(on))))
    assert steps.tolist() == [1.0, 0.5, 0.5, 1.0, 1.0]


def test_mean_curves_name_the_season_as_all_answers_do(answers: dict[str, Any]) -> None:
    result = answers["group_curves"]
    assert "season 2021" in texts(plot(result))
    frames = {name: getattr(result, name).assign(season_name="2021/22") for name in ("table", "unit_curves")}
    assert "season 2021/22" in texts(plot(attrs.evolve(result, **frames)))


def test_a_plant_that_never_grew_is_not_drawn_as_one_that_cropped(answers: dict[str, Any]) -> None:
    table = answers["season_summary"].table
    grew = table["plant"].ne(table["plant"].iloc[0]) & table["grew"].fillna(True)
    said = texts(plot(attrs.evolve(answers["season_summary"], table=table.assign(grew=grew))))
    assert f"The crop of {table.loc[grew, 'plant'].nunique()} plants: when, and how much" in said
    assert f"{(~grew).sum()} seasons in which the plant never grew: no line." in said


def test_the_key_of_the_summary_has_only_what_is_drawn(answers: dict[str, Any]) -> None:
    result = answers["season_summary"]
    marks = ("from 10 % to 90 % of the crop in, half at the dot", "peak")
    whole = texts(plot(result))
    withheld = texts(plot(attrs.evolve(result, table=result.table.assign(t10=pd.NaT, t90=pd.NaT, peak_on=pd.NaT))))
    for mark in marks:
        assert mark in whole.split(" | ")
        assert mark not in withheld.split(" | ")


def test_a_crop_of_which_nothing_is_in_is_named_where_others_are_projected() -> None:
    given: list[Record] = [
        *(Sown(label, "2023-05-01", crop=crop) for label, crop in (("A1", "bean"), ("O1", "oca"))),
        Picked("A1", "2023-08-01", 100),
    ]  # fmt: skip
    with source_of(*given) as running:
        texts = [text.get_text() for text in plot(project_totals(running)).findobj(Text)]
    assert "oca: no season here has a crop so far." in [" ".join(text.split()) for text in texts]
