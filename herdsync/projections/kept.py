"""What earlier looks worked out about each animal, kept for as long as nothing it rests on changed.

A keeper records one act and looks again: one animal of a thousand is worked out anew. What is kept
is dropped when a record it rests on changed, when the day, the plan or a setting changed, or at the
instant at which time alone changes it; so looks with and without it answer alike. It can be left for
the next run, which holds it against the same things.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from datetime import UTC, date, datetime
from functools import cached_property
from hashlib import sha256
from typing import NamedTuple
from zoneinfo import ZoneInfo

import msgspec
from msgspec import Struct

from herdsync.answers import DueLine
from herdsync.merge.records import Record, Records
from herdsync.merge.shelf import CHORE, WHOLE_FARM
from herdsync.projections.due_lines import Told
from herdsync.projections.goat import Facts, Goat
from herdsync.projections.herd import Herd
from herdsync.projections.offers import Offers
from herdsync.projections.plan_items import Plan
from herdsync.projections.settings import Settings
from herdsync.projections.verdicts import Verdict

# Records that bear on no animal's work, or are asked about anew at every look.
_ASKED_ANEW = {"setting", "plan-item", "skip", "postpone", "note", "counted-heads"}


class Work(Struct, array_like=True, dict=True):
    """What was found of one animal or pen, most pressing first."""

    told: list[Told]

    @cached_property
    def lines(self) -> list[DueLine]:
        """Its lines, where keepers said nothing of any."""
        return [one.line for one in self.told]

    @cached_property
    def ids(self) -> list[str]:
        """Every id that work of it ever had."""
        return [id for one in self.told for id in one.ids]


class Found(Work):
    """One animal as a look found it: its work, and from when until when that holds.

    ``apart``: whether the work rests on which animals stand in its pen; ``place_work``: which work on
    its pen and on the farm is for it.
    """

    facts: Facts
    since: datetime
    until: datetime
    apart: bool
    place_work: list[bool]


class FoundPlace(Work):
    """One pen with the animals that stood in it, or the whole farm (None), as a look found it."""

    inside: list[bytes] | None
    since: datetime
    until: datetime


class Stop(NamedTuple):
    """One place of the walk: its pen, or None for those without one; who stands in it, and whose work
    is told there, by name."""

    pen: Record | None
    inside: list[bytes]
    animals: list[bytes]


class Whole(Struct, array_like=True):
    """Everything a look found, with the animals there are in their order."""

    animals: list[bytes]
    found: dict[bytes, Found]
    places: dict[bytes, FoundPlace]


class Left(Struct, frozen=True, array_like=True):
    """What looks leave for the next run: a `Whole`, packed, what it was found under, and the mark
    of the records it was found in (see `Records.changes`)."""

    under: bytes
    mark: int
    whole: bytes

    def packed(self) -> bytes:
        """It in bytes."""
        return msgspec.msgpack.encode(self)

    @staticmethod
    def read(packed: bytes) -> Left:
        """It from its bytes. Raises msgspec.MsgspecError where they are another's."""
        return _left.decode(packed)


_left = msgspec.msgpack.Decoder(Left)
_whole = msgspec.msgpack.Decoder(Whole)
_EARLIEST = datetime.min.replace(tzinfo=UTC)
_LATEST = datetime.max.replace(tzinfo=UTC)
_NONE = Work([])


def nothing_left() -> Left | None:
    """Of a farm at which nobody looked before."""
    return None


