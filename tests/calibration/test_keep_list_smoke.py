"""Keep lists on gardens of known truth: choice, intervals, plans, and selection that must not be taken for age.

A hundred of each, seeds fixed. By hand, for more of them and with the figures:

    PERENNIA_GARDENS=10000 python -m pytest -s tests/calibration/test_keep_list_smoke.py
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from typing import Any

import attrs
import numpy as np
import pytest

from perennia.analysis.decisions.keeping.keep_cautions import keep_cautions
from perennia.analysis.decisions.keeping.keep_crop import Ask, CropAnswer, crop_answer
from perennia.analysis.decisions.keeping.keep_roots import RootBooks
from perennia.analysis.decisions.keeping.keep_rows import EVEN, YES
from perennia.analysis.decisions.keeping.keep_wording import keep_findings
from perennia.analysis.decisions.surviving.root_winters import DIED, SURVIVED, Winter
from perennia.analysis.measures import MEASURES
from tests.analysis.seasons_frame import row

GARDENS = int(os.environ.get("PERENNIA_GARDENS", "100"))
LAST = 2020
BETWEEN, WITHIN, SEASONS = 150.0, 200.0, 120.0
STORE = "bare root, frost-free"


@attrs.frozen(eq=False)
class Truth:
    """A garden as it is: lasting effects of plants by address, and its rows up to the season of the choice."""

    effects: dict[str, float]
    rows: list[dict[str, Any]]
    random: np.random.Generator
    tails: str

    def season(self) -> float:
        """The part of one more season."""
        return SEASONS * self.random.normal()

    def rest(self, n: int) -> np.ndarray:
        """What single plants are off by in one season."""
        return noise(self.random, n, self.tails)


def noise(random: np.random.Generator, n: int, tails: str) -> np.ndarray:
    """Of standard deviation WITHIN, normal or of Student's t with 5 degrees of freedom."""
    return WITHIN * (random.normal(size=n) if tails == "normal" else random.standard_t(5, n) * np.sqrt(3 / 5))


def gardens(
    n: int, seed: int, *, lengths: tuple[int, ...], plants: int, between: float = BETWEEN, spread: float = SEASONS,
    tails: str = "normal",
) -> Iterator[Truth]:  # fmt: skip
    """Plants with a number of seasons out of lengths, all alive in the last one, every one of them sown here."""
    random = np.random.default_rng(seed)
    for _ in range(n):
        effects, rows = {}, []
        seasons = 1000 + spread * random.normal(size=max(lengths))
        for i in range(plants):
            length = int(random.choice(lengths))
            began = LAST - length + 1
            plant, effect = f"P{i}/{began}", between * random.normal()
            effects[plant] = effect
            crops = seasons[-length:] + effect + noise(random, length, tails)
            rows += life(plant, began, crops)
        yield Truth(effects, rows, random, tails)


def life(plant: str, began: int, crops: np.ndarray) -> list[dict[str, Any]]:
    """A plant's seasons from the year it began."""
    label = plant.partition("/")[0]
    return [
        row(label, began + k, plant=plant, unit=plant, total_g=max(float(crop), 0.0), plant_season=k + 1,
            stock="overwintered" if k else "fresh", kept_root=k > 0, wintering=STORE if k else None)
        for k, crop in enumerate(crops)
    ]  # fmt: skip


def ask(**given: Any) -> Ask:
    usual: dict[str, Any] = {"season": LAST, "target": None, "places": None, "wintering": None, "repeatability": None,
                             "assurance": 0.9, "level": 0.95}  # fmt: skip
    return Ask(**(usual | given))


def answered(rows: list[dict[str, Any]], asked: Ask, of_roots: list[Winter] | None = None) -> CropAnswer:
    """The list before it is put in tables, which is most of its time."""
    books = RootBooks(roots={}, ended={})
    found = crop_answer(rows, "bean", MEASURES["total_g"], asked, books, of_roots or [], [], None)
    assert found is not None
    return found


def raw_mean(answer: CropAnswer) -> dict[str, float]:
    """By plant, in order of rank."""
    return {one.plant: float(np.mean(one.history.values)) for one in answer.every if one.history is not None}


def gain(truth: Truth, best: int = 8) -> tuple[float, float] | None:
    """Mean true effect of the plants the list puts first, and of those with the highest raw means; None unranked."""
    answer = answered(truth.rows, ask())
    if answer.outlook.basis == "none":
        return None
    means = raw_mean(answer)
    by_list = list(means)[:best]
    by_mean = sorted(means, key=lambda plant: -means[plant])[:best]
    of_list, of_means = (float(np.mean([truth.effects[plant] for plant in chosen])) for chosen in (by_list, by_mean))
    return of_list, of_means


