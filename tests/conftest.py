"""Hypothesis profiles, chosen by PERENNIA_TEST_PROFILE: dev (the default), ci (the default where CI is set), thorough.

dev and ci draw the same examples on every run; thorough draws new ones and prints how to get a failure back.
"""

from __future__ import annotations

import os

from hypothesis import HealthCheck, settings

# no deadline and no check of speed: a slow machine is no failure
_PATIENT = {"deadline": None, "suppress_health_check": [HealthCheck.too_slow], "print_blob": True}
settings.register_profile("dev", derandomize=True, max_examples=25, database=None, **_PATIENT)
settings.register_profile("ci", derandomize=True, max_examples=50, database=None, **_PATIENT)
settings.register_profile("thorough", max_examples=1000, **_PATIENT)
settings.load_profile(os.environ.get("PERENNIA_TEST_PROFILE", "ci" if os.environ.get("CI") else "dev"))
