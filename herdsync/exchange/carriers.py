"""Opening the carrier that a keeper named: a folder, a stick or a depot.

The libraries of depots are loaded only when a depot is named. Must not know what the files hold.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Protocol

from herdsync.exchange.addresses import address_in, is_depot
from herdsync.exchange.carrier import Carrier
from herdsync.exchange.depot import Depot, Store
from herdsync.exchange.folder import Folder
from herdsync.exchange.places import SFTP, Place, place_in
from herdsync.exchange.probe import Guarantees, probe, remembered, told
from herdsync.faults import Refused
from herdsync.meetings import Notice
from herdsync.safe_text import safe_text

_INSTALL = "Install it with: pip install 'herdsync[{}]'."


class Notes(Protocol):
    """What this laptop remembers of carriers between exchanges."""

    def noted(self, name: str) -> bytes | None:
        """A note, or None."""

    def note(self, name: str, told: bytes) -> None:
        """Keep a note."""


@dataclass
class Memory:
    """Notes that last as long as the program: for a laptop that has no farm yet."""

    notes: dict[str, bytes] = field(default_factory=dict)

    def noted(self, name: str) -> bytes | None:
        """See `Notes`."""
        return self.notes.get(name)

    def note(self, name: str, told: bytes) -> None:
        """See `Notes`."""
        self.notes[name] = told


@dataclass(frozen=True, slots=True)
class Opened:
    """A carrier, the text that means it from one exchange to the next, and what is to be said of it."""

    carrier: Carrier
    known_as: str
    remarks: list[Notice]


@contextmanager
def opened(text: str, notes: Notes, entropy: Callable[[int], bytes]) -> Iterator[Opened]:
    """The carrier a text names, let go of afterwards. Raises Refused."""
    if not text.strip():
        # To Python a blank path is the folder one stands in: everything would be left there.
        raise Refused("No carrier is named.", "Name a folder, a stick, a depot or a laptop.")
    if not is_depot(text):
        path = Path(text).expanduser()
        if address_in(text) is not None and not path.is_dir():
            raise Refused(
                f"{safe_text(text)} is the address of another laptop, which can only exchange.",
                "For this name a folder, a stick or a depot.",
            )
        yield Opened(Folder(path, entropy), str(path.absolute()), [])
        return
    place = place_in(text)
    store = _store(place, notes, entropy)
    try:
        guarantees, remarks = _guarantees(store, notes, entropy)
        yield Opened(Depot(store, guarantees), place.shown, remarks)
    finally:
        store.close()


def _store(place: Place, notes: Notes, entropy: Callable[[int], bytes]) -> Store:
    if place.scheme != SFTP:
        try:
            from herdsync.exchange.depot_s3 import Bucket
        except ImportError as fault:
            raise _not_installed("a bucket", "s3") from fault
        return Bucket(place)
    try:
        from herdsync.exchange.depot_sftp import Account
    except ImportError as fault:
        raise _not_installed("an SFTP account", "sftp") from fault
    name = f"host-key-{place.host}:{place.port or ''}"
    pin = place.asked.get("hostkey") or (notes.noted(name) or b"").decode()
    account = Account(place, pin, entropy)
    notes.note(name, pin.encode())
    return account


def _guarantees(
    store: Store, notes: Notes, entropy: Callable[[int], bytes]
) -> tuple[Guarantees, list[Notice]]:
    """What a depot promises: found out the first time, remembered from then on."""
    name = f"depot-{hashlib.sha256(store.where.encode()).hexdigest()[:32]}"
    note = notes.noted(name)
    if note is not None:
        return remembered(note), []
    found = probe(store, entropy)
    notes.note(name, told(found))
    return found, [Notice(store.where, missing) for missing in found.missing()]


def _not_installed(what: str, extra: str) -> Refused:
    return Refused(f"What reaches {what} is not installed.", _INSTALL.format(extra))
