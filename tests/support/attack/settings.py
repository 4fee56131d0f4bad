"""How long the attacks run."""

from __future__ import annotations

from hypothesis import HealthCheck, settings

from tests.conftest import SOAK

SOAK_FACTOR = 20
_QUIET = [HealthCheck.too_slow, HealthCheck.data_too_large, HealthCheck.filter_too_much]


def attack_settings(runs: int, steps: int) -> settings:
    """Return the settings for so many runs of so many steps each.

    The same attacks each time, but for the long runs: what they must reach is counted, and chance could miss it.
    """
    return settings(
        max_examples=runs,
        stateful_step_count=steps,
        suppress_health_check=_QUIET,
        deadline=None,
        derandomize=not SOAK,
        database=None,
    )
