"""What is on record about one animal or pen, read no further back than is asked.

A herd's history grows for twenty years; what is due rests on its last days. Whatever is answered is
what the whole record would answer. Must not know the care plan.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import UTC, date, datetime, timedelta
from functools import lru_cache
from zoneinfo import ZoneInfo

from herdsync.kinds import CATALOGUE
from herdsync.merge.lone import Lone
from herdsync.merge.newest import Newest
from herdsync.merge.records import Record
from herdsync.merge.shelf import CHORE, work_key
from herdsync.projections import acts, moments
from herdsync.projections.look import Look

Done = tuple[date, Record]

# So many acts of each kind are read at first, then so many, then all.
FEW = 4
MANY = 64
EVERY = 1_000_000_000
AS_ASKED = (FEW, MANY, EVERY)
# What sorts at an instant of UTC may begin so much later on the farm's own clock.
ZONE_SLACK = timedelta(hours=15)

_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
QUARTER_MS = 15 * 60 * 1000
# What has no time sorts by a device's clock, which may claim any number: held to calendar years
# from 1970 on. Later than this nothing counts yet.
_LATEST_MS = 80_000_000_000_000


# Acts with the day each counts from, oldest first, and the latest day that one not read yet can
# count from; None where all are read.
Level = tuple[list[Done], date | None]


class Past:
    """The standing records that name one thing: those about it, and those that name it beside."""

    def __init__(self, look: Look, record: Record) -> None:
        self._look = look
        self.record = record
        self._recent = look.records.recent(record.id, FEW)
        # The kinds of everything that ever named it.
        self.kinds = self._recent.kinds
        self._read: dict[str, tuple[list[Done], Iterator[Done]]] = {}
        self._done: dict[str, list[Done]] = {}
        self._naming: dict[str, list[Record]] = {}
        self._latest_days: dict[str, date] = {}
        self._lasts: dict[str, Done | None] = {}
        self._to_come = False

    def naming(self, kind: str) -> list[Record]:
        """All records of a kind that name it, ordered by (time, id)."""
        found = self._naming.get(kind)
        if found is None:
            known = kind in self.kinds
            found = self._look.records.naming(self.record.id, kind) if known else []
            self._naming[kind] = found
        return found

    def ever(self, kind: str) -> list[Record]:
        """All records of a kind that ever named it, retracted and unvouched ones too, in order."""
        every = self._recent.every(kind)
        return self._look.records.ever_naming(self.record.id, kind) if every is None else every

    def is_about(self, act: Record) -> bool:
        """Whether an act is about it, not one that names it beside."""
        subject = CATALOGUE[act.kind].subject
        if subject is None:
            return False
        told = act.values(subject)
        if len(told) == 1 and told[0] == self.record.id:
            return True
        return any(one in self.record.ids for one in told)

    def done(self, kind: str) -> list[Done]:
        """Acts of a kind about it up to today, with the day each counts from, oldest first."""
        found = self._done.get(kind)
        if found is None:
            if kind not in self.kinds:
                return []
            few = self._recent.floor(kind) is None
            found = self._every_few(kind) if few else self._timed(self.naming(kind))
            self._done[kind] = found
        return found

    def newest(self, kind: str, since: date = date.min) -> Iterator[Done]:
        """The same acts from a day on, newest first, read on only while the caller asks for more."""
        if kind not in self.kinds or self._latest_day(kind) < since:
            return
        if kind in self._done:
            yield from walk([(self._done[kind], None)], date.max, since)
            return
        floor = self._floor(self._recent.floor(kind))
        place = 0
        while (one := self._of_few(kind, place)) is not None:
            if one[0] < since:
                break
            if floor is None or one[0] > floor:
                yield one
            place += 1
        if floor is not None and floor >= since:
            yield from walk(self._levels(kind), floor, since)

    def chores(self, item: str, since: date = date.min) -> Iterator[Done]:
        """The times an item of the plan was written down as a chore done, as ``newest`` tells acts."""
        return walk(self._chore_levels(item), date.max, since) if CHORE in self.kinds else iter(())

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
        if kind not in self.kinds or (since > date.min and self._latest_day(kind) < since):
            return None
        last = self.last(kind)
        if last is None or last[0] < since:
            return None
        if not where and last[1].id != but:
            return last
        for one in self.newest(kind, since):
            if one[1].id != but and acts.holds_where(one[1], where or {}, anchor):
                return one
        return None

    def last(self, kind: str) -> Done | None:
        """The latest act of a kind up to today."""
        if kind not in self._lasts:
            known = kind in self.kinds
            found = (self._plain_last(kind) or next(self.newest(kind), None)) if known else None
            self._lasts[kind] = found
        return self._lasts[kind]

    def _plain_last(self, kind: str) -> Done | None:
        """The same where the one that sorts last was told once, for a day that none before it has.

        None where it takes more to say. An act counts from no later day than its time sorts by.
        """
        act, before = self._recent.last(kind)
        day = self._day(act) if isinstance(act, Lone) else None
        if day is None or (before is not None and day <= self._no_later_than(before)):
            return None
        return day, act

    def unsettled(self) -> bool:
        """Whether the moment of an act, or one claim of the time of an act that was read, is to come."""
        after = (self._look.moment - _EPOCH) // timedelta(milliseconds=1)
        later = self._recent.later(after)
        return self._to_come or any(moments.exact(one) for act in later for one in acts.times(act))

    def _latest_day(self, kind: str) -> date:
        """The latest day that any act of a kind can count from."""
        found = self._latest_days.get(kind)
        if found is None:
            found = self._latest_days[kind] = self._no_later_than(self._recent.times(kind)[0])
        return found

    def _levels(self, kind: str) -> Iterator[Level]:
        yield self._told(self._look.records.newest(self.record.id, kind, MANY))
        yield self.done(kind), None

    def _chore_levels(self, item: str) -> Iterator[Level]:
        if self._recent.floor(CHORE) is None:
            yield [one for one in self.done(CHORE) if one[1].value("item") == item], None
            return
        for most in AS_ASKED:
            read = [
                self._look.records.newest(work_key(id, item), CHORE, most) for id in self.record.ids
            ]
            floors = [one.floor for one in read if one.floor is not None]
            records = {act.id: act for one in read for act in one.records}
            yield self._told(Newest(list(records.values()), max(floors, default=None)))

    def _of_few(self, kind: str, place: int) -> Done | None:
        """One of the first acts read of a kind, the newest at 0; each is read when first asked for."""
        read = self._read.get(kind)
        if read is None:
            read = self._read[kind] = ([], self._read_few(kind))
        told, rest = read
        while place >= len(told):
            following = next(rest, None)
            if following is None:
                return None
            told.append(following)
        return told[place]

    def _every_few(self, kind: str) -> list[Done]:
        """All of the first acts read of a kind, oldest first."""
        told, rest = self._read.setdefault(kind, ([], self._read_few(kind)))
        told += rest
        return told[::-1]

    def _read_few(self, kind: str) -> Iterator[Done]:
        """The same as they are read.

        An act may count from an earlier day than its time sorts by, so one is told as soon as none
        that sorts before it can count from as late a day.
        """
        ahead: list[Done] = []
        times = self._recent.times(kind)
        for place, act in enumerate(self._recent.of(kind)):
            timed = self._timed([act]) if act is not None else []
            ahead = sorted([*ahead, *timed], key=by_day) if ahead else timed
            following = times[place + 1] if place + 1 < len(times) else None
            while ahead and following is not None and ahead[-1][0] > self._no_later_than(following):
                yield ahead.pop()
        while ahead:
            yield ahead.pop()

    def _told(self, newest: Newest) -> Level:
        """Acts with their days, and the latest day that one not read yet can count from."""
        return self._timed(newest.records), self._floor(newest.floor)

    def _floor(self, at: int | None) -> date | None:
        return None if at is None else self._no_later_than(at)

    def _no_later_than(self, at: int) -> date:
        return no_later_than(at, self._look.zone)

    def _timed(self, records: list[Record]) -> list[Done]:
        timed = [(day, act) for act in records if (day := self._day(act)) is not None]
        return sorted(timed, key=by_day) if len(timed) > 1 else timed

    def _day(self, act: Record) -> date | None:
        """The day an act counts from; None where it is not about this, or has no day up to today."""
        look, told = self._look, self._told_times(act)
        if len(told) == 1:
            day = moments.first_day(told[0], look.zone)
        elif told:
            self._to_come |= any(moments.span(one, look.zone)[0] > look.moment for one in told)
            day = min(moments.first_day(one, look.zone) for one in told)
        else:
            return None
        return day if day <= look.today else None

    def _told_times(self, act: Record) -> Sequence[str]:
        """Every standing time of an act about it; none of one that only names it."""
        if not isinstance(act, Lone):
            return acts.times(act) if self.is_about(act) else ()
        # What one entry tells is read as it was told.
        spec = CATALOGUE[act.kind]
        told = act.fields.get(spec.on or "")
        about = act.fields.get(spec.subject or "")
        return (told,) if type(told) is str and about in self.record.ids else ()

    def last_before(self, kind: str, moment: datetime) -> Record | None:
        """The act of a kind about it with the latest instant up to a moment; ties go by id."""
        if kind not in self.kinds:
            return None
        last = self._plain_last_before(kind, moment)
        if last is not None:
            return last
        found = self._begun([one for one in self._recent.of(kind) if one is not None], moment)
        floor = self._recent.floor(kind)
        if floor is not None:
            sure = _instant(floor) + ZONE_SLACK
            if found is None or found[0] <= sure:
                found = self._begun(self.naming(kind), moment)
        return None if found is None else found[2]

    def _plain_last_before(self, kind: str, moment: datetime) -> Record | None:
        """The same where the one that sorts last is surely the latest; None where it takes more to say."""
        act, before = self._recent.last(kind)
        told = self._told_times(act) if isinstance(act, Lone) else ()
        if not told:
            return None
        at = moments.span(told[0], self._look.zone)[0]
        later = before is None or at > _instant(before) + ZONE_SLACK
        return act if at <= moment and later else None

    def _begun(
        self, records: list[Record], moment: datetime
    ) -> tuple[datetime, bytes, Record] | None:
        begun = []
        for act in records:
            at = acts.first_instant(act, self._look.zone) if self.is_about(act) else None
            if at is not None and at <= moment:
                begun.append((at, act.id, act))
        return max(begun, key=lambda one: (one[0], one[1]), default=None)


def by_day(done: Done) -> tuple[date, bytes]:
    """The order of acts: by the day each counts from, those of one day by id."""
    return done[0], done[1].id


def no_later_than(at: int, zone: ZoneInfo) -> date:
    """The latest local day that an act sorted at an instant (ms UTC), or before it, counts from."""
    return _latest_day(at // QUARTER_MS, zone)


@lru_cache(maxsize=65_536)
def _latest_day(quarter: int, zone: ZoneInfo) -> date:
    """The later of the days, by UTC and in a zone, on which a quarter of an hour ends."""
    instant = _instant((quarter + 1) * QUARTER_MS - 1)
    return max(instant.date(), instant.astimezone(zone).date())


def _instant(at: int) -> datetime:
    return _EPOCH + timedelta(milliseconds=min(max(at, 0), _LATEST_MS))


def walk(levels: Iterable[Level], above: date, since: date) -> Iterator[Done]:
    """Acts level by level, newest first, from those that count from a day no later than ``above``."""
    for told, floor in levels:
        for one in reversed(told):
            if one[0] < since:
                break
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
