"""What earlier looks worked out about each animal, kept for as long as nothing it rests on changed.

A keeper records one act and looks again: one animal of a thousand is worked out anew. What is kept
is dropped when a record it rests on changed, when the day, the plan or a setting changed, or at the
instant at which time alone changes it; so looks with and without it answer alike. It can be left for
the next run, which holds it against the same things.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import datetime
from hashlib import sha256
from zoneinfo import ZoneInfo

import msgspec
from msgspec import Struct

from herdsync.merge.records import Record, Records
from herdsync.merge.shelf import CHORE
from herdsync.projections.due_lines import Told
from herdsync.projections.goat import Facts, Goat
from herdsync.projections.herd import Herd, Pen
from herdsync.projections.offers import Offers
from herdsync.projections.plan_items import Plan

# Records that bear on no animal's work, or are asked about anew at every look.
_ASKED_ANEW = {"setting", "plan-item", "skip", "postpone", "note", "counted-heads"}


class Found(Struct, array_like=True):
    """One animal as a look found it: its work, and from when until when that holds.

    ``apart``: whether the work rests on which animals stand in its pen.
    """

    facts: Facts
    told: list[Told]
    since: datetime
    until: datetime
    apart: bool


class FoundPen(Struct, array_like=True):
    """One pen as a look found it; ``inside`` are the animals that stood in it."""

    inside: list[bytes]
    told: list[Told]
    since: datetime
    until: datetime


class Whole(Struct, array_like=True):
    """Everything a look found, with the animals there are in their order."""

    animals: list[bytes]
    found: dict[bytes, Found]
    pens: dict[bytes, FoundPen]


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
        self._animals: dict[bytes, None] = {}
        self._found: dict[bytes, Found] = {}
        self._places: dict[bytes, tuple[bytes | None, str]] = {}
        self._moved: set[bytes | None] = set()
        self._pens: dict[bytes, FoundPen] = {}
        self._fresh: set[bytes] = set()
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
        under = _digest((plan, look.settings, look.today))
        if self._recall is not None:
            self._take_over(self._recall(), under)
            self._recall = None
        news = look.records.changes(self._mark)
        if news.records is None or under != self._under:
            self._forget_all(look.records)
        else:
            for id in sorted(news.records):
                self._forget(look.records, id)
        for id, found in list(self._found.items()):
            if not found.since <= look.moment < found.until:
                del self._found[id]
        self._mark, self._under = news.mark, under
        herd.recall(list(self._animals), {id: found.facts for id, found in self._found.items()})

    def _take_over(self, left: Left | None, under: bytes) -> None:
        """Begin with what an earlier run left, if it looked under the same plan and day."""
        if left is None or left.under != under:
            return
        whole = _whole.decode(left.whole)
        self._animals = dict.fromkeys(whole.animals)
        self._found, self._pens = whole.found, whole.pens
        for id, found in whole.found.items():
            self._places[id] = (found.facts.pen, found.facts.standing)
        self._mark, self._under = left.mark, under

    def leave(self) -> Left:
        """What the next run may begin with; for after a look that was not broken off."""
        whole = Whole(list(self._animals), self._found, self._pens)
        self.news = 0
        return Left(self._under, self._mark, msgspec.msgpack.encode(whole))

    def missing(self, herd: Herd) -> Iterator[Goat]:
        """The animals to be worked out anew and kept, one by one.

        Last come those whose work rests on company in a pen that has just changed.
        """
        known = list(self._found)
        self._fresh.clear()
        for id in [one for one in self._animals if one not in self._found]:
            goat = herd.goat(id)
            if goat is not None:
                yield goat
        for id in known:
            found = self._found[id]
            goat = herd.goat(id) if found.apart and found.facts.pen in self._moved else None
            if goat is not None:
                yield goat
        self._moved.clear()

    def keep(self, goat: Goat, told: list[Told], until: datetime, apart: bool) -> None:
        """Keep what a look found of an animal until an instant (see `Found`)."""
        place = (goat.pen, goat.standing)
        before = self._places.get(goat.id)
        if before != place:
            self._moved |= {goat.pen} if before is None else {goat.pen, before[0]}
            self._places[goat.id] = place
        self._fresh.add(goat.id)
        self.news += 1
        self._found[goat.id] = Found(goat.facts, told, goat.look.moment, until, apart)

    def told(self, id: bytes) -> list[Told]:
        """The work of an animal, after catching up; none of one that is no longer on record."""
        return self._found[id].told if id in self._found else []

    def told_of_pen(self, pen: Pen, moment: datetime) -> list[Told] | None:
        """The work of a pen; None where it is to be worked out anew."""
        found = self._pens.get(pen.id)
        inside = [goat.id for goat in pen.goats]
        if found is None or found.inside != inside or not self._fresh.isdisjoint(inside):
            return None
        return found.told if found.since <= moment < found.until else None

    def keep_pen(self, pen: Pen, told: list[Told], since: datetime, until: datetime) -> None:
        """Keep what a look found of a pen until an instant."""
        self._pens[pen.id] = FoundPen([goat.id for goat in pen.goats], told, since, until)

    def _forget_all(self, records: Records) -> None:
        self._found.clear()
        self._pens.clear()
        self._places.clear()
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
            if record.kind == CHORE and not told:
                # Done for the whole farm, whose work is asked about anew at every look.
                return
            named = [one for one in map(records.get, told) if one is not None]
            for one in named:
                if one.kind == "animal":
                    self._drop(records, one)
                self._pens.pop(one.id, None)
            if not any(one.kind in ("animal", "pen") for one in named):
                self._forget_all(records)

    def _forget_animal(self, records: Records, animal: Record) -> None:
        for one in animal.ids:
            self._animals.pop(one, None)
            self._found.pop(one, None)
        if animal.vouched and animal.stands:
            self._animals[animal.id] = None
        else:
            self._moved |= {place[0] for place in [self._places.pop(animal.id, None)] if place}
        for act in records.naming(animal.id):
            for named in map(records.get, _named(act)):
                if named is not None and named.kind == "animal":
                    self._drop(records, named)

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
