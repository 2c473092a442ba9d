"""Work on many entries at once."""

from __future__ import annotations

import gc
from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def uncollected() -> Iterator[None]:
    """A batch without the collector's passes over it: its entries go, with all they hold, when it does.

    They hold no circles, so the collector would only walk them, again and again.
    """
    collecting = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if collecting:
            gc.enable()
