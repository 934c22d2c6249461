"""The rocoto pots: raised in the porch, set out on a bench, wintered in leaf in the porch, set out again."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from math import exp

from demo_garden.books import Books, chance, month_of
from demo_garden.cropping import gather, note_nothing_ripe, note_pickings, ripening, rounds
from demo_garden.truth import CUT_OFF, ROCOTO, RUNNING_SEASON, SEASONS, TRUTH

SHAPE = (1.3, 1.6)
CULTIVAR = "Fuego de Invierno"
BENCH, OPEN_BENCH = "Tunnel bench", "Wall bench"


@dataclass(frozen=True)
class Pot:
    """One pot: the season it began, the last season in which it crops, and what it was raised from."""

    label: str
    began: int
    last: int = RUNNING_SEASON
    cutting: bool = False


POTS = (
    *(Pot(f"R{number}", 2020) for number in (1, 2, 3, 4)),
    Pot("R5", 2020, last=2022),
    *(Pot(f"R{number}", 2021) for number in (6, 7, 8)),
    Pot("R9", 2021, last=2023),
    Pot("R10", 2022, cutting=True),
)
PICKED_IN_JULY = {("R1", 2021), ("R3", 2022), ("R6", 2022)}


def bench(pot: Pot, season: int) -> str:
    """Where the pot stands in a season: two of them go out into the open after their first."""
    return OPEN_BENCH if pot.label in TRUTH["rocoto"]["moved_to_open"] and season > pot.began else BENCH


def rocotos(books: Books) -> None:
    """All pots through all seasons."""
    for pot in POTS:
        _begin(books, pot)
        for season in range(pot.began, pot.last + 1):
            if season > pot.began:
                _set_out_again(books, pot, season)
            _pick(books, pot, season)
            if season < RUNNING_SEASON:
                _winter(books, pot, season)
    _cuttings(books)
    books.write("life", "died", "2023-08", written=date(2023, 8, 31), label="R5", cause="cold, the heater failed")
    books.write("life", "removed", date(2024, 9, 14), label="R9", reason="given away at the seed swap")
    for name in (BENCH, OPEN_BENCH):
        for season in SEASONS:
            until = min(date(season + 1, 7, 31), CUT_OFF)
            if name == BENCH or season > 2021:
                books.write("harvest", "books_kept", written=until, bed=name, since=date(season, 12, 1), until=until)


def _begin(books: Books, pot: Pot) -> None:
    if pot.cutting:
        return
    draws = chance("rocoto sown", pot.label)
    sown = date(pot.began, 8, 8) + timedelta(days=draws.randint(0, 3))
    books.write("life", "sown", sown, label=pot.label, crop=ROCOTO, cultivar=CULTIVAR, lot=f"FI {pot.began}")
    if draws.random() < 0.5:
        books.write("life", "emerged", sown + timedelta(days=draws.randint(16, 24)), label=pot.label)
    planted = date(pot.began, 11, 9) + timedelta(days=draws.randint(0, 4))
    books.write("life", "planted", planted, label=pot.label, bed=BENCH)


def _cuttings(books: Books) -> None:
    books.write("life", "cutting_taken", date(2022, 10, 21), label="R2", into=("R10", "R11"), note="tips of 10 cm")
    books.write("life", "died", date(2022, 12, 4), label="R11", cause="did not root")
    books.write("life", "planted", date(2022, 12, 18), label="R10", bed=BENCH)


def _set_out_again(books: Books, pot: Pot, season: int) -> None:
    draws = chance("set out", pot.label, season)
    day = date(season, 10, 12) + timedelta(days=draws.randint(0, 6))
    place = bench(pot, season)
    if (pot.label, season) == ("R8", 2022):
        books.write("life", "replanted", day, label=pot.label)
        books.write("life", "moved", day + timedelta(days=20), label=pot.label, bed=place)
    else:
        books.write("life", "replanted", day, label=pot.label, bed=place)
    if draws.random() < 0.7:
        books.write("life", "regrew", day + timedelta(days=draws.randint(9, 15)), label=pot.label)
    if draws.random() < 0.4:
        books.write("life", "flowered", day + timedelta(days=draws.randint(35, 48)), label=pot.label)


def fruits(pot: Pot, season: int) -> list[tuple[float, float]]:
    """The fruits of one pot in one season, as (day ripe, g), drawn from the truth."""
    truth = TRUTH["rocoto"]
    plant_season = season - pot.began + 1
    of_plant, of_season = chance("pot", pot.label), chance("pot", pot.label, season)
    ratio = truth["season_ratio"][plant_season]
    if pot.cutting:
        ratio = 0.0 if plant_season == 1 else truth["cutting_ratio"]
    number = truth["first_season_fruits"] * ratio * exp(of_plant.gauss(0.0, truth["log_sd_plant"]))
    number *= exp(of_season.gauss(0.0, truth["log_sd_season"]))
    if bench(pot, season) == OPEN_BENCH:
        number *= truth["open_bench_ratio"]
    earlier = 0.0 if plant_season == 1 else truth["second_season_days"]
    start = date(season + 1, 2, 24).toordinal() + earlier + of_season.gauss(0.0, 4.0)
    last = date(season + 1, 7, 3) if (pot.label, season) in PICKED_IN_JULY else date(season + 1, 6, 8)
    piece_g = truth["fruit_g"]
    return ripening(("pot", pot.label, season), number * piece_g, piece_g, start, last.toordinal() - start, SHAPE)


def _pick(books: Books, pot: Pot, season: int) -> None:
    draws = chance("pot rounds", pot.label, season)
    first = date(season + 1, 1, 12) + timedelta(days=draws.randint(0, 5))
    days = rounds(("pots", season, pot.label), first, date(season + 1, 7, 12), (13, 14, 15))
    pickings = gather(pot.label, fruits(pot, season), days)
    if pickings and pickings[0].on > days[0] and draws.random() < 0.25:
        note_nothing_ripe(books, pot.label, max(day for day in days if day < pickings[0].on))
    note_pickings(books, pickings, weight_only=0.04, use="sauce")


def _winter(books: Books, pot: Pot, season: int) -> None:
    draws = chance("pot winter", pot.label, season)
    stored = date(season + 1, 6, 10) + timedelta(days=draws.randint(0, 5))
    exact = draws.random() < 0.8
    books.write(
        "life", "stored", stored if exact else month_of(stored), written=stored, label=pot.label, place="pot",
        protection="frost-free", box="Porch",
    )  # fmt: skip
    if draws.random() < 0.6:
        books.write(
            "life", "cut_back", date(season + 1, 7, 22) + timedelta(days=draws.randint(0, 6)), label=pot.label,
            to_cm=draws.choice((25, 30, 35)),
        )  # fmt: skip
    elif draws.random() < 0.5:
        books.write("life", "store_checked", date(season + 1, 7, 28), label=pot.label, condition="sound")


def pots_on(season: int) -> Iterable[str]:
    """Labels of the pots standing out in a season."""
    return [pot.label for pot in POTS if pot.began <= season <= pot.last]
