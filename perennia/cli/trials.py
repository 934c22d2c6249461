"""Planning a trial from the terminal: plants an arm, which place gets which, and the plan on paper and on record."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import click

from perennia.analysis.decisions.trials.power import RESIDUALS
from perennia.analysis.decisions.trials.trial import TrialPlan, plan_trial
from perennia.analysis.measures import MEASURES
from perennia.cli.group import formats, garden_argument, main
from perennia.cli.showing import console, say, working, written
from perennia.errors import RefusedError
from perennia.garden import Garden, Receipt
from perennia.intake.new_file import new_path, write_new


def _beds(_: click.Context, __: click.Parameter, values: Sequence[str]) -> dict[str, int]:
    """Beds with their places, from NAME:PLACES."""
    found: dict[str, int] = {}
    for value in values:
        bed, colon, places = value.rpartition(":")
        if not colon or not bed or not places.strip().isdecimal():
            raise click.BadParameter(f"{value!r} is no bed with its places; write NAME:PLACES, such as north:8")
        if bed.strip() in found:
            raise click.BadParameter(f"bed {bed.strip()} is given twice; give all its places at once")
        found[bed.strip()] = int(places)
    return found


def _labels(_: click.Context, __: click.Parameter, values: Sequence[str]) -> dict[str, list[str]]:
    """Labels by arm, from ARM:LABEL,LABEL."""
    found: dict[str, list[str]] = {}
    for value in values:
        arm, colon, labels = value.partition(":")
        if not colon or not arm.strip() or not labels.strip():
            raise click.BadParameter(f"{value!r} are no labels of an arm; write ARM:LABEL,LABEL, such as fresh:F1,F2")
        found.setdefault(arm.strip(), []).extend(label.strip() for label in labels.split(","))
    return found


def _allocation(_: click.Context, __: click.Parameter, value: str) -> tuple[int, int]:
    """The arms' proportion, from 1:2."""
    first, colon, second = value.partition(":")
    if not colon or not first.isdecimal() or not second.isdecimal():
        raise click.BadParameter(f"{value!r} is no proportion; write 1:1, or 1:2 for two of the second to each first")
    return int(first), int(second)


@main.command("plan-trial")
@garden_argument
@click.option("--crop", required=True, help="The crop, by botanical name.")
@click.option("--bed", "beds", multiple=True, required=True, callback=_beds, metavar="NAME:PLACES",
              help="A bed that takes part, with its places; repeat it.")  # fmt: skip
@click.option("--seed", type=int, required=True, help="Seed of the lot; the same one draws the same plan.")
@click.option("--arm", "arms", multiple=True, default=("overwintered", "fresh"), show_default=True,
              help="An arm; give two.")  # fmt: skip
@click.option("--measure", type=click.Choice(list(MEASURES)), help="The crop's own unless given.")
@click.option("--difference", type=float, help="Smallest difference that matters, in the measure's unit or in days.")
@click.option("--ratio", type=float, help="Smallest ratio of the arms' means that matters, such as 1.3.")
@click.option("--power", type=float, default=0.8, show_default=True, help="Wanted chance to find it.")
@click.option("--level", type=float, default=0.95, show_default=True, help="The test is two-sided at 1 less this.")
@click.option("--spread", type=float, help="Standard deviation between plants of one arm and bed; else as on record.")
@click.option("--mean", type=float, help="Mean of the second arm; else as on record.")
@click.option("--residuals", type=click.Choice(list(RESIDUALS)), default="normal", show_default=True,
              help="How plants differ.")  # fmt: skip
@click.option("--statistic", type=click.Choice(["ranks", "values"]), default="ranks", show_default=True,
              help="What the comparison will rest on.")  # fmt: skip
@click.option("--allocation", default="1:1", show_default=True, callback=_allocation, metavar="A:B",
              help="Plants of the arms in proportion.")  # fmt: skip
@click.option("--block-size", type=int, help="Places a block; unless given each bed is one block.")
@click.option("--units", type=int, help="Plants of the first arm to lay out, whatever the power.")
@click.option("--labels", multiple=True, callback=_labels, metavar="ARM:LABEL,LABEL",
              help="Labels of an arm, drawn by lot to its places; repeat it.")  # fmt: skip
@click.option("--name", help="The trial's name.")
@click.option("--plan-csv", type=click.Path(path_type=Path), help="Write the places to this new CSV file.")
@click.option("--drawing", type=click.Path(path_type=Path), help="Draw the beds in this new SVG file.")
@click.option("--record", "day", metavar="DAY", help="Record who was allotted where, on that day; needs labels.")
@formats
def plan_trial_(
    garden: Path, plan_csv: Path | None, drawing: Path | None, day: str | None, as_json: bool, as_csv: bool,
    **asked: object,
) -> None:  # fmt: skip
    """Plan a trial of two arms: plants an arm, places drawn by lot in blocks within beds, and what it can show."""
    with Garden.open(garden, read_only=day is None) as source:
        with working("simulating trials"):
            plan = plan_trial(source, **asked)  # type: ignore[arg-type]
        done = _put_down(source, plan, plan_csv, drawing, day)
        if written(plan.table, as_json, as_csv):
            return
        screen = console()
        screen.print(plan.text(), soft_wrap=True)
        screen.print()
        say(plan, screen)
        for line in done:
            screen.print(line)


def _recorded(source: Garden, plan: TrialPlan, day: str) -> Receipt:
    """Keep who was allotted where. A trial is often planned before its seed is sown."""
    try:
        return source.record(*plan.records(day))
    except RefusedError as error:
        if {problem.rule for problem in error.problems} != {"L1"}:
            raise
        # what is recorded by then moves the spread, and with it how many plants a plan needs and who gets which place
        units = sum(place.arm == plan.arms[0] for place in plan.places)
        raise click.ClickException(
            f"nothing was recorded: {len(error.problems)} of the plants had not begun by {day}. Sow or plant them, "
            f"write that down, and give the same command again with --units {units}: seed {plan.seed} draws the same "
            "plan then, whatever else has been recorded"
        ) from error


def _put_down(source: Garden, plan: TrialPlan, table: Path | None, drawing: Path | None, day: str | None) -> list[str]:
    """Write and record what was asked for; what was done, in words. The records come first, for they can be refused."""
    done = []
    if day is not None:
        receipt = _recorded(source, plan, day)
        done.append(f"Recorded: trial {plan.name}, {receipt.stored} records of who was allotted where.")
    if table is not None:
        done.append(f"Written: {plan.to_csv(table)}")
    if drawing is not None:
        path = new_path(drawing, ".svg", "the drawing")
        write_new(path, plan.drawing().encode())
        done.append(f"Written: {path}")
    return done
