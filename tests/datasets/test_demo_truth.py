"""The effects planted in the invented garden can be found again, and where they cannot be told apart, they cannot."""

from __future__ import annotations

import itertools
import math
import re
import statistics
from collections import Counter, defaultdict

import pytest

from perennia.records import Died, FlowerFate, Lifted, Mulched, Planted, Removed, Replanted, Sown, Stored
from tests.datasets.shipped import DATASHEET, LIFE, PICKINGS, RECORDS, SEASONS, TRUTH, season

FINISHED = SEASONS[:-1]


def test_the_datasheet_states_the_truth_the_generator_drew_from() -> None:
    stated = re.findall(r"^\| `([^`]+)` \| (-?[\d.]+) \|", DATASHEET, re.M)
    assert len(stated) == 27
    for path, value in stated:
        figure = TRUTH
        for key in path.split("."):
            figure = figure[int(key) if key.isdecimal() else key]
        assert figure == float(value), path


def test_losses_are_those_of_the_truth() -> None:
    put_by, lost = Counter[int](), Counter[int]()
    for one in LIFE:
        if isinstance(one, Stored) and one.place == "bare root":
            put_by[one.on.end.year] += 1
        if isinstance(one, Died) and one.cause == "rot":
            lost[one.on.end.year] += 1
    assert {year: (put_by[year], lost[year]) for year in put_by} == TRUTH["survival"]["stored_bare_root"]
    mulched = Counter(one.on.end.year for one in LIFE if isinstance(one, Mulched) and one.label.startswith("F"))
    dead = Counter(one.on.end.year for one in LIFE if isinstance(one, Died) and one.label.startswith("F"))
    assert {year: (mulched[year], dead[year]) for year in mulched} == TRUTH["survival"]["mulched_in_ground"]
    pots = Counter(one.on.end.year for one in LIFE if isinstance(one, Stored) and one.place == "pot")
    frozen = Counter(
        one.on.end.year for one in LIFE if isinstance(one, Died) and one.cause == "cold, the heater failed"
    )
    assert {year: (pots[year], frozen[year]) for year in pots} == TRUTH["survival"]["stored_in_pot"]


def totals() -> dict[tuple[str, int], float]:
    """Grams of a label in a season, shared pickings in equal parts."""
    grams: dict[tuple[str, int], float] = defaultdict(float)
    for one in PICKINGS:
        for label in one.labels:
            grams[label, season(one.on.end)] += (one.grams or 0) / len(one.labels)
    return grams


def first_days() -> dict[tuple[str, int], int]:
    """The first day, as an ordinal, on which something was picked off a label in a season."""
    days: dict[tuple[str, int], int] = {}
    for one in PICKINGS:
        for label in one.labels if one.grams != 0 else ():
            key = label, season(one.on.end)
            days[key] = min(days.get(key, one.on.end.toordinal()), one.on.end.toordinal())
    return days


TOTAL_G, FIRST_DAY = totals(), first_days()


def bean_arms(bed: str, year: int) -> tuple[list[str], list[str]]:
    """Labels of the stakes of a bed in a season: those grown from kept roots, those grown from seed.

    A root whose replanting was forgotten stands where it stood before.
    """
    where: dict[str, str] = {}
    begun: dict[str, int] = {}
    for one in sorted(LIFE, key=lambda one: one.on.end):
        if season(one.on.end) > year:
            break
        if isinstance(one, Sown | Planted | Replanted) and one.bed is not None:
            where[one.label] = one.bed
        if isinstance(one, Sown):
            begun[one.label] = season(one.on.end)
    here = [label for label, name in where.items() if name == bed and (label, year) in TOTAL_G]
    return [label for label in here if begun[label] < year], [label for label in here if begun[label] == year]


def permutation_p(first: list[float], second: list[float]) -> float:
    """Two-sided exact permutation p of the difference of means, counting >=."""
    values, size = first + second, len(first)

    def gap(chosen: tuple[int, ...]) -> float:
        ours = sum(values[place] for place in chosen)
        return abs(ours / size - (sum(values) - ours) / (len(values) - size))

    seen = gap(tuple(range(size)))
    draws = [gap(chosen) >= seen - 1e-9 for chosen in itertools.combinations(range(len(values)), size)]
    return statistics.mean(draws)


