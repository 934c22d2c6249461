"""The bean plants: one season of a plant, and what is written down of its spring, its crop and its winter."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from math import exp

from demo_garden.books import Books, chance, month_of
from demo_garden.cropping import ripening
from demo_garden.truth import BEAN, TRUTH

SHAPE = (1.5, 2.2)
RIPENS_OVER_DAYS = 72.0
# the day on which the whole garden is stripped, before the first frost of that autumn
CLEARED = {2020: date(2021, 4, 20), 2021: date(2022, 4, 16), 2022: date(2023, 4, 22), 2023: date(2024, 4, 13)}
CLEARED[2024] = date(2025, 4, 18)
SPACE_M2 = 0.5


@dataclass(frozen=True)
class Bean:
    """A bean in one season: a stake, or a stand of several plants."""

    label: str
    bed: str
    stock: str  # fresh, overwintered or mulched
    cultivar: str = "Huerta Roja"
    plants: int = 1


def season_of(bean: Bean, season: int) -> list[tuple[float, float]]:
    """The pods of one bean in one season, as (day ripe, g), drawn from the truth."""
    truth = TRUTH["bean"]
    draws = chance("bean", bean.label, season)
    ratio = 1.0 if bean.stock == "fresh" else truth[f"{bean.stock}_ratio"]
    # a stand averages its plants' noise away
    spread = truth["log_sd_total"] / bean.plants**0.5
    total_g = (
        truth["fresh_g"][bean.cultivar] * bean.plants * truth["season_factor"][season] * truth["bed_ratio"][bean.bed]
        * ratio * exp(draws.gauss(0.0, spread))
    )  # fmt: skip
    start = first_pod_about(bean, season) + draws.gauss(0.0, truth["sd_first_pod_days"])
    pod_g = truth["pod_g"] * exp(draws.gauss(0.0, 0.06))
    return ripening(("bean", bean.label, season), total_g, pod_g, start, RIPENS_OVER_DAYS, SHAPE)


def first_pod_about(bean: Bean, season: int) -> float:
    """The day, as an ordinal, about which the first pods of such a bean are ready."""
    truth = TRUTH["bean"]
    earlier: float = 0.0 if bean.stock == "fresh" else truth[f"{bean.stock}_days"]
    season_days = chance("season", season).uniform(-3.0, 3.0)
    of_bed: float = truth["bed_days"][bean.bed]
    return date(season + 1, 1, 20).toordinal() + season_days + of_bed + earlier


def sow(books: Books, bean: Bean, season: int, *, raised: bool, lot: str) -> None:
    """Seed sown in place, or raised in a pot in the porch and planted out."""
    draws = chance("sowing", bean.label, season)
    day = date(season, 9, 27) if raised else date(season, 10, 16)
    day += timedelta(days=draws.randint(0, 3))
    space_m2 = SPACE_M2 * bean.plants
    books.write(
        "life", "sown", day, label=bean.label, crop=BEAN, cultivar=bean.cultivar, bed=None if raised else bean.bed,
        plants=bean.plants, lot=lot, space_m2=None if raised else space_m2,
    )  # fmt: skip
    if draws.random() < 0.4 or bean.plants > 1:
        up = bean.plants if bean.plants > 1 else None
        books.write("life", "emerged", day + timedelta(days=draws.randint(13, 18)), label=bean.label, alive=up)
    if raised:
        out = day + timedelta(days=draws.randint(33, 37))
        books.write("life", "planted", out, label=bean.label, bed=bean.bed, space_m2=space_m2)


def replant(books: Books, bean: Bean, season: int, *, forgotten: bool = False) -> None:
    """A root out of its box back into the ground; the note of it may be forgotten, the shoots are seen all the same."""
    draws = chance("replanting", bean.label, season)
    day = date(season, 10, 5) if bean.bed != "Tunnel bed" else date(season, 9, 24)
    day += timedelta(days=draws.randint(0, 4))
    if not forgotten:
        books.write("life", "replanted", day, label=bean.label, bed=bean.bed, space_m2=SPACE_M2)
    regrown = day + timedelta(days=draws.randint(14, 21))
    late_days = draws.randint(20, 45) if draws.random() < 0.1 else 0
    books.write("life", "regrew", regrown, late_days=late_days, label=bean.label, shoots=draws.randint(1, 5))


def come_up(books: Books, bean: Bean, season: int) -> None:
    """A mulched root seen shooting."""
    draws = chance("coming up", bean.label, season)
    day = date(season, 10, 18) + timedelta(days=draws.randint(0, 9))
    books.write("life", "regrew", day, label=bean.label, shoots=draws.randint(1, 4))


def first_flowers(books: Books, beans: Iterable[Bean], season: int) -> None:
    """The first open flowers, noted on some stakes only."""
    for bean in beans:
        draws = chance("flowers", bean.label, season)
        if draws.random() < 0.4:
            day = date.fromordinal(round(first_pod_about(bean, season)) - 22) + timedelta(days=draws.randint(-2, 2))
            books.write("life", "flowered", day, label=bean.label)


def frosted(books: Books, labels: Iterable[str], season: int) -> None:
    """The tops killed by the first frost."""
    day = CLEARED[season] + timedelta(days=3)
    for label in labels:
        books.write("life", "died_back", day, label=label, extent="whole", cause="frost")


def lift(books: Books, label: str, season: int, *, because: str | None, exactly: bool) -> None:
    """A root lifted to be kept; half the time only the month is remembered afterwards."""
    draws = chance("lifting", label, season)
    day = date(season + 1, 5, 6) + timedelta(days=draws.randint(0, 9))
    about = month_of(day) + ("~" if draws.random() < 0.3 else "")
    root_g = draws.randint(180, 620) if draws.random() < 0.7 else None
    broken = True if draws.random() < 0.12 else None
    books.write(
        "life", "lifted", day if exactly else about, written=day, label=label, root_g=root_g, roots_broken=broken,
        condition="sound" if root_g else None, kept_because=because,
    )  # fmt: skip


def winter_in_store(books: Books, label: str, season: int, *, rots: bool, box: str) -> None:
    """A lifted root in its box, frost-free, until spring or until it rots."""
    draws = chance("store", label, season)
    put_by = date(season + 1, 5, 20) + timedelta(days=draws.randint(0, 3))
    books.write("life", "stored", put_by, label=label, place="bare root", protection="frost-free", box=box)
    looked = date(season + 1, 7, 14)
    if rots:
        books.write("life", "store_checked", looked, label=label, condition=draws.choice(("soft", "rotten")))
        found = looked + timedelta(days=draws.randint(14, 36))
        exact = draws.random() < 0.6
        books.write("life", "died", found if exact else month_of(found), written=found, label=label, cause="rot")
    elif draws.random() < 0.5:
        condition = "sound" if draws.random() < 0.8 else "shrivelled"
        books.write("life", "store_checked", looked, label=label, condition=condition)
