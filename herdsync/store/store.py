"""The farm's store: one file, one transaction an act, the device's key beside it but never in it."""

from __future__ import annotations

import errno
import heapq
import shutil
import sqlite3
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from herdsync import wall
from herdsync.faults import BadBytes, DamagedFarm, Refused
from herdsync.log.chain import Chain, Known, Settled
from herdsync.log.entry import SALT_BYTES, Entry
from herdsync.log.signing import SigningKey
from herdsync.log.trust import READER, Members
from herdsync.log.writer import Act, Pen, next_entry
from herdsync.store import keyring
from herdsync.store.arriving import Arriving
from herdsync.store.bulk import uncollected
from herdsync.store.carried import Run, Taken
from herdsync.store.checking import Check, mark
from herdsync.store.database import FILE, WAL, Database, damaged
from herdsync.store.intake import Intake
from herdsync.store.keyring import Marker
from herdsync.store.lasting import make_folder, move_into_place
from herdsync.store.layout import CURRENT, EARLIER, carry_over, lay_out
from herdsync.store.log_table import GOOD
from herdsync.store.remembering import Remembering
from herdsync.store.view import View

# So many entries of a run are held in memory while many are read.
PAGE = 256


# Joining needs a folder without a farm; the recovery words work where one is.
AFRESH = (
    "Join afresh into another folder with 'herdsync join CARRIER --farm DIR', or make this one a laptop of "
    "its own with the recovery words ('herdsync recover CARRIER')."
)


@dataclass(frozen=True, slots=True)
class Stamp:
    """Who is at the keyboard, this run's clock (ms UTC), whether it was set by hand, randomness."""

    by: str
    clock: int
    by_hand: bool
    entropy: Callable[[int], bytes]


class Writing:
    """One transaction's view: what is appended here is stored, folded and committed together."""

    def __init__(
        self, view: View, farm: bytes, key: SigningKey, stamp: Stamp, marker: Marker
    ) -> None:
        self.view = view
        self.shelf = view.shelf
        self.entries: list[Entry] = []
        self._farm = farm
        self._key = key
        self._stamp = stamp
        self._last = marker.id

    def append(self, act: Act, batch: bytes | None = None, salt: bytes | None = None) -> Entry:
        """The next entry of this device. With a draft's salt used before: the entry it made then."""
        log = self.view.log
        if salt is not None and (earlier := self._drafted(salt)) is not None:
            return earlier
        arriving = log.arriving()
        given = salt if salt is not None else self._stamp.entropy(SALT_BYTES)
        entry = self._sign(act, given, batch, arriving)
        arriving.store()
        if salt is not None:
            self.view.connection.execute("INSERT INTO draft VALUES (?, ?)", (salt, entry.id))
        return entry

    def append_all(self, acts: Iterable[Act], batch: bytes) -> None:
        """The next entries of this device, all of one batch, written together."""
        arriving = self.view.log.arriving()
        for act in acts:
            self._sign(act, self._stamp.entropy(SALT_BYTES), batch, arriving)
        arriving.store()

    def _sign(self, act: Act, salt: bytes, batch: bytes | None, arriving: Arriving) -> Entry:
        chains, own = self.view.log.chains, self.own_chain()
        pen = Pen(self._farm, self._key, self._stamp.by, self._stamp.clock, self._stamp.by_hand)
        entry = next_entry(chains, own, pen, act, salt, batch)
        settled = chains.settle(entry)
        assert isinstance(settled, Settled), "what this device writes builds on what is here"
        arriving.add(entry, settled, GOOD)
        self.entries.append(entry)
        self._last = entry.id
        return entry

    def own_chain(self) -> Chain | None:
        """The chain this laptop writes on: the one it last wrote, whatever a copy of it has written."""
        chains = self.view.log.chains
        place = self.view.log.place_of(self._last)
        if place is not None:
            return chains.all[place.chain]
        own = chains.of_device(self._key.public)
        return own[0] if own else None

    def _drafted(self, salt: bytes) -> Entry | None:
        sql = "SELECT id FROM draft WHERE salt = ?"
        row = self.view.connection.execute(sql, (salt,)).fetchone()
        return self.view.log.full(row[0]) if row else None


