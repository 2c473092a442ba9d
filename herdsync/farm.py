"""The one door to a farm: everything a screen, a command or a story asks of it.

One call, one act: read what the keeper typed, check it, sign it, store it, merge it, answer. Looking
never writes. Its parts: `acts.looking` (reading), `acts.reckoning` (sums), `acts.trading` (the trade),
`acts.acting` (writing), `acts.foreseeing` (trials), `acts.meeting` (exchange and admission),
`acts.stewarding` (authority), `acts.papering` (papers), `acts.vouching` (checks,
proofs, backups).
"""

from __future__ import annotations

from pathlib import Path
from types import TracebackType

from herdsync.acts.foreseeing import Foreseeing
from herdsync.acts.meeting import Meeting
from herdsync.acts.papering import Papering
from herdsync.acts.stewarding import Stewarding
from herdsync.acts.trading import Trading
from herdsync.acts.vouching import Vouching
from herdsync.faults import Refused
from herdsync.store.database import FILE
from herdsync.store.store import Store
from herdsync.wall import Wall


class Farm(Papering, Trading, Foreseeing, Stewarding, Meeting, Vouching):
    """One farm on this device, open."""

    @classmethod
    def open(cls, folder: Path, wall: Wall, *, by: str = "", known: str = "") -> Farm:
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

    def __enter__(self) -> Farm:
        """The farm itself; it closes with the block."""
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        fault: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()
