"""Flowers followed one by one in the summer of 2023/24, trusses counted, pods left for seed, seed saved and tested."""

from __future__ import annotations

from datetime import date, timedelta

from demo_garden.beans import Bean
from demo_garden.books import Books, chance
from demo_garden.truth import TRUTH

WATCHED_SEASON = 2023
TRUSSES = ((date(2024, 1, 6), "a"), (date(2024, 1, 20), "b"))
FLOWERS_A_TRUSS = 11


def flowers(books: Books, rows: dict[int, list[Bean]]) -> None:
    """Two trusses followed flower by flower on each of three beans; others counted once or twice a week."""
    standing = rows[WATCHED_SEASON]
    watched = [
        next(bean for bean in standing if (bean.bed, bean.stock) == kind)
        for kind in (("Gate bed", "overwintered"), ("Gate bed", "fresh"), ("Tunnel bed", "overwintered"))
    ]
    for bean in watched:
        for opens, truss in TRUSSES:
            for position in range(1, FLOWERS_A_TRUSS + 1):
                _follow(books, bean.label, truss, position, opens + timedelta(days=(position - 1) // 2))
    counted = [bean for bean in standing if bean not in watched][:4]
    for bean in counted:
        _count(books, bean.label, "1", date(2024, 1, 9))
    _count(books, next(bean for bean in rows[2024] if bean.stock == "overwintered").label, "1", date(2025, 1, 8))


def set_chance(position: int, opened_on: date) -> float:
    """The chance that a flower sets."""
    truth = TRUTH["flowers"]
    by_place = truth["set_chance"]
    usual: float = by_place["1-4"] if position <= 4 else by_place["5-8"] if position <= 8 else by_place["9-"]
    first, last = truth["warm_spell"]
    return usual * (truth["warm_spell_ratio"] if first <= opened_on <= last else 1.0)


def _follow(books: Books, label: str, truss: str, position: int, opened_on: date) -> None:
    draws = chance("flower", label, truss, position)
    sets, fate = draws.random() < set_chance(position, opened_on), draws.random()
    set_on = opened_on + timedelta(days=draws.randint(3, 5)) if sets else None
    ended_on: date | None
    if not sets:
        end, ended_on = "flower dropped", opened_on + timedelta(days=draws.randint(2, 5))
    elif fate < 0.12:
        end, ended_on = "pod dropped", opened_on + timedelta(days=draws.randint(7, 10))
    elif fate < 0.18:
        end, ended_on = "damaged", opened_on + timedelta(days=draws.randint(8, 14))
    elif fate < 0.24:
        end, ended_on = "lost to view", None
    else:
        end, ended_on = ("picked" if fate < 0.8 else "full size"), opened_on + timedelta(days=draws.randint(17, 21))
    books.write(
        "flowering", "flower_fate", written=opened_on + timedelta(days=22), label=label, truss=truss, position=position,
        opened_on=opened_on, set_on=set_on, ended_on=ended_on, end=end,
    )  # fmt: skip


def _count(books: Books, label: str, truss: str, first: date) -> None:
    draws = chance("truss", label, truss, first.year)
    flowers_in_all = draws.randint(10, 14)
    set_in_all = round(flowers_in_all * draws.uniform(0.3, 0.5))
    for visit, share in enumerate((0.4, 0.8, 1.0, 1.0)):
        opened = round(flowers_in_all * share)
        set_by_now = round(set_in_all * (0.0, 0.5, 0.9, 1.0)[visit])
        books.write(
            "flowering", "truss_count", first + timedelta(days=6 * visit), label=label, truss=truss, opened=opened,
            set=set_by_now, dropped=round((opened - set_by_now) * (0.1, 0.4, 0.8, 1.0)[visit]) if visit != 1 else None,
            full_size=round(set_by_now * 0.8) if visit == 3 else 0,
        )  # fmt: skip


def seed(books: Books, rows: dict[int, list[Bean]], fence: dict[int, list[Bean]]) -> None:
    """Pods left on one or two good stakes each autumn; seed lots, and how they came up on damp paper."""
    for season, beans in rows.items():
        for bean in beans[:2]:
            left = 5 if bean == beans[0] else None
            books.write("harvest", "left_for_seed", date(season + 1, 2, 15), label=bean.label, count=left)
        _save(books, beans[0].label, season, f"HR {season + 1}")
    _save(books, fence[2020][0].label, 2020, "MB 2021")
    books.write("seed", "seed_saved", "2021-06", written=date(2021, 6, 30), label="R1", lot="FI 2021", count=60)
    _test(books, "Bought 2020", date(2020, 9, 20), 20)
    _test(books, "FI 2021", date(2021, 7, 20), 20)


def _save(books: Books, label: str, season: int, lot: str) -> None:
    draws = chance("seed", lot)
    saved, grams = date(season + 1, 4, 14) - timedelta(days=draws.randint(0, 9)), draws.randint(22, 48)
    # a runner bean seed weighs about a gram
    books.write("seed", "seed_saved", saved, label=label, lot=lot, grams=grams, count=grams - draws.randint(0, 4))
    _test(books, lot, date(season + 1, 8, 20), 10)
    if season == 2020:
        _test(books, lot, date(season + 3, 8, 25), 10)


def _test(books: Books, lot: str, on: date, sown: int) -> None:
    draws = chance("germination", lot, on.year)
    germinated = sum(draws.random() < 0.86 for _ in range(sown))
    books.write("seed", "germination_test", on, lot=lot, sown=sown, germinated=germinated)