@pytest.mark.parametrize("year", FINISHED[1:])
def test_in_the_gate_bed_the_truth_lies_inside_the_exact_interval_and_no_effect_outside(year: int) -> None:
    kept, sown = bean_arms("Gate bed", year)
    assert (len(kept), len(sown)) == {2021: (6, 6), 2022: (6, 7), 2023: (6, 6)}[year]
    log_g = [[math.log(TOTAL_G[label, year]) for label in arm] for arm in (kept, sown)]
    true_shift = math.log(TRUTH["bean"]["overwintered_ratio"])
    assert permutation_p(*log_g) <= 0.05
    assert permutation_p([value - true_shift for value in log_g[0]], log_g[1]) > 0.05
    days = [[float(FIRST_DAY[label, year]) for label in arm] for arm in (kept, sown)]
    assert permutation_p(*days) <= 0.05
    assert permutation_p([day - TRUTH["bean"]["overwintered_days"] for day in days[0]], days[1]) > 0.05


def test_the_net_bed_has_a_fresh_control_and_the_tunnel_bed_never() -> None:
    kept, sown = bean_arms("Net bed", 2023)
    assert (len(kept), len(sown)) == (4, 4)
    shift = math.log(TRUTH["bean"]["overwintered_ratio"])
    log_g = [[math.log(TOTAL_G[label, 2023]) for label in arm] for arm in (kept, sown)]
    assert permutation_p([value - shift for value in log_g[0]], log_g[1]) > 0.05
    for year in SEASONS[1:]:
        kept, sown = bean_arms("Tunnel bed", year)
        assert kept
        assert not sown


def test_the_best_roots_were_kept() -> None:
    for year in FINISHED:
        labels = [label for bed in ("Gate bed", "Tunnel bed") for arm in bean_arms(bed, year) for label in arm]
        autumn = [one for one in LIFE if one.label in labels and one.on.end.year == year + 1]
        kept = {one.label for one in autumn if isinstance(one, Lifted)}
        composted = {one.label for one in autumn if isinstance(one, Removed)}
        assert kept | composted == set(labels)
        assert min(TOTAL_G[label, year] for label in kept) > 0.97 * max(TOTAL_G[label, year] for label in composted)


def test_rocotos_that_stayed_gain_in_their_second_season_and_the_moved_show_no_gain() -> None:
    began = {one.label: season(one.on.end) for one in LIFE if isinstance(one, Sown) and one.label.startswith("R")}
    gains = {label: TOTAL_G[label, year + 1] / TOTAL_G[label, year] for label, year in began.items()}
    stayed = [math.log(gains[label]) for label in TRUTH["rocoto"]["stayed"]]
    assert len(stayed) == 7

    def sign_p(gaps: list[float]) -> float:
        flips = itertools.product((1, -1), repeat=len(gaps))
        drawn = [abs(sum(gap * sign for gap, sign in zip(gaps, signs, strict=True))) for signs in flips]
        return statistics.mean(one >= abs(sum(gaps)) - 1e-9 for one in drawn)

    assert sign_p(stayed) <= 0.05
    assert sign_p([gap - math.log(TRUTH["rocoto"]["season_ratio"][2]) for gap in stayed]) > 0.05
    assert all(gains[label] < 1.3 for label in TRUTH["rocoto"]["moved_to_open"])


def test_rhubarb_crops_nothing_in_its_first_season_and_more_each_year() -> None:
    for label in ("Ru4", "Ru5", "Ru6", "Ru7"):
        by_season = [TOTAL_G[label, year] for year in SEASONS]
        assert by_season[0] == 0
        assert by_season == sorted(by_season)
    assert TOTAL_G["Ru8", 2022] == TOTAL_G["Ru9", 2022] == 0


def test_flowers_opened_in_the_warm_spell_set_less() -> None:
    first, last = TRUTH["flowers"]["warm_spell"]
    fates = [one for one in RECORDS["flowering"] if isinstance(one, FlowerFate) and one.opened_on and one.position <= 4]
    hot = [one.set_on is not None for one in fates if first <= one.opened_on <= last]
    usual = [one.set_on is not None for one in fates if not first <= one.opened_on <= last]
    assert len(hot) >= 6
    assert statistics.mean(hot) < statistics.mean(usual)


def test_weights_are_those_of_the_crop() -> None:
    limits = {"P": (11, 21), "N": (11, 21), "F": (11, 21), "R": (35, 65), "Ru": (80, 150)}
    for one in PICKINGS:
        if one.grams and one.count:
            low, high = limits[re.match(r"Ru|[A-Z]", one.labels[0])[0]] if one.labels[0][0] != "S" else (11, 21)  # type: ignore[index]
            assert low <= one.grams / one.count <= high, one
