"""Taking what is new on a carrier: each bundle is opened, its entries stored, and only then remembered.

Must not know which carrier it is, nor how the log is stored.
"""

from __future__ import annotations

from herdsync.answers import Setback
from herdsync.exchange import bundle
from herdsync.exchange.carrier import Carrier, Shelf
from herdsync.exchange.ledger import Ledger
from herdsync.exchange.lid import HEAD_BYTES, peek
from herdsync.exchange.names import (
    named_as_bundle,
    shown_name,
    sighting_of,
    stored_name,
    suggested_order,
)
from herdsync.exchange.sealing import farm_tag, recipient_tag
from herdsync.faults import BadBytes
from herdsync.meetings import Notice
from herdsync.store.carried import Sighting, Taken

_MEND = (
    "It is tried again at each exchange. If it stays so, delete it there: a laptop that has its "
    "entries writes them anew."
)


# A hostile carrier can hold any number of lids: so many readers of closed bundles are looked at.
CLOSED = 1_024


class Taking:
    """Takes what is new on a carrier. ``present`` are the sound bundles there, new or known.

    By name: ``setbacks`` of what was refused, ``waits`` for what only waits for something else.
    """

    def __init__(self, carrier: Carrier, ledger: Ledger) -> None:
        self._carrier = carrier
        self._ledger = ledger
        self._farm_tag = farm_tag(ledger.farm)
        self._own_tag = recipient_tag(ledger.farm, ledger.key.seal_public)
        self.present: list[Sighting] = []
        # Whom bundles of this farm are sealed to that are closed to this laptop.
        self.closed: set[bytes] = set()
        self.setbacks: dict[str, list[Setback]] = {}
        self.waits: dict[str, Notice] = {}
        self.received = 0
        self.unvouched = 0

    def run(self, shelf: Shelf) -> None:
        """Read until nothing more finds its place: one bundle may bring what another builds on."""
        pending = self._unknown(shelf)
        before = -1
        while pending and before != self.received + len(self.present):
            before = self.received + len(self.present)
            pending = [name for name in pending if not self._done(name)]

    def _unknown(self, shelf: Shelf) -> list[str]:
        """The names to look into, in the order their numbers suggest; the rest was taken before."""
        pending: list[str] = []
        for name in shelf.names:
            try:
                listed = shelf.sizes.get(name)
                end = (listed, None) if listed is not None else self._carrier.tail(name)
            except BadBytes as fault:
                if named_as_bundle(name):
                    self._refuse(name, fault)
                continue
            if end is None:
                continue
            sighting = self._ledger.sighted(stored_name(name), *end)
            if sighting is None:
                pending.append(name)
            else:
                self.present.append(sighting)
        return sorted(pending, key=suggested_order)

    def _done(self, name: str) -> bool:
        """Look into one file; False where it must wait for another."""
        self.waits.pop(name, None)
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
        head = self._carrier.head(name, HEAD_BYTES)
        if head is None:
            return None
        lid = peek(head)
        if lid is None:
            if named_as_bundle(name):
                raise BadBytes(
                    "It is empty." if not head else "It does not begin as a bundle does."
                )
            return None
        # Another farm's, or sealed before this laptop was admitted: nobody's fault.
        if lid.farm != self._farm_tag:
            return None
        if self._own_tag not in lid.recipients:
            if len(self.closed) < CLOSED:
                self.closed.update(lid.recipients)
            return None
        return self._carrier.read(name, bundle.BUNDLE_BYTES)

    def _introduced(self, name: str, contents: bundle.Contents) -> bool:
        """Whether the writer is known, if need be by what known laptops say in this very bundle."""
        writer, before = contents.statement.device, set[bytes]()
        while (known := self._known_devices()) != before:
            if writer in known:
                return True
            # A new laptop's first bundle may come from one whose admission is in it, or the admission
            # of who admitted it. Entries of known laptops stand on their own signatures, whoever
            # passes them on.
            entries = [entry for entry in contents.entries if entry.header.device in known]
            self._count(self._ledger.take(entries, shown_name(name)))
            before = known
        return False

    def _count(self, taken: Taken) -> None:
        self.received += taken.received
        self.unvouched += taken.unvouched

    def _known_devices(self) -> set[bytes]:
        # A removed laptop's bundles are still read; what counts of them is not decided here.
        wrote = {run.device for run in self._ledger.runs()}
        return wrote | self._ledger.members().named

    def _taken(self, name: str, raw: bytes, contents: bundle.Contents) -> bool:
        taken = self._ledger.take(contents.entries, shown_name(name))
        self._count(taken)
        said = contents.statement
        tips = [(tip.device, tip.sequence, tip.id) for tip in said.frontier]
        if said.device != self._ledger.key.public:
            self._ledger.heard(said.device, tips, said.clock)
        if taken.refused or contents.unread:
            unread = [Setback(shown_name(name), why) for why in contents.unread]
            self.setbacks[name] = [*taken.refused, *unread]
            return True
        if any(self._ledger.place_of(last) is None for last, _ in contents.ids):
            self._wait(name, "It builds on entries that have not come yet.")
            return False
        sighting = sighting_of(name, raw, said, contents.recipients, contents.ids)
        self._ledger.remember(sighting)
        self.present.append(sighting)
        return True

    def _refuse(self, name: str, fault: BadBytes) -> None:
        self.setbacks[name] = [Setback(shown_name(name), f"{fault.what} {fault.mend or _MEND}")]

    def _wait(self, name: str, why: str) -> None:
        mend = "Nothing is lost: it is tried again at each exchange."
        self.waits[name] = Notice(shown_name(name), f"{why} {mend}")
