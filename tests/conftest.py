"""Hypothesis profiles, chosen by PERENNIA_TEST_PROFILE: usual (the default, in CI as well), thorough.

usual draws the same examples on every run and on every machine, so that what passes here passes in CI; thorough draws
many new ones and prints how to get a failure back.
"""

from __future__ import annotations

import os

from hypothesis import HealthCheck, settings

# no deadline and no check of speed: a slow machine is no failure
_PATIENT = {"deadline": None, "suppress_health_check": [HealthCheck.too_slow], "print_blob": True}
settings.register_profile("usual", derandomize=True, max_examples=25, database=None, **_PATIENT)
settings.register_profile("thorough", max_examples=1000, **_PATIENT)
settings.load_profile(os.environ.get("PERENNIA_TEST_PROFILE", "usual"))
