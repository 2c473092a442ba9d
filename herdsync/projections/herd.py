"""The herd at a moment: its animals and pens, each read once for all that is asked of one look."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from functools import cached_property
from typing import Protocol

from msgspec import Struct

from herdsync.kinds.medicine import MEDICINES
from herdsync.merge.records import Record, Records
from herdsync.projections.goat import Facts, Goat
from herdsync.projections.look import Look
from herdsync.projections.past import FEW
from herdsync.projections.settings import Settings

LAST_IN_WALK = 10_000
# From so many animals on it is quicker to ask once for all.
MANY_ANIMALS = 16


class Pen(Struct, frozen=True):
    """One pen and the animals of the herd that stand in it at the moment."""

    record: Record
    name: str
    goats: tuple[Goat, ...]

    @property
    def id(self) -> bytes:
        """The pen's record id."""
        return self.record.id

    @property
    def quarantine(self) -> bool:
        """Whether newcomers are kept apart here."""
        return bool(self.record.value("quarantine"))


class Recalled(Protocol):
    """What an earlier look knew of an animal."""

    @property
    def facts(self) -> Facts:
        """What holds still of it."""


class Herd:
    """Animals and pens of one look. Nothing in it outlives the look."""

    def __init__(self, records: Records, settings: Settings, moment: datetime) -> None:
        self.look = Look(records, settings, moment)
        self._goats: dict[bytes, Goat | None] = {}
        self._animals: list[bytes] | None = None
        self._known: Mapping[bytes, Recalled] = {}
        self._ahead: set[bytes] = set()

    def recall(self, animals: list[bytes], known: Mapping[bytes, Recalled]) -> None:
        """Take over which animals there are, and the facts an earlier look had of some."""
        self._animals, self._known = animals, known

    def read_ahead(self, animals: Sequence[bytes]) -> None:
        """Make ready what all that is asked of these animals begins with, once in a look."""
        asked = [id for id in animals if id not in self._goats and id not in self._ahead]
        if len(asked) >= MANY_ANIMALS:
            self._ahead.update(asked)
            self.records.read_ahead(asked, FEW, MEDICINES)

    @property
    def records(self) -> Records:
        """The records looked at."""
        return self.look.records

    def goat(self, id: bytes) -> Goat | None:
        """The animal with this id (any of joined ones); None where there is none."""
        if id in self._known and id not in self._goats:
            self._goats[id] = Goat.recalled(self.look, id, self._known[id].facts)
        if id in self._goats:
            return self._goats[id]
        id = self.records.canonical(id)
        if id not in self._goats:
            record = self.records.get(id)
            animal = record is not None and record.kind == "animal"
            self._goats[id] = Goat(self.look, record) if animal and record is not None else None
        return self._goats[id]

    @cached_property
    def every(self) -> list[Goat]:
        """All animals on record, also gone, outside and unborn ones."""
        ids = self._animals
        if ids is None:
            ids = [record.id for record in self.records.of_kind("animal")]
        self.read_ahead([id for id in ids if id not in self._known])
        found = (self.goat(id) for id in ids)
        return [goat for goat in found if goat is not None]

    @cached_property
    def present(self) -> list[Goat]:
        """The animals of the herd: here, or away for a time."""
        return [goat for goat in self.every if goat.of_herd]

    @cached_property
    def pens(self) -> list[Pen]:
        """All pens in the order of the walk, with who stands in each."""
        inside: dict[bytes, list[Goat]] = {}
        for goat in self.present:
            if goat.pen is not None and goat.standing == "here":
                inside.setdefault(goat.pen, []).append(goat)
        pens = [
            self.pen_with(record, inside.get(record.id, ()))
            for record in self.records.of_kind("pen")
        ]
        return sorted(pens, key=lambda pen: (self._walk(pen.record), pen.name.casefold(), pen.id))

    def pen_with(self, record: Record, goats: Iterable[Goat]) -> Pen:
        """A pen with the animals that are known to stand in it."""
        return Pen(record, self.look.names.of(record), tuple(goats))

    @cached_property
    def places(self) -> dict[bytes, int]:
        """The place of each pen in the walk."""
        return {pen.id: place for place, pen in enumerate(self.pens)}

    def pen(self, id: bytes | None) -> Pen | None:
        """The pen with this id, of any of joined ones."""
        if id is None:
            return None
        place = self.places.get(self.records.canonical(id))
        return None if place is None else self.pens[place]

    def pen_name(self, goat: Goat) -> str:
        """The name of the pen an animal stands in; empty where nobody told."""
        return self.look.names(goat.pen) if goat.pen is not None else ""

    def walk_order(self, goat: Goat) -> tuple[int, str, bytes]:
        """Where an animal comes in the walk: its pen, then its name; unpenned ones last."""
        place = self.places.get(goat.pen, LAST_IN_WALK) if goat.pen else LAST_IN_WALK
        return place, goat.name.casefold(), goat.id

    def in_walk_order(self) -> list[Goat]:
        """The animals of the herd in the order of the walk."""
        return sorted(self.present, key=self.walk_order)

    def _walk(self, pen: Record) -> int:
        order = [name.casefold() for name in self.look.settings.walk]
        name = self.look.names.of(pen).casefold()
        if name in order:
            return order.index(name)
        told = pen.value("walk")
        return len(order) + told if isinstance(told, int) else LAST_IN_WALK
