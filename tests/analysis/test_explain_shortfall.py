"""What is said of each candidate, from records made by hand; and that none is named where another is not ruled out."""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest

import perennia as pn
from perennia.analysis import Explanation, explain_shortfall
from perennia.analysis.causes.shortfall.candidates import NAMES
from perennia.errors import AnalysisError, ArgumentError, UnknownLabelError
from perennia.records.base import Record
from perennia.records.care import Covered, Damage, Fed, HandPollinated, Neighbour, Uncovered
from perennia.records.flowering import TrussCount
from perennia.records.harvest import LeftForSeed, Picked
from perennia.records.life import Lifted, Replanted, Sown
from perennia.records.places import Bed
from perennia.records.weather import Weather
from tests.analysis.built_source import BEAN, source_of
from tests.analysis.shortfall_garden import BED, SEASON, SITE, days, followed, sowings, truss, watched, weather
from tests.calibration.setting_gardens import FIRST, garden

JULY = date(SEASON, 7, 1)
LABELS = ("A", "B")
HALF = (True, False) * 10
"""Twenty flowers of a truss, two a day over ten days, every other one set."""


def two_plants(**outcomes: tuple[bool, ...]) -> list[Record]:
    """A and B, each with two trusses from 1 July on; by default every other flower sets."""
    records = sowings(LABELS)
    for label in LABELS:
        for name in ("t1", "t2"):
            records += truss(label, name, JULY, outcomes.get(label, HALF))
    return records


def asked(*records: Record, of: Any = BED, **given: Any) -> Explanation:
    with source_of(*records) as source:
        return explain_shortfall(source, of, SEASON, draws=399, **given)


def told(result: Explanation, name: str) -> dict[str, Any]:
    """The row of one candidate."""
    (row,) = result.table[result.table["candidate"] == name].to_dict("records")
    return row


def test_every_candidate_stands_there_once_and_nothing_recorded_rules_nothing_out() -> None:
    result = asked(*two_plants())
    assert sorted(result.table["candidate"]) == sorted(NAMES)
    for name in ("too few visits", "robbed flowers", "hot nights or days", "cold nights", "water deficit", "feeding",
                 "neighbours' demand"):  # fmt: skip
        assert told(result, name)["recorded"] == "not recorded", name
        assert told(result, name)["strength"] == "not recorded", name
        assert name in result.left
    assert result.cause is None
    assert result.n == 2
    assert any("no single cause can be named" in line and "too little is recorded of" in line
               for line in result.findings)  # fmt: skip


def test_every_candidate_predicts_cannot_tell_and_has_what_decides() -> None:
    table = asked(*two_plants()).table
    for column in ("predicts", "cannot_tell", "decides"):
        assert table[column].notna().all()
        assert table[column].str.len().min() > 30


@pytest.mark.parametrize(("visits", "every", "recorded"), [(0, 5, "seen"), (6, 5, "not seen"), (6, 9, "in part")])
def test_watches_without_any_visit_speak_for_too_few(visits: int, every: int, recorded: str) -> None:
    on = days(JULY, JULY + timedelta(9))[::every]
    row = told(asked(*two_plants(), *watched(on, visits)), "too few visits")
    assert row["recorded"] == recorded
    assert (row["speaks_for"] is not None and "0 visits seen" in str(row["speaks_for"])) == (visits == 0)


def test_set_on_days_without_visits_is_held_against_days_with_them() -> None:
    first, last = JULY, JULY + timedelta(9)
    failing = (False,) * 10 + (True,) * 10
    early, late = days(first, first + timedelta(4)), days(first + timedelta(5), last)
    records = [*two_plants(A=failing, B=failing), *watched(early, 0), *watched(late, 4)]
    row = told(asked(*records), "too few visits")
    assert (row["recorded"], row["contrast"]) == ("seen", "fewer set")
    assert "0 % of 40 flowers set of those opened on them, 100 % of 40 flowers" in row["speaks_for"]
    turned = told(asked(*two_plants(), *watched(early, 0), *watched(late, 4)), "too few visits")
    assert (turned["recorded"], turned["contrast"]) == ("not seen", "no fewer set")


