"""How tests run here: property tests without a time limit an example, for machines are shared and noisy;
screens drawn as soon as they are asked for."""

from __future__ import annotations

import os

from hypothesis import HealthCheck, Phase, settings

# A screen draws at most so often a second; a test waits for each drawing.
os.environ.setdefault("TEXTUAL_FPS", "240")

settings.register_profile("shared", deadline=None, suppress_health_check=[HealthCheck.too_slow])
# Where one failure is all that is asked for: it is not made smaller, and nothing is kept of it.
settings.register_profile(
    "quick", settings.get_profile("shared"), phases=(Phase.explicit, Phase.generate), database=None
)
settings.load_profile("shared")
