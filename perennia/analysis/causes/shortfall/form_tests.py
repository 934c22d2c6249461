"""The forms that failures to set take, each tested beside the others: which are there, and which cannot be told.

A form is what a cause leaves behind in the flowers: losses on one day, a spell of bad opening days, a slow change, good
and bad days, place on the truss, pods on the plant, trusses or plants that differ. Several causes leave the same form.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Literal, get_args

import attrs
import numpy as np
from scipy import special, stats

from perennia.analysis.causes.setting import date_null, date_scan, within_days
from perennia.analysis.causes.setting.courses import (
    Courses,
    courses,
    flower_arrays,
    loss_series,
    opening_series,
    unequal_removal,
)
from perennia.analysis.causes.setting.date_null import DaySeries, date_tests
from perennia.analysis.causes.setting.flowers import FlowerBook
from perennia.analysis.causes.setting.pattern_rows import (
    LONGEST_GAP_DAYS,
    PLANTS_NEEDED,
    TRUSSES_NEEDED,
    UNEQUAL_AT_LEAST,
    trusses_lacking,
)
from perennia.analysis.causes.setting.proportions import fitted_chances
from perennia.analysis.causes.setting.within_days import FlowerArrays
from perennia.analysis.causes.shortfall.day_changes import curved_change, slow_change, uneven_days
from perennia.analysis.permutation import Floats, Integers

Form = Literal[
    "one day", "spell", "slow", "curve", "days", "position", "load", "neighbours", "trusses", "plants", "drift",
    "patches",
]  # fmt: skip
FORMS: tuple[Form, ...] = get_args(Form)

PRESENT = 0.01
"""p of a form from which it is taken as there: several are looked at (own rule, set by simulation)."""
_NATURAL_SD = 0.4
"""Spread between plants of a bed, as sd on the logit scale, that is taken as usual (own rule, no source)."""
_BURSTS = 3
_TRUSSES_OVER = 4
_FEW_OVER = "too few trusses a plant to hold the difference between plants against"
_PARTS = 8
"""Parts of a truss whose shares stand for the effect of place: a curve of the third power misses its bends."""
_PATCH_DAYS = 6
"""Days in a row in which the flowers of one plant are held against those of the others (own rule)."""
_NEAR = 1e-9
_OLDEST = 0.05
"""Share of the losses of a day that may be of older flowers than those it is taken to have hit."""


@attrs.frozen
class FormTest:
    """One form. p: of one at least as marked; None where it cannot be told, for the reason. weight: how much of what
    chance does not bring it takes up, in one measure for the forms between days. change: on the logit scale, or for
    position and load a difference as setting_patterns gives it. on_from, on_to: its days."""

    form: Form
    p: float | None
    weight: float = 0.0
    change: float | None = None
    on_from: date | None = None
    on_to: date | None = None
    reason: str | None = None


@attrs.frozen(eq=False)
class FormTests:
    """Every form of one season's failures, and how many flowers, trusses, plants and opening days they rest on."""

    tests: dict[Form, FormTest]
    n_flowers: int
    n_trusses: int
    n_plants: int
    n_days: int

    def p(self, form: Form) -> float | None:
        return self.tests[form].p

    def there(self, form: Form) -> bool:
        """Whether it stands out."""
        p = self.tests[form].p
        return p is not None and p <= PRESENT


def form_tests(book: FlowerBook, draws: int, seed: int) -> FormTests:
    """The forms of one season's failures to set, those of losses on one day taken off before the others are sought."""
    found = courses(book)
    flowers = flower_arrays(found)
    sizes = (flowers.kept.size, int(np.unique(flowers.truss).size), int(np.unique(flowers.plant).size))
    reason = _too_few(flowers, sizes)
    if reason:
        tests = {form: FormTest(form, None, reason=reason) for form in FORMS}
        return FormTests(tests, *sizes, int(np.unique(flowers.opened).size))
    burst, rest = _one_day(found, draws, seed)
    left = flower_arrays(rest)
    position = _position(left, draws, seed)
    load = _load(rest, left, draws, seed)
    series = _series_beside(rest, left, position, load)
    tests = {one.form: one for one in (
        burst, *_between_days(series, draws, seed), position, load, _neighbours(left, position, draws, seed),
        _trusses(left, draws, seed), _plants(left), _drift(left), _patches(left, draws, seed),
    )}  # fmt: skip
    return FormTests({form: tests[form] for form in FORMS}, *sizes, 0 if series is None else series.days.size)


