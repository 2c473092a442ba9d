"""What was typed into a form that was left: it waits in that form until it is opened again.

Kept in memory for one run of the dashboard and written nowhere. Must not know what any line means.
"""

from __future__ import annotations

from collections.abc import Mapping

KEPT_MOST = 40


class Drawer:
    """Half-written forms by what they are about."""

    def __init__(self) -> None:
        self._kept: dict[str, dict[str, str]] = {}

    def keep(self, form: str, told: Mapping[str, str]) -> None:
        """Keep what was typed, by line; the oldest make room."""
        self._kept.pop(form, None)
        if told:
            self._kept[form] = dict(told)
        for oldest in list(self._kept)[:-KEPT_MOST]:
            del self._kept[oldest]

    def take(self, form: str) -> dict[str, str]:
        """What was typed into a form when it was left; it is in the drawer no longer."""
        return self._kept.pop(form, {})