class Store(Remembering):
    """One farm's folder on this device."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._db = Database(folder)
        self._views: dict[int, View] = {}
        with self.reading() as view:
            farm, device, layout = (view.about(one) for one in ("farm", "device", "layout"))
            if layout not in (CURRENT, *EARLIER) or farm is None:
                raise DamagedFarm(
                    "The farm's file is of a layout this program does not know.",
                    "Update this program, or restore a backup made by this version.",
                )
        if layout != CURRENT:
            with self._transaction() as view:
                carry_over(view)
        self.farm = farm
        self.device = device or b""
        secret = keyring.secret_of(self.farm, self.device) if self.device else None
        self._key = secret.key() if secret is not None else None

    @classmethod
    def create(cls, folder: Path, founding: Entry, secret: keyring.Secret) -> Store:
        """A new farm's file with its founding entry; ``secret`` is this device's. Raises Refused."""
        if (folder / FILE).exists():
            raise Refused(
                f"There is a farm in {folder} already; nothing was written.",
                "Choose another folder with --farm, or open the farm that is there.",
            )
        try:
            make_folder(folder)
            keyring.keep_secret(secret.key().public, secret)
            _write_new(folder, founding, secret.key().public)
            if founding.header.device == secret.key().public:
                marker = Marker(0, founding.id, wall.machine())
                keyring.keep_marker(founding.id, founding.header.device, marker)
        except OSError as fault:
            raise Refused(
                f"The farm's folder could not be made ({fault.strerror}).",
                "See whether the disk is full or the folder is read-only, then try again.",
            ) from fault
        return cls(folder)

    @classmethod
    def for_reading(cls, folder: Path, founding: Entry) -> Store:
        """A new farm's file that belongs to no device: it takes entries and is read, never written.

        Raises OSError where the folder cannot be made.
        """
        make_folder(folder)
        _write_new(folder, founding, b"")
        return cls(folder)

    @property
    def key(self) -> SigningKey:
        """This device's key. Raises Refused where this machine does not hold it."""
        if self._key is None:
            raise Refused(
                "This laptop does not hold this farm's key, so it can read but not write.",
                AFRESH,
            )
        return self._key

    @contextmanager
    def reading(self) -> Iterator[View]:
        """One consistent view of everything stored."""
        with self._db.reading() as connection:
            yield self._view(connection)

    @contextmanager
    def writing(self, stamp: Stamp) -> Iterator[Writing]:
        """One transaction: everything appended is stored and folded, or nothing is. Raises Refused."""
        with self._transaction() as view:
            marker = self._marker(view)
            self._refuse_outsider(view)
            writing = Writing(view, self.farm, self.key, stamp, marker)
            yield writing
            view.fold_in(writing.entries)
        # Commit, marker, acknowledge: a crash in between leaves the log ahead of its marker, which
        # is sound; the other way round would lock this laptop out of its own farm.
        if writing.entries:
            newest = writing.entries[-1]
            self._keep_marker(Marker(newest.header.sequence, newest.id, wall.machine()))

    def _keep_marker(self, marker: Marker) -> None:
        try:
            keyring.keep_marker(self.farm, self.device, marker)
        except OSError as fault:
            raise Refused(
                f"It is written down, but this laptop's marker beside its key is not ({fault.strerror}).",
                "Do not write it again; make room on the disk that holds your data folder.",
            ) from fault

    @contextmanager
    def overruling(self, recovery: SigningKey, stamp: Stamp) -> Iterator[Writing]:
        """One transaction signed by the recovery key: it stands above every device's role and marker."""
        with self._transaction() as view:
            own = view.log.chains.of_device(recovery.public)
            newest = Marker(own[0].tip_sequence, own[0].tip, "") if own else Marker(-1, b"", "")
            writing = Writing(view, self.farm, recovery, stamp, newest)
            yield writing
            view.fold_in(writing.entries)

    def become(self, secret: keyring.Secret) -> None:
        """Make this installation another device, whose secret is kept: with the recovery words."""
        key = secret.key()
        with self._transaction() as view:
            view.note("device", key.public)
        self.device = key.public
        self._key = key

    @contextmanager
    def _transaction(self) -> Iterator[View]:
        try:
            with self._db.writing() as connection:
                yield self._view(connection)
        except BaseException:
            # Also where the commit itself failed: what a view keeps in memory was never stored.
            self._views.clear()
            raise

    def _view(self, connection: sqlite3.Connection) -> View:
        view = self._views.get(id(connection))
        if view is None:
            view = self._views[id(connection)] = View(connection)
        else:
            view.catch_up()
        return view

    def why_read_only(self) -> str:
        """Why this device may not write here, as a sentence; empty where it may."""
        try:
            with self.reading() as view:
                self.key  # noqa: B018 - asking for it is the check
                self._marker(view)
                self._refuse_outsider(view)
        except Refused as fault:
            return str(fault)
        return ""

    def _marker(self, view: View) -> Marker:
        """How far this laptop's log had come. Raises Refused where it is not this log or machine."""
        marker = keyring.marker_of(self.farm, self.device) if self.device else None
        sound = marker is not None and marker.machine == wall.machine()
        if marker is not None and marker.sequence >= 0:
            sound = sound and view.log.place_of(marker.id) is not None
        if marker is None or not sound:
            raise Refused(
                "This farm's folder was restored or copied: writing on would split this laptop's log.",
                f"It opens to read. {AFRESH}",
            )
        return marker

    def _refuse_outsider(self, view: View) -> None:
        member = view.members().by_key.get(self.device)
        if member is None:
            raise Refused(
                "This laptop has not been admitted to the farm yet.",
                "Ask the steward to admit it, then exchange once more.",
            )
        if member.role == READER:
            raise Refused("This laptop may read only.", "Ask the steward for another role.")

    def take(self, entries: list[Entry], source: str) -> Taken:
        """Store what came from elsewhere, in one transaction; the same again changes nothing."""
        with self._transaction() as view, uncollected():
            return Intake(view, self.farm).take(entries, source)

    def note_checks(self, found: Check) -> None:
        """Keep the outcome of signature checks, where there is anything new to keep."""
        with self.reading() as view:
            news = bool(found.bad) or view.log.any_unchecked()
        if news:
            with self._transaction() as view:
                mark(view, found)

    def version(self) -> int:
        """A number that changes whenever another connection has changed the farm's file."""
        with self._db.reading() as connection:
            return int(connection.execute("PRAGMA data_version").fetchone()[0])

    def refold(self) -> None:
        """Drop everything derived and fold it again."""
        with self._transaction() as view:
            view.refold()

    def close(self) -> None:
        """Close the farm's file."""
        self._views.clear()
        self._db.close()

    # What an exchange asks (herdsync.exchange.ledger.Ledger).

    def members(self) -> Members:
        """Who may write and read."""
        with self.reading() as view:
            return view.members()

    def runs(self) -> list[Run]:
        """Everything stored, one run a chain."""
        with self.reading() as view:
            chains = view.log.chains.all.values()
            return [
                Run(chain.device, chain.number, chain.split + 1, chain.tip_sequence)
                for chain in sorted(chains, key=lambda chain: chain.number)
            ]

    def entries(self, runs: list[Run]) -> Iterator[Entry]:
        """The entries of runs, whole, in causal order, a page of each run in memory at a time."""
        return heapq.merge(*map(self._pages, runs), key=lambda entry: entry.order)

    def _pages(self, run: Run) -> Iterator[Entry]:
        for first in range(run.first, run.last + 1, PAGE):
            last = min(first + PAGE - 1, run.last)
            with self.reading() as view:
                try:
                    page = list(view.log.run(run.chain, first, last))
                except BadBytes as fault:
                    raise damaged(fault.what) from fault
            yield from page

    def place_of(self, id: bytes) -> Known | None:
        """Where an entry stands here."""
        with self.reading() as view:
            return view.log.place_of(id)

    def damaged(self) -> list[bytes]:
        """Ids of stored entries whose bytes or signature a check found damaged."""
        with self.reading() as view:
            return view.log.bad()

    def previous_of(self, run: Run) -> bytes:
        """The id of the entry before a run."""
        with self.reading() as view:
            return view.log.before(run.chain, run.first)


def _write_new(folder: Path, founding: Entry, device: bytes) -> None:
    """The file of a new farm, made aside and moved into place whole."""
    aside = folder / ".new"
    shutil.rmtree(aside, ignore_errors=True)
    aside.mkdir()
    database = Database(aside)
    try:
        with database.writing() as connection:
            lay_out(connection, founding.id, device)
            view = View(connection)
            settled = view.log.chains.settle(founding)
            assert isinstance(settled, Settled), "a founding entry builds on nothing"
            view.log.add(founding, settled, GOOD)
        database.close()
        if (aside / WAL).exists():
            # Closing moves what the write-ahead log holds into the file, and says nothing if it cannot.
            raise OSError(errno.EIO, "the disk did not take it all")
        move_into_place(aside / FILE, folder / FILE)
    finally:
        database.close()
        shutil.rmtree(aside, ignore_errors=True)
