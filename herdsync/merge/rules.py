"""Disagreements between records: possible same acts, and rules of the trade that were broken.

Nothing here refuses anything: an entry is recorded whatever it breaks, and the break is shown. Each
disagreement is between few records and rests on these alone, so what changed is held against what lies
beside it and never against the whole herd.
"""

from __future__ import annotations

import functools
from collections.abc import Callable, Iterable, Iterator
from datetime import datetime, timedelta
from typing import Any, Protocol
from zoneinfo import ZoneInfo

from herdsync.kinds import CATALOGUE
from herdsync.kinds.kind import Kind, PairRule
from herdsync.kinds.on import span
from herdsync.merge import pedigree
from herdsync.merge.conflicts import PAIR, RULE, Conflict, conflict_id
from herdsync.merge.newest import Reach
from herdsync.merge.payloads import VERDICT
from herdsync.merge.records import Record, Records, Register, milliseconds

Saw = Callable[[bytes, bytes], bool]
Verdicts = Callable[[Record, Record], Register | None]

MARKED = "one mark on two animals"
AFTER = "act after leaving"
PENS = "two pens at one time"
LOOP = "pedigree loop"

LEAVING = ("leaving", "death")
ARRIVAL = "arrival"
# Acts that may follow an animal's leaving: what is said of it, and its coming back.
AFTER_LEAVING = frozenset({*LEAVING, ARRIVAL, "note", "skip", "postpone"})
# An act that names one of these as dam or sire can be held against it, whatever else it is.
PARENTS = frozenset(
    name for name, kind in CATALOGUE.items() if {"sex", "born"} & kind.fields.keys()
)
_UTC = ZoneInfo("UTC")
# Two times written with one date are at most so far apart, their zones 26 hours between them.
ONE_DATE = timedelta(hours=50)
_DAY = timedelta(days=1)


class Beside(Records, Protocol):
    """Records, and those near each other in time or by a key."""

    def within(self, id: bytes, kind: str, reach: Reach) -> list[Record]:
        """Standing records of a kind that name it, their times within a reach."""


