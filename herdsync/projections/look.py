"""One look at the farm: its records, its settings and the moment asked about. All else follows."""

from __future__ import annotations

from datetime import date, datetime
from functools import cached_property
from typing import Any

from herdsync.merge.records import Records
from herdsync.projections.names import Names
from herdsync.projections.settings import Settings
from herdsync.trade.dates import in_utc


class Look:
    """What every projection starts from. ``moment`` must know its offset; ``zone`` is the farm's."""

    def __init__(self, records: Records, settings: Settings, moment: datetime) -> None:
        self.records = records
        self.settings = settings
        self.zone = settings.zone
        self.moment = in_utc(moment)
        self.names = Names(records)
        # The seasons about today of plan items, by item, as pieces of work tell them.
        self.seasons: dict[str, tuple[object, list[Any]]] = {}
        # What withholding has worked out of each product within this look.
        self.longest: dict[tuple[bytes, str], int | None] = {}

    @cached_property
    def unreadable(self) -> frozenset[bytes]:
        """Every id that a critical entry names which this program cannot read."""
        return self.records.unreadable()

    @cached_property
    def today(self) -> date:
        """The farm's day at the moment."""
        return self.moment.astimezone(self.zone).date()
