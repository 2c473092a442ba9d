"""The door to partners: exchange over a folder, a stick, a depot or the network, and what they witness."""

from __future__ import annotations

import contextlib
import re
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

import msgspec

from herdsync import meetings
from herdsync.acts.door import Door
from herdsync.exchange import lifeline
from herdsync.exchange.addresses import Address, address_in
from herdsync.exchange.apart import Opening, disprove, note_closed
from herdsync.exchange.bundles import Moved, exchange_opened
from herdsync.exchange.carrier import Carrier
from herdsync.exchange.carriers import opened
from herdsync.exchange.taking import Taking
from herdsync.exchange.witness import copies, silences, witness
from herdsync.faults import Fault, Refused
from herdsync.log.entry import Entry
from herdsync.log.recovery import entropy_of, recovery_key
from herdsync.projections.settings import settings_of
from herdsync.safe_text import clipped, safe_text
from herdsync.store import keyring
from herdsync.store.store import AFRESH

if TYPE_CHECKING:
    from herdsync.exchange.lan import Line, Visit

ADDRESSES = "addresses"
TURNED = "turned-away"
TURNED_MOST, TURNED_LETTERS = 50, 300
# Who calls again is told of at the 2nd, 4th, 8th time alone: one line of the note, with the newest count.
COUNTED = re.compile(r" \(\d+ times\)$")

_addresses = msgspec.json.Decoder(dict[str, str])
_turned = msgspec.json.Decoder(list[meetings.Turned])
Tell = Callable[[meetings.Visited], None]


class Exchanging(Door):
    """Exchange with partners."""

    def exchange(self, carrier: str, words: str = "") -> meetings.Exchanged:
        """Take what a carrier brings and leave there what it lacks. Raises Refused.

        ``carrier`` is a folder or stick, another laptop's host:port (or its name, once its address is
        known), or a depot: sftp://user@host/path, s3://bucket/prefix?endpoint=... With the recovery
        ``words`` what is sealed to other laptops alone is taken too: so two sides become one again.
        """
        address = self._address(carrier)
        if address is not None:
            if words:
                raise Refused(
                    "The recovery words open what lies on a carrier, not a line to a laptop.",
                    "Name the folder, stick or depot.",
                )
            return self._exchanged(self._call(address))
        entropy = self._wall.entropy
        with opened(carrier, self._store, entropy) as there:
            opened_too = self._taken_with(words, there.carrier) if words else 0
            moved = exchange_opened(there, self._store, self._clock_ms(), entropy)
            # A carrier that cannot be written was told of already; the lifeline waits for another.
            with contextlib.suppress(Fault):
                lifeline.leave(there.carrier, self._founding())
        return self._exchanged(msgspec.structs.replace(moved, received=moved.received + opened_too))

    def _taken_with(self, words: str, carrier: Carrier) -> int:
        """Take what the recovery words open on a carrier; answers how many entries came."""
        recovery = recovery_key(entropy_of(words))
        if self._store.members().recovery != recovery.public:
            raise Refused("These words rule another farm.", "Use the sheet of this farm.")
        taking = Taking(carrier, Opening(self._store, recovery))
        taking.run(carrier.names())
        note_closed(self._store, taking.closed)
        disprove(self._store)
        return taking.received

    def _exchanged(self, moved: Moved) -> meetings.Exchanged:
        known = witness(self._store)
        silent = silences(self._store, known.lacks)
        noticed = [*moved.noticed, *copies(self._store), *silent]
        with self._looking() as (_, shelf):
            conflicts = sum(one.open for one in shelf.every_conflict())
        return meetings.Exchanged(
            moved.sent,
            moved.received,
            moved.unvouched,
            moved.refused,
            conflicts,
            only_here=known.only_here,
            noticed=noticed,
        )

    def _address(self, carrier: str) -> Address | None:
        """The address a carrier's text is or stands for; a folder of that name comes first."""
        if Path(carrier).expanduser().is_dir():
            return None
        named = {member.device: key.hex() for key, member in self._store.members().by_key.items()}
        remembered = self.addresses().get(named.get(carrier, ""), "")
        return address_in(remembered or carrier)

    def addresses(self) -> dict[str, str]:
        """Where other laptops answered last, by their keys (64 hexadecimal digits)."""
        note = self._store.noted(ADDRESSES)
        return _addresses.decode(note) if note is not None else {}

    def _call(self, address: Address) -> Moved:
        from herdsync.exchange.lan import call

        called = call(address, self._line())
        known = self.addresses() | {called.peer.hex(): str(address)}
        self._store.note(ADDRESSES, msgspec.json.encode(known, order="sorted"))
        return called.moved

    @contextmanager
    def listening(self, port: int, tell: Tell, host: str = "") -> Iterator[int]:
        """Answer other laptops that call while the block runs; the block gets the port.

        ``tell`` is told of every visit, also of who was refused and why, from another thread. Without
        ``host`` every network of this laptop is listened on. Raises Refused.
        """
        from herdsync.exchange.listening import Listener

        def visited(visit: Visit) -> None:
            moved = self._exchanged(visit.moved) if visit.moved is not None else None
            if visit.why and not visit.check:
                self._turn_away(visit.who, visit.why)
            tell(meetings.Visited(visit.who, visit.why, moved, visit.check))

        listener = Listener(host, port, self._line(), visited)
        listener.start()
        try:
            yield listener.port
        finally:
            listener.stop()

    def turned_away(self) -> list[meetings.Turned]:
        """Who called this laptop over the network and was refused, and why; the newest first."""
        with self._looking() as (_, shelf):
            zone = settings_of(shelf).zone
        return [
            msgspec.structs.replace(
                one, at=datetime.fromisoformat(one.at).astimezone(zone).isoformat()
            )
            for one in self._turned()
        ]

    def _turned(self) -> list[meetings.Turned]:
        note = self._store.noted(TURNED)
        return _turned.decode(note) if note is not None else []

    def _turn_away(self, who: str, why: str) -> None:
        now = self._wall.now()
        told = meetings.Turned(
            clipped(safe_text(who), TURNED_LETTERS),
            clipped(safe_text(why), TURNED_LETTERS),
            now.isoformat(timespec="seconds"),
        )
        base = COUNTED.sub("", told.why)
        others = [
            one for one in self._turned() if (one.who, COUNTED.sub("", one.why)) != (told.who, base)
        ]
        kept = [told, *others][:TURNED_MOST]
        self._store.note(TURNED, msgspec.json.encode(kept))

    def _line(self) -> Line:
        from herdsync.exchange.lan import Line
        from herdsync.exchange.tls import Contexts

        secret = keyring.secret_of(self._store.farm, self._store.device)
        if secret is None:
            raise Refused(
                "This laptop does not hold this farm's key, so it cannot prove who it is.",
                AFRESH,
            )
        contexts = Contexts(secret.sign_seed, keyring.keys_folder(), self._wall.entropy)
        return Line(self._store, contexts, self._clock_ms)

    def _clock_ms(self) -> int:
        return int(self._wall.now().timestamp() * 1000)

    def _founding(self) -> Entry:
        with self._store.reading() as view:
            founding = view.log.full(self._store.farm)
        assert founding is not None, "a farm begins with its founding entry"
        return founding
