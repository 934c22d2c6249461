"""Were the units of a comparison put to their arms by lot? What the allotments on record say of it.

A p may be read as one of a randomised trial only if every unit tested stands in one trial, drawn by lot, in the arm
that the comparison holds it to be in, and is exchanged with units of its own block only (Fisher 1935, The Design of
Experiments, chapters 2 and 4). Anything short of it leaves the p "as if randomised".
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable, Mapping, Sequence

import attrs
import pandas as pd

from perennia.analysis.decisions.trials.trial_layout import Arms
from perennia.analysis.units import STOCKS, Row, Unit
from perennia.checking.words import counted

TRIAL_ARMS = "select * from trial_arms"
"""What to ask a source for the rows that these functions take (through units.rows_of)."""
ONE_BLOCK = "the whole trial"
_NAMED = 5


@attrs.frozen
class Allotment:
    """What is on record of how the units of a comparison came to their arms.

    trial: the trial that all of them stand in by lot, None where there is none. blocks: how many of its blocks they
    are of. block_of: by name of the unit, its block. wording: what stands for "as if randomised", None where that
    stays. why_not: what is in the way where some of the units are of a trial. cautions: sentences, also of what was
    lost since the lot was drawn.
    """

    trial: str | None
    blocks: int
    block_of: Mapping[str, str]
    wording: str | None
    why_not: str | None
    cautions: tuple[str, ...]


def allotted_by_lot(
    rows: Sequence[Row],
    arm: Sequence[Unit],
    against: Sequence[Unit],
    arms: Arms,
    *,
    strata: Callable[[Unit], Hashable] | None = None,
) -> Allotment:
    """Whether all units tested stand in one trial by lot, in arms that agree with the comparison's.

    rows: those of trial_arms, missing values as None. arm, against: the units tested, of arms[0] and arms[1]. strata:
    the stratum within which a unit is exchanged; where it is None the caller exchanges within block_of. Where several
    trials hold all units the one that was drawn last is taken.
    """
    allotted: dict[str, dict[str, Row]] = {}
    for row in rows:
        allotted.setdefault(str(row["trial"]), {})[str(row["plant"])] = row
    sides = [(unit, name) for side, name in ((arm, arms[0]), (against, arms[1])) for unit in side]
    nearest: list[tuple[str, str]] = []
    for trial in sorted(allotted, key=lambda name: _last_day(allotted[name].values()), reverse=True):
        own = allotted[trial]
        if not any(member in own for unit, _ in sides for member in unit.members):
            continue
        blocks = {unit.name: _block(own, unit) for unit, _ in sides}
        why_not = _in_the_way(own, sides, blocks, strata)
        if why_not is None:
            return _by_lot(trial, own, [unit for unit, _ in sides], blocks)
        nearest.append((trial, why_not))
    if not nearest:
        return Allotment(None, 0, {}, None, None, ())
    trial, why_not = nearest[0]
    caution = f"Trial {trial} does not make this comparison a randomised one: {why_not}."
    return Allotment(None, 0, {}, None, why_not, (caution,))


def _by_lot(trial: str, own: Mapping[str, Row], units: Sequence[Unit], blocks: Mapping[str, str]) -> Allotment:
    number = len(set(blocks.values()))
    tested = {member for unit in units for member in unit.members}
    gone = sorted(str(row["label"]) for plant, row in own.items() if plant not in tested)
    cautions: tuple[str, ...] = ()
    if gone:
        cautions = (
            f"Of {counted(len(own), 'plant')} drawn in trial {trial}, {len(gone)} are not among those tested "
            f"({_listed(gone)}); the lot does not speak for what took them out.",
        )
    wording = f"as randomised in trial {trial} ({counted(number, 'block')})"
    return Allotment(trial, number, dict(blocks), wording, None, cautions)


def _in_the_way(
    own: Mapping[str, Row],
    sides: Sequence[tuple[Unit, str]],
    blocks: Mapping[str, str],
    strata: Callable[[Unit], Hashable] | None,
) -> str | None:
    """The first reason for which the units are not as they were drawn, None where there is none."""
    checks: tuple[tuple[str, Callable[[Unit, str], bool]], ...] = (
        ("not in it", lambda unit, _: own.keys() >= unit.members),
        ("several plants at once, which were not drawn together", lambda unit, _: len(unit.members) == 1),
        ("chosen, not drawn by lot", lambda unit, _: _all(own, unit, "by_lot", True)),
        ("allotted anew, to another arm or block",
         lambda unit, _: not any(own[member].get("changed") for member in unit.members)),
        ("allotted only after the season that is compared",
         lambda unit, _: all(int(own[member]["season"]) <= unit.season for member in unit.members)),
        ("allotted only after the picking had begun",
         lambda unit, _: unit.first_pick is None
         or all(pd.Timestamp(own[member]["on_to"]).date() <= unit.first_pick for member in unit.members)),
        ("of another stock than the arm drawn for", lambda unit, name: _all(own, unit, "arm", name)),
    )  # fmt: skip
    # each takes for granted that those before it hold
    for reason, right in checks:
        names = sorted(unit.name for unit, name in sides if not right(unit, name))
        if names:
            verb = "is" if len(names) == 1 else "are"
            return f"of {counted(len(sides), 'unit')} tested {len(names)} {verb} {reason} ({_listed(names)})"
    if strata is None:
        return None
    of_stratum: dict[Hashable, set[str]] = {}
    for unit, _ in sides:
        of_stratum.setdefault(strata(unit), set()).add(blocks[unit.name])
    mixed = max((len(found) for found in of_stratum.values()), default=0)
    return f"units of {mixed} blocks are exchanged with one another" if mixed > 1 else None


def _all(own: Mapping[str, Row], unit: Unit, column: str, wanted: object) -> bool:
    return all(own[member][column] == wanted for member in unit.members)


def _block(own: Mapping[str, Row], unit: Unit) -> str:
    named = sorted({str(own[member]["block"] or ONE_BLOCK) for member in unit.members if member in own})
    return " + ".join(named)


def _last_day(rows: Iterable[Row]) -> str:
    return max(str(row["on_to"]) for row in rows)


def _listed(names: Sequence[str]) -> str:
    return ", ".join(names[:_NAMED]) + (f" and {len(names) - _NAMED} more" if len(names) > _NAMED else "")


def mismatches(rows: Sequence[Row], units: Sequence[Unit]) -> tuple[str, ...]:
    """A sentence for each plant whose stock on record is not the arm it was allotted to, where arms are kinds of stock.

    units: all of a crop. Only seasons are looked at in which, in each of the arms, most of the plants are what they
    were allotted to be: a seedling of one year is an overwintered root of the next, and no slip.
    """
    stock_in: dict[int, dict[str, tuple[str, Unit]]] = {}
    for unit in units:
        if unit.stock is not None:
            stock_in.setdefault(unit.season, {}).update(dict.fromkeys(unit.members, (unit.stock, unit)))
    found: list[str] = []
    for trial in sorted({str(row["trial"]) for row in rows}):
        own = [row for row in rows if row["trial"] == trial and row["arm"] in STOCKS]
        for season in sorted(stock_in):
            seen = [(row, *stock_in[season][str(row["plant"])]) for row in own
                    if str(row["plant"]) in stock_in[season] and int(row["season"]) <= season]  # fmt: skip
            if _is_its_season(seen, {str(row["arm"]) for row in own}):
                found += [
                    f"{row['label']} was allotted to the arm {row['arm']} of trial {trial}, but is on record as "
                    f"{stock} stock in {unit.season_name}; correct the one or the other."
                    for row, stock, unit in seen if stock != row["arm"]
                ]  # fmt: skip
    return tuple(found)


def _is_its_season(seen: Sequence[tuple[Row, str, Unit]], arms: set[str]) -> bool:
    """Whether in each of several arms most plants are of the stock they were allotted to."""
    agreeing = {arm: [stock == arm for row, stock, _ in seen if row["arm"] == arm] for arm in arms}
    return len(arms) > 1 and all(2 * sum(found) > len(found) for found in agreeing.values())
