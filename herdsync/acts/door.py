"""What the halves of the door share: the store behind it, the wall, the person at the keyboard."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from types import TracebackType
from typing import Self

from herdsync.acts import finding
from herdsync.acts.typed import Index, Typed
from herdsync.faults import Refused
from herdsync.log.chain import Known
from herdsync.merge.replica import Replica
from herdsync.merge.shelf import Shelf
from herdsync.projections.settings import settings_of
from herdsync.store.database import FILE
from herdsync.store.store import Stamp, Store, Writing
from herdsync.store.view import View
from herdsync.wall import Wall


class Door:
    """An open store and how it is looked at and written to."""

    def __init__(self, store: Store, wall: Wall, by: str) -> None:
        self._store = store
        self._wall = wall
        self._by = by
        self._known: Replica | None = None
        self._held = False  # whether what is asked now is told of one look

    @classmethod
    def open(cls, folder: Path, wall: Wall, *, by: str = "", known: str = "") -> Self:
        """The farm in ``folder``. ``known`` (an entry's id): as that entry and its past knew it.

        Raises Refused where there is none, DamagedFarm where its bytes are wrong.
        """
        if not (folder / FILE).is_file():
            raise Refused(
                f"There is no farm in {folder}.",
                "Found one with 'herdsync found', join one with 'herdsync join', or name its folder "
                "with --farm.",
            )
        farm = cls(Store(folder), wall, by)
        if known:
            farm.know_only(known)
        return farm

    def close(self) -> None:
        """Close the farm's file."""
        self._store.close()

    def __enter__(self) -> Self:
        """The farm itself; it closes with the block."""
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        fault: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def know_only(self, entry: str) -> None:
        """Look at the farm as one entry and its causal past knew it, from here on, and never write."""
        with self._store.reading() as view:
            id = finding.find_entry(Index(view), entry)
            place = view.log.place_of(id)
            assert place is not None, "what is found is here"
            self._known = _past(view, place)

    @contextmanager
    def _looking(self) -> Iterator[tuple[View, Shelf]]:
        """One consistent look: the log, and the records as they are (or were) known."""
        with self._store.reading() as view:
            yield view, self._known.shelf if self._known is not None else view.shelf

    @contextmanager
    def _writing(self) -> Iterator[tuple[Writing, Typed]]:
        assert not self._held, "a look ends before anything is written"
        if self._known is not None:
            raise Refused(
                "You are looking at the farm as it was known earlier; nothing was written.",
                "Leave out --known to write.",
            )
        moment = self._wall.now()
        clock = int(moment.timestamp() * 1000)
        stamp = Stamp(self._by, clock, self._wall.by_hand, self._wall.entropy)
        with self._store.writing(stamp) as writing:
            yield writing, Typed(writing.view, moment, settings_of(writing.shelf).zone)


def _past(view: View, place: Known) -> Replica:
    entries = []
    for number, reach in view.log.chains.past(place).items():
        chain = view.log.chains.all[number]
        entries += list(view.log.run(number, chain.split + 1, min(reach, chain.tip_sequence)))
    replica = Replica()
    replica.take(sorted(entries, key=lambda entry: entry.order))
    return replica
