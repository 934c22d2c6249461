"""Figures of trials and descent: every place and every plant once, as in the texts and drawings beside them."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

import pytest
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle
from matplotlib.text import Text

from perennia.analysis.decisions.trials.trial_boxes import HEIGHT, WIDTH
from perennia.report import as_svg, plot
from perennia.report.figures.pedigree import KINDS, MOST_RELATIVES, MOST_STEPS
from tests.report.contrast import lost_marks
from tests.report.drawn_results import HOSTILE, LINE, MANY, descent, marked, trial, words_of


def hatched(figure: Figure) -> list[Rectangle]:
    return [patch for patch in figure.findobj(Rectangle) if patch.get_hatch()]


@pytest.mark.parametrize(
    ("beds", "block_size"), [({"N": 2}, None), ({"N": 9, "S": 34}, None), ({"N": 31, "S": 30}, 4), ({"N": 301}, 10)]
)
def test_every_place_has_a_box_the_second_arm_hatched(beds: dict[str, int], block_size: int | None) -> None:
    plan = trial(beds, block_size=block_size)
    figure = plot(plan)
    assert len(marked(figure, "place")) == sum(beds.values())
    assert len(hatched(figure)) == int((plan.table["arm"] == plan.arms[1]).sum())
    dashed = [box for box in marked(figure, "place") if box.get_linestyle() not in ("-", "solid")]
    assert len(dashed) == int(plan.table["arm"].isna().sum())


@pytest.mark.parametrize("result", [lambda: trial({"N": 9}), lambda: descent("M/2015"), lambda: descent("Y/2022")])
def test_every_mark_stands_out_from_light_paper_and_from_dark(result: Callable[[], Any]) -> None:
    assert lost_marks(plot(result())) == []


def test_boxes_stand_as_in_the_drawing_of_the_plan() -> None:
    plan = trial({"N": 9, "S": 34}, block_size=8)
    boxes = [(box.get_x(), box.get_y()) for box in marked(plot(plan), "place")]
    drawn = re.findall(rf'<rect x="(\d+)" y="(\d+)" width="{WIDTH}" height="{HEIGHT}"', plan.drawing())
    down = {float(top) - y for (_, top), (_, y) in zip(drawn, boxes, strict=True)}
    assert len(down) == 1
    assert [float(left) for left, _ in drawn] == [x for x, _ in boxes]


def test_a_plan_says_its_arms_letters_and_lot() -> None:
    said = words_of(plot(trial({"N": 5}, name="spring")))
    assert {"Trial spring", "Bed N", "Block 1", "left over"} <= set(said.splitlines())
    assert "A: overwintered; B: fresh (hatched); dashed: left over." in said
    assert "not to scale" in said.replace("\n", " ")


def test_labels_of_a_plan_stay_text_and_long_ones_are_cut() -> None:
    def plan() -> Any:
        return trial({HOSTILE: 4}, labels={"fresh": [HOSTILE, "a label of great length"]}, name=HOSTILE)

    said = words_of(plot(plan())).splitlines()
    assert HOSTILE in said
    assert f"Bed {HOSTILE}" in said
    assert "a label of …" in said
    svg = as_svg(plot(plan()), "plan")
    assert "<b>" not in svg
    assert svg == as_svg(plot(plan()), "plan")


def test_a_plan_fits_into_axes_of_ones_own() -> None:
    figure = Figure()
    left, right = figure.subplots(1, 2)
    assert plot(trial({"N": 4}), right) is figure
    assert len(marked(figure, "place")) == 4
    assert not left.patches


def test_every_plant_and_every_step_is_drawn_with_its_kind() -> None:
    found = descent("D0/2016")
    figure = plot(found)
    assert found.n == 3
    assert len(marked(figure, "plant")) == found.n + 1
    assert len(marked(figure, "step")) == found.n
    said = words_of(figure).splitlines()
    assert {"division", "cutting", "seed late", "seed", "still there", "Descent of D0/2016"} <= set(said)
    assert {step.get_color() for step in marked(figure, "step")} == {stroke.colour for stroke in KINDS.values()}
    assert len({str(stroke.line) for stroke in KINDS.values()}) == 3


def test_generations_run_from_left_to_right() -> None:
    (ax,) = plot(descent("D0/2016")).axes
    places = {text.get_text(): text.xy[0] for text in ax.texts if hasattr(text, "xy")}
    assert places["R/2015"] < places["D0/2016"] < places["C/2017"] < places["S/2018"]


def test_plants_that_ended_are_hollow() -> None:
    figure = plot(descent("Q/2015"))
    hollow = [mark for mark in marked(figure, "plant") if mark.get_markerfacecolor() == "none"]
    assert len(hollow) == 1
    assert "ended" in words_of(figure).splitlines()


def test_no_two_plants_stand_in_one_place() -> None:
    found = descent("M/2015")
    figure = plot(found)
    assert found.n == 60
    assert len({(mark.get_xdata()[0], mark.get_ydata()[0]) for mark in marked(figure, "plant")}) == 61


def test_uncertain_seed_has_a_question_mark_and_each_possible_mother_a_line() -> None:
    figure = plot(descent("Y/2022"))
    assert len(marked(figure, "step")) == 2
    said = words_of(figure)
    assert said.splitlines().count("seed mixed?") == 2
    assert "A question mark: not certain" in said


@pytest.mark.parametrize(
    ("plant", "drawn", "left"), [("a/2015", MOST_STEPS, LINE - MOST_STEPS), ("N/2015", MOST_RELATIVES,
                                                                           MANY - MOST_RELATIVES)]
)  # fmt: skip
def test_what_is_too_far_off_to_draw_is_counted(plant: str, drawn: int, left: int) -> None:
    figure = plot(descent(plant))
    assert len(marked(figure, "plant")) == drawn + 1
    assert any(f"{left} relatives further off" in text.get_text() for text in figure.findobj(Text))


def test_a_plant_alone_is_a_sentence() -> None:
    figure = plot(descent("alone/2015"))
    assert figure.axes == []
    assert "Neither a mother nor a division, cutting or sowing" in figure.texts[0].get_text()


def test_names_of_plants_stay_text() -> None:
    assert f"{HOSTILE}/2016" in words_of(plot(descent("Q/2015"))).splitlines()
    svg = as_svg(plot(descent("Q/2015")), "descent")
    assert "<b>" not in svg
    assert svg == as_svg(plot(descent("Q/2015")), "descent")