def test_a_net_over_open_flowers_speaks_for_too_few_visits() -> None:
    shut = [Covered(JULY - timedelta(2), "net", bed=BED), Uncovered(JULY + timedelta(5), bed=BED)]
    row = told(asked(*two_plants(), *shut), "too few visits")
    assert row["contrast"] == "no fewer set"
    assert "5 days of flowering" in row["speaks_against"]
    failing = (False,) * 10 + (True,) * 10
    row = told(asked(*two_plants(A=failing, B=failing), *shut), "too few visits")
    assert (row["recorded"], row["contrast"], row["strength"]) == ("seen", "fewer set", "some")


@pytest.mark.parametrize(
    ("helped", "pairs", "recorded", "contrast"),
    [(True, 1, "seen", "fewer set"), (False, 2, "not seen", "no fewer set"), (False, 1, "in part", "no fewer set")],
)
def test_pollination_by_hand_decides_about_visits(helped: bool, pairs: int, recorded: str, contrast: str) -> None:
    """That it did not help two trusses of four does not rule too few visits out."""
    records = sowings(LABELS)
    for label in LABELS:
        for pair in range(pairs):
            records += truss(label, f"by hand {pair}", JULY, (True,) * 18 + (False,) * 2 if helped else HALF)
            records += truss(label, f"alone {pair}", JULY, HALF)
        records.append(HandPollinated(JULY + timedelta(3), tuple(f"by hand {pair}" for pair in range(pairs)),
                                      labels=(label,)))  # fmt: skip
    row = told(asked(*records), "too few visits")
    assert (row["recorded"], row["contrast"]) == (recorded, contrast)


@pytest.mark.parametrize(("robbed", "recorded"), [(5, "seen"), (0, "not seen"), (None, "not recorded")])
def test_robbed_flowers_as_they_were_looked_for(robbed: int | None, recorded: str) -> None:
    on = days(JULY, JULY + timedelta(9))[::4]
    assert told(asked(*two_plants(), *watched(on, 3, robbed)), "robbed flowers")["recorded"] == recorded


def test_heat_within_ten_days_before_opening_is_seen_and_held_against_other_days() -> None:
    """Three nights of 20 degrees from 24 to 26 June reach flowers that open up to 4 July: more than two of the ten days
    before."""
    hot = {date(SEASON, 6, 24) + timedelta(n): {"t_min_c": 20.0} for n in range(3)}
    known = weather(date(SEASON, 6, 10), JULY + timedelta(9), besides=hot)
    failing = (False,) * 8 + (True,) * 12
    row = told(asked(*two_plants(A=failing, B=failing), *known), "hot nights or days")
    assert (row["recorded"], row["contrast"]) == ("seen", "fewer set")
    assert "4 of 10 days followed 3 hot days or nights or more" in row["speaks_for"]
    assert "0 % of 32 flowers set of those opened then, 100 % of 48 flowers" in row["speaks_for"]
    no_fewer = told(asked(*two_plants(), *known), "hot nights or days")
    assert (no_fewer["strength"], no_fewer["contrast"]) == ("weak", "no fewer set")


def test_mild_weather_throughout_speaks_against_heat_and_cold_and_gaps_leave_them_open() -> None:
    whole = weather(date(SEASON, 6, 10), JULY + timedelta(9))
    result = asked(*two_plants(), *whole)
    for name in ("hot nights or days", "cold nights"):
        assert (told(result, name)["recorded"], told(result, name)["strength"]) == ("not seen", "against")
    result = asked(*two_plants(), *whole[:-2])
    for name in ("hot nights or days", "cold nights"):
        assert (told(result, name)["recorded"], told(result, name)["strength"]) == ("in part", "open")
        assert "weather not known of the 10 days before 2 days of 10" in told(result, name)["unknown"]