def _too_few(flowers: FlowerArrays, sizes: tuple[int, int, int]) -> str | None:
    _, trusses, plants = sizes
    if trusses < TRUSSES_NEEDED:
        return trusses_lacking(trusses, TRUSSES_NEEDED)
    if plants < PLANTS_NEEDED:
        return "one plant alone cannot show what all plants share"
    if not 0 < flowers.kept.sum() < flowers.kept.size:
        return "all flowers have one fate"
    return None


def _one_day(found: Courses, draws: int, seed: int) -> tuple[FormTest, Courses]:
    """The burst of losses that stands out most, and the flowers with every burst that stands out set aside."""
    first: FormTest | None = None
    rest = found
    for _ in range(_BURSTS):
        series = loss_series(rest)
        if series is None or series.days.size < date_null.DAYS_NEEDED:
            days = 0 if series is None else series.days.size
            missing = f"it takes {date_null.DAYS_NEEDED} days with losses, and the books have {days}"
            return first or FormTest("one day", None, reason=missing), rest
        spikes = date_scan.spikes(series.days.size, date_null.LEAST)
        test = date_tests(series, [((spikes,), "more")], draws, seed)[0]
        if test is None:
            return first or FormTest("one day", 1.0), rest
        told = FormTest("one day", test.p, test.f, test.change, _date(test.first), _date(test.last))
        first = first or told
        if test.p > PRESENT:
            break
        rest = _without(rest, int(test.first))
    return first or FormTest("one day", 1.0), rest


def _without(found: Courses, day: int) -> Courses:
    """The flowers with all left undecided that opened in the days from which the losses of a day came.

    Not only those lost: of the others of these days the failures are written down and the pods that would have been
    are not.
    """
    lost = found.lost & (found.until == day)
    oldest = float(np.quantile(found.opened[lost], _OLDEST))
    hit = lost | ((found.opened >= oldest) & (found.opened <= day))
    return attrs.evolve(found, kept=np.where(hit, np.nan, found.kept), lost=found.lost & ~hit)


def _position(flowers: FlowerArrays, draws: int, seed: int) -> FormTest:
    test = within_days.position_within_days(flowers, draws, seed)
    if test is None or test.smallest_p > PRESENT:
        return FormTest("position", None, reason="too few flowers of both fates opened on one day of one plant")
    return FormTest("position", test.p, change=test.statistic)


def _load(found: Courses, flowers: FlowerArrays, draws: int, seed: int) -> FormTest:
    """Load by the plant, where picking or thinning was unequal; elsewhere it is one with the date."""
    unequal = unequal_removal(found)
    if unequal is None or unequal < UNEQUAL_AT_LEAST:
        return FormTest("load", None, reason="pods were picked and thinned alike on all plants, so that load rose and "
                        "fell with the date on all of them and cannot be told from it")  # fmt: skip
    test = within_days.plant_load_within_days(flowers, draws, seed)
    if test is None or test.smallest_p > PRESENT:
        return FormTest("load", None, reason="too few flowers of both fates opened on one day")
    return FormTest("load", test.p, change=test.statistic)


def _series_beside(found: Courses, flowers: FlowerArrays, position: FormTest, load: FormTest) -> DaySeries | None:
    """Setting by opening day, with the place on the truss and the load beside it where they matter."""
    series = opening_series(found)
    if series is None or series.days.size < date_null.DAYS_NEEDED:
        return None
    beside = []
    if _small(position):
        series = attrs.evolve(series, offset=_by_position(flowers))
    else:
        beside.append(flowers.rank)
    if _small(load):
        beside += [flowers.plant_load, flowers.plant_load**2]
    columns = [_daily_mean(flowers.opened, one) for one in beside]
    return attrs.evolve(series, beside=np.column_stack(columns) if columns else np.empty((series.days.size, 0)))


def _by_position(flowers: FlowerArrays) -> Floats:
    """What the places on the truss of a day's flowers would have their share be, as a logit."""
    part = np.minimum((flowers.rank * _PARTS).astype(np.int64), _PARTS - 1)
    design = (part[:, None] == np.unique(part)).astype(np.float64)
    chances, _ = fitted_chances(flowers.kept[None, :], np.ones(flowers.kept.size), design)
    return np.asarray(special.logit(_daily_mean(flowers.opened, chances[0])), dtype=np.float64)


