"""How property tests run here: no time limit an example, for machines are shared and noisy."""

from __future__ import annotations

from hypothesis import HealthCheck, Phase, settings

settings.register_profile("shared", deadline=None, suppress_health_check=[HealthCheck.too_slow])
# Where one failure is all that is asked for: it is not made smaller, and nothing is kept of it.
settings.register_profile(
    "quick", settings.get_profile("shared"), phases=(Phase.explicit, Phase.generate), database=None
)
settings.load_profile("shared")