def test_two_hot_nights_are_not_heat_and_one_cold_night_is_cold() -> None:
    besides = {JULY: {"t_min_c": 20.0}, JULY + timedelta(1): {"t_min_c": 20.0}, JULY + timedelta(2): {"t_min_c": 5.0}}
    result = asked(*two_plants(), *weather(date(SEASON, 6, 10), JULY + timedelta(9), besides=besides))
    assert told(result, "hot nights or days")["recorded"] == "not seen"
    assert told(result, "cold nights")["recorded"] == "seen"


def test_the_weather_of_the_bed_goes_before_that_of_the_site_and_a_cover_leaves_heat_open() -> None:
    covered = [Bed("house", SITE, cover="glasshouse"), *sowings(LABELS, "house")]
    for label in LABELS:
        covered += truss(label, "t1", JULY, HALF)
    outside = weather(date(SEASON, 6, 10), JULY + timedelta(9))
    row = told(asked(*covered, *outside, of="house"), "hot nights or days")
    assert row["recorded"] == "in part"
    assert "under cover, where days are hotter than outside" in row["unknown"]
    hot = days(date(SEASON, 6, 10), JULY + timedelta(9))
    inside = [Weather(one, bed="house", t_min_c=18.0, t_max_c=38.0) for one in hot]
    row = told(asked(*covered, *outside, *inside, of="house"), "hot nights or days")
    assert row["recorded"] == "seen"
    assert "weather of the bed house" in row["speaks_for"]


def test_a_crop_without_figures_for_heat_is_not_judged() -> None:
    records = [Sown(label, date(SEASON, 5, 1), crop="Vicia faba", bed=BED) for label in LABELS]
    for label in LABELS:
        records += truss(label, "t1", JULY, HALF)
    result = asked(*records, *weather(date(SEASON, 6, 10), JULY + timedelta(9)))
    for name in ("hot nights or days", "cold nights"):
        assert told(result, name)["recorded"] == "not recorded"
        assert "no profile" in told(result, name)["unknown"]


def test_dry_days_about_flowering_are_seen_in_the_water_balance() -> None:
    """No rain from 1 June on leaves a loam dry by July; with 5 mm a day it never is."""
    first, last = date(SEASON, 1, 1), JULY + timedelta(40)
    dry = {one: {"rain_mm": 0.0, "t_max_c": 28.0} for one in days(date(SEASON, 6, 1), last)}
    row = told(asked(*two_plants(), *weather(first, last, besides=dry), soil="loam"), "water deficit")
    assert row["recorded"] == "seen"
    assert "with too little water in the root zone" in row["speaks_for"]
    row = told(asked(*two_plants(), *weather(first, last, rain_mm=6.0), soil="loam"), "water deficit")
    assert (row["recorded"], row["strength"]) == ("not seen", "against")
    row = told(asked(*two_plants(), *weather(first, last, rain_mm=6.0)), "water deficit")
    assert row["recorded"] == "not recorded"
    assert "soil" in row["unknown"]


def test_pods_left_for_seed_and_long_gaps_between_pickings_are_seen() -> None:
    third_days = days(JULY + timedelta(2), JULY + timedelta(20))[::3]
    even = [Picked(label, one, grams=90.0) for label in LABELS for one in third_days]
    assert told(asked(*two_plants(), *even), "pods left to ripen")["recorded"] == "not seen"
    late = [Picked(label, JULY + timedelta(n), grams=90.0) for label in LABELS for n in (2, 9)]
    row = told(asked(*two_plants(), *late), "pods left to ripen")
    assert row["recorded"] == "seen"
    assert "2 gaps of more than 6 days between pickings on 2 plants" in row["speaks_for"]
    row = told(asked(*two_plants(), *even, LeftForSeed("A", JULY + timedelta(4), 3)), "pods left to ripen")
    assert "3 pods left for seed while they flowered" in row["speaks_for"]
    assert told(asked(*two_plants()), "pods left to ripen")["recorded"] == "not recorded"


