"""A reading for tests: a fixed moment, a zone, and a handful of records by name."""

from __future__ import annotations

import hashlib
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

from herdsync.faults import Refused


def id_of(name: str) -> bytes:
    return hashlib.sha256(name.encode()).digest()[:16]


class Barn:
    """Answers what reading a keeper's text asks of the farm."""

    def __init__(self, zone: str = "Europe/Berlin") -> None:
        self.at = datetime(2026, 2, 22, 5, 30, tzinfo=UTC)
        self.place = ZoneInfo(zone)
        self.known = {
            ("animal", "Agate"),
            ("animal", "Basalt"),
            ("pen", "Doe pen"),
            ("product", "Clearwell"),
        }

    def now(self) -> datetime:
        return self.at

    def zone(self) -> ZoneInfo:
        return self.place

    def find(self, kind: str, text: str) -> bytes:
        if any(text == name and kind in ("", one) for one, name in self.known):
            return id_of(text)
        raise Refused(f"No {kind or 'record'} is called {text!r}.", "Look with herd.")