def lead_where_unequal(n: int) -> tuple[float, float]:
    """Mean lead of the list over raw means where plants have 1 to 6 seasons that differ, with its standard error."""
    found = [gain(truth) for truth in gardens(n, 1, lengths=(1, 2, 3, 4, 5, 6), plants=40, spread=200.0)]
    lead = [of_list - of_means for of_list, of_means in (pair for pair in found if pair is not None)]
    assert len(lead) > 0.9 * n
    return float(np.mean(lead)), float(np.std(lead, ddof=1) / np.sqrt(len(lead)))


def same_order_where_equal(n: int) -> list[bool]:
    """Whether ranks go exactly as raw means do, where every plant has the same 3 seasons and plants are told apart."""
    found = []
    for truth in gardens(n, 2, lengths=(3,), plants=15):
        answer = answered(truth.rows, ask())
        if answer.outlook.basis == "records":
            means = list(raw_mean(answer).values())
            found.append(means == sorted(means, reverse=True))
    return found


def coverage(n: int, tails: str, repeatability: float | None = None) -> float:
    """Share of gardens in which next season's crop of one plant lies in its interval."""
    held = []
    for truth in gardens(n, 3, lengths=(1, 2, 3, 4, 5), plants=24, tails=tails):
        one = answered(truth.rows, ask(repeatability=repeatability)).every[int(truth.random.integers(24))]
        crop = max(1000 + truth.effects[one.plant] + truth.season() + truth.rest(1)[0], 0.0)
        assert one.forecast is not None
        assert one.forecast.low is not None
        assert one.forecast.high is not None
        held.append(one.forecast.low <= crop <= one.forecast.high)
    return float(np.mean(held))


def told_alike(n: int) -> tuple[float, float]:
    """Of gardens whose plants do not differ: how often that is said outright, and how often that or that it is not
    shown."""
    outright, held = [], []
    for truth in gardens(n, 4, lengths=(4,), plants=15, between=0.0):
        text = " ".join(keep_findings(answered(truth.rows, ask()), ask()))
        outright.append("no evidence that these plants differ" in text)
        held.append(outright[-1] or "that they differ at all is not shown" in text)
    return float(np.mean(outright)), float(np.mean(held))


def told_as_age(n: int, lost: str, lasting: float) -> int:
    """Gardens in which no plant ages, plants are lost in three years running, and ageing is told all the same.

    lost: all but the best 5 of 20 are taken out, or the weakest 5 of 20 die in their first winter, by their first crop
    (which chance has part in) or by what lasts of a plant. lasting: standard deviation of that.
    """
    random = np.random.default_rng(5)
    told = 0
    for _ in range(n):
        rows: list[dict[str, Any]] = []
        for began in (LAST - 2, LAST - 1, LAST):
            effects = lasting * random.normal(size=(20, 1))
            crops = 800 + effects + 160 * random.normal(size=(20, LAST - began + 1))
            order = np.argsort(effects[:, 0] if lost == "weak plants die" else crops[:, 0])
            kept = order[-5:] if lost == "best kept" else order[5:]
            for i, values in enumerate(crops):
                lives = life(f"P{began}-{i}/{began}", began, values if i in kept else values[:1])
                if i not in kept and lost != "best kept":
                    lives[-1]["ended_how"] = "died"
                rows += lives
        answer = answered(rows, ask())
        said = " ".join(keep_findings(answer, ask()))
        told += "in later seasons plants bore" in said or answer.outlook.age.change is not None
        assert "no effect of age is taken up" in said
        if lost == "best kept":
            assert any("that is choosing, and says nothing of age" in text for text in keep_cautions([answer]))
    return told


def age_held(n: int, change: float) -> tuple[int, float]:
    """Gardens with nobody missing in which an effect of age is told, and in what share of them its interval holds the
    truth, a change of so much from the first season on."""
    random = np.random.default_rng(8)
    held = []
    for _ in range(n):
        rows: list[dict[str, Any]] = []
        for began in (LAST - 2, LAST - 1, LAST):
            crops = 1000 + BETWEEN * random.normal(size=(8, 1)) + WITHIN * random.normal(size=(8, LAST - began + 1))
            crops[:, 1:] += change
            for i, values in enumerate(crops):
                rows += life(f"P{began}-{i}/{began}", began, values)
        age = answered(rows, ask()).outlook.age
        if age.low is not None and age.high is not None:
            held.append(age.low <= change <= age.high)
    return len(held), float(np.mean(held))


