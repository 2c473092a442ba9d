"""What the store remembers of carriers: runs of entries, and the bundles it has read or written."""

from __future__ import annotations

from msgspec import Struct


class Run(Struct, frozen=True):
    """A run of sequences of one chain of this store (its number is local)."""

    device: bytes
    chain: int
    first: int
    last: int


class Sighting(Struct, frozen=True):
    """A bundle read or written: what it holds, for whom, or why it was refused.

    ``ids`` names each run by its last entry's id and the count of entries up to it, so that it means
    the same whatever a store's chain numbers are.
    """

    name: str
    size: int
    tail: bytes
    writer: bytes
    counter: int
    recipients: list[bytes]
    ids: list[tuple[bytes, int]]
    refused: str = ""
