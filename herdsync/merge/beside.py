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
    near_told,
    reach_around,
    reach_of,
    timed,
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
    named: dict[tuple[str, bytes], list[Lone]] = {}
    for record in records.values():
        watch = watch_of(record.kind)
        if watch is None:
            yield record
            continue
        fields = record.fields
        if type(subject := fields.get(watch.subject)) is bytes and watch.on in fields:
            named.setdefault((record.kind, subject), []).append(record)
    acts: dict[tuple[str, bytes], list[Lone]] = {}
    for (kind, subject), told in named.items():
        acts.setdefault((kind, shelf.canonical(subject)), []).extend(told)
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
    # Of the two times beside a reach the second is the earlier, and both lie before it.
    first = min([reach.beside[1] for reach in reaches])
    last = max([reach.last for reach in reaches])
    return Near(watch, Span(subject, watch.kind.name, first, last), told, reaches)


def _near_others(near: Near, rows: list[Row], fresh: Mapping[bytes, Lone]) -> Iterator[Lone]:
    """Those of the acts of one kind on one animal that another writer's act lies near."""
    if len(rows) == 1:
        return
    # Of what was here before nothing but its time is known, and that it is not one of these.
    acts = [fresh.get(id) for _, id in rows]
    times = [at for at, _ in rows]
    tellers = [act.author.teller if act is not None else None for act in acts]
    ends, moments = _ends_of_rows(tellers), set(times)
    for record, reach in zip(near.told, near.reaches, strict=True):
        first, last = bisect_left(times, reach.first), bisect_right(times, reach.last)
        beside = [] if moments.isdisjoint(reach.beside) else _at(times, reach.beside)
        if near.watch.pair is None:
            kept_in = any(acts[place] is not record for place in (*range(first, last), *beside))
        elif ends[first] >= last and not beside:
            # It is itself among those within its reach, so their one writer is its own.
            kept_in = False
        else:
            own = record.author.teller
            others = [n for n in (*range(first, last), *beside) if tellers[n] != own]
            kept_in = any(_perhaps_one(near.watch, record, acts[n]) for n in others)
        if kept_in:
            yield record


def _ends_of_rows(tellers: list[tuple[bytes, str] | None]) -> list[int]:
    """Of each of some acts in order, where the row ends that its writer told with it, as far as is known."""
    ends = list(range(1, len(tellers) + 1))
    for place in range(len(tellers) - 2, -1, -1):
        if tellers[place] == tellers[place + 1] is not None:
            ends[place] = ends[place + 1]
    return ends


def _perhaps_one(watch: Watch, record: Lone, other: Lone | None) -> bool:
    """Whether another writer's act lies near enough in time to be the same, as far as is known."""
    if other is None or watch.pair is None:
        return True
    one, another = record.fields[watch.on], other.fields.get(watch.on)
    return isinstance(another, str) and near_told(watch.pair, one, another)


def _at(times: list[int], moments: tuple[int, int]) -> list[int]:
    """The places of those times, which are in order, that are one of the moments."""
    found: list[int] = []
    for at in moments:
        found += range(bisect_left(times, at), bisect_right(times, at))
    return found