def _small(test: FormTest) -> bool:
    return test.p is not None and test.p <= PRESENT


def _daily_mean(days: Integers, values: Floats) -> Floats:
    _, place, of = np.unique(days, return_inverse=True, return_counts=True)
    return np.asarray(np.bincount(place, values) / of, dtype=np.float64)


def _between_days(series: DaySeries | None, draws: int, seed: int) -> Sequence[FormTest]:
    """A spell of opening days, a slow change, and good and bad days beside both."""
    names: tuple[Form, ...] = ("spell", "slow", "curve", "days")
    if series is None:
        why = f"fewer than the {date_null.DAYS_NEEDED} days with flowers that it takes"
        return [FormTest(form, None, reason=why) for form in names]
    n = series.days.size
    gaps = date_scan.gaps(series.days, date_null.LEAST, LONGEST_GAP_DAYS)
    steps = date_scan.steps(n, date_null.LEAST)
    spikes = date_scan.spikes(n, date_null.LEAST)
    test = date_tests(series, [((gaps, steps, spikes), "either")], draws, seed)[0]
    spell = FormTest("spell", 1.0)
    if test is not None:
        spell = FormTest("spell", test.p, test.f, test.change, _date(test.first), _date(test.last))
    rest = series
    if _small(spell) and test is not None:
        inside = (series.days >= test.first) & (series.days <= test.last)
        if test.kind == "step":
            inside = series.days >= test.last
        rest = attrs.evolve(series, beside=np.column_stack([series.beside, inside.astype(np.float64)]))
    slow, days = slow_change(rest, draws, seed), uneven_days(rest, draws, seed)
    return [
        spell, FormTest("slow", slow.p, slow.weight, slow.size), FormTest("curve", curved_change(rest, draws, seed)),
        FormTest("days", days.p, days.weight, days.size),
    ]  # fmt: skip


def _neighbours(flowers: FlowerArrays, position: FormTest, draws: int, seed: int) -> FormTest:
    """Whether neighbours on a truss are alike, or unlike, by more than their day and a fall along it make them."""
    if _small(position):
        return FormTest("neighbours", None, reason="a fall along the truss makes neighbours alike")
    test = within_days.runs_within_days(flowers, draws, seed)
    if test is None or test.smallest_p > PRESENT:
        return FormTest("neighbours", None, reason="too few flowers of both fates opened on one day of one plant")
    return FormTest("neighbours", test.p, change=test.statistic - test.expected)


def _trusses(flowers: FlowerArrays, draws: int, seed: int) -> FormTest:
    """Whether whole trusses of one plant differ among flowers of one day, a curve of position taken off."""
    strata = within_days.plant_days(flowers)
    left = within_days.beside(flowers.kept, flowers.rank, strata)
    p = _uneven_groups(left, strata, np.unique(flowers.truss, return_inverse=True)[1], draws, seed)
    if p is None:
        return FormTest("trusses", None, reason="no two trusses of a plant opened flowers on one day")
    return FormTest("trusses", p)


def _patches(flowers: FlowerArrays, draws: int, seed: int) -> FormTest:
    """Whether some plants fail for some days: the days in a row of one plant that differ most from those of the others,
    beside what its place on the truss, its day and its plant bring a flower."""
    left = within_days.within(within_days.beside(flowers.kept, flowers.rank, flowers.opened), flowers.plant)
    plant, day = np.unique(flowers.plant, return_inverse=True)[1], flowers.opened - flowers.opened.min()
    size = (plant.max() + 1, int(day.max()) + 1)
    shuffled = within_days.shuffles(left, flowers.opened, draws, seed)
    if np.ptp(shuffled, axis=0).max() < _NEAR:
        return FormTest("patches", None, reason="no two plants opened flowers on one day")
    sums = _summed(shuffled, plant * size[1] + day, size[0] * size[1]).reshape(-1, *size)
    of = np.bincount(plant * size[1] + day, minlength=size[0] * size[1]).reshape(size)
    inside, number = (_in_a_row(each, _PATCH_DAYS) for each in (sums, of))
    most = np.abs(inside / np.sqrt(np.maximum(number, 1))).max(axis=(1, 2))
    return FormTest("patches", float((most >= most[0] - _NEAR).sum() / (draws + 1)))


