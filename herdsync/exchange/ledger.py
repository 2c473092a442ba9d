"""What an exchange asks of one device's stored log.

Must not know how anything is stored, nor on what carrier it travels.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Protocol

from herdsync.log.chain import Known
from herdsync.log.entry import Entry
from herdsync.log.signing import SigningKey
from herdsync.log.trust import Members
from herdsync.store.carried import Run, Sighting, Taken


class Ledger(Protocol):
    """One device's log of one farm."""

    farm: bytes

    @property
    def key(self) -> SigningKey:
        """The device's key."""

    def members(self) -> Members:
        """Who may write and read, as the stored entries tell."""

    def runs(self) -> list[Run]:
        """Everything stored, one run a chain; a branch's run begins right after its split."""

    def entries(self, runs: list[Run]) -> Iterable[Entry]:
        """The entries of these runs in causal order (height, device, id)."""

    def place_of(self, id: bytes) -> Known | None:
        """Where an entry stands, or None where it is not stored."""

    def previous_of(self, run: Run) -> bytes:
        """The id of the entry before ``run.first`` (32 zero bytes before a device's first).

        ``run.first`` may be one past the chain's newest: the answer is then the chain's tip.
        """

    def damaged(self) -> list[bytes]:
        """Ids of stored entries whose bytes or signature a check found damaged."""

    def take(self, entries: list[Entry], source: str) -> Taken:
        """Check signatures, store, park and fold in one transaction; what is here already is a no-op."""

    def sighted(self, name: str, size: int, tail: bytes | None) -> Sighting | None:
        """The bundle of this name, size and tail remembered; without a tail, the only one there is."""

    def sightings(self) -> list[Sighting]:
        """Every bundle remembered."""

    def remember(self, sighting: Sighting) -> None:
        """Keep a sighting; the same name, size and tail replace the one before."""

    def forget(self, sighting: Sighting) -> None:
        """Forget a bundle that was taken away."""

    def noted(self, name: str) -> bytes | None:
        """A note an exchange left on this laptop, or None."""

    def note(self, name: str, told: bytes) -> None:
        """Keep a note for later exchanges of this laptop."""

    def take_bundle_number(self) -> int:
        """A number no bundle of this device has had, spent durably by asking."""

    def heard(self, device: bytes, frontier: list[tuple[bytes, int, bytes]], clock_ms: int) -> None:
        """Keep a device's signed frontier (device, sequence, tip) where it is newer than the one kept."""

    def last_heard(self) -> dict[bytes, tuple[int, list[tuple[bytes, int, bytes]]]]:
        """Per other device its clock (ms) and frontier as last heard."""
