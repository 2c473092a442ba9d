"""How tests run here: property tests without a time limit an example, for machines are shared and noisy;
screens drawn when all is still; the collector looking as seldom as under the console command."""

from __future__ import annotations

import gc
import os
import signal
import threading

from hypothesis import HealthCheck, Phase, settings

from herdsync.start import COLLECT_AFTER

gc.set_threshold(*COLLECT_AFTER)
# A screen draws at most so often a second by itself: `tests.tui.stage` draws once nothing else is left.
os.environ.setdefault("TEXTUAL_FPS", "20")

# Where the run itself was started in the background of a shell, everything it starts would ignore ctrl+c.
_first = threading.current_thread() is threading.main_thread()
if _first and signal.getsignal(signal.SIGINT) is signal.SIG_IGN:
    signal.signal(signal.SIGINT, signal.default_int_handler)

settings.register_profile("shared", deadline=None, suppress_health_check=[HealthCheck.too_slow])
# Where one failure is all that is asked for: it is not made smaller, and nothing is kept of it.
settings.register_profile(
    "quick", settings.get_profile("shared"), phases=(Phase.explicit, Phase.generate), database=None
)
settings.register_profile("few", settings.get_profile("quick"), max_examples=20)
settings.load_profile("shared")