def _in_a_row(by_day: Floats | Integers, days: int) -> Floats:
    """Sums of so many days in a row, over the last axis."""
    total = np.cumsum(np.concatenate([np.zeros((*by_day.shape[:-1], 1)), by_day], axis=-1), axis=-1)
    days = min(days, by_day.shape[-1])
    return np.asarray(total[..., days:] - total[..., :-days], dtype=np.float64)


def _summed(values: Floats, group: Integers, groups: int) -> Floats:
    """Of each row of values the sums by group."""
    order = np.argsort(group, kind="stable")
    of = np.bincount(group, minlength=groups)
    found = np.zeros((values.shape[0], groups))
    there = of > 0
    found[:, there] = np.add.reduceat(values[:, order], (np.cumsum(of) - of)[there], axis=1)
    return found


def _uneven_groups(values: Floats, strata: Integers, group: Integers, draws: int, seed: int) -> float | None:
    """p of the sums of groups, among shuffles within strata; None where no shuffle changes them."""
    of = np.bincount(group)
    squares = (_summed(within_days.shuffles(values, strata, draws, seed), group, of.size) ** 2 / of).sum(1)
    if np.ptp(squares) < _NEAR:
        return None
    return float((squares >= squares[0] - _NEAR).sum() / (draws + 1))


def _plants(flowers: FlowerArrays) -> FormTest:
    """Whether plants differ by more than is usual, trusses being the spread they are held against."""
    of, means, _, place = _truss_means(flowers)
    weight = np.bincount(place, of)
    centre = np.bincount(place, of * means) / weight
    freedom, rest = weight.size - 1, of.size - weight.size
    if rest < _TRUSSES_OVER:
        return FormTest("plants", None, reason=_FEW_OVER)
    inside = max(float((of * (means - centre[place]) ** 2).sum()) / rest, 1e-9)
    between = float((weight * (centre - np.average(means, weights=of)) ** 2).sum())
    share = float(flowers.kept.mean())
    usual = (_NATURAL_SD * share * (1 - share)) ** 2
    size = (weight.sum() - (weight**2).sum() / weight.sum()) / freedom
    p = float(stats.f.sf(between / freedom / (inside + size * usual), freedom, rest))
    return FormTest("plants", p, change=float(np.ptp(centre)))


def _drift(flowers: FlowerArrays) -> FormTest:
    """Whether plants draw apart in the course of the season, as where one of them begins to fail."""
    of, means, days, place = _truss_means(flowers)
    plants = place.max() + 1
    rest = of.size - 2 * plants
    if rest < _TRUSSES_OVER:
        return FormTest("drift", None, reason=_FEW_OVER)
    own = (place[:, None] == np.arange(plants)).astype(np.float64)
    day = (days - np.average(days, weights=of))[:, None]
    together = _squares(means, of, np.column_stack([own, day]))
    apart = _squares(means, of, np.column_stack([own, own * day]))
    f = (together - apart) / (plants - 1) / max(apart / rest, 1e-9)
    return FormTest("drift", float(stats.f.sf(f, plants - 1, rest)))


def _truss_means(flowers: FlowerArrays) -> tuple[Floats, Floats, Floats, Integers]:
    """For each truss its flowers, their mean beside others of their days, their mean day, and the number of its
    plant."""
    left = within_days.beside(flowers.kept, flowers.rank, flowers.opened)
    _, first, number = np.unique(flowers.truss, return_index=True, return_inverse=True)
    of = np.bincount(number).astype(np.float64)
    place = np.unique(flowers.plant[first], return_inverse=True)[1]
    return of, np.bincount(number, left) / of, np.bincount(number, flowers.opened) / of, place


def _squares(values: Floats, weights: Floats, design: Floats) -> float:
    """The weighted sum of squares that a design leaves."""
    root = np.sqrt(weights)
    weighted = root[:, None] * design
    left = root * values - weighted @ np.linalg.lstsq(weighted, root * values, rcond=None)[0]
    return float(left @ left)


def _date(day: float) -> date:
    return date.fromordinal(int(day))
