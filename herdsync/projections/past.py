"""What is on record about one animal or pen, read no further back than is asked.

A herd's history grows for twenty years; what is due rests on its last days. Whatever is answered is
what the whole record would answer. Must not know the care plan.
"""

from __future__ import annotations

from collections.abc import Iterator, KeysView, Mapping
from datetime import UTC, date, datetime, timedelta
from functools import cached_property

from herdsync.kinds import CATALOGUE
from herdsync.merge.records import Newest, Recent, Record
from herdsync.merge.shelf import CHORE, work_key
from herdsync.projections import acts, moments
from herdsync.projections.look import Look

Done = tuple[date, Record]

# So many acts of each kind are read at first, then so many, then all.
FEW = 4
MANY = 64
EVERY = 1_000_000_000
# What sorts at an instant of UTC may begin so much later on the farm's own clock.
ZONE_SLACK = timedelta(hours=15)

_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)


# Acts with the day each counts from, oldest first, and the latest day that one not read yet can
# count from; None where all are read.
Level = tuple[list[Done], date | None]


class Past:
    """The standing records that name one thing: those about it, and those that name it beside."""

    def __init__(self, look: Look, record: Record) -> None:
        self._look = look
        self._record = record
        self._few: dict[str, Level] = {}
        self._done: dict[str, list[Done]] = {}
        self._naming: dict[str, list[Record]] = {}

    @cached_property
    def _recent(self) -> Recent:
        return self._look.records.recent(self._record.id, FEW)

    @property
    def kinds(self) -> KeysView[str]:
        """The kinds of everything that ever named it."""
        return self._recent.kinds

    def naming(self, kind: str) -> list[Record]:
        """All records of a kind that name it, ordered by (time, id)."""
        found = self._naming.get(kind)
        if found is None:
            known = kind in self.kinds
            found = self._look.records.naming(self._record.id, kind) if known else []
            self._naming[kind] = found
        return found

    def is_about(self, act: Record) -> bool:
        """Whether an act is about it, not one that names it beside."""
        subject = CATALOGUE[act.kind].subject
        return subject is not None and any(one in self._record.ids for one in act.values(subject))

    def done(self, kind: str) -> list[Done]:
        """Acts of a kind about it up to today, with the day each counts from, oldest first."""
        found = self._done.get(kind)
        if found is None:
            if kind not in self.kinds:
                return []
            few, floor = self._last_few(kind)
            found = few if floor is None else self._timed(self.naming(kind))
            self._done[kind] = found
        return found

    def newest(self, kind: str, since: date = date.min) -> Iterator[Done]:
        """The same acts from a day on, newest first, read on only while the caller asks for more."""
        return _walk(self._levels(kind), since) if kind in self.kinds else iter(())

    def chores(self, item: str, since: date = date.min) -> Iterator[Done]:
        """The times an item of the plan was written down as a chore done, as ``newest`` tells acts."""
        return _walk(self._chore_levels(item), since) if CHORE in self.kinds else iter(())

    def latest(
        self,
        kind: str,
        where: acts.Where | None = None,
        anchor: Record | None = None,
        but: bytes = b"",
        since: date = date.min,
    ) -> Done | None:
        """The latest act of a kind up to today that holds what ``where`` asks, other than ``but``.

        Acts before ``since`` are not looked at.
        """
        for one in self.newest(kind, since):
            if (not where or acts.holds_where(one[1], where, anchor)) and one[1].id != but:
                return one
        return None

    def unsettled(self, moment: datetime) -> bool:
        """Whether an act told to the moment, or one claim of its time, lies after an instant."""
        after = (moment - _EPOCH) // timedelta(milliseconds=1)
        later = self._recent.later(after)
        return any(moments.exact(told) for act in later for told in acts.times(act)) or any(
            moments.span(told, self._look.zone)[0] > moment
            for few, _ in self._few.values()
            for _, act in few
            if act.any_disputed
            for told in acts.times(act)
        )

    def _levels(self, kind: str) -> Iterator[Level]:
        if kind not in self._done:
            yield self._last_few(kind)
            yield self._told(self._look.records.newest(self._record.id, kind, MANY))
        yield self.done(kind), None

    def _chore_levels(self, item: str) -> Iterator[Level]:
        told, floor = self._last_few(CHORE)
        if floor is None:
            yield [one for one in told if one[1].value("item") == item], None
            return
        for most in (FEW, MANY, EVERY):
            read = [
                self._look.records.newest(work_key(id, item), CHORE, most)
                for id in self._record.ids
            ]
            floors = [one.floor for one in read if one.floor is not None]
            records = {act.id: act for one in read for act in one.records}
            yield self._told(Newest(list(records.values()), max(floors, default=None)))

    def _last_few(self, kind: str) -> Level:
        found = self._few.get(kind)
        if found is None:
            found = self._few[kind] = self._told(self._recent.of(kind))
        return found

    def _told(self, newest: Newest) -> Level:
        """Acts with their days, and the latest day that one not read yet can count from."""
        floor = None
        if newest.floor is not None:
            instant = _EPOCH + timedelta(milliseconds=newest.floor)
            floor = max(instant.date(), instant.astimezone(self._look.zone).date())
        return self._timed(newest.records), floor

    def _timed(self, records: list[Record]) -> list[Done]:
        today, zone = self._look.today, self._look.zone
        timed = []
        for act in records:
            day = acts.first_day(act, zone) if self.is_about(act) else None
            if day is not None and day <= today:
                timed.append((day, act))
        if len(timed) > 1:
            timed.sort(key=lambda one: (one[0], one[1].id))
        return timed

    def last_before(self, kind: str, moment: datetime) -> Record | None:
        """The act of a kind about it with the latest instant up to a moment; ties go by id."""
        newest = self._recent.of(kind) if kind in self.kinds else Newest([], None)
        found = self._begun(newest.records, moment)
        if newest.floor is not None:
            sure = _EPOCH + timedelta(milliseconds=newest.floor) + ZONE_SLACK
            if found is None or found[0] <= sure:
                found = self._begun(self.naming(kind), moment)
        return None if found is None else found[2]

    def _begun(
        self, records: list[Record], moment: datetime
    ) -> tuple[datetime, bytes, Record] | None:
        begun = []
        for act in records:
            at = acts.first_instant(act, self._look.zone) if self.is_about(act) else None
            if at is not None and at <= moment:
                begun.append((at, act.id, act))
        return max(begun, key=lambda one: (one[0], one[1]), default=None)


def _walk(levels: Iterator[Level], since: date) -> Iterator[Done]:
    above = date.max
    for told, floor in levels:
        for one in reversed(told):
            if one[0] < since:
                return
            if one[0] <= above and (floor is None or one[0] > floor):
                yield one
        if floor is None or floor < since:
            return
        above = floor


class About(Mapping[str, list[Record]]):
    """All acts of a life by kind, those of the future and without a time too, read kind by kind."""

    def __init__(self, past: Past, mine: bool) -> None:
        self._past = past
        self._mine = mine

    def __getitem__(self, kind: str) -> list[Record]:
        """Those of a kind that are about it, or that name it beside."""
        found = self._past.naming(kind)
        return [act for act in found if self._past.is_about(act) is self._mine]

    def __iter__(self) -> Iterator[str]:
        return iter(sorted(self._past.kinds))

    def __len__(self) -> int:
        return len(self._past.kinds)
