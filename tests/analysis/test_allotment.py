"""Whether the units of a comparison stand where a lot put them."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest

from perennia.analysis.decisions.comparing.stock import compare_stock
from perennia.analysis.decisions.trials.allotment import TRIAL_ARMS, Allotment, allotted_by_lot, mismatches
from perennia.analysis.exact import exact_two_sample
from perennia.analysis.layout import FACTORS, level_of
from perennia.analysis.measures import MEASURES
from perennia.analysis.units import Unit, rows_of, units_of
from perennia.records.base import Record
from perennia.records.care import Allotted
from perennia.records.life import Mulched, Regrew
from tests.analysis.built_source import OVER, picked, source_of, sown
from tests.analysis.seasons_frame import FrameSource, arms, frame, overwintered, row

ARMS = ("overwintered", "fresh")
CROPS = ([900.0, 1200.0, 1500.0, 700.0], [500.0, 650.0, 400.0, 710.0])


def units_in(rows: list[dict[str, Any]]) -> list[Unit]:
    return units_of(rows_of(frame(rows)), MEASURES["total_g"])


def sides_of(rows: list[dict[str, Any]]) -> tuple[list[Unit], list[Unit]]:
    units = units_in(rows)
    return [unit for unit in units if unit.stock == ARMS[0]], [unit for unit in units if unit.stock == ARMS[1]]


def allotted(rows: list[dict[str, Any]], **given: Any) -> list[dict[str, Any]]:
    """As trial_arms would have it: every plant by lot in the arm of its stock, two blocks."""
    return [
        {"plant": entry["plant"], "label": entry["label"], "trial": "stock", "arm": entry["stock"], "by_lot": True,
         "block": "1" if int(entry["label"][1:]) < 2 else "2", "season": 2022, "on_to": "2022-05-01"} | given
        for entry in rows
    ]  # fmt: skip


def by_bed(unit: Unit) -> tuple[str, ...]:
    """The strata of a comparison."""
    return (str(unit.season), *(level_of(unit, factor, frozenset()) for factor in FACTORS))


def asked(rows: list[dict[str, Any]], told: list[dict[str, Any]], **given: Any) -> Allotment:
    return allotted_by_lot(told, *sides_of(rows), ARMS, **given)


def test_plants_that_were_allotted_anew_are_no_longer_where_the_lot_put_them() -> None:
    rows = arms(*CROPS)
    told = [entry | {"changed": entry["plant"] == rows[0]["plant"]} for entry in allotted(rows)]
    found = asked(rows, told)
    assert (found.trial, found.wording) == (None, None)
    assert found.why_not == "of 8 units tested 1 is allotted anew, to another arm or block (O0)"


def test_plants_that_all_stand_where_the_lot_put_them() -> None:
    rows = arms(*CROPS)
    found = asked(rows, allotted(rows))
    assert found.wording == "as randomised in trial stock (2 blocks)"
    assert (found.trial, found.blocks, found.why_not, found.cautions) == ("stock", 2, None, ())
    assert found.block_of == {entry["label"]: "1" if int(entry["label"][1:]) < 2 else "2" for entry in rows}


def test_a_comparison_of_what_was_drawn_by_lot_says_so_and_stays_within_blocks() -> None:
    rows = arms(*CROPS)
    told = [entry | {"on_from": None} for entry in allotted(rows)]
    result = compare_stock(FrameSource(rows, told))
    found = result.table.iloc[0]
    within = exact_two_sample([(CROPS[0][:2], CROPS[1][:2]), (CROPS[0][2:], CROPS[1][2:])])
    assert (found["strata"], found["p"], found["smallest_p"]) == (2, pytest.approx(within.p), within.smallest_p)
    assert "as randomised in trial stock (2 blocks)" in result.findings[0] + result.method
    assert "as if randomised" not in result.findings[0]
    assert not any("not drawn by lot" in caution for caution in result.cautions)
    chosen = compare_stock(FrameSource(rows, [entry | {"by_lot": False} for entry in told]))
    assert chosen.table.iloc[0]["strata"] == 1
    assert "as if randomised" in chosen.findings[0]
    assert any("chosen, not drawn by lot" in caution for caution in chosen.cautions)


def test_a_plant_that_is_not_tested_does_not_make_a_lot_less_of_one() -> None:
    rows = arms(*CROPS)
    told = [entry | {"on_from": None} for entry in allotted(rows)]
    elsewhere = row("Z1", total_g=500.0, bed="B9")
    result = compare_stock(FrameSource([*rows, elsewhere], told))
    assert "as randomised in trial stock (2 blocks)" in result.findings[0]
    beside = row("Z1", total_g=500.0)
    assert "as if randomised" in compare_stock(FrameSource([*rows, beside], told)).findings[0]


def test_a_lot_drawn_after_the_picking_had_begun_is_none() -> None:
    rows = [entry | {"first_pick": date(2022, 7, 1)} for entry in arms(*CROPS)]
    assert asked(rows, allotted(rows)).wording is not None
    late = asked(rows, allotted(rows, on_to="2022-12-20"))
    assert late.wording is None
    assert "only after the picking had begun" in str(late.why_not)


def test_blocks_must_be_the_strata_or_finer_than_they_are() -> None:
    rows = arms(*CROPS)
    found = asked(rows, allotted(rows), strata=by_bed)
    assert found.wording is None
    assert found.why_not == "units of 2 blocks are exchanged with one another"
    assert asked(rows, allotted(rows, block=None), strata=by_bed).wording == "as randomised in trial stock (1 block)"
    for entry in rows:
        entry["bed"] = "B1" if int(entry["label"][1:]) < 2 else "B2"
    assert asked(rows, allotted(rows), strata=by_bed).wording == "as randomised in trial stock (2 blocks)"


@pytest.mark.parametrize(
    ("change", "why"),
    [
        ({"by_lot": False}, "of 8 units tested 1 is chosen, not drawn by lot (O0)"),
        ({"arm": "fresh"}, "of 8 units tested 1 is of another stock than the arm drawn for (O0)"),
        ({"season": 2023}, "of 8 units tested 1 is allotted only after the season that is compared (O0)"),
        ({"trial": "cover"}, "of 8 units tested 1 is not in it (O0)"),
    ],
)
def test_one_plant_out_of_line_and_it_is_as_if_randomised(change: dict[str, Any], why: str) -> None:
    rows = arms(*CROPS)
    told = allotted(rows)
    told[0] |= change
    told.sort(key=lambda entry: str(entry["trial"]), reverse=True)
    found = asked(rows, told)
    assert (found.wording, found.trial, found.block_of) == (None, None, {})
    # of two trials that hold some of them, the later one is told of; of one day the first by name
    assert found.why_not in (why, "of 8 units tested 7 are not in it (F0, F1, F2, F3, O1 and 2 more)")
    assert found.cautions[0].startswith("Trial ")
    assert found.why_not in found.cautions[0]


def test_plants_picked_together_were_not_drawn_together() -> None:
    rows = arms(*CROPS)
    for entry in rows[:2]:
        entry |= {"unit": "O0", "sharing": 2}
    found = asked(rows, allotted(rows))
    assert found.why_not == "of 7 units tested 1 is several plants at once, which were not drawn together (O0)"


def test_no_trial_says_nothing_and_a_trial_of_other_plants_neither() -> None:
    rows = arms(*CROPS)
    assert asked(rows, []) == Allotment(None, 0, {}, None, None, ())
    others = [entry | {"plant": f"X{at}/2022"} for at, entry in enumerate(allotted(rows))]
    assert asked(rows, others) == Allotment(None, 0, {}, None, None, ())


def test_plants_lost_since_the_lot_are_told() -> None:
    rows = arms(*CROPS)
    found = asked(rows[1:], allotted(rows))
    assert found.wording == "as randomised in trial stock (2 blocks)"
    assert found.cautions == (
        "Of 8 plants drawn in trial stock, 1 are not among those tested (O0); the lot does not speak for what took "
        "them out.",
    )


def test_of_two_trials_that_hold_all_plants_the_later_lot_counts() -> None:
    rows = arms(*CROPS)
    older = allotted(rows, trial="a", on_to="2022-04-01", block=None)
    assert asked(rows, older + allotted(rows)).trial == "stock"
    assert asked(rows, older + allotted(rows, trial="z", on_to="2022-03-01")).trial == "a"


def test_a_plant_of_one_arm_on_record_as_the_other_stock_is_told() -> None:
    rows = arms(*CROPS)
    told = allotted(rows)
    told[0]["arm"] = "fresh"
    assert mismatches(told, units_in(rows)) == (
        "O0 was allotted to the arm fresh of trial stock, but is on record as overwintered stock in 2022; correct the "
        "one or the other.",
    )
    assert mismatches(allotted(rows), units_in(rows)) == ()
    # of the seasons before it was allotted an arm says nothing
    assert mismatches([entry | {"season": 2023} for entry in told], units_in(rows)) == ()


def test_a_seedling_that_is_an_old_root_the_year_after_is_no_slip() -> None:
    rows = arms(*CROPS)
    later = [overwintered(entry["label"], 2023, total_g=800.0, plant=entry["plant"]) for entry in rows]
    assert mismatches(allotted(rows), units_in(rows + later)) == ()
    assert mismatches(allotted(rows, season=2024), units_in(rows + later)) == ()
    found = allotted_by_lot(allotted(rows), units_in(later), units_in([row("N1", 2023, total_g=300.0)]), ARMS)
    assert found.wording is None


def test_arms_that_are_no_kinds_of_stock_are_not_held_against_it() -> None:
    rows = arms(*CROPS)
    assert mismatches(allotted(rows, arm="mulched"), units_in(rows)) == ()


def test_the_rows_of_a_garden_are_what_is_asked_for() -> None:
    records: list[Record] = []
    for number in range(8):
        records += [
            sown(f"P{number}", on=date(2022 if number < 4 else 2023, 5, 1)), picked(f"P{number}", 90, 300.0 + number),
        ]  # fmt: skip
    lot = [
        Allotted(tuple(f"P{number}" for number in range(first, first + 4)), "2023-05-03", trial="stock", arm=arm,
                 by_lot=True, block="1")
        for first, arm in ((0, "overwintered"), (4, "fresh"))
    ]  # fmt: skip
    wintered = [Mulched(f"P{number}", "2022-11-20") for number in range(4)]
    regrown = [Regrew(f"P{number}", "2023-04-20") for number in range(4)]
    with source_of(*records, *lot, *wintered, *regrown, OVER) as source:
        rows = rows_of(source.sql(TRIAL_ARMS))
        units = units_of(rows_of(source.sql("select * from season_summary where season = 2023")), MEASURES["total_g"])
    sides = [[unit for unit in units if unit.stock == arm] for arm in ARMS]
    assert [len(side) for side in sides] == [4, 4]
    found = allotted_by_lot(rows, *sides, ARMS, strata=by_bed)
    assert found.wording == "as randomised in trial stock (1 block)"
    assert mismatches(rows, units) == ()
