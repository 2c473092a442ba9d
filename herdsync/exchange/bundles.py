"""One exchange over any carrier of bundles: take what is new there, then leave what nobody left yet.

Idempotent and resumable: a file is remembered only once everything in it is stored, and what is already
stored is no news. Must not know which carrier it is, nor how the log is stored.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

from msgspec import Struct

from herdsync.answers import Setback
from herdsync.exchange import bundle
from herdsync.exchange.carrier import TAIL_BYTES, Carrier
from herdsync.exchange.coverage import uncovered
from herdsync.exchange.folder import Folder
from herdsync.exchange.ledger import Ledger
from herdsync.exchange.load import Load, fill
from herdsync.exchange.sealing import (
    farm_tag,
    recipient_tag,
    sound_seal_keys,
    tag_text,
    writer_tag,
)
from herdsync.faults import BadBytes, Refused
from herdsync.log.limits import FORMAT_VERSION
from herdsync.safe_text import safe_text
from herdsync.store.carried import Run, Sighting, Taken

SUFFIX = ".bundle"
NAME_TRIES = 1_000

_NUMBER = re.compile(r"-([0-9]{8})")
_MEND = (
    "It is tried again at each exchange. If it stays so, delete it there: a laptop that has its "
    "entries writes them anew."
)


class Moved(Struct, frozen=True):
    """What one exchange moved, in entries, and a sentence for each thing that was refused."""

    sent: int
    received: int
    unvouched: int
    refused: list[Setback]


def exchange_folder(
    path: Path, ledger: Ledger, clock_ms: int, entropy: Callable[[int], bytes]
) -> Moved:
    """Exchange over a folder or stick. Raises Refused where there is no such folder to look into."""
    folder = Folder(path, entropy)
    folder.sweep(tag_text(writer_tag(ledger.farm, ledger.key.public)))
    return exchange_bundles(folder, ledger, clock_ms, entropy)


def exchange_bundles(
    carrier: Carrier, ledger: Ledger, clock_ms: int, entropy: Callable[[int], bytes]
) -> Moved:
    """Exchange over a carrier; ``clock_ms`` is this device's clock, a claim in its signed frontier."""
    shelf = carrier.names()
    reading = _Reading(carrier, ledger)
    reading.run(shelf.names)
    writing = _Writing(carrier, ledger, clock_ms, entropy)
    writing.run(reading.present, {name.casefold() for name in shelf.names})
    refused = [Setback("the folder", note) for note in shelf.notes]
    for _, setbacks in sorted(reading.setbacks.items()):
        refused += setbacks
    # What is refused or waits explains a gap better than the gap itself.
    refused += [] if reading.setbacks else _gaps(ledger)
    return Moved(writing.sent, reading.received, reading.unvouched, refused + writing.refused)


