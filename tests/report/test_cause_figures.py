"""Figures of flowers, water, warmth and frost: what is marked is what is recorded, and what is lacking is said."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import attrs
import numpy as np
import pandas as pd
import pytest
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.text import Text

from perennia.analysis import PodSet
from perennia.analysis.causes.setting.patterns import patterns_of
from perennia.errors import ArgumentError
from perennia.report import as_svg, plot
from perennia.report.days import number_of, runs_of
from perennia.report.truss_bars import MOST_TRUSSES
from perennia.report.truss_map import ENDS, MOST_PLANTS, end_of
from tests.analysis.built_source import day
from tests.report.contrast import lost_marks
from tests.report.drawn_results import (
    BEAN,
    HOSTILE,
    RHUBARB,
    count,
    degree_days,
    flower,
    flowers,
    frost_dates,
    marked,
    pods,
    water_balance,
    words_of,
)


def hatched_days(ax: Axes) -> float:
    """The width of all that is shaded in these axes, in days."""
    shaded = (patch for patch in ax.patches if patch.get_hatch())
    outlines = (patch.get_patch_transform().transform_path(patch.get_path()) for patch in shaded)
    return sum(float(outline.get_extents().width) for outline in outlines)


def marks(figure: Figure) -> list[tuple[float, float, str]]:
    """Day, place and marker of each flower."""
    return [
        (float(x), float(y), line.get_marker())
        for line in marked(figure, "flowers")
        for x, y in zip(line.get_xdata(), line.get_ydata(), strict=True)
    ]


def shown(figure: Figure) -> list[Axes]:
    return [ax for ax in figure.findobj(Axes) if ax.get_visible()]


@pytest.mark.parametrize(("plants", "trusses", "positions"), [(1, 1, 1), (1, 3, 9), (7, 2, 4), (60, 1, 1)])
def test_every_flower_has_one_mark(plants: int, trusses: int, positions: int) -> None:
    figure = plot(pods(*flowers(plants, trusses, positions)))
    assert len(marks(figure)) == plants * trusses * positions
    assert len(shown(figure)) == plants
    if plants < 10:
        figure.draw_without_rendering()


def test_a_mark_stands_at_its_day_and_place_and_says_its_end() -> None:
    figure = plot(pods(flower("A", "t", 1, 60, "picked"), flower("A", "t", 4, 63, "flower dropped")))
    assert sorted(marks(figure)) == [(number_of(day(60)), 1.0, ENDS["picked"].marker),
                                     (number_of(day(63)), 4.0, ENDS["flower dropped"].marker)]  # fmt: skip
    said = words_of(figure)
    assert {"picked (1)", "flower dropped (1)"} <= set(said.splitlines())
    assert "damaged" not in said


def test_the_key_counts_what_is_drawn_and_no_two_ends_look_alike() -> None:
    result = pods(*flowers(5, 2, 6))
    ends = [end_of(one) for book in result.books.books for one in book.flowers]
    said = words_of(plot(result)).splitlines()
    assert all(f"{end} ({ends.count(end)})" in said for end in set(ends))
    assert len({(mark.marker, mark.filled) for mark in ENDS.values()}) == len(ENDS)


def test_flowers_of_one_day_and_place_on_two_trusses_do_not_hide_each_other() -> None:
    figure = plot(pods(flower("A", "a", 1, 60, "picked"), flower("A", "b", 1, 60, "picked")))
    assert len({on for on, *_ in marks(figure)}) == 2


def test_flowers_without_a_day_are_drawn_apart_and_counted() -> None:
    figure = plot(pods(flower("A", "t", 1, 60, "picked"), flower("A", "t", 2, None, "flower dropped")))
    places = sorted(on for on, *_ in marks(figure))
    assert places[0] < number_of(day(60)) - 1
    assert "1 flower whose day of opening is not recorded" in words_of(figure)
    alone = plot(pods(flower("A", "t", 2, None, "flower dropped")))
    assert len(marks(alone)) == 1


def test_more_plants_than_can_be_seen_are_said() -> None:
    figure = plot(pods(*flowers(MOST_PLANTS + 2, 1, 1)))
    assert len(marks(figure)) == MOST_PLANTS
    said = [text.get_text() for text in figure.findobj(Text)]
    assert any(f"{MOST_PLANTS} of {MOST_PLANTS + 2} plants are drawn" in text for text in said)


def test_counted_trusses_have_a_bar_a_number_and_say_what_was_not_counted() -> None:
    figure = plot(pods(count("A", "t", 70, opened=12, set=5, dropped=0, full_size=2), count("B", "t", 70, opened=9)))
    widths = [patch.get_width() for patch in marked(figure, "bar")]
    assert widths == [12, 5, 2, 0, 9]
    said = words_of(figure)
    assert all(text in said for text in ("A/2023\ntruss t, 2023-07-10", "set not counted", "dropped not counted",
                                         "full size not counted", "flowers and pods"))  # fmt: skip


@pytest.mark.parametrize("trusses", [1, 21, 60])
def test_many_counted_trusses_each_have_their_row(trusses: int) -> None:
    figure = plot(pods(*[count(f"P{n:02}", "t", 70, opened=3) for n in range(trusses)]))
    names = [label.get_text() for ax in shown(figure) for label in ax.get_yticklabels()]
    assert len(names) == trusses
    if trusses < 60:
        figure.draw_without_rendering()
    assert len(set(names)) == trusses


def test_a_sheet_has_so_many_counted_trusses_in_all() -> None:
    several = (BEAN, RHUBARB)
    figure = plot(pods(*[count(f"{crop[0]}{n:02}", "t", 70, opened=3, crop=crop) for crop in several
                         for n in range(MOST_TRUSSES - 20)]))  # fmt: skip
    assert sum(len(ax.get_yticklabels()) for ax in shown(figure)) == MOST_TRUSSES
    assert words_of(figure).count(f"{MOST_TRUSSES // 2} of {MOST_TRUSSES - 20} trusses are drawn") == 2


def test_days_say_which_parts_were_not_given() -> None:
    figure = plot(pods(*flowers(3)), kind="dates")
    said = words_of(figure)
    assert len(shown(figure)) == 2
    assert "Water stress: not given" in said
    assert "Night temperature: not given" in said
    assert "Ks" not in said


def test_days_stand_over_the_water_and_the_nights_of_the_same_days() -> None:
    water = water_balance("dry")
    figure = plot(pods(*flowers(3)), kind="dates", water=water, warmth=degree_days("dry"))
    axes = shown(figure)
    assert len(axes) == 4
    assert len({ax.get_xlim() for ax in axes}) == 1
    first, last = (edge + half for edge, half in zip(axes[0].get_xlim(), (0.5, -0.5), strict=True))
    stressed = water.table[(water.table["ks"] < 1).fillna(False)]
    within = [on for on in stressed["on"] if first <= number_of(on) <= last]
    assert within
    assert hatched_days(axes[0]) == len(within)
    said = words_of(figure)
    assert "lowest of the\nday, °C" in said
    assert "not given" not in said


def test_no_line_leads_over_days_that_are_not_known_and_they_are_counted() -> None:
    water, warmth = water_balance("gaps"), degree_days("gaps")
    # the water of one day more is not known, so that the day before it stands alone after it
    unknown = water.table.assign(ks=water.table["ks"].mask(water.table["on"].eq(pd.Timestamp("2023-05-28"))))
    unknown["ks"] = unknown["ks"].mask(water.table["on"].eq(pd.Timestamp("2023-05-26")))
    opened = [flower("A", "t1", place, 20 + 3 * place, "picked") for place in range(1, 8)]
    figure = plot(pods(*opened), kind="dates", water=attrs.evolve(water, table=unknown), warmth=warmth)
    first, last = shown(figure)[0].get_xlim()
    for gid, name, table in (("stress", "ks", unknown), ("nights", "t_min_c", warmth.table)):
        (line,) = marked(figure, gid)
        known = {number_of(row.on): value for row, value in zip(table.itertuples(), table[name], strict=True)
                 if not pd.isna(value) and first <= number_of(row.on) <= last}  # fmt: skip
        x, y = (np.asarray(values, dtype=float) for values in line.get_data())
        assert {day: value for day, value in zip(x, y, strict=True) if not np.isnan(day)} == known
        assert np.nanmax(np.diff(x)) == 1
        assert np.isnan(x).any()
        said = "Not known" if name == "ks" else "Not recorded"
        assert f"{said} on {int(last - first) - len(known)} days." in words_of(figure)


def test_days_say_what_is_not_recorded() -> None:
    figure = plot(pods(*flowers(2)), kind="dates", water=water_balance("brief"), warmth=degree_days("brief"))
    said = words_of(figure)
    assert "Water stress of brief bed: not known on any of these days." in said
    assert "Night temperature of site brief: not recorded on any of these days." in said
    counts_only = words_of(plot(pods(count("A", "t", 70, opened=3)), kind="dates"))
    assert "trusses that were only counted show no day" in " ".join(counts_only.split())


def test_shares_are_those_of_the_table() -> None:
    result = pods(*flowers(6))
    (dots,) = marked(plot(result, kind="dates"), "shares")
    told = result.by_opening_day.dropna(subset=["set_share"])
    assert dots.get_offsets().data[:, 1].tolist() == pytest.approx(told["set_share"].tolist())


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ({"kind": "days"}, "kind is 'days'; choose one of trusses, dates"),
        ({"kind": "dates", "water": 3}, "water is int; give what water_balance"),
        ({"kind": "dates", "warmth": 3}, "warmth is int; give what degree_days"),
        ({"season": 2023}, "no option season; it knows kind, water, warmth"),
    ],
)
def test_refused_in_words(given: dict[str, Any], said: str) -> None:
    with pytest.raises(ArgumentError, match=said):
        plot(pods(*flowers(1)), **given)
    with pytest.raises(ArgumentError, match="ask for kind='dates'"):
        plot(pods(*flowers(1)), warmth=degree_days("one day"))


def test_patterns_have_a_dot_where_they_can_be_told_and_a_reason_where_not() -> None:
    result = patterns_of(pods(*flowers(12, 3, 12)).books, "set", 199)
    figure = plot(result)
    told = result.table[result.table["p"].notna()]
    assert 0 < len(told) < len(result.table)
    assert [dot.get_xdata()[0] for dot in marked(figure, "adjusted")] == told["p_adjusted"].tolist()
    said = " ".join(words_of(figure).split())
    for row in result.table.to_dict("records"):
        assert (f"p {row['p']:.3g}" if pd.notna(row["p"]) else f"Cannot be told: {row['reason']}") in said
    assert "p (log scale)" in said


def test_patterns_none_of_which_can_be_told_are_words_alone() -> None:
    result = patterns_of(pods(*flowers(1, 1, 2)).books, "set", 99)
    figure = plot(result)
    assert shown(figure) == []
    assert "gap and resumption: cannot be told" in " ".join(words_of(figure).split())


@pytest.mark.parametrize("field", ["one day", "dry", "watered"])
def test_water_is_drawn_in_mm_with_its_days_of_stress(field: str) -> None:
    result = water_balance(field)
    figure = plot(result)
    assert hatched_days(shown(figure)[0]) == result.stress_days
    figure.draw_without_rendering()
    said = words_of(figure)
    assert "lacking in the root zone, mm" in said
    assert "mm a day" in said
    assert f"TAW, all that plants\ncan draw: {result.taw_mm:.0f} mm" in said


def test_water_that_is_not_known_is_a_gap_in_the_line_and_said() -> None:
    result = water_balance("gaps")
    figure = plot(result)
    assert result.missing > 0
    said = words_of(figure)
    assert "not known" in said
    assert f"On {result.missing} days the balance is not known." in said
    assert "No bar: 2 days without a record of rain." in said
    lines = [line for line in shown(figure)[0].lines if len(line.get_xdata()) == 60]
    assert max(int(pd.isna(line.get_ydata()).sum()) for line in lines) == result.missing


def test_the_depletion_drawn_is_that_of_the_table() -> None:
    result = water_balance("watered")
    drawn = [list(map(float, line.get_ydata())) for line in shown(plot(result))[0].lines]
    assert result.table["depletion_mm"].tolist() in drawn


def test_warmth_is_summed_up_to_the_first_day_that_lacks_a_temperature() -> None:
    result = degree_days("gaps")
    total, daily = shown(plot(result))
    line = next(line for line in total.lines if len(line.get_xdata()) == 60)
    assert int(pd.notna(line.get_ydata()).sum()) == 30
    marks = next(line for line in daily.lines if line.get_marker() == "x")
    assert len(marks.get_xdata()) == 2
    said = words_of(plot(result))
    assert "×: 2 days without a temperature they need. The sum ends" in " ".join(said.split())
    assert "degree-days °C,\nsum" in said


def test_frosts_have_a_mark_a_year_hollow_where_the_year_does_not_count() -> None:
    result = frost_dates("few years")
    figure = plot(result)
    marks = marked(figure, "year")
    assert len(marks) == int(result.years["frost_on"].notna().sum())
    hollow = [mark for mark in marks if mark.get_markerfacecolor() == "none"]
    assert len(hollow) == int((result.years["frost_on"].notna() & ~result.years["counted"]).sum()) > 0
    assert "too few years for a day by share of years" in words_of(figure)


@pytest.mark.parametrize("winters", ["north", "south"])
def test_frost_days_are_named_and_the_day_to_plant_out(winters: str) -> None:
    result = frost_dates(winters, risk=0.2)
    figure = plot(result)
    said = words_of(figure)
    months = {"01": "Jan", "02": "Feb", "03": "Mar", "04": "Apr", "05": "May", "06": "Jun", "07": "Jul", "08": "Aug",
              "09": "Sep", "10": "Oct", "11": "Nov", "12": "Dec"}  # fmt: skip
    assert result.plant_out_from is not None
    month, number = result.plant_out_from.split("-")
    assert f"plant out from {int(number)} {months[month]}:\nfrost later in 20% of years" in said
    # spring and autumn look at other shares where the risk is not the usual
    assert {"10%", "20%", "50%", "80%", "90%"} <= set(said.splitlines())
    assert ("year it begins in" in said) is (winters == "south")


def test_a_place_without_frost_says_so() -> None:
    said = words_of(plot(frost_dates("no frost")))
    assert said.count("none") == 4
    assert "No such frost is on record." in said


def test_nothing_on_record_is_a_sentence() -> None:
    for result in (pods(), patterns_of(pods().books)):
        assert [text.get_text() for text in plot(result).texts] == ["No flowering is on record for what was asked."]
    assert "known on none of these days" in words_of(plot(attrs.evolve(water_balance("brief"), n=0)))
    assert "nothing can be summed" in words_of(plot(attrs.evolve(degree_days("brief"), n=0)))


@pytest.mark.parametrize("kind", ["trusses", "dates"])
def test_labels_stay_text_and_the_same_figure_is_the_same_svg(kind: str) -> None:
    def result() -> PodSet:
        return pods(*flowers(2, 1, 3), flower(HOSTILE, HOSTILE, 1, 60, "picked"), count(HOSTILE, "c", 66, opened=2))

    if kind == "trusses":
        assert HOSTILE in words_of(plot(result())).splitlines()
    svg = as_svg(plot(result(), kind=kind), "flowers")
    assert "<b>" not in svg
    assert svg == as_svg(plot(result(), kind=kind), "flowers")


@pytest.mark.parametrize(("result", "kind"), [
    (lambda: pods(*flowers(2, 1, 8)), "trusses"), (lambda: pods(*flowers(3)), "dates"),
    (lambda: pods(count("A", "t", 66, opened=9, set=5, dropped=2, full_size=1)), "trusses"),
    (lambda: patterns_of(pods(*flowers(6, 2, 8)).books), None), (lambda: water_balance("dry"), None),
    (lambda: water_balance("watered"), None), (lambda: degree_days("dry"), None), (lambda: frost_dates("north"), None),
])  # fmt: skip
def test_every_mark_stands_out_from_light_paper_and_from_dark(result: Callable[[], Any], kind: str | None) -> None:
    assert lost_marks(plot(result()) if kind is None else plot(result(), kind=kind)) == []


def test_runs_of_days_are_joined() -> None:
    assert runs_of([]) == []
    assert runs_of([1, 2, 3, 5]) == [(0.5, 3.5), (4.5, 5.5)]


def test_a_short_axis_names_each_day_once() -> None:
    figure = plot(water_balance("brief"))
    figure.draw_without_rendering()
    names = [label.get_text() for label in shown(figure)[-1].get_xticklabels()]
    assert names == ["1 May\n2023", "2 May", "3 May"]