class Rules:
    """Everything that may be wrong between one record and others."""

    def __init__(self, records: Beside, saw: Saw, verdict: Verdicts) -> None:
        self._records = records
        self._saw = saw
        self._verdict = verdict
        # Asked for each act of an animal; they last as long as what is checked here.
        self.departures = functools.cache(self._departures)

    def of(self, record: Record) -> Iterator[Conflict]:
        """All disagreements that a record is part of, but loops of descent."""
        if record.kind in PARENTS:
            for child in self._records.naming(record.id, "animal"):
                yield from self._parents(child, of=record.id)
        if not record.counts:
            return
        kind = CATALOGUE[record.kind]
        if record.kind == "animal":
            yield from self._parents(record)
            yield from self._marks(record)
            yield from self._perhaps_one(kind, record)
        subject = self._subject(record)
        if subject is None:
            return
        if kind.pair is not None:
            yield from self._same_acts(kind, kind.pair, record, subject)
        if record.kind in LEAVING:
            acts = self._of_subject(self._records.naming(subject), subject)
            yield from self._after_leaving([record], acts, subject)
        elif kind.on is not None and record.kind not in AFTER_LEAVING:
            yield from self._after_leaving(self.departures(subject), [record], subject)
        if record.kind == "pen-move":
            yield from self._two_pens(record, subject)

    def loops(self, seeds: Iterable[Record]) -> Iterator[Conflict]:
        """Each knot of animals that are their own ancestors and that one of ``seeds`` is in."""
        for knot in pedigree.loops(seeds, self._records):
            says = "These animals descend from each other, which cannot be."
            yield broken(LOOP, knot, says, pedigree.MEND)

    def _departures(self, subject: bytes) -> list[Record]:
        """Where an animal is said to have left or died: what its coming back may excuse."""
        told = [one for kind in LEAVING for one in self._records.naming(subject, kind)]
        return list(self._of_subject(told, subject))

    def _subject(self, record: Record) -> bytes | None:
        field = CATALOGUE[record.kind].subject
        told = record.value(field) if field else None
        return self._records.canonical(told) if isinstance(told, bytes) else None

    def _of_subject(self, acts: Iterable[Record], subject: bytes) -> Iterator[Record]:
        return (act for act in acts if self._subject(act) == subject)

    def _same_acts(
        self, kind: Kind, rule: PairRule, act: Record, subject: bytes
    ) -> Iterator[Conflict]:
        alike = self._told_alike(rule, act)
        if None in alike:
            return
        for other in self._near_in_time(kind, rule, act, subject):
            # What rules most of them out comes first, and the act itself with its one writer.
            if not near(kind, rule, act, other) or not two_writers(act, other):
                continue
            if self._told_alike(rule, other) != alike or self._subject(other) != subject:
                continue
            if rule.even_if_seen or self._unaware(act, other):
                yield from self._pair(kind, act, other)

    def _told_alike(self, rule: PairRule, act: Record) -> list[Any]:
        return [self._plain(act.value(name)) for name in rule.same_fields]

    def _plain(self, value: Any) -> Any:
        if isinstance(value, bytes):
            return self._records.canonical(value)
        return None if value is None else repr(value)

    def _near_in_time(
        self, kind: Kind, rule: PairRule, act: Record, subject: bytes
    ) -> Iterator[Record]:
        """Acts of the kind that may be near enough in time, and some that are not."""
        if not timed(kind, rule):
            yield from self._records.naming(subject, kind.name)
            return
        assert kind.on is not None, "what is timed has a field for its time"
        told = act.value(kind.on)
        if isinstance(told, str):
            yield from self._around(told, kind.name, subject, reach_of(rule))

    def _around(self, told: str, kind: str, subject: bytes, reach: timedelta) -> Iterator[Record]:
        """Acts whose time lies within ``reach`` of one: by their beginnings, months apart."""
        yield from self._records.within(subject, kind, reach_around(told, reach))

    def _pair(self, kind: Kind, a: Record, b: Record) -> Iterator[Conflict]:
        """The question whether two records are one, unless a keeper has answered it."""
        said = self._verdict(a, b)
        standing = said.standing if said is not None else []
        # Verdicts that contradict each other are a disagreement of their own, whatever the rule says.
        if any(claim.values[VERDICT] for claim in standing):
            return
        ids = sorted([a.id, b.id])
        claims = sorted([a.first, b.first], key=lambda claim: claim.order)
        says = f"These may be one and the same: {kind.title.lower()} written twice."
        yield Conflict(
            conflict_id(PAIR, kind.name, ids), PAIR, kind.name, PAIR, ids, claims, says=says,
            mend="Say whether they are the same or different.",
            closed_by=standing[-1].entry if standing else b"",
        )  # fmt: skip

    def _unaware(self, a: Record, b: Record) -> bool:
        """Whether neither writer had seen the other's record when writing."""
        one, other = a.begun_in, b.begun_in
        return not self._saw(one, other) and not self._saw(other, one)

    def _after_leaving(
        self, departures: Iterable[Record], acts: Iterable[Record], subject: bytes
    ) -> Iterator[Conflict]:
        acts = list(acts)
        for gone in departures:
            until = gone.value("on")
            if not isinstance(until, str):
                continue
            left = span(until, _UTC)[1]
            again = self._back_after(left, subject)
            for act in acts:
                when = _beginning(act)
                if when is not None and when > left and (again is None or when < again):
                    says = f"{CATALOGUE[act.kind].title} is dated after the animal had gone."
                    yield broken(AFTER, [gone, act], says, "Amend the date of one.")

    def _back_after(self, left: datetime, subject: bytes) -> datetime | None:
        """When an animal that had left came back at the earliest."""
        arrivals = self._of_subject(self._records.naming(subject, ARRIVAL), subject)
        told = [arrival.value("on") for arrival in arrivals]
        # Of a day known no closer, an act may fall after the coming back on it.
        returned = [span(on, _UTC) for on in told if isinstance(on, str)]
        return min((earliest for earliest, latest in returned if latest > left), default=None)

    def _two_pens(self, move: Record, subject: bytes) -> Iterator[Conflict]:
        """Two moves of one animal at one time to two pens, by writers who had not seen each other."""
        told = move.value("on")
        pen = self._plain(move.value("pen"))
        if not isinstance(told, str):
            return
        for other in self._around(told, "pen-move", subject, ONE_DATE):
            same_date = str(other.value("on"))[:10] == told[:10]
            if not same_date or self._subject(other) != subject:
                continue
            if self._plain(other.value("pen")) != pen and self._unaware(move, other):
                says = "The animal was moved to two pens on one day."
                yield broken(PENS, [move, other], says, "Retract the move that was not.")

    def _parents(self, child: Record, of: bytes | None = None) -> Iterator[Conflict]:
        for what, members, says in pedigree.impossible(child, self._records):
            if of is None or members[0].id == of:
                yield broken(what, members, says, pedigree.MEND)

    def _marks(self, animal: Record) -> Iterator[Conflict]:
        for words, other in pedigree.doubly_marked(animal, self._records):
            says = f"Two animals bear one mark: {', '.join(words)}."
            mend = "Read the marks again and amend the wrong record; both stay flagged until then."
            yield broken(MARKED, [animal, other], says, mend)

    def _perhaps_one(self, kind: Kind, animal: Record) -> Iterator[Conflict]:
        assert kind.pair is not None, "an animal may be entered twice"
        for other in pedigree.perhaps_one(animal, kind.pair, self._records):
            if not pedigree.contradict(animal, other) and self._unaware(animal, other):
                yield from self._pair(kind, animal, other)


