"""The site and its beds, what the grower did for the plants, and the weather of one summer."""

from __future__ import annotations

from datetime import date, timedelta
from math import cos, pi

from demo_garden.beans import CLEARED, Bean
from demo_garden.books import Books, chance
from demo_garden.rocoto import BENCH, OPEN_BENCH, pots_on
from demo_garden.truth import SEASONS, TRUTH

SITE = "Quilanto (invented)"
WEATHER_FROM, WEATHER_UNTIL = date(2023, 12, 1), date(2024, 2, 29)


def places(books: Books) -> None:
    """The site and its beds. The growing year is left to the default south of the equator, 1 July."""
    books.write(
        "sites", "site", name=SITE, latitude=-39.8, longitude=-73.2, elevation_m=20,
        note="INVENTED: no such garden; made by datasets/make_demo_garden.py",
    )  # fmt: skip
    beds: tuple[tuple[str, str, float | None, str | None, str], ...] = (
        ("Gate bed", "open", 8.0, None, "volcanic loam"),
        ("Tunnel bed", "tunnel", 3.0, None, "volcanic loam"),
        ("Net bed", "net", 5.0, None, "volcanic loam"),
        ("Fence bed", "open", 4.0, None, "heavy loam, wet in winter"),
        ("Hill bed", "open", 8.0, None, "volcanic loam"),
        (BENCH, "tunnel", None, "20 l pot", "bark and compost"),
        (OPEN_BENCH, "open", None, "20 l pot", "bark and compost"),
        ("Shade bed", "open", 16.0, None, "heavy loam"),
    )
    for name, cover, area_m2, container, soil in beds:
        books.write("beds", "bed", name=name, site=SITE, cover=cover, area_m2=area_m2, container=container, soil=soil)


def care(books: Books, rows: dict[int, list[Bean]], net: dict[int, list[Bean]]) -> None:
    """Watering, feeding, covers, damage, visitors and neighbours."""
    for season in SEASONS:
        _water_and_feed(books, season)
    for season in net:
        books.write("care", "covered", date(season, 10, 28), bed="Net bed", cover="fleece")
        books.write("care", "uncovered", date(season, 11, 22), bed="Net bed")
    late = tuple(bean.label for bean in rows[2024] if bean.stock == "fresh")[:2]
    books.write("care", "covered", date(2024, 11, 2), labels=late, cover="fleece", note="cold nights")
    books.write("care", "uncovered", date(2024, 11, 9), labels=late)
    _damage(books, rows)
    _visitors(books, rows)
    books.write("care", "neighbour", date(2021, 11, 5), bed="Fence bed", crop="Zea mays", until=date(2022, 4, 10))
    books.write("care", "neighbour", "2023-11", written=date(2023, 11, 30), bed="Gate bed", crop="Helianthus annuus")
    books.write("care", "noted", date(2022, 1, 16), bed="Gate bed", what="vines over the top of the poles")
    books.write("care", "noted", date(2023, 2, 5), bed="Hill bed", what="soil cracked", note="dry month")
    books.write("care", "noted", date(2024, 1, 24), bed="Gate bed", what="flowers on the ground after hot nights")
    books.write("care", "noted", date(2024, 10, 30), labels=("Ru1", "Ru4"), what="flower stalks broken out", minutes=10)


def _water_and_feed(books: Books, season: int) -> None:
    draws = chance("water", season)
    for week in range(4):
        day = date(season + 1, 1, 5) + timedelta(days=9 * week + draws.randint(0, 3))
        depth_mm = draws.choice((8, 10, 12, 15))
        books.write("care", "watered", day, bed="Gate bed", mm=depth_mm, minutes=draws.choice((15, 20)))
        if week < 3 and season > SEASONS[0]:
            books.write("care", "watered", day, bed="Tunnel bed", mm=draws.choice((10, 15)))
        pots = tuple(pots_on(season))
        books.write("care", "watered", day + timedelta(days=1), labels=pots, litres=2.0 * len(pots))
    books.write("care", "fed", date(season, 10, 1), bed="Gate bed", what="compost", amount_g=16000, minutes=40)
    books.write("care", "fed", date(season, 12, 3), bed=BENCH, what="liquid seaweed feed", cost=3200)


def _damage(books: Books, rows: dict[int, list[Bean]]) -> None:
    seedlings = tuple(bean.label for bean in rows[2022] if bean.stock == "fresh")[:3]
    books.write("care", "damage", date(2022, 11, 14), labels=seedlings, cause="slugs", extent=0.2)
    blown = rows[2021][-1].label
    books.write("care", "damage", date(2022, 2, 2), labels=(blown,), cause="wind", extent=0.3)
    books.write("life", "died_back", date(2022, 2, 6), label=blown, extent="partial", cause="wind")
    for day in CLEARED.values():
        books.write("care", "damage", day + timedelta(days=3), bed="Gate bed", cause="frost", extent=0.9)
    books.write("care", "damage", "2024-02", written=date(2024, 2, 29), labels=("R2",), cause="mites", extent=0.1)


def _visitors(books: Books, rows: dict[int, list[Bean]]) -> None:
    for day, visits, robbed in (
        (date(2023, 1, 12), 14, 2), (date(2024, 1, 10), 17, 1), (date(2024, 1, 23), 6, 4), (date(2024, 2, 3), 12, 2),
        (date(2025, 1, 15), 15, None),
    ):  # fmt: skip
        books.write("care", "visits", day, bed="Gate bed", watched_minutes=15, visits=visits, robbed=robbed)
    books.write("care", "visits", date(2024, 1, 23), bed="Tunnel bed", watched_minutes=15, visits=3, robbed=5)
    in_tunnel = tuple(bean.label for bean in rows[2023] if bean.bed == "Tunnel bed")[:1]
    books.write("care", "hand_pollinated", date(2024, 1, 11), labels=in_tunnel, trusses=("a",), minutes=12)
    for day, theta in ((date(2024, 1, 8), 0.31), (date(2024, 1, 22), 0.22), (date(2024, 2, 5), 0.27)):
        books.write("care", "soil_moisture", day, bed="Gate bed", theta=theta, depth_cm=20)


def weather(books: Books) -> None:
    """One summer at the site, and one month inside the tunnel, with a warm spell in January."""
    day = WEATHER_FROM
    first, last = TRUTH["flowers"]["warm_spell"]
    while day <= WEATHER_UNTIL:
        draws = chance("weather", day)
        warm = first <= day <= last
        swing = cos(2 * pi * (day - date(2024, 1, 20)).days / 365)
        t_max_c = (31.5 if warm else 19.0 + 3.5 * swing) + draws.gauss(0.0, 0.8 if warm else 2.2)
        t_min_c = (17.0 if warm else 8.0 + 2.5 * swing) + draws.gauss(0.0, 0.7 if warm else 1.6)
        rain_mm = draws.expovariate(1 / 6) if not warm and draws.random() < 0.25 else 0.0
        books.write(
            "weather", "weather", day, site=SITE, t_min_c=round(t_min_c, 1), t_max_c=round(t_max_c, 1),
            rain_mm=round(rain_mm, 1), rh_pct=float(round(draws.uniform(58, 82))),
            wind_m_s=round(draws.uniform(1.2, 3.8), 1), solar_mj_m2=round(draws.uniform(17, 28) - rain_mm / 4, 1),
        )  # fmt: skip
        if day.month == 1:
            inside_min_c, inside_max_c = round(t_min_c + 1.5, 1), round(t_max_c + 5, 1)
            books.write("weather", "weather", day, bed="Tunnel bed", t_min_c=inside_min_c, t_max_c=inside_max_c)
        day += timedelta(days=1)