class Kept:
    """What was worked out under one plan and day. One look at a time may use it.

    ``recall`` answers what an earlier run left; it is asked once, at the first look.
    """

    def __init__(self, recall: Callable[[], Left | None] = nothing_left) -> None:
        self._recall: Callable[[], Left | None] | None = recall
        self._mark = -1
        self._under = b""
        self._asked: tuple[Plan, Settings, date] | None = None
        self._digest = b""
        self._animals: dict[bytes, None] = {}
        self._found: dict[bytes, Found] = {}
        # What was last known of each, also while it is to be worked out anew.
        self._facts: dict[bytes, Facts] = {}
        self._stops: list[Stop] | None = None
        self._stop_of: dict[bytes, int] = {}
        # The lines of the animals of a stop, as keepers' words left them.
        self._heard: dict[int, list[DueLine]] = {}
        self._said: Mapping[str, Verdict] = {}
        # Every animal's work holds from the one moment until the other.
        self._span = (_EARLIEST, _LATEST)
        self._moved: set[bytes | None] = set()
        self._places: dict[bytes, FoundPlace] = {}
        # What of places was last for each animal, and the animals for which that has changed.
        self._place_work: dict[bytes, list[bool]] = {}
        self._changed: set[bytes] = set()
        self._offers: Offers | None = None
        # How many animals were worked out since this was last left for the next run.
        self.news = 0

    def offers(self, plan: Plan) -> Offers:
        """The offers of a plan, worked out once."""
        if self._offers is None or self._offers.plan != plan:
            self._offers = Offers(plan)
        return self._offers

    def catch_up(self, herd: Herd, plan: Plan) -> None:
        """Drop what no longer holds, and tell the herd what still does."""
        look = herd.look
        under = self._digest_of((plan, look.settings, look.today))
        if self._recall is not None:
            self._take_over(self._recall(), under)
            self._recall = None
        news = look.records.changes(self._mark)
        if news.records is None or under != self._under:
            self._forget_all(look.records)
        else:
            for id in sorted(news.records):
                self._forget(look.records, id)
        self._drop_over(look.moment)
        self._mark, self._under = news.mark, under
        herd.recall(list(self._animals), self._found)

    def _digest_of(self, asked: tuple[Plan, Settings, date]) -> bytes:
        """What a look is under, in few bytes; worked out anew where it is not what it was."""
        if asked != self._asked:
            self._asked, self._digest = asked, _digest(asked)
        return self._digest

    def _drop_over(self, moment: datetime) -> None:
        """Drop what time alone has changed."""
        since, until = self._span
        if since <= moment < until:
            return
        holds = {id: one for id, one in self._found.items() if one.since <= moment < one.until}
        self._found = holds
        self._span = (
            max((one.since for one in holds.values()), default=_EARLIEST),
            min((one.until for one in holds.values()), default=_LATEST),
        )

    def _take_over(self, left: Left | None, under: bytes) -> None:
        """Begin with what an earlier run left, if it looked under the same plan and day."""
        if left is None or left.under != under:
            return
        whole = _whole.decode(left.whole)
        self._animals = dict.fromkeys(whole.animals)
        self._found, self._places = whole.found, whole.places
        for id, found in whole.found.items():
            self._facts[id], self._place_work[id] = found.facts, found.place_work
        # Nothing is known of their spans yet.
        self._span = (_LATEST, _EARLIEST)
        self._mark, self._under = left.mark, under

    def leave(self) -> Left:
        """What the next run may begin with; for after a look that was not broken off."""
        whole = Whole(list(self._animals), self._found, self._places)
        self.news = 0
        return Left(self._under, self._mark, msgspec.msgpack.encode(whole))

    def missing(self, herd: Herd) -> Iterator[Goat]:
        """The animals to be worked out anew and kept, one by one.

        Last come those whose work rests on company in a pen that has just changed.
        """
        known = list(self._found)
        unknown = [one for one in self._animals if one not in self._found]
        herd.read_ahead(unknown)
        for id in unknown:
            goat = herd.goat(id)
            if goat is not None:
                yield goat
        for id in known if self._moved else ():
            found = self._found[id]
            goat = herd.goat(id) if found.apart and found.facts.pen in self._moved else None
            if goat is not None:
                yield goat
        self._moved.clear()

    def keep(
        self, goat: Goat, told: list[Told], until: datetime, apart: bool, place_work: list[bool]
    ) -> None:
        """Keep what a look found of an animal until an instant (see `Found`)."""
        facts, before = goat.facts, self._facts.get(goat.id)
        if before != facts:
            self._facts[goat.id] = facts
            self._stops = None
            if before is None or (before.pen, before.standing) != (facts.pen, facts.standing):
                self._moved |= {facts.pen} if before is None else {facts.pen, before.pen}
        if self._place_work.get(goat.id) != place_work:
            self._place_work[goat.id] = place_work
            self._changed.add(goat.id)
        self._heard.pop(self._stop_of.get(goat.id, -1), None)
        self.news += 1
        since = goat.look.moment
        self._found[goat.id] = Found(told, facts, since, until, apart, place_work)
        self._span = (max(self._span[0], since), min(self._span[1], until))

    def work(self, id: bytes) -> Work:
        """The work of an animal, after catching up; none of one that is no longer on record."""
        return self._found.get(id, _NONE)

    def stops(self, herd: Herd, said: Mapping[str, Verdict]) -> list[Stop]:
        """The walk, after catching up; those who stand in no pen last. ``said``: of pieces of work."""
        if self._stops is None:
            stops = [Stop(pen.record, [goat.id for goat in pen.goats], []) for pen in herd.pens]
            stops.append(Stop(None, [], []))
            for goat in herd.in_walk_order():
                place = herd.places.get(goat.pen, -1) if goat.pen is not None else -1
                stops[place].animals.append(goat.id)
            self._stops = stops
            self._stop_of = {id: at for at, stop in enumerate(stops) for id in stop.animals}
            self._heard.clear()
        if said != self._said:
            self._heard.clear()
            self._said = said
        return self._stops

    def heard(self, place: int) -> list[DueLine] | None:
        """The lines of the animals of a stop of the walk; None where they are to be gathered anew."""
        return self._heard.get(place)

    def looked(self) -> None:
        """That a look is over: what it found changed is no longer new. One broken off does not say so."""
        self._changed.clear()

    def keep_heard(self, place: int, lines: list[DueLine]) -> None:
        """Keep them for as long as no work of theirs, and no word on any work, changes."""
        self._heard[place] = lines

    def work_of_place(
        self, place: bytes, inside: list[bytes] | None, moment: datetime
    ) -> Work | None:
        """The work of a pen, or of the whole farm; None where it is to be worked out anew."""
        found = self._places.get(place)
        if found is None or found.inside != inside or not found.since <= moment < found.until:
            return None
        alike = not self._changed if inside is None else self._changed.isdisjoint(inside)
        return found if alike else None

    def keep_place(
        self, place: bytes, inside: list[bytes] | None, told: list[Told],
        since: datetime, until: datetime,
    ) -> Work:  # fmt: skip
        """Keep what a look found of a pen or the whole farm until an instant."""
        found = self._places[place] = FoundPlace(told, inside, since, until)
        return found

    def _forget_all(self, records: Records) -> None:
        self._found.clear()
        self._places.clear()
        self._facts.clear()
        self._place_work.clear()
        self._stops = None
        self._animals = {animal.id: None for animal in records.of_kind("animal")}

    def _forget(self, records: Records, id: bytes) -> None:
        """Drop what may rest on a record that changed."""
        record = records.get(id)
        if record is None:
            self._forget_all(records)
        elif record.kind == "animal":
            self._forget_animal(records, record)
        elif record.kind not in _ASKED_ANEW:
            told = _named(record)
            if record.kind == CHORE:
                # What names nothing is done for the whole farm.
                self._places.pop(WHOLE_FARM, None)
                if not told:
                    return
            named = [one for one in map(records.get, told) if one is not None]
            for one in named:
                if one.kind == "animal":
                    self._drop(records, one)
                self._places.pop(one.id, None)
            if not any(one.kind in ("animal", "pen") for one in named):
                self._forget_all(records)

    def _forget_animal(self, records: Records, animal: Record) -> None:
        self._stops = None
        there = animal.vouched and animal.stands
        for one in animal.ids:
            self._animals.pop(one, None)
            self._found.pop(one, None)
            if one != animal.id or not there:
                self._miss(one)
        if there:
            self._animals[animal.id] = None
        for act in records.naming(animal.id):
            for named in map(records.get, _named(act)):
                if named is not None and named.kind == "animal":
                    self._drop(records, named)

    def _miss(self, id: bytes) -> None:
        """Forget an animal that is no longer one, and what rests on its being there."""
        self._place_work.pop(id, None)
        self._places.pop(WHOLE_FARM, None)
        facts = self._facts.pop(id, None)
        self._moved |= {facts.pen} if facts is not None else set()

    def _drop(self, records: Records, animal: Record) -> None:
        """Drop an animal and the kids that may drink its milk or have its cover."""
        self._found.pop(animal.id, None)
        for kid in records.naming(animal.id, "animal"):
            self._found.pop(kid.id, None)


def _digest(under: tuple[object, ...]) -> bytes:
    told = msgspec.msgpack.encode(under, enc_hook=_plainly, order="deterministic")
    return sha256(told).digest()


def _plainly(told: object) -> object:
    """What a setting holds beside plain values."""
    if isinstance(told, ZoneInfo):
        return told.key
    raise TypeError(f"a look cannot be kept under {type(told)}")


def _named(record: Record) -> set[bytes]:
    """Every id any claim on a record ever named, whether it still does or not."""
    return {
        value
        for claim in record.claims()
        for value in claim.values.values()
        if isinstance(value, bytes)
    }
