"""What keepers said of pieces of work: not done at all, put off, or an animal spared an item."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date

from msgspec import Struct, structs

from herdsync.answers import DueLine
from herdsync.merge.records import Record, Records
from herdsync.projections import spans
from herdsync.projections.goat import Goat


class Verdict(Struct, frozen=True):
    """Of one piece of work: skipped for good, or put off until a day."""

    skipped: bool = False
    until: date | None = None


def verdicts_of(records: Records) -> dict[str, Verdict]:
    """What was skipped or put off, by the id of the work."""
    found: dict[str, Verdict] = {}
    for record in records.of_kind("postpone"):
        told = record.value("until")
        if isinstance(told, str):
            found[str(record.value("work"))] = Verdict(until=date.fromisoformat(told))
    for record in records.of_kind("skip"):
        if not record.value("lifted"):
            found[str(record.value("work"))] = Verdict(skipped=True)
    return found


def judged(
    line: DueLine, ids: Iterable[str], said: Mapping[str, Verdict], today: date
) -> DueLine | None:
    """A line as keepers' words leave it; None where the work is skipped."""
    verdict = next((said[id] for id in ids if id in said), None)
    if verdict is None:
        return line
    if verdict.skipped:
        return None
    if verdict.until is None or verdict.until <= today or line.state == spans.AHEAD:
        return line
    return structs.replace(line, state=spans.PUT_OFF, due=verdict.until.isoformat())


def exemptions(goat: Goat) -> dict[str, Record]:
    """The items an animal is spared today, with the record that says so.

    Where keepers differ about the end, the earliest counts: care comes back sooner, not later.
    """
    found: dict[str, Record] = {}
    for record in goat.acts.get("exempt", []):
        until = min(record.values("until"), default=None)
        if until is None or date.fromisoformat(until) >= goat.look.today:
            found[str(record.value("item"))] = record
    return found


def spared_words(record: Record) -> str:
    """Why and until when, as a sentence."""
    until = min(record.values("until"), default=None)
    told = f"spared this until {until}" if until else "spared this for good"
    because = record.value("because")
    said_by = record.value("said_by")
    return told + (f": {because}" if because else "") + (f" ({said_by})" if said_by else "")