def test_plants_beside_a_neighbour_are_held_against_the_others() -> None:
    beside = Neighbour(date(SEASON, 6, 1), "Zea mays", labels=("A",))
    row = told(asked(*two_plants(A=(False,) * 20), beside), "neighbours' demand")
    assert (row["recorded"], row["contrast"]) == ("seen", "fewer set")
    assert "A/2024 0 % of 40 flowers" in row["speaks_for"]
    assert "B/2024 50 % of 40 flowers" in row["speaks_for"]
    row = told(asked(*two_plants(), beside), "neighbours' demand")
    assert (row["contrast"], row["strength"]) == ("no fewer set", "weak")
    gone = Neighbour(date(SEASON, 5, 2), "Zea mays", date(SEASON, 6, 1), labels=("A",))
    assert told(asked(*two_plants(), gone), "neighbours' demand")["recorded"] == "not recorded"


def test_feeding_says_what_was_given_and_holds_plants_without_it_against_the_others() -> None:
    fed = Fed(date(SEASON, 6, 1), "compost", labels=("A",))
    row = told(asked(*two_plants(), fed), "feeding")
    assert row["recorded"] == "in part"
    assert "1 plant of 2 fed: compost on 2024-06-01" in row["speaks_against"]
    row = told(asked(*two_plants(B=(False,) * 20), fed), "feeding")
    assert (row["recorded"], row["contrast"]) == ("seen", "fewer set")


@pytest.mark.parametrize(("broken", "recorded"), [(True, "seen"), (False, "not seen"), (None, "not recorded")])
def test_roots_broken_in_the_lifting_before(broken: bool | None, recorded: str) -> None:
    records: list[Record] = [Sown(label, date(2023, 5, 1), crop=BEAN, bed=BED) for label in LABELS]
    for label in LABELS:
        records += [Lifted(label, date(2023, 11, 5), roots_broken=broken if label == "A" else (broken and None)),
                    Replanted(label, date(SEASON, 5, 2), bed=BED)]  # fmt: skip
        records += truss(label, "t1", JULY, HALF)
    assert told(asked(*records), "broken roots")["recorded"] == recorded


def test_plants_never_lifted_have_no_broken_roots() -> None:
    assert told(asked(*two_plants()), "broken roots")["strength"] == "against"


def test_as_many_as_usual_speak_for_the_plants_own_limit_and_fewer_against() -> None:
    row = told(asked(*two_plants()), "the plant's own limit")
    assert row["recorded"] == "seen"
    assert "50 % of flowers set, as the mean of plants, where 20 to 55 % is usual" in row["speaks_for"]
    assert "10.0 pods a truss" in row["speaks_for"]
    few = (True, *(False,) * 19)
    row = told(asked(*two_plants(A=few, B=few)), "the plant's own limit")
    assert row["recorded"] == "not seen"
    assert "1.0 pods a truss" in row["speaks_against"]


def test_one_plant_with_two_trusses_cannot_tell() -> None:
    book = garden("stop", 3, plants=1, trusses=2)
    result = asked(*followed(book), of="P0")
    assert (result.cause, result.form, result.enough) == (None, None, False)
    assert result.forms["p"].isna().all()
    assert (result.table["form"] == "cannot be told").all()
    assert "how the flowers failed cannot be told: it takes 6 trusses" in result.findings[2]


def test_truss_counts_show_no_form_and_are_said_to_be_counts() -> None:
    counts = [TrussCount(label, name, JULY + timedelta(9), 20, 4, 16, 3) for label in LABELS for name in ("t1", "t2")]
    result = asked(*sowings(LABELS), *counts)
    assert result.forms["p"].isna().all()
    assert any("counted, not followed flower by flower" in line for line in result.cautions)
    assert "20 % of flowers set" in told(result, "the plant's own limit")["speaks_for"]


def test_nothing_on_record_is_an_answer() -> None:
    result = asked(*sowings(LABELS))
    assert result.findings[2].endswith("no flower or truss is on record, so that nothing is known of how they failed.")
    assert (result.cause, result.shapes.empty) == (None, True)
    assert told(result, "hot nights or days")["unknown"] == "nothing shows when they flowered"


def test_harm_on_record_is_told_as_a_caution() -> None:
    result = asked(*two_plants(), Damage(JULY, "hail", labels=("A",)))
    assert any("by hail on 2024-07-01" in line for line in result.cautions)