def winters(random: np.random.Generator, lives: float, n: int) -> list[Winter]:
    """So many earlier winters of roots in store."""
    return [
        Winter(f"W{i}/2010", f"W{i}", "bean", None, 2015, "2015", 2, "seed", STORE, "Home", None, None, None, 1, None,
               None, SURVIVED if random.random() < lives else DIED, None, None, None)
        for i in range(n)
    ]  # fmt: skip


def target_met(n: int, target: float = 9000.0) -> dict[str, float]:
    """By plan, the share of gardens in which it met its target in the season that came, for an assurance of 0.9."""
    met: dict[str, list[bool]] = {}
    for truth in gardens(n, 6, lengths=(1, 2, 3, 4, 5), plants=24):
        answer = answered(truth.rows, ask(target=target), winters(truth.random, 0.75, 40))
        for plan in answer.plans:
            if plan.roots is None or plan.sowings is None:
                continue
            kept = [one for one in answer.every if plan.plan == "roots" or one.keep in (YES, EVEN)][: plan.roots]
            base = 1000 + truth.season()
            lived = truth.random.random(len(kept)) < 0.75
            of_roots = base + np.array([truth.effects[one.plant] for one in kept]) + truth.rest(len(kept))
            of_seed = base + BETWEEN * truth.random.normal(size=plan.sowings) + truth.rest(plan.sowings)
            crop = float((lived * np.maximum(of_roots, 0)).sum() + np.maximum(of_seed, 0).sum())
            met.setdefault(plan.plan, []).append(crop >= target)
    return {plan: float(np.mean(found)) for plan, found in met.items()}


def slack(share: float, n: int) -> float:
    """Three standard errors of a share."""
    return float(3 * np.sqrt(share * (1 - share) / n))


def figures(what: str, *values: float) -> None:
    """Shown when asked for with -s."""
    print(f"\n{what}, {GARDENS} gardens: {', '.join(f'{value:.4g}' for value in values)}")


def test_the_list_beats_raw_means_where_records_are_unequal() -> None:
    lead, error = lead_where_unequal(GARDENS)
    figures("lead over raw means in g a plant, its standard error", lead, error)
    assert lead > 3 * error


def test_the_list_goes_as_raw_means_do_where_records_are_equal() -> None:
    same = same_order_where_equal(GARDENS)
    assert len(same) > GARDENS / 2
    assert all(same)


@pytest.mark.parametrize("tails", ["normal", "t"])
def test_the_interval_covers_the_season_that_comes(tails: str) -> None:
    held = coverage(GARDENS, tails)
    figures(f"coverage at 0.95, {tails}", held)
    assert held >= 0.95 - slack(0.95, GARDENS)


def test_the_interval_covers_by_a_repeatability_that_is_right() -> None:
    held = coverage(GARDENS, "normal", BETWEEN**2 / (BETWEEN**2 + WITHIN**2))
    figures("coverage at 0.95, repeatability given", held)
    assert held >= 0.95 - slack(0.95, GARDENS)


def test_plants_that_do_not_differ_are_mostly_told_so() -> None:
    outright, held = told_alike(GARDENS)
    figures("no difference said outright, said or not shown", outright, held)
    # where nothing differs the likelihood is highest at zero in about half of all gardens, as chance has it
    assert outright > 0.5 - slack(0.5, GARDENS)
    assert held >= 0.95 - slack(0.95, GARDENS)


@pytest.mark.parametrize("lasting", [40.0, 300.0])
@pytest.mark.parametrize("lost", ["best kept", "weak plants die", "plants of a weak season die"])
def test_selection_alone_is_never_told_as_ageing(lost: str, lasting: float) -> None:
    assert told_as_age(GARDENS, lost, lasting) == 0


@pytest.mark.parametrize("change", [0.0, -300.0])
def test_an_effect_of_age_that_is_told_holds_the_truth(change: float) -> None:
    told, held = age_held(GARDENS, change)
    figures(f"age told, and its interval holds a change of {change:g}", told, held)
    assert told > GARDENS / 2
    assert held >= 0.95 - slack(0.95, told)


def test_a_plan_meets_its_target_as_often_as_it_says() -> None:
    met = target_met(GARDENS)
    figures(f"target met by {', '.join(met)} at 0.9", *met.values())
    assert set(met) == {"roots", "sowings", "roots and sowings"}
    assert min(met.values()) >= 0.9 - slack(0.9, GARDENS)
