"""Frontiers: the newest entry of each chain, which together say everything a laptop has.

What is stored is closed under causality, so a tip stands for all its device wrote before it. Works by
ids, never by a store's own chain numbers. Must not know carriers or signatures.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from typing import Annotated

from msgspec import Meta, Struct

from herdsync.exchange.ledger import Ledger
from herdsync.log import canonical
from herdsync.log.entry import NO_ID
from herdsync.log.limits import SEQUENCE
from herdsync.store.carried import Run

TAG_FRONTIER_HASH = b"herdsync/1/frontier-hash\0"
TIPS = 4_096
# The most ids one request may name as already here, per tip it asks for.
HAVES = 256

Id = Annotated[bytes, Meta(min_length=32, max_length=32)]


class Tip(Struct, frozen=True, array_like=True, forbid_unknown_fields=True, order=True):
    """The newest entry the writer had of one chain."""

    device: Id
    sequence: Annotated[int, Meta(ge=0, le=SEQUENCE)]
    id: Id


class Want(Struct, frozen=True, array_like=True, forbid_unknown_fields=True):
    """A tip asked for, and ids of its device that are already here; ``anyway``: also if none is known."""

    tip: Id
    haves: Annotated[list[Id], Meta(max_length=HAVES)]
    anyway: bool


def tips_of(ledger: Ledger) -> list[Tip]:
    """A laptop's frontier, in the one order it is told in."""
    tips = [Tip(run.device, run.last, _id_at(ledger, run, run.last)) for run in ledger.runs()]
    return sorted(tips)[:TIPS]


def frontier_hash(tips: list[Tip]) -> bytes:
    """32 bytes that are equal for equal frontiers alone."""
    return hashlib.sha256(TAG_FRONTIER_HASH + canonical.encode(tips)).digest()


def wanted(ledger: Ledger, tips: Iterable[Tip]) -> list[Want]:
    """What to ask of a laptop with these tips: each that is not here, and how far its device is here."""
    haves: dict[bytes, list[bytes]] = {}
    for tip in tips_of(ledger):
        haves.setdefault(tip.device, []).append(tip.id)
    return [
        Want(tip.id, haves.get(tip.device, [])[:HAVES], False)
        for tip in tips
        if ledger.place_of(tip.id) is None
    ]


def wanted_from_the_split(ledger: Ledger, tips: Iterable[Tip]) -> list[Want]:
    """The same for tips whose log continued elsewhere: ids at doubling distances find the split."""
    haves: dict[bytes, list[bytes]] = {}
    for run in ledger.runs():
        back, step = run.last, 1
        ids = haves.setdefault(run.device, [])
        while back > run.first:
            ids.append(_id_at(ledger, run, back))
            back, step = back - step, step * 2
        ids.append(_id_at(ledger, run, run.first))
    return [Want(tip.id, haves.get(tip.device, [])[:HAVES], True) for tip in tips]


def wanted_anew(ledger: Ledger) -> list[Want]:
    """What to ask for once more: each entry that is damaged here, as the one after what is before it."""
    wants: list[Want] = []
    for id in sorted(ledger.damaged())[:TIPS]:
        place = ledger.place_of(id)
        assert place is not None, "what is damaged is stored"
        # Only its chain and number are asked after.
        at = Run(b"", place.chain, place.sequence, place.sequence)
        before = ledger.previous_of(at)
        wants.append(Want(id, [before] if before != NO_ID else [], False))
    return wants


def answering(ledger: Ledger, wants: list[Want]) -> tuple[list[Run], list[bytes]]:
    """The runs that answer what is asked, and the tips for which no id named as here was found.

    What is damaged here itself is answered like what is not here.
    """
    runs = {run.chain: run for run in ledger.runs()}
    spans: dict[int, tuple[int, int]] = {}
    astray: list[bytes] = []
    unsound = set(ledger.damaged())
    for want in wants:
        if want.tip in unsound:
            astray.append(want.tip)
            continue
        path = path_to(ledger, runs, want.tip)
        known = _known_on(ledger, runs, path, want.haves)
        if known is None and want.haves and not want.anyway:
            astray.append(want.tip)
            continue
        for chain, last in path.items():
            first = runs[chain].first
            if known is not None and known[0] == chain:
                first = known[1] + 1
            if first <= last:
                low, high = spans.get(chain, (first, last))
                spans[chain] = min(low, first), max(high, last)
            if known is not None and known[0] == chain:
                break
    told = [Run(runs[one].device, one, low, high) for one, (low, high) in sorted(spans.items())]
    return told, astray


def path_to(ledger: Ledger, runs: dict[int, Run], tip: bytes) -> dict[int, int]:
    """The chains that lead to a tip, newest first, each with the last sequence on the way."""
    path: dict[int, int] = {}
    place = ledger.place_of(tip)
    while place is not None:
        path[place.chain] = place.sequence
        run = runs[place.chain]
        before = ledger.previous_of(Run(run.device, run.chain, run.first, run.first))
        place = ledger.place_of(before)
    return path


def _known_on(
    ledger: Ledger, runs: dict[int, Run], path: dict[int, int], haves: list[bytes]
) -> tuple[int, int] | None:
    """The newest entry on a path that the asker has: its chain and sequence."""
    found: tuple[int, int] | None = None
    for have in haves:
        # What it has may lie on another branch: the path is then known up to where they part.
        for chain, reach in path_to(ledger, runs, have).items():
            shared = min(reach, path.get(chain, -1))
            if shared >= 0 and (found is None or shared > found[1]):
                found = chain, shared
    return found


def _id_at(ledger: Ledger, run: Run, sequence: int) -> bytes:
    return ledger.previous_of(Run(run.device, run.chain, sequence + 1, sequence + 1))
