"""How many random cases are tried: a few thousand with the tests, ``FUZZ_CASES`` on demand."""

from __future__ import annotations

import os

from hypothesis import HealthCheck, settings

CASES = int(os.environ.get("FUZZ_CASES", "1500"))


def share(percent: int) -> settings:
    """Settings for a share of all cases: the same cases on every run, without a database of failures."""
    return settings(
        max_examples=max(1, CASES * percent // 100), derandomize=True, database=None, deadline=None,
        suppress_health_check=list(HealthCheck))
