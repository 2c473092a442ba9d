"""Which of many new records lie beside something that a rule may hold them against.

A partner's history comes by thousands, and nearly all of it agrees with all the rest. All acts of one
kind on one animal are looked through at once, by their times and their writers alone. What is left out
breaks no rule and is nobody's second telling; what is kept in may still turn out to be neither.
"""

from __future__ import annotations

import functools
from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Mapping
from datetime import timedelta
from typing import NamedTuple

from msgspec import Struct

from herdsync.kinds import CATALOGUE
from herdsync.kinds.kind import Kind, PairRule
from herdsync.merge.lone import Lone
from herdsync.merge.newest import Reach, Row, Span
from herdsync.merge.rules import (
    AFTER_LEAVING,
    LEAVING,
    ONE_DATE,
    PARENTS,
    reach_around,
    reach_of,
    timed,
    two_writers,
)
from herdsync.merge.rules import (
    near as near_in_time,
)
from herdsync.merge.shelf import Shelf

PEN_MOVE = "pen-move"


class Watch(Struct, frozen=True):
    """How acts of a kind can come to be beside others: ``reach`` in time among their own kind."""

    kind: Kind
    subject: str
    on: str
    pair: PairRule | None
    reach: timedelta | None
    leaves: bool


class Near(NamedTuple):
    """New acts of one kind on one animal, with what lies near each."""

    watch: Watch
    span: Span
    told: list[Lone]
    reaches: list[Reach]


def beside_others(records: Mapping[bytes, Lone], shelf: Shelf) -> Iterator[Lone]:
    """Those of the new records, all of them kept on the shelf, that the rules must look at."""
    acts: dict[tuple[str, bytes], list[Lone]] = {}
    for record in records.values():
        watch = watch_of(record.kind)
        if watch is None:
            yield record
        elif (
            type(subject := record.fields.get(watch.subject)) is bytes and watch.on in record.fields
        ):
            acts.setdefault((record.kind, shelf.canonical(subject)), []).append(record)
    gone = _gone({subject for _, subject in acts}, shelf)
    near: list[Near] = []
    for (kind, subject), told in acts.items():
        watch = watch_of(kind)
        assert watch is not None, "what is told of no animal was kept apart"
        if watch.leaves and subject in gone:
            yield from told
        elif watch.reach is not None:
            near.append(_near(watch, watch.reach, subject, told))
    for one, rows in zip(near, shelf.rows_between([one.span for one in near]), strict=True):
        yield from _near_others(one, rows, records)


@functools.cache
def watch_of(kind: str) -> Watch | None:
    """How the rules look at a kind; None where they look at more than times and writers."""
    spec = CATALOGUE[kind]
    more = kind in PARENTS or kind in LEAVING or (spec.pair and not timed(spec, spec.pair))
    if more:
        return None
    reach = reach_of(spec.pair) if spec.pair else ONE_DATE if kind == PEN_MOVE else None
    leaves = spec.on is not None and kind not in AFTER_LEAVING
    return Watch(spec, spec.subject or "", spec.on or "", spec.pair, reach, leaves)


def _gone(subjects: set[bytes], shelf: Shelf) -> set[bytes]:
    """Those of the animals of which it is told, by anyone, that they left or died."""
    known = {one: id for id in subjects for one in shelf.ids_of(id)}
    return {known[one] for one in shelf.any_naming(known, LEAVING)}


def _near(watch: Watch, reach: timedelta, subject: bytes, told: list[Lone]) -> Near:
    reaches = [reach_around(record.fields[watch.on], reach) for record in told]
    first = min(min(reach.first, *reach.beside) for reach in reaches)
    last = max(reach.last for reach in reaches)
    return Near(watch, Span(subject, watch.kind.name, first, last), told, reaches)


def _near_others(near: Near, rows: list[Row], fresh: Mapping[bytes, Lone]) -> Iterator[Lone]:
    """Those of the acts of one kind on one animal that another writer's act lies near."""
    if len(rows) == 1:
        return
    # Of what was here before nothing but its time is known, and that it is not one of these.
    acts = [fresh.get(id) for _, id in rows]
    times = [at for at, _ in rows]
    for record, reach in zip(near.told, near.reaches, strict=True):
        if any(_may_differ(near.watch, record, acts[place]) for place in _within(times, reach)):
            yield record


def _may_differ(watch: Watch, record: Lone, other: Lone | None) -> bool:
    """Whether an act near another in time may disagree with it."""
    if other is record:
        return False
    if other is None or watch.pair is None:
        return True
    return two_writers(record, other) and near_in_time(watch.kind, watch.pair, record, other)


def _within(times: list[int], reach: Reach) -> list[int]:
    """The places of those times, which are in order, that a reach covers."""
    found = list(range(bisect_left(times, reach.first), bisect_right(times, reach.last)))
    for at in reach.beside:
        found += range(bisect_left(times, at), bisect_right(times, at))
    return found