def broken(rule: str, members: list[Record], says: str, mend: str) -> Conflict:
    """A rule that these records break together."""
    ids = sorted(record.id for record in members)
    claims = sorted((record.first for record in members), key=lambda claim: claim.order)
    kind = members[0].kind
    return Conflict(
        conflict_id(RULE, rule, ids), RULE, kind, rule, ids, claims, says=says, mend=mend
    )


def timed(kind: Kind, rule: PairRule) -> bool:
    """Whether it matters to a rule how far apart two acts are."""
    return kind.on is not None and (rule.within_hours is not None or rule.or_same_date)


def reach_of(rule: PairRule) -> timedelta:
    """How far apart two acts may lie that a rule holds to be one."""
    reach = timedelta(hours=rule.within_hours or 0)
    return max(reach, ONE_DATE if rule.or_same_date else reach)


def near(kind: Kind, rule: PairRule, a: Record, b: Record) -> bool:
    """Whether two acts lie near enough in time to be one."""
    if not timed(kind, rule):
        return True
    assert kind.on is not None, "what is timed has a field for its time"
    one, other = a.value(kind.on), b.value(kind.on)
    return isinstance(one, str) and isinstance(other, str) and near_told(rule, one, other)


def near_told(rule: PairRule, one: str, other: str) -> bool:
    """Whether two times lie near enough for acts of them to be one."""
    if rule.or_same_date and one[:10] == other[:10]:
        return True
    return rule.within_hours is not None and _within_hours(one, other, rule.within_hours)


@functools.lru_cache(maxsize=65_536)
def _within_hours(one: str, other: str, hours: int) -> bool:
    earlier, later = sorted((span(one, _UTC), span(other, _UTC)))
    return later[0] - earlier[1] <= timedelta(hours=hours)


def _beginning(act: Record) -> datetime | None:
    """The earliest instant of an act that has no place after a leaving."""
    field = CATALOGUE[act.kind].on
    if act.kind in AFTER_LEAVING or field is None:
        return None
    told = act.value(field)
    return span(told, _UTC)[0] if isinstance(told, str) else None


# Many acts are told on one day.
@functools.lru_cache(maxsize=4_096)
def reach_around(told: str, reach: timedelta) -> Reach:
    """Where the beginnings of acts lie that may be within ``reach`` of a time."""
    earliest, latest = span(told, _UTC)
    first = earliest - reach - _DAY
    # Of an act known by its month alone the beginning may lie much further back.
    month = first.replace(day=1, hour=0, minute=0, second=0, microsecond=0)
    before = (month - _DAY).replace(day=1)
    return Reach(
        milliseconds(first),
        milliseconds(latest + reach),
        (milliseconds(month), milliseconds(before)),
    )


def two_writers(a: Record, b: Record) -> bool:
    """Whether two records were begun by two laptops, or two people at one."""
    one, other = a.begun_by, b.begun_by
    return one.teller != other.teller
