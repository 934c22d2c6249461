"""The rhubarb crowns: some here before the books, some bought as roots, one divided, one stand, one lost."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from math import exp

from demo_garden.books import Books, chance
from demo_garden.cropping import gather, note_nothing_ripe, note_pickings, ripening, rounds
from demo_garden.truth import BOOKS_BEGAN, RHUBARB, SEASONS, TRUTH

SHAPE = (1.2, 1.4)
BED = "Shade bed"
# a plant's season of life -> the day of the season's first stalks, and over how many days they are pulled
PULLED = {2: ((10, 4), 30), 3: ((9, 22), 60), 4: ((9, 14), 85), 5: ((9, 12), 90)}


@dataclass(frozen=True)
class Crown:
    """A crown or a stand of them; began is None when it stood here before the books."""

    label: str
    began: int | None = None
    last: int = SEASONS[-1]
    plants: int = 1


CROWNS = (
    Crown("Ru1"),
    Crown("Ru2"),
    Crown("Ru3", last=2023),
    *(Crown(f"Ru{number}", 2020) for number in (4, 5, 6, 7)),
    Crown("Ru8", 2022),
    Crown("Ru9", 2022),
    Crown("Ru Row", plants=4),
)


def rhubarb(books: Books) -> None:
    """All crowns through all seasons."""
    for crown in CROWNS:
        _begin(books, crown)
        for season in range(crown.began or SEASONS[0], crown.last + 1):
            _pull(books, crown, season)
            if season < crown.last:
                _winter(books, crown, season)
    books.write(
        "life", "divided", date(2022, 8, 9), label="Ru2", into=("Ru8", "Ru9"), mother_continues=True, bed=BED,
        minutes=50,
    )  # fmt: skip
    books.write("life", "counted", date(2023, 10, 2), label="Ru Row", alive=3)
    books.write("life", "died", "2024-03~", written=date(2024, 3, 20), label="Ru3", cause="crown rot")
    for season in SEASONS:
        last = date(season, 12, 31)
        books.write("harvest", "books_kept", written=last, bed=BED, since=date(season, 9, 1), until=last)


def _begin(books: Books, crown: Crown) -> None:
    if crown.began is None:
        books.write(
            "life", "already_here", BOOKS_BEGAN, label=crown.label, crop=RHUBARB, cultivar="Tallo Verde", bed=BED,
            plants=crown.plants, since="../2018", space_m2=1.0 * crown.plants,
        )  # fmt: skip
    elif crown.began == SEASONS[0]:
        # the seller's word on the age of Ru7 was not written down
        known = None if crown.label == "Ru7" else 1
        books.write(
            "life", "acquired", "2020-08", written=date(2020, 8, 31), label=crown.label, crop=RHUBARB,
            cultivar="Tallo Verde", kind="root", bed=BED, plants=1, plant_season=known, origin="a nursery (invented)",
            space_m2=1.0, cost=4500,
        )  # fmt: skip


def season_g(crown: Crown, season: int) -> float:
    """The stalks of one crown in one season, g in the median."""
    truth = TRUTH["rhubarb"]
    if crown.began is not None:
        grams: float = truth["season_g"][season - crown.began + 1]
        return grams
    if crown.label == "Ru2" and season == 2022:
        return float(truth["established_g"] * truth["after_division_ratio"])
    standing = 3 if crown.plants > 1 and season >= 2023 else crown.plants
    return float(truth["established_g"] * standing)


def _pull(books: Books, crown: Crown, season: int) -> None:
    life = 5 if crown.began is None else season - crown.began + 1
    if life == 1:
        if crown.label in ("Ru4", "Ru8"):
            note_nothing_ripe(books, crown.label, date(season, 11, 3))
        return
    truth, draws = TRUTH["rhubarb"], chance("crown", crown.label, season)
    total_g = season_g(crown, season) * exp(draws.gauss(0.0, truth["log_sd_total"]))
    (month, day), over_days = PULLED[life]
    start = date(season, month, day).toordinal() + draws.gauss(0.0, 2.0)
    stalks = ripening(("crown", crown.label, season), total_g, truth["stalk_g"], start, over_days, SHAPE)
    days = rounds(("shade", season), date(season, 9, 15), date(season, 12, 20), (11, 12, 13, 14))
    pickings = gather(crown.label, stalks, days, least=2)
    note_pickings(books, pickings, weight_only=0.05, minutes_a_label=3, use="jam")


def _winter(books: Books, crown: Crown, season: int) -> None:
    """Dead in May, up in August, each noted when somebody thought of it."""
    draws = chance("crown winter", crown.label, season)
    if draws.random() < 0.6:
        down = date(season + 1, 5, 20) + timedelta(days=draws.randint(0, 12))
        books.write("life", "died_back", down, label=crown.label, extent="whole", cause="autumn")
    if draws.random() < 0.55:
        up = date(season + 1, 8, 14) + timedelta(days=draws.randint(0, 14))
        books.write("life", "regrew", up, label=crown.label)
