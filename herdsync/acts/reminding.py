"""The door's calendar: due work, clocks and windows as a file, following the one written before it."""

from __future__ import annotations

from pathlib import Path

from herdsync.acts.meeting import Meeting
from herdsync.acts.trading import Trading
from herdsync.faults import Refused
from herdsync.kinds.ids import text_id
from herdsync.papers.calendar import MADE_BY, Issue, calendar_of, events_in, work_of
from herdsync.papers.outcomes import CalendarMade
from herdsync.store.backup import replace_file

FARTHEST_DAYS = 400
CALENDAR_BYTES = 16 * 1024 * 1024


class Reminding(Trading, Meeting):
    """Calendars for a phone."""

    def calendar(self, file: Path, days: int = 60, since: Path | None = None) -> CalendarMade:
        """Due work of the coming days, running clocks and kidding windows as a calendar file.

        A calendar of ours that is there is replaced; what it held (or the one named by ``since``) and
        is done or gone since is told as cancelled. Raises Refused where a file is no calendar of ours
        or cannot be read or written, where nothing is due, or the library is missing.
        """
        moment = self.moment()
        there = _own_calendar(file)
        before = _own_calendar(since) if since is not None else there
        if since is not None and before is None:
            raise Refused(f"{since} is not there.", "Name the calendar that was taken in before.")
        earlier = {} if before is None else events_in(before)
        with self._looking() as (view, _):
            height = max(chain.tip_height for chain in view.log.chains.all.values())
        lines = self.due(days=days)
        if earlier:
            # What is only farther off than asked for is not gone: it is told at its day.
            known = {line.id for line in lines}
            told = {work_of(uid) for uid in earlier} - known
            lines += [line for line in self.due(days=FARTHEST_DAYS) if line.id in told]
        issue = Issue(self.name, text_id(self._store.farm), moment, height)
        made = calendar_of(issue, lines, self.timers(), self.kidding(), earlier)
        replace_file(file, made.content)
        return CalendarMade(str(file), made.events, made.cancelled)


def _own_calendar(file: Path) -> bytes | None:
    """The bytes of a calendar this program made; None where no file is. Raises Refused."""
    try:
        with file.open("rb") as opened:
            content = opened.read(CALENDAR_BYTES + 1)
    except FileNotFoundError:
        return None
    except OSError as fault:
        raise Refused(f"{file} could not be read ({fault}).", "Choose another name.") from fault
    if MADE_BY.encode() not in content[:1_000] or len(content) > CALENDAR_BYTES:
        raise Refused(
            f"{file} is no calendar of ours; nothing was written.", "Choose another name."
        )
    return content
