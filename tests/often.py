"""How often a test tries what is random: in full where ``CI=true``, a fifth of it at the desk."""

from __future__ import annotations

import os
from typing import Any

from hypothesis import HealthCheck, settings

IN_CI = os.environ.get("CI") == "true"
SLOW = [HealthCheck.too_slow]  # two cores that others use too


def often(many: int, least: int = 10) -> int:
    """How often at this place, where it is ``many`` times in CI and never under ``least``."""
    return many if IN_CI else min(many, max(least, many // 5))


def examples(many: int, *, shared: bool = False, **more: Any) -> settings:
    """The settings of a law that is tried with so many random examples in CI.

    ``shared``: a fixture is asked for that all of the examples use.
    """
    checks = [*SLOW, HealthCheck.function_scoped_fixture] if shared else SLOW
    return settings(
        deadline=None, max_examples=often(many), **{"suppress_health_check": checks} | more
    )


settings.register_profile("tests", examples(60))
settings.load_profile("tests")
