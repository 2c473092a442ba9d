"""Reading one line of a form as the farm will, before anything is written: a slip is said beside it.

Names of animals and things are not looked up here: the farm has the last word on them.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from herdsync.faults import Fault
from herdsync.kinds import Field

ANY_RECORD = bytes(16)
# How the farm names the line it refused: "weight_kg: ..." or "A record of dose needs product."
REFUSED_LINE = re.compile(r"^([a-z_]+): |\bneeds ([a-z_]+)\.")


@dataclass(frozen=True)
class AtTheDesk:
    """What reading a line may ask: the moment and the zone."""

    moment: datetime
    place: ZoneInfo

    def now(self) -> datetime:
        """This run's moment."""
        return self.moment

    def zone(self) -> ZoneInfo:
        """The farm's zone."""
        return self.place

    def find(self, kind: str, text: str) -> bytes:
        """Some record: whether it is there the farm will say."""
        del kind, text
        return ANY_RECORD


def fault_of(field: Field, text: str, reading: AtTheDesk) -> str:
    """What is wrong with what was typed, as a sentence with its mend; empty where nothing is."""
    if not text:
        return ""
    try:
        field.check(field.parse(text, reading))
    except Fault as fault:
        return str(fault)
    return ""


def line_refused(said: str) -> str:
    """The line a refusal of the farm is about; empty where it names none."""
    found = REFUSED_LINE.search(said)
    return "" if found is None else found.group(1) or found.group(2)
