"""What the store and an exchange tell each other: runs of entries, bundles seen, what was taken."""

from __future__ import annotations

from msgspec import Struct

from herdsync.answers import Setback


class Run(Struct, frozen=True):
    """Sequences ``first`` to ``last`` of one local chain, both included."""

    device: bytes
    chain: int
    first: int
    last: int


class Sighting(Struct, frozen=True):
    """A sound bundle this device read or wrote, and what it holds.

    ``name``, ``size`` and ``tail`` (its last 32 bytes) know it again; ``recipients`` are the tags it is
    sealed to; ``ids`` has, per run of entries, the id of the last and how many there are, the last
    included.
    """

    name: str
    size: int
    tail: bytes
    writer: bytes
    counter: int
    recipients: list[bytes]
    ids: list[tuple[bytes, int]]


class Taken(Struct, frozen=True):
    """What became of entries handed to the ledger; ``parked`` ones wait for what they build on."""

    received: int
    parked: int
    unvouched: int
    refused: list[Setback]