class _Reading:
    """Takes what is new on a carrier. ``present`` are the sound bundles there, new or known."""

    def __init__(self, carrier: Carrier, ledger: Ledger) -> None:
        self._carrier = carrier
        self._ledger = ledger
        self._farm_tag = farm_tag(ledger.farm)
        self._own_tag = recipient_tag(ledger.farm, ledger.key.seal_public)
        self.present: list[Sighting] = []
        self.setbacks: dict[str, list[Setback]] = {}
        self.received = 0
        self.unvouched = 0

    def run(self, names: list[str]) -> None:
        """Read until nothing more finds its place: one bundle may bring what another builds on."""
        pending = self._unknown(names)
        before = -1
        while pending and before != self.received + len(self.present):
            before = self.received + len(self.present)
            pending = [name for name in pending if not self._done(name)]

    def _unknown(self, names: list[str]) -> list[str]:
        """The names to look into, in the order their numbers suggest; the rest was taken before."""
        known = {(one.name, one.size, one.tail): one for one in self._ledger.sightings()}
        pending: list[str] = []
        for name in names:
            try:
                end = self._carrier.tail(name)
            except BadBytes as fault:
                if _named_as_bundle(name):
                    self._refuse(name, fault)
                continue
            if end is None:
                continue
            sighting = known.get((_stored_name(name), *end))
            if sighting is None:
                pending.append(name)
            else:
                self.present.append(sighting)
        return sorted(pending, key=_suggested_order)

    def _done(self, name: str) -> bool:
        """Look into one file; False where it must wait for another."""
        self.setbacks.pop(name, None)
        try:
            raw = self._raw(name)
            if raw is None:
                return True
            contents = bundle.read(raw, self._ledger.farm, self._ledger.key)
        except BadBytes as fault:
            self._refuse(name, fault)
            return True
        if not self._introduced(name, contents):
            self._wait(name, "It was written by a laptop that this one does not know as admitted.")
            return False
        return self._taken(name, raw, contents)

    def _raw(self, name: str) -> bytes | None:
        """A file's bytes where it is a bundle for this laptop. Raises BadBytes."""
        head = self._carrier.head(name, bundle.HEAD_BYTES)
        if head is None:
            return None
        lid = bundle.peek(head)
        if lid is None:
            if _named_as_bundle(name):
                raise BadBytes(
                    "It is empty." if not head else "It does not begin as a bundle does."
                )
            return None
        # Another farm's, or sealed before this laptop was admitted: nobody's fault.
        if lid.farm != self._farm_tag or self._own_tag not in lid.recipients:
            return None
        return self._carrier.read(name, bundle.BUNDLE_BYTES)

    def _introduced(self, name: str, contents: bundle.Contents) -> bool:
        """Whether the writer is known, if need be by what known laptops say in this very bundle."""
        writer, known = contents.statement.device, self._known_devices()
        if writer in known:
            return True
        # A new laptop's first bundle may come from one whose admission is in it. Entries of known
        # laptops stand on their own signatures, whoever passes them on.
        entries = [entry for entry in contents.entries if entry.header.device in known]
        self._count(self._ledger.take(entries, _what(name)))
        return writer in self._known_devices()

    def _count(self, taken: Taken) -> None:
        self.received += taken.received
        self.unvouched += taken.unvouched

    def _known_devices(self) -> set[bytes]:
        # A removed laptop's bundles are still read; what counts of them is not decided here.
        wrote = {run.device for run in self._ledger.runs()}
        return wrote | set(self._ledger.members().by_key)

    def _taken(self, name: str, raw: bytes, contents: bundle.Contents) -> bool:
        taken = self._ledger.take(contents.entries, _what(name))
        self._count(taken)
        said = contents.statement
        tips = [(tip.device, tip.sequence, tip.id) for tip in said.frontier]
        if said.device != self._ledger.key.public:
            self._ledger.heard(said.device, tips, said.clock)
        if taken.refused or contents.unread:
            unread = [Setback(_what(name), why) for why in contents.unread]
            self.setbacks[name] = [*taken.refused, *unread]
            return True
        if any(self._ledger.place_of(last) is None for last, _ in contents.ids):
            self._wait(name, "It builds on entries that have not come yet.")
            return False
        sighting = _sighting(name, raw, said, contents.recipients, contents.ids)
        self._ledger.remember(sighting)
        self.present.append(sighting)
        return True

    def _refuse(self, name: str, fault: BadBytes) -> None:
        self.setbacks[name] = [Setback(_what(name), f"{fault.what} {fault.mend or _MEND}")]

    def _wait(self, name: str, why: str) -> None:
        mend = "Nothing is lost: it is tried again at each exchange."
        self.setbacks[name] = [Setback(_what(name), f"{why} {mend}")]


