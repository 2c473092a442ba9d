"""One piece of work, and the acts on record that do it. Must not know when any work is due."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import date
from functools import partial
from typing import Protocol

from msgspec import Struct

from herdsync.merge.records import Record
from herdsync.projections import acts
from herdsync.projections.goat import Goat
from herdsync.projections.past import Done, by_day
from herdsync.projections.plan_items import APART, Item
from herdsync.projections.spans import Span
from herdsync.projections.verdicts import spared_words

Reason = str | Callable[[], str]


class Piece(Struct, frozen=True):
    """One piece of work. ``anchors`` are the ids its identity may rest on, the current one first.

    ``part`` tells rungs and chores of one item apart. ``span`` is None where no day can be told.
    ``waits``: it may be done, but is not due before what ``blocks`` says is so. A reason that is
    a function is asked only for lines that are told.
    """

    item: Item
    part: str
    anchors: tuple[bytes, ...]
    span: Span | None
    reason: Reason
    blocks: tuple[str, ...] = ()
    waits: bool = False
    spared: bool = False

    @property
    def words(self) -> str:
        """What it counts from, as a sentence."""
        return self.reason if isinstance(self.reason, str) else self.reason()


def last_doing(
    goat: Goat, item: Item, anchor: Record | None = None, since: date = date.min
) -> Done | None:
    """The latest act on record from a day on that does an item's work; never its own anchor."""
    found = next(goat.past.chores(item.id, since), None)
    but = b"" if anchor is None else anchor.id
    for met in () if item.met_if == APART else item.by:
        done = goat.past.latest(met.kind, met.where, anchor, but, since)
        if done is not None and (found is None or by_day(done) > by_day(found)):
            found = done
    return found


class Chores(Protocol):
    """What is on record of one animal, one pen or the whole farm, the newest first."""

    def chores(self, item: str, since: date = date.min) -> Iterator[Done]:
        """The times an item of the plan was written down as a chore done."""

    def newest(self, kind: str, since: date = date.min) -> Iterator[Done]:
        """The acts of a kind."""


def done_within(past: Chores, item: Item, first: date, last: date) -> bool:
    """Whether an item was done from one day to another."""
    return any(day <= last for day, _ in past.chores(item.id, first)) or any(
        day <= last and acts.holds_where(act, met.where)
        for met in item.by
        for day, act in past.newest(met.kind, first)
    )


def spared_piece(item: Item, exemption: Record) -> Piece:
    """What stands for an item that an animal is spared: told only to who asks for everything."""
    return Piece(
        item, "", tuple(exemption.ids), None, partial(spared_words, exemption), spared=True
    )
