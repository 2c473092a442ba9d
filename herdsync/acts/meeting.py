"""The door's third half: exchange with partners, and who may take part."""

from __future__ import annotations

import contextlib
from pathlib import Path

import msgspec

from herdsync import answers
from herdsync.acts.door import Door
from herdsync.acts.stewarding import ROLES, steward_words
from herdsync.exchange import doorstep, lifeline
from herdsync.exchange.bundles import exchange_folder
from herdsync.exchange.folder import Folder
from herdsync.exchange.pairing import Request
from herdsync.faults import BadBytes, Fault, Refused
from herdsync.kinds.ids import text_id
from herdsync.log.entry import AUTHORITY, CRITICAL, Entry
from herdsync.log.trust import ADMIT, MEMBERSHIP, Role, admitting_of
from herdsync.log.writer import Act
from herdsync.projections.moments import clock_text
from herdsync.projections.settings import settings_of

# What stands in place of a role for a device that was put out.
REMOVED = "removed"


class Meeting(Door):
    """Exchange and admission."""

    def exchange(self, carrier: str) -> answers.Exchanged:
        """Take what a folder or stick brings and leave there what it lacks. Raises Refused."""
        clock = int(self._wall.now().timestamp() * 1000)
        moved = exchange_folder(Path(carrier), self._store, clock, self._wall.entropy)
        self._leave_lifeline(Path(carrier))
        with self._looking() as (_, shelf):
            conflicts = sum(one.open for one in shelf.every_conflict())
        return answers.Exchanged(
            moved.sent, moved.received, moved.unvouched, moved.refused, conflicts
        )

    def _leave_lifeline(self, folder: Path) -> None:
        # A carrier that cannot be written was told of already; the lifeline waits for another.
        with contextlib.suppress(Fault):
            lifeline.leave(Folder(folder, self._wall.entropy), self._founding())

    def admit(self, carrier: str, code: str = "", role: str = "keeper") -> answers.Admission:
        """Who asks to join on a carrier; with their ``code``, let them in and leave what they need.

        Raises Refused where the code is wrong, the role unknown or this device is not the steward.
        """
        folder = Path(carrier)
        asked = doorstep.requests_in(folder, self._wall.entropy)
        members = self._store.members().by_key
        waiting = [one for one in asked.requests if one.asking.key not in members]
        if not code:
            return answers.Admission([self._waiting(one) for one in waiting], [])
        if role not in ROLES:
            raise Refused(f"There is no role '{role}'.", f"Choose one of {', '.join(ROLES)}.")
        self._refuse_unless_steward()
        fitting = doorstep.proven(asked.requests, code, self._store)
        founding = self._founding()
        for request in fitting:
            admission = self._admission(request, ROLES[role])
            doorstep.leave_welcome(folder, request, code, founding, admission, self._wall.entropy)
        self.exchange(carrier)
        admitted = {one.id for one in fitting}
        return answers.Admission(
            [self._waiting(one) for one in waiting if one.id not in admitted],
            [self._waiting(one) for one in fitting],
        )

    def _admission(self, request: Request, role: Role) -> bytes:
        """The id of the entry that admits a device: a new one, or the one that admitted it before."""
        with self._writing() as (writing, _):
            members = writing.view.members()
            if request.asking.key in members.removed:
                raise Refused(
                    "That laptop was put out of the farm; its old key stays out.",
                    "Run 'herdsync join' afresh on it.",
                )
            earlier = members.by_key.get(request.asking.key)
            if earlier is not None:
                return earlier.admitted_by
            payload = msgspec.to_builtins(request.admitting(role), builtin_types=(bytes,))
            act = Act(ADMIT, MEMBERSHIP, payload, flags=AUTHORITY | CRITICAL)
            entry = writing.append(act)
            try:
                admitting_of(entry)
            except BadBytes as fault:
                raise Refused(f"The request cannot be taken: {fault}", "Join again.") from fault
            return entry.id

    def _founding(self) -> Entry:
        with self._store.reading() as view:
            founding = view.log.full(self._store.farm)
        assert founding is not None, "a farm begins with its founding entry"
        return founding

    def _refuse_unless_steward(self) -> None:
        members = self._store.members()
        if members.steward != self._store.device:
            raise Refused(
                "Only the steward's laptop lets others in.",
                f"Run this on {steward_words(members)}.",
            )

    def _waiting(self, request: Request) -> answers.Waiting:
        with self._store.reading() as view:
            zone = settings_of(view.shelf).zone
        asking = request.asking
        return answers.Waiting(asking.keeper, asking.device, clock_text(asking.asked, zone))

    def devices(self) -> list[answers.DeviceLine]:
        """The farm's devices as this one knows them, the steward first."""
        with self._store.reading() as view:
            members = view.members()
            zone = settings_of(view.shelf).zone
            lines = []
            for key, known in members.known.items():
                member = members.by_key.get(key, known)
                chains = view.log.chains.of_device(key)
                newest = max(
                    (view.log.full(chain.tip) for chain in chains), key=_clock, default=None
                )
                lines.append(
                    answers.DeviceLine(
                        device=member.device,
                        keeper=member.keeper,
                        role=REMOVED if key in members.removed else member.role,
                        steward=key == members.steward,
                        this=key == self._store.device,
                        entries=sum(chain.tip_sequence - chain.split for chain in chains),
                        last_recorded=clock_text(newest.header.clock, zone) if newest else "",
                        key=text_id(key),
                        branches=max(1, len(chains)),
                    )
                )
        return sorted(lines, key=lambda line: (not line.steward, line.keeper, line.key))


def _clock(entry: Entry | None) -> int:
    return entry.header.clock if entry is not None else 0
