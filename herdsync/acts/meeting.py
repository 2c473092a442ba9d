"""The door's third half: who may take part, and what is known of each laptop."""

from __future__ import annotations

from zoneinfo import ZoneInfo

import msgspec

from herdsync import answers, meetings
from herdsync.acts.exchanging import Exchanging
from herdsync.acts.stewarding import ROLES, steward_words
from herdsync.exchange import doorstep
from herdsync.exchange.apart import APART, strangers
from herdsync.exchange.carriers import opened
from herdsync.exchange.pairing import Request
from herdsync.exchange.threshold import Threshold, same_digits
from herdsync.exchange.witness import Witness, witness
from herdsync.faults import BadBytes, Refused
from herdsync.kinds.ids import text_id
from herdsync.log.entry import AUTHORITY, CRITICAL, Entry
from herdsync.log.trust import ADMIT, MEMBERSHIP, Role, admitting_of
from herdsync.log.writer import Act
from herdsync.projections.moments import clock_text
from herdsync.projections.settings import settings_of
from herdsync.store.view import View

# What stands in place of a role for a device that was put out.
REMOVED = "removed"
NEVER_HEARD_OF = "never heard of"


class Meeting(Exchanging):
    """Who may take part."""

    def admit(
        self, carrier: str = "", code: str = "", role: str = "keeper", check: str = ""
    ) -> meetings.Admission:
        """Who asks to join on a carrier; with their ``code``, let them in and leave what they need.

        Without a carrier: who asked over the network while this laptop listened; ``check`` are then the
        digits read off the other screen. Raises Refused where the code is wrong, the role unknown, the
        digits others, or this device is not the steward.
        """
        asked = self._asking(carrier)
        requests = [one for one, _ in asked]
        members = self._store.members().by_key
        waiting = [(one, told) for one, told in asked if one.asking.key not in members]
        if not code:
            return meetings.Admission([self._waiting(*one) for one in waiting], [])
        if role not in ROLES:
            raise Refused(f"There is no role '{role}'.", f"Choose one of {', '.join(ROLES)}.")
        self._refuse_unless_steward()
        fitting = doorstep.proven(requests, code, self._store)
        shown = {one.id: told for one, told in asked}
        _refuse_other_digits(check, [shown[one.id] for one in fitting])
        for request in fitting:
            self._welcome(carrier, request, code, ROLES[role])
        if carrier:
            self.exchange(carrier)
        return meetings.Admission(
            [self._waiting(*one) for one in waiting if one[0] not in fitting],
            [self._waiting(one, shown[one.id]) for one in fitting],
        )

    def _asking(self, carrier: str) -> list[tuple[Request, str]]:
        """Who asks on a carrier or over the network, each with the digits its screen shows."""
        if not carrier:
            return Threshold(self._store).waiting()
        with opened(carrier, self._store, self._wall.entropy) as there:
            return [(one, "") for one in doorstep.requests_in(there.carrier).requests]

    def _welcome(self, carrier: str, request: Request, code: str, role: Role) -> None:
        """Let a laptop in, and leave its welcome where it will look for it."""
        told = request, code, self._founding(), self._admission(request, role), self._store.device
        if not carrier:
            Threshold(self._store).welcome(request, doorstep.welcome_of(*told))
            return
        with opened(carrier, self._store, self._wall.entropy) as there:
            doorstep.leave_welcome(there.carrier, *told)

    def _admission(self, request: Request, role: Role) -> bytes:
        """The id of the entry that admits a device: a new one, or the one that admitted it before."""
        with self._writing() as (writing, _):
            members = writing.view.members()
            if request.asking.key in members.removed:
                raise Refused(
                    "That laptop was put out of the farm; its old key stays out.",
                    "Run 'herdsync join' on it afresh, into another folder.",
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

    def _refuse_unless_steward(self) -> None:
        members = self._store.members()
        if members.steward != self._store.device:
            raise Refused(
                "Only the steward's laptop lets others in.",
                f"Run this on {steward_words(members)}.",
            )

    def _waiting(self, request: Request, check: str) -> meetings.Waiting:
        with self._store.reading() as view:
            zone = settings_of(view.shelf).zone
        asking = request.asking
        asked = clock_text(asking.asked, zone)
        return meetings.Waiting(asking.keeper, asking.device, asked, check)

    def devices(self) -> list[answers.DeviceLine]:
        """The farm's devices as this one knows them, the steward first.

        A farm that was restored or copied without its key is none of them: nothing is told of who has what.
        """
        with self._store.reading() as view:
            members = view.members()
            zone = settings_of(view.shelf).zone
            own = self._own_key()
            known = witness(self._store) if own else Witness({}, 0, 0)
            lines = [self._device(view, key, zone, known, own) for key in members.known]
        lines += [_unheard_of(tag) for tag in strangers(self._store)]
        return sorted(lines, key=lambda line: (not line.steward, line.keeper, line.key))

    def _own_key(self) -> bytes:
        """This laptop's device key, empty where it is not held here."""
        try:
            return self._store.key.public
        except Refused:
            return b""

    def _device(
        self, view: View, key: bytes, zone: ZoneInfo, known: Witness, own: bytes
    ) -> answers.DeviceLine:
        members = view.members()
        member = members.by_key.get(key, members.known[key])
        chains = view.log.chains.of_device(key)
        newest = max((view.log.full(chain.tip) for chain in chains), key=_clock, default=None)
        this = key == own
        clock, frontier = self._store.last_heard().get(key, (0, []))
        heard = clock_text(clock, zone) if frontier else ""
        whole = all(view.log.place_of(tip) is not None for _, _, tip in frontier)
        return answers.DeviceLine(
            device=member.device,
            keeper=member.keeper,
            role=REMOVED if key in members.removed else member.role,
            steward=key == members.steward,
            this=this,
            entries=sum(chain.tip_sequence - chain.split for chain in chains),
            last_recorded=clock_text(newest.header.clock, zone) if newest else "",
            key=text_id(key),
            branches=max(1, len(chains)),
            known_here=heard if whole else "",
            heard=heard,
            lacks=known.lacks.get(key, 0),
            only_here=known.only_here if this else 0,
            left=known.left if this else 0,
            address=self.addresses().get(key.hex(), ""),
        )


def _unheard_of(tag: bytes) -> answers.DeviceLine:
    """The line of a laptop that another side of the farm seals to."""
    return answers.DeviceLine(NEVER_HEARD_OF, "", APART, False, False, 0, "", tag.hex())


def _refuse_other_digits(told: str, shown: list[str]) -> None:
    """Pass where the digits read off the other screen are those shown here, or none were given."""
    if told and any(not same_digits(told, one) for one in shown):
        raise Refused(
            "The check digits are not those that laptop's request came with: nobody was let in. Someone "
            "may stand between the two laptops, or it has asked again since.",
            "Run 'herdsync join' there once more and read out the digits it then shows.",
        )


def _clock(entry: Entry | None) -> int:
    return entry.header.clock if entry is not None else 0
