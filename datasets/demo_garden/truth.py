"""The truth planted in the invented garden. The generator draws from these figures; the tests hold results to them.

Everything here is invented. This file imports nothing of ours, so that
``runpy.run_path("datasets/demo_garden/truth.py")["TRUTH"]`` reads it from anywhere.
"""

from __future__ import annotations

from datetime import date
from typing import Any

SEED = 398
BOOKS_BEGAN = date(2020, 8, 3)
CUT_OFF = date(2025, 2, 20)
SEASONS = (2020, 2021, 2022, 2023, 2024)
RUNNING_SEASON = 2024

BEAN, ROCOTO, RHUBARB = "Phaseolus coccineus", "Capsicum pubescens", "Rheum x hybridum"

TRUTH: dict[str, Any] = {
    "bean": {
        # g of pods a plant and season in the median, fresh stock, Gate bed, before the season's own factor
        "fresh_g": {"Huerta Roja": 880.0, "Manto Blanco": 720.0},
        "season_factor": {2020: 1.00, 2021: 1.06, 2022: 0.86, 2023: 1.02, 2024: 0.97},
        # overwintered against fresh, same bed and season
        "overwintered_ratio": 1.35,
        "overwintered_days": -16.0,
        # roots mulched in the ground against fresh (Fence bed, Hill bed)
        "mulched_ratio": 1.20,
        "mulched_days": -10.0,
        # the place itself; the Tunnel bed never holds fresh stock, so its effect cannot be told from the roots'
        "bed_ratio": {"Gate bed": 1.0, "Tunnel bed": 1.30, "Net bed": 0.90, "Fence bed": 1.0, "Hill bed": 1.0},
        "bed_days": {"Gate bed": 0.0, "Tunnel bed": -12.0, "Net bed": 3.0, "Fence bed": 0.0, "Hill bed": 0.0},
        # noise, drawn afresh for each plant and season: no plant is better than another for good
        "log_sd_total": 0.16,
        "sd_first_pod_days": 3.5,
        "pod_g": 16.0,
    },
    "rocoto": {
        "first_season_fruits": 16.0,
        # against the same plant's first season, on the same bench
        "season_ratio": {1: 1.0, 2: 1.5, 3: 1.5, 4: 1.35, 5: 1.35},
        "cutting_ratio": 1.2,
        "open_bench_ratio": 0.7,
        "second_season_days": -30.0,
        "log_sd_plant": 0.12,
        "log_sd_season": 0.10,
        "fruit_g": 50.0,
        "moved_to_open": ("R8", "R9"),
        "stayed": ("R1", "R2", "R3", "R4", "R5", "R6", "R7"),
    },
    "rhubarb": {
        # g of stalks a crown by its season of life
        "season_g": {1: 0.0, 2: 700.0, 3: 1500.0, 4: 2100.0, 5: 2400.0},
        "established_g": 2500.0,
        "after_division_ratio": 0.6,
        "log_sd_total": 0.14,
        "stalk_g": 115.0,
    },
    # (put by, found dead), counts planted outright, by the year of the winter; in the ground: the Fence bed only
    "survival": {
        "stored_bare_root": {2021: (10, 1), 2022: (11, 2), 2023: (15, 2), 2024: (14, 3)},
        "mulched_in_ground": {2021: (6, 2), 2022: (5, 1), 2023: (4, 1), 2024: (4, 1)},
        "stored_in_pot": {2021: (5, 0), 2022: (9, 0), 2023: (10, 1), 2024: (9, 0)},
    },
    # the chance that a flower sets, by its place on the truss; in the warm spell it is multiplied
    "flowers": {
        "set_chance": {"1-4": 0.65, "5-8": 0.25, "9-": 0.08},
        "warm_spell": (date(2024, 1, 20), date(2024, 1, 26)),
        "warm_spell_ratio": 0.4,
    },
}
