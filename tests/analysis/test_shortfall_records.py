"""Which records of a garden count for or against a candidate, and that none is ruled out by records of something
else."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, timedelta
from typing import Any

import pytest

from perennia.analysis import Explanation, explain_shortfall
from perennia.errors import AnalysisError
from perennia.records.base import Record
from perennia.records.care import Covered, Damage, Fed, HandPollinated, Neighbour, Uncovered, Visits
from perennia.records.flowering import FlowerFate, TrussCount
from perennia.records.harvest import LeftForSeed, Picked
from perennia.records.life import Acquired, Lifted, Moved, Removed, Replanted, Sown
from perennia.records.places import Bed, Site
from perennia.records.weather import Weather
from tests.analysis.built_source import BEAN, source_of
from tests.analysis.shortfall_garden import BED, SEASON, SITE, days, sowings, truss, watched, weather

JULY = date(SEASON, 7, 1)
LAST = JULY + timedelta(9)
LABELS = ("A", "B")
HALF = (True, False) * 10
FAILING = (False,) * 10 + (True,) * 10


def flowering(labels: Iterable[str] = LABELS, outcomes: tuple[bool, ...] = HALF) -> list[Record]:
    """Two trusses on each of these plants, two flowers a day from 1 July on."""
    return [record for label in labels for name in ("t1", "t2") for record in truss(label, name, JULY, outcomes)]


def two_plants(outcomes: tuple[bool, ...] = HALF) -> list[Record]:
    return [*sowings(LABELS), *flowering(outcomes=outcomes)]


def asked(*records: Record, of: Any = BED, season: int = SEASON, **given: Any) -> Explanation:
    with source_of(*records) as source:
        return explain_shortfall(source, of, season, draws=399, **given)


def row(result: Explanation, name: str) -> dict[str, Any]:
    (found,) = result.table[result.table["candidate"] == name].to_dict("records")
    return {str(name): value for name, value in found.items()}


def test_a_plant_asked_for_twice_counts_once() -> None:
    result = asked(*two_plants(), Fed(JULY, "compost", labels=("A",)), of=["A", "A/2024", "A"])
    assert result.n == 1
    assert "1 plant of 1 fed" in row(result, "feeding")["speaks_against"]


def test_a_root_that_never_grew_is_no_plant_of_the_season() -> None:
    lost = [Sown("C", date(2023, 5, 1), crop=BEAN, bed=BED), Lifted("C", date(2023, 11, 1)),
            Removed("C", date(SEASON, 3, 1), "rotten")]  # fmt: skip
    assert asked(*two_plants(), *lost).n == 2
    with pytest.raises(AnalysisError, match="C: no plant came into growth in 2024"):
        asked(*two_plants(), *lost, of=["C"])


def test_one_watch_of_two_plants_is_one_watch() -> None:
    watch = Visits(JULY, 10.0, 3, 2, labels=LABELS)
    result = asked(*two_plants(), watch)
    assert "3 visits seen in 10 minutes of one watch" in row(result, "too few visits")["speaks_against"]
    assert "2 flowers found robbed at 1 look, on 2024-07-01" in row(result, "robbed flowers")["speaks_for"]
    assert "fed: compost on 2024-07-01" in row(asked(*two_plants(), Fed(JULY, "compost", labels=LABELS)),
                                               "feeding")["speaks_against"].replace("; what", " what")  # fmt: skip
    hail = [line for line in asked(*two_plants(), Damage(JULY, "hail", labels=LABELS)).cautions if "hail" in line]
    assert len(hail) == 1


def test_robbed_flowers_are_told_with_the_days_on_which_they_were_found() -> None:
    looks = [*watched([JULY], 3, 0), *watched([JULY + timedelta(4)], 3, 5)]
    said = row(asked(*two_plants(), *looks), "robbed flowers")["speaks_for"]
    assert said == "5 flowers found robbed at 2 looks, on 2024-07-05"


def test_visitors_watched_on_one_plant_say_nothing_of_another() -> None:
    on_one = [Visits(day, 10.0, 9, 0, labels=("A",)) for day in (JULY, JULY + timedelta(5))]
    result = asked(*two_plants(), *on_one)
    for name in ("too few visits", "robbed flowers"):
        assert row(result, name)["recorded"] == "in part"
        assert "or some of the plants, were not" in row(result, name)["unknown"]
    assert row(asked(*two_plants(), *on_one, of="A"), "robbed flowers")["recorded"] == "not seen"


def test_a_visit_to_one_flower_of_many_is_not_enough_to_rule_too_few_visits_out() -> None:
    """One visit in 1000 minutes makes less than one in eight hours, where eight flowers open a day."""
    rare = [Visits(day, 1000.0, 1, 0, bed=BED) for day in (JULY, JULY + timedelta(5))]
    found = row(asked(*two_plants(), *rare), "too few visits")
    assert (found["recorded"], found["strength"]) == ("in part", "open")
    assert "fewer visits came in 8 hours than flowers opened in a day" in found["unknown"]


def test_watches_of_a_month_are_of_no_day() -> None:
    month = [Visits("2024-07", 10.0, 0, 0, bed=BED), *watched([JULY + timedelta(4)], 5)]
    found = row(asked(*two_plants(), *month), "too few visits")
    assert "2024-07-31" not in str(found["speaks_for"]) + str(found["speaks_against"])
    assert "5 visits seen in 20 minutes of 2 watches" in found["speaks_against"]
    assert row(asked(*two_plants(), Visits("2024-07", 60.0, 9, 0, bed=BED)), "robbed flowers")["recorded"] == "in part"


@pytest.mark.parametrize("on", [date(SEASON, 4, 20), JULY - timedelta(2)])
def test_a_net_lies_over_flowers_from_whenever_it_was_put_on(on: date) -> None:
    shut = [Covered(on, "net", bed=BED), Uncovered(JULY + timedelta(5), bed=BED)]
    found = row(asked(*two_plants(FAILING), *shut), "too few visits")
    assert "lay over them on 5 days of flowering" in found["speaks_for"]
    assert "0 % of 40 flowers set of those opened under it, 100 % of 40 flowers" in found["speaks_for"]


def test_a_bed_that_is_always_under_a_net_is_shut() -> None:
    records = [Bed("netted", SITE, cover="net"), *sowings(LABELS, "netted"), *flowering()]
    assert "on 10 days of flowering" in row(asked(*records, of="netted"), "too few visits")["speaks_for"]
    bare = [*records, Uncovered(JULY + timedelta(3), bed="netted")]
    assert "on 10 days of flowering" in row(asked(*bare, of="netted"), "too few visits")["speaks_for"]


def test_a_net_over_one_plant_is_over_that_plant_alone() -> None:
    shut = [Covered(JULY - timedelta(2), "net", labels=("A",)), Uncovered(JULY + timedelta(5), labels=("A",))]
    found = row(asked(*two_plants(FAILING), *shut), "too few visits")
    assert "lay over 1 plant of 2 on 5 days of flowering" in found["speaks_for"]
    assert "0 % of 20 flowers set of those opened under it, 67 % of 60 flowers" in found["speaks_for"]


def test_a_cover_changed_on_one_day_is_the_one_put_on() -> None:
    changed = [Covered(JULY - timedelta(9), "tunnel", bed=BED), Uncovered(JULY + timedelta(5), bed=BED),
               Covered(JULY + timedelta(5), "net", bed=BED)]  # fmt: skip
    assert "on 5 days of flowering" in row(asked(*two_plants(), *changed), "too few visits")["speaks_against"]
    one = [Covered(JULY - timedelta(9), "net", labels=("A",)), Uncovered(JULY + timedelta(5), labels=("A",)),
           Covered(JULY + timedelta(5), "fleece", labels=("A",))]  # fmt: skip
    assert "over 1 plant of 2 on 10 days" in row(asked(*two_plants(), *one), "too few visits")["speaks_against"]


def test_a_net_with_a_span_of_days_is_said_to_be_of_no_day() -> None:
    found = row(asked(*two_plants(), Covered("2024-07", "net", bed=BED)), "too few visits")
    assert "a cover was put on or taken off in July 2024" in found["unknown"]


def test_hand_pollination_in_one_week_is_not_held_against_another_week_nor_one_plant_against_another() -> None:
    good, bad = (True,) * 20, (False,) * 20
    later = JULY + timedelta(20)
    by_week = [record for label in LABELS
               for record in (*truss(label, "t1", JULY, good), *truss(label, "t2", later, bad))]  # fmt: skip
    treated = [HandPollinated(JULY, ("t1",), labels=(label,)) for label in LABELS]
    assert row(asked(*sowings(LABELS), *by_week, *treated), "too few visits")["recorded"] == "not recorded"
    by_plant = [*truss("A", "t1", JULY, bad), *truss("A", "t2", JULY, bad), *truss("B", "t1", JULY, good)]
    both = HandPollinated(JULY, ("t1", "t2"), labels=("A",))
    assert row(asked(*sowings(LABELS), *by_plant, both), "too few visits")["recorded"] == "not recorded"


def test_a_bed_is_fed_before_it_is_sown() -> None:
    found = row(asked(*two_plants(), Fed(date(SEASON, 4, 10), "manure", bed=BED)), "feeding")
    assert "2 plants of 2 fed: manure on 2024-04-10" in found["speaks_against"]
    span = row(asked(*two_plants(), Fed("2024-06", "manure", bed=BED)), "feeding")
    assert "manure in June 2024" in span["speaks_against"]
    late = row(asked(*two_plants(), Fed(date(SEASON, 9, 10), "manure", bed=BED)), "feeding")
    assert late["recorded"] == "not recorded"


def test_a_southern_season_has_the_care_of_both_its_calendar_years() -> None:
    records: list[Record] = [
        Site("south", latitude=-40.0), Bed("S1", "south"), Sown("S", date(2023, 10, 1), crop=BEAN, bed="S1"),
        Fed(date(2023, 8, 20), "compost", bed="S1"), Fed(date(2024, 1, 20), "ash", bed="S1"),
        Fed(date(2023, 5, 20), "last year's", bed="S1"),
    ]  # fmt: skip
    found = row(asked(*records, of="S1", season=2023), "feeding")
    assert "1 plant of 1 fed: compost on 2023-08-20; ash on 2024-01-20" in found["speaks_against"]
    fates = truss("S", "t1", date(2023, 12, 28), HALF)
    assert row(asked(*records, *fates, of="S1", season=2023), "feeding")["speaks_against"].count(" on ") == 1


def test_a_neighbour_of_years_ago_without_an_end_is_left_open() -> None:
    tree = Neighbour(date(2020, 3, 1), "Malus domestica", bed=BED)
    found = row(asked(*two_plants(), tree), "neighbours' demand")
    assert found["recorded"] == "not recorded"
    assert found["unknown"] == "whether Malus domestica, written down on 2020-03-01, stood there still is not recorded"
    standing = Neighbour(date(2020, 3, 1), "Malus domestica", date(2025, 1, 1), bed=BED)
    assert row(asked(*two_plants(), standing), "neighbours' demand")["recorded"] == "seen"


def test_plants_that_differ_as_plants_do_are_no_contrast() -> None:
    """C and D beside the maize set 40 and 60 %, A and B 50 and 60 %: the means differ, the plants do not."""
    records = sowings("ABCD")
    for label, share in zip("ABCD", (10, 12, 8, 10), strict=True):
        records += flowering(label, (True,) * share + (False,) * (20 - share))
    maize = Neighbour(date(SEASON, 6, 1), "Zea mays", labels=("C", "D"))
    assert row(asked(*records, maize), "neighbours' demand")["contrast"] == "no contrast"


def test_weather_of_picking_days_does_not_rule_heat_or_cold_out() -> None:
    mild = weather(date(SEASON, 6, 10), date(SEASON, 8, 30))
    picked = [Picked("A", one, grams=90.0) for one in days(JULY + timedelta(20), JULY + timedelta(40))[::3]]
    counts = [TrussCount(label, "t1", LAST, 20, 4, 16, 3) for label in LABELS]
    undated = [FlowerFate("A", "u", place, ended_on=LAST, end="flower dropped") for place in range(1, 21)]
    for records in ([*sowings(LABELS), *picked], [*sowings(LABELS), *counts], [*two_plants(), *undated]):
        result = asked(*records, *mild)
        for name in ("hot nights or days", "cold nights"):
            assert (row(result, name)["recorded"], row(result, name)["strength"]) == ("in part", "open")
            assert "the day on which flowers opened is not recorded of many" in row(result, name)["unknown"]


def test_only_days_on_which_flowers_opened_are_counted() -> None:
    later = [record for label in LABELS for record in truss(label, "late", JULY + timedelta(60), HALF)]
    known = weather(date(SEASON, 6, 10), JULY + timedelta(80))
    found = row(asked(*two_plants(), *later, *known), "hot nights or days")
    assert "none of 20 days known followed hot weather" in found["speaks_against"]
    assert row(asked(*two_plants(), *known[:31], *known[71:], *later), "cold nights")["recorded"] == "not seen"


def test_one_reading_in_the_bed_does_not_hide_the_weather_of_the_site() -> None:
    hot = weather(date(SEASON, 6, 10), LAST, t_min_c=22.0)
    found = row(asked(*two_plants(), *hot, Weather(date(SEASON, 6, 20), bed=BED, t_min_c=12.0)), "hot nights or days")
    assert found["recorded"] == "seen"
    assert "weather of the site plot" in found["speaks_for"]


def test_cold_outside_is_not_cold_under_glass() -> None:
    records = [Bed("house", SITE, cover="glasshouse"), *sowings(LABELS, "house"), *flowering(outcomes=FAILING)]
    cold = weather(date(SEASON, 6, 10), LAST, besides={JULY - timedelta(7): {"t_min_c": 2.0}})
    found = row(asked(*records, *cold, of="house"), "cold nights")
    assert (found["recorded"], found["strength"]) == ("in part", "open")
    assert "where nights are less cold than outside" in found["unknown"]


def test_a_plant_that_stood_in_two_beds_is_not_judged_by_one_of_them() -> None:
    moved = [*two_plants(), Moved("A", JULY + timedelta(6), "B3")]
    result = asked(*moved, *weather(date(SEASON, 6, 10), LAST), of=["A", "B"])
    assert row(result, "cold nights")["recorded"] == "in part"
    assert "A/2024 stood in another bed too while flowers opened" in row(result, "cold nights")["unknown"]
    before = [*two_plants(), Moved("A", date(SEASON, 6, 1), "B3"), Moved("B", date(SEASON, 6, 1), "B3")]
    result = asked(*before, *weather(date(SEASON, 6, 10), LAST), of=["A", "B"])
    assert row(result, "cold nights")["recorded"] == "not seen"


def test_the_balance_matters_about_flowering_and_not_before() -> None:
    wet = weather(date(SEASON, 3, 1), LAST + timedelta(30), rain_mm=9.0)
    result = asked(*two_plants(), *wet, soil="loam", since="2024-05-01")
    assert row(result, "water deficit")["recorded"] == "not seen"
    short = [one for one in wet if isinstance(one, Weather) and one.on and one.on <= LAST]
    found = row(asked(*two_plants(), *short, soil="loam", since="2024-05-01"), "water deficit")
    assert found["recorded"] == "in part"
    assert "B1: the balance is not known on 7 days of 24 about flowering" in found["unknown"]


def test_a_soil_that_is_in_no_table_is_refused() -> None:
    with pytest.raises(AnalysisError, match="give soil as one of"):
        asked(*two_plants(), soil="lome")


def test_pods_are_not_ruled_out_where_a_plant_has_no_pickings() -> None:
    every_third = [Picked("A", one, grams=90.0) for one in days(JULY, LAST)[::3]]
    found = row(asked(*two_plants(), *every_third), "pods left to ripen")
    assert (found["recorded"], found["strength"]) == ("in part", "open")
    assert found["unknown"] == "no picking of B/2024 is on record for the last weeks of flowering"
    stopped = [*every_third, Picked("B", JULY, grams=50.0)]
    assert row(asked(*two_plants(), *stopped), "pods left to ripen")["recorded"] == "in part"


def test_a_pod_that_ripened_after_the_last_flower_held_none_back() -> None:
    late = [FlowerFate("A", "ripe", 1, opened_on=JULY, set_on=JULY + timedelta(4), ended_on=JULY + timedelta(30),
                       end="full size")]  # fmt: skip
    assert row(asked(*two_plants(), *late), "pods left to ripen")["recorded"] == "not recorded"
    seed = [LeftForSeed("A", JULY, 3), LeftForSeed("B", JULY)]
    said = row(asked(*two_plants(), *seed), "pods left to ripen")["speaks_for"]
    assert said.startswith("3 pods and others, not counted, left for seed")


def test_roots_of_which_nobody_wrote_are_not_taken_as_whole() -> None:
    bought = [Acquired(label, date(SEASON, 4, 20), crop=BEAN, kind="root", bed=BED) for label in LABELS]
    found = row(asked(*bought, *flowering()), "broken roots")
    assert (found["recorded"], found["unknown"]) == ("not recorded", "whether roots broke is not recorded of 2 plants")
    mixed = [*bought[:1], *sowings("B"), *flowering()]
    assert row(asked(*mixed), "broken roots")["recorded"] == "in part"


def test_roots_broken_in_an_earlier_winter_are_not_those_of_this_season() -> None:
    records: list[Record] = []
    for label in LABELS:
        records += [Sown(label, date(2021, 5, 1), crop=BEAN, bed=BED),
                    Lifted(label, date(2021, 11, 1), roots_broken=True),
                    Replanted(label, date(2022, 5, 1), bed=BED), Lifted(label, date(2022, 11, 1), roots_broken=False),
                    Replanted(label, date(2023, 5, 1), bed=BED), Lifted(label, date(2023, 11, 1), roots_broken=False),
                    Replanted(label, date(SEASON, 5, 1), bed=BED)]  # fmt: skip
    assert row(asked(*records, *flowering()), "broken roots")["recorded"] == "not seen"
    unwritten = [one for one in records if not (isinstance(one, Lifted) and one.on.end.year > 2021)]
    assert row(asked(*unwritten, *flowering()), "broken roots")["recorded"] == "not recorded"


def test_flowers_of_some_of_the_plants_are_said_to_be_of_some() -> None:
    result = asked(*sowings(("A", "B", "C")), *flowering())
    assert any("Flowers are on record of 2 of 3 plants" in line for line in result.cautions)