def test_a_bed_a_label_or_several_labels_may_be_asked_for() -> None:
    records = two_plants()
    assert asked(*records, of="A").n == 1
    assert asked(*records, of=["A", "B"]).n == 2
    assert asked(*records, of="A/2024").n == 1
    with pytest.raises(UnknownLabelError, match="no plant or bed Z is known in 2024"):
        asked(*records, of="Z")
    with pytest.raises(AnalysisError, match="nothing is known to have grown in B3 in 2024"):
        asked(*records, of="B3")
    with pytest.raises(AnalysisError, match="no label was given"):
        asked(*records, of=[])
    with pytest.raises(ArgumentError):
        asked(*records, of=7)
    other = [*records, Sown("C", date(SEASON, 5, 1), crop="Cynara cardunculus var. scolymus", bed=BED)]
    with pytest.raises(AnalysisError, match=r"B1 held Cynara .*, Phaseolus coccineus in 2024; name one of them"):
        asked(*other)
    assert asked(*other, crop=BEAN).n == 2
    with pytest.raises(AnalysisError, match="no Vicia faba grew in B1"):
        asked(*records, crop="Vicia faba")


def test_a_name_that_is_a_bed_and_a_label_is_asked_back() -> None:
    records = [*sowings(("B1",)), *truss("B1", "t1", JULY, HALF)]
    with pytest.raises(AnalysisError, match=r"B1 is a bed and a label; give \['B1'\] for the plant"):
        asked(*records)
    assert asked(*records, of=["B1"]).n == 1


def test_too_few_and_too_many_draws_are_refused() -> None:
    with source_of(*two_plants()) as source:
        with pytest.raises(AnalysisError, match="399 or more"):
            explain_shortfall(source, BED, SEASON, draws=99)
        with pytest.raises(AnalysisError, match="750000 draws or fewer, not 100000000"):
            explain_shortfall(source, BED, SEASON, draws=10**8)


def one_cause_alone(visits_recorded: bool) -> list[Record]:
    """A spell in which nobody visited, on plants picked unequally, and records that rule all else out."""
    book = garden("spell", 5004, unequal_picking=True)
    opened = sorted({one.opened_on for one in book.flowers if one.opened_on})
    shares = {
        one: [bool(flower.set) for flower in book.flowers if flower.opened_on == one and flower.set is not None]
        for one in opened
    }  # fmt: skip
    empty = [one for one in opened if sum(shares[one]) / len(shares[one]) < 0.1]
    first, last = FIRST - timedelta(150), opened[-1] + timedelta(60)
    pickings = [Picked(f"P{n}", one, grams=60.0) for n in range(5) for one in days(opened[0] + timedelta(8), last)[::4]]
    records = [*followed(book), *weather(first, last, t_min_c=12.0, rain_mm=7.0), *pickings]
    if visits_recorded:
        records += [*watched(empty, 0), *watched([one for one in opened if one not in empty], 5)]
    return records


def test_one_cause_is_named_only_where_every_other_is_ruled_out() -> None:
    result = asked(*one_cause_alone(visits_recorded=True), soil="loam")
    assert result.form == "spell"
    assert result.cause == "too few visits"
    assert told(result, "too few visits")["strength"] == "strong"
    assert result.left == ("too few visits",)
    assert any("speak for too few visits, and against every other candidate" in line for line in result.findings)


def test_the_same_flowers_without_watches_name_no_cause() -> None:
    result = asked(*one_cause_alone(visits_recorded=False), soil="loam")
    assert (result.form, result.cause) == ("spell", None)
    assert set(result.left) == {"too few visits", "robbed flowers"}


def test_it_is_asked_of_a_garden_too(tmp_path: Path) -> None:
    plot = pn.Garden.create(tmp_path / "plot")
    plot.record(pn.Site(SITE, latitude=48.0), pn.Bed(BED, SITE), *two_plants(), today=date(2026, 1, 1))
    assert pn.explain_shortfall(plot, BED, SEASON).n == 2
