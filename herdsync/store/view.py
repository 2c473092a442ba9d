"""One connection's view of the farm: its log, its shelf, its members, and the fold between them."""

from __future__ import annotations

import sqlite3

from herdsync.faults import DamagedFarm
from herdsync.log.entry import Entry
from herdsync.log.signing import entry_verifies
from herdsync.log.stewardship import members_of
from herdsync.log.trust import AUTHORITY_VERBS, Members, judged_anew
from herdsync.merge.fold import Fold
from herdsync.store.bulk import uncollected
from herdsync.store.log_table import LogTable
from herdsync.store.schema import DERIVED
from herdsync.store.sql_shelf import SqlShelf

# Clocks of two devices may differ so much without anyone's being wrong.
CLOCK_SLACK_MS = 10 * 60 * 1000


class View:
    """Log and shelf on one connection, read anew where another connection has written."""

    def __init__(self, connection: sqlite3.Connection) -> None:
        self.connection = connection
        self.log = LogTable(connection)
        self.shelf = SqlShelf(connection, self.log, self.members)
        self.fold = Fold(self.shelf, self.members, self.saw)
        self._members: Members | None = None
        self._version = self._data_version()
        # Up to where the log was read into what is kept in memory.
        self._mark = self.shelf.changes(-1).mark

    def catch_up(self) -> None:
        """Forget what is no longer so."""
        version = self._data_version()
        if version == self._version:
            return
        self._version = version
        self.log.refresh()
        changes = self.shelf.changes(self._mark)
        self._mark = changes.mark
        if changes.records is None:
            self.refresh()
        else:
            self.shelf.forget(changes.records)

    def refresh(self) -> None:
        """Read everything kept in memory anew."""
        self.log.refresh()
        self.shelf.refresh()
        self._members = None

    def members(self) -> Members:
        """Who may write."""
        if self._members is None:
            self._members = members_of(self.log.authority(), self.saw)
        if self._members is None:
            raise DamagedFarm("The farm's file holds no founding entry.", "Restore a backup.")
        return self._members

    def forget_members(self) -> None:
        """Weigh who may write anew at the next asking."""
        self._members = None

    def saw(self, later: bytes, earlier: bytes) -> bool:
        """Whether the writer of one claim had seen another. What is not here was seen by nobody here."""
        one, other = self.log.place_of_claim(later), self.log.place_of_claim(earlier)
        return one is not None and other is not None and self.log.chains.saw(one, other)

    def full_id(self, claim: bytes) -> bytes:
        """The id of the entry with these first 16 bytes. Raises KeyError."""
        found = self.log.of_claim(claim)
        if found is None:
            raise KeyError(claim)
        return found.id

    def signature_holds(self, claim: bytes) -> bool:
        """Whether the entry's own signature holds, checked anew."""
        entry = self.log.full(self.full_id(claim))
        return entry is not None and entry_verifies(entry)

    def doubtful(self, claim: bytes) -> bool:
        """Whether the clock of the device that wrote an entry contradicts its parents or children."""
        entry = self.log.full(self.full_id(claim))
        if entry is None:
            return True
        header = entry.header
        before = [*header.parents, *([header.previous] if header.sequence else [])]
        earlier = max((self._clock(id) for id in before), default=header.clock)
        later = min((self._clock(id) for id in self.log.children(entry.id)), default=header.clock)
        return earlier > header.clock + CLOCK_SLACK_MS or later < header.clock - CLOCK_SLACK_MS

    def _clock(self, id: bytes) -> int:
        found = self.log.entries([self.log.position(id)])
        return found[0].header.clock

    def fold_in(self, entries: list[Entry]) -> None:
        """Bring the shelf up to date with entries just stored."""
        if self._judges_anew(entries):
            # Who may write has changed for entries folded earlier: rare, so everything is folded anew.
            self.refold()
        else:
            self.fold.take(entries)

    def _judges_anew(self, entries: list[Entry]) -> bool:
        if not any(entry.header.verb in AUTHORITY_VERBS for entry in entries):
            return False
        fresh = {entry.id for entry in entries}
        self._members = None
        authority = self.log.authority()
        before = members_of([one for one in authority if one.id not in fresh], self.saw)
        chains = self.log.chains
        return before is not None and any(
            chain.first not in fresh
            for device in judged_anew(before, self.members())
            for chain in chains.of_device(device)
        )

    def refold(self) -> None:
        """Drop everything derived and fold the whole log again."""
        rows = self.connection.execute(
            "SELECT name FROM sqlite_master WHERE type = 'table' AND name GLOB 'derived_*'"
        )
        for (table,) in rows.fetchall():
            self.connection.execute(f'DROP TABLE "{table}"')
        for statement in DERIVED.split(";"):
            self.connection.execute(statement)
        self.refresh()
        self.fold_all(self.fold)

    def fold_all(self, fold: Fold) -> None:
        """Fold the whole log, some thousands of entries at a time."""
        every = self.log.as_stored()
        while True:
            with uncollected():
                entries = next(every, None)
                if entries is None:
                    return
                fold.take(entries)
                del entries

    def about(self, name: str) -> bytes | None:
        """One of the store's own notes."""
        row = self.connection.execute("SELECT value FROM about WHERE name = ?", (name,)).fetchone()
        return bytes(row[0]) if row else None

    def note(self, name: str, value: bytes) -> None:
        """Keep one of the store's own notes."""
        self.connection.execute("INSERT OR REPLACE INTO about VALUES (?, ?)", (name, value))

    def _data_version(self) -> int:
        return int(self.connection.execute("PRAGMA data_version").fetchone()[0])