class _Writing:
    """Leaves on a carrier what no bundle there holds for everyone who may read."""

    def __init__(
        self, carrier: Carrier, ledger: Ledger, clock_ms: int, entropy: Callable[[int], bytes]
    ) -> None:
        self._carrier = carrier
        self._ledger = ledger
        self._clock_ms = clock_ms
        self._entropy = entropy
        self.sent = 0
        self.refused: list[Setback] = []

    def run(self, present: list[Sighting], names: set[str]) -> None:
        """Write as many bundles as it takes; the first that cannot be written ends it."""
        ledger = self._ledger
        members = ledger.members()
        if ledger.key.public not in members.by_key:
            return
        readers = sound_seal_keys(members.recipients())
        tags = {recipient_tag(ledger.farm, one) for one in readers}
        missing = uncovered(ledger, present, tags)
        if not missing:
            return
        tips = self._tips()
        space = bundle.room(len(readers), len(tips))
        try:
            for load in fill(ledger.entries(missing), space):
                self._leave(load, tips, readers, names)
        except _Unwritable as fault:
            self.refused.append(Setback("writing there", str(fault)))

    def _tips(self) -> list[bundle.Tip]:
        tips = []
        for run in self._ledger.runs():
            after = Run(run.device, run.chain, run.last + 1, run.last + 1)
            tips.append(bundle.Tip(run.device, run.last, self._ledger.previous_of(after)))
        return sorted(tips)[: bundle.TIPS]

    def _leave(
        self, load: Load, tips: list[bundle.Tip], readers: list[bytes], names: set[str]
    ) -> None:
        ledger = self._ledger
        device = ledger.key.public
        writer = writer_tag(ledger.farm, device)
        for _ in range(NAME_TRIES):
            number = ledger.take_bundle_number()
            name = f"{tag_text(writer)}-{number:08d}{SUFFIX}"
            if name in names:
                continue
            said = bundle.Statement(
                ledger.farm, device, number, FORMAT_VERSION, tips, self._clock_ms
            )
            raw = self._written(load, said, readers, name)
            if raw is not None:
                tags = sorted(recipient_tag(ledger.farm, one) for one in readers)
                ledger.remember(_sighting(name, raw, said, tags, load.ids))
                self.sent += len(load.pieces)
                return
        raise _Unwritable(f"The next {NAME_TRIES:,} names for a bundle are all taken there.")

    def _written(
        self, load: Load, said: bundle.Statement, readers: list[bytes], name: str
    ) -> bytes | None:
        """The bundle's bytes once they are there; None where another file has the name."""
        try:
            raw = bundle.write(load, said, readers, self._ledger.key, self._entropy)
            return raw if self._carrier.create(name, raw) else None
        except Refused as fault:
            raise _Unwritable(str(fault)) from fault


class _Unwritable(Exception):
    """The carrier (not the farm's own store) takes no bundle."""


def _gaps(ledger: Ledger) -> list[Setback]:
    """A sentence for each laptop that had entries, when last heard, which have not come here."""
    reached: dict[bytes, int] = {}
    for run in ledger.runs():
        reached[run.device] = max(run.last, reached.get(run.device, -1))
    members = ledger.members().by_key
    setbacks = []
    for device, (_, frontier) in sorted(ledger.last_heard().items()):
        count = sum(
            max(1, sequence - reached.get(writer, -1))
            for writer, sequence, tip in frontier
            if writer in members and ledger.place_of(tip) is None
        )
        if count and device in members:
            entries = "1 entry" if count == 1 else f"{count} entries"
            why = (
                f"When last heard it had {entries} more than are here: something is missing from "
                "the carrier, or it shows an older state. Let that laptop exchange here again."
            )
            setbacks.append(Setback(f"laptop {safe_text(members[device].device)}", why))
    return setbacks


def _sighting(
    name: str,
    raw: bytes,
    said: bundle.Statement,
    recipients: list[bytes],
    ids: list[tuple[bytes, int]],
) -> Sighting:
    tail = raw[-TAIL_BYTES:]
    return Sighting(_stored_name(name), len(raw), tail, said.device, said.counter, recipients, ids)


def _stored_name(name: str) -> str:
    """A file's name as text that any store can hold, different for different names."""
    return name.encode("utf-8", "backslashreplace").decode()


def _named_as_bundle(name: str) -> bool:
    # Also a conflict copy or a renamed double of one.
    return SUFFIX in name.lower()


def _suggested_order(name: str) -> tuple[int, str]:
    found = _NUMBER.search(name)
    return (int(found[1]) if found else 0, name)


def _what(name: str) -> str:
    return f"file {safe_text(name)}"
