"""The door's authority: devices put out, given another role, stewardship handed on, entries judged."""

from __future__ import annotations

from collections.abc import Sequence

import msgspec

from herdsync import answers
from herdsync.acts import finding
from herdsync.acts.looking import Looking
from herdsync.acts.typed import Index
from herdsync.faults import Refused
from herdsync.kinds.ids import text_id
from herdsync.log.entry import AUTHORITY, CRITICAL, RECORD_BYTES
from herdsync.log.recovery import entropy_of, recovery_key
from herdsync.log.trust import (
    ADOPT,
    HAND_OVER,
    KEEPER,
    MEMBERSHIP,
    REMOVE,
    ROLE,
    SET_ASIDE,
    HandingOver,
    Judging,
    Member,
    Members,
    Ranking,
    Removing,
    Role,
)
from herdsync.log.writer import Act
from herdsync.projections.trail import trail
from herdsync.store.store import Writing
from herdsync.store.view import View

ROLES: dict[str, Role] = {"keeper": "keeper", "helper": "helper", "reader": "reader"}


class Stewarding(Looking):
    """What the steward does, and what any keeper says of unvouched entries."""

    def remove(self, device: str, because: str = "", last: Sequence[str] = ()) -> answers.Written:
        """Put a device out. ``last`` names its newest entries still vouched for; left out, all seen here.

        Later entries of it, whenever they arrive, count for safety alone until a keeper adopts them.
        Raises Refused unless this device is the steward.
        """
        with self._writing() as (writing, _):
            view = writing.view
            member = self._other_device(view, device)
            if last:
                named = [self._entry_of(view, one, member)[:RECORD_BYTES] for one in last]
            else:
                named = [c.tip[:RECORD_BYTES] for c in view.log.chains.of_device(member.key)]
            told = Removing(member.key, sorted(named), because)
            return self._authority(writing, REMOVE, told, member)

    def rank(self, device: str, role: str, because: str = "") -> answers.Written:
        """Give a device another role, for all it writes that has not been seen here yet."""
        if role not in ROLES:
            raise Refused(f"There is no role '{role}'.", f"Choose one of {', '.join(ROLES)}.")
        with self._writing() as (writing, _):
            member = self._other_device(writing.view, device)
            return self._authority(writing, ROLE, Ranking(member.key, ROLES[role], because), member)

    def hand_over(self, device: str, because: str = "") -> answers.Written:
        """Make another device the steward; from then on this one admits and removes nobody."""
        with self._writing() as (writing, _):
            member = self._other_device(writing.view, device)
            if member.role != KEEPER:
                raise Refused(
                    f"{member.keeper}'s laptop '{member.device}' is a {member.role}'s.",
                    "Make it a keeper's first with 'herdsync role'.",
                )
            return self._authority(writing, HAND_OVER, HandingOver(member.key, because), member)

    def adopt(self, entries: Sequence[str], because: str = "") -> answers.Written:
        """Let unvouched entries count after all. Raises Refused where one is not unvouched."""
        return self._judge(ADOPT, entries, because)

    def set_aside(self, entries: Sequence[str], because: str) -> answers.Written:
        """Let unvouched entries count for nothing, safety included; they stay in the trail."""
        if not because.strip():
            raise Refused(
                "Entries are set aside only with a reason: holds that rest on them end.",
                "Say why with --because.",
            )
        return self._judge(SET_ASIDE, entries, because)

    def rehearse(self, words: str) -> answers.Rehearsed:
        """Whether the recovery words, as read off the sheet, rule this farm. Raises Refused if not."""
        recovery = recovery_key(entropy_of(words))
        members = self._store.members()
        if recovery.public != members.recovery:
            raise Refused(
                "These are good recovery words, but of another farm.",
                "Look for the sheet of this farm.",
            )
        return answers.Rehearsed(text_id(self._store.farm), members.farm)

    def unvouched(self) -> list[answers.TrailLine]:
        """What nobody vouches for yet: shown, counted for safety, waiting for a keeper's word."""
        with self._herd() as herd, self._looking() as (view, shelf):
            waiting = {
                claim.entry: record
                for record in shelf.every_record()
                for claim in record.claims()
                if not claim.vouched and not claim.aside
            }
            records = {record.id: record for record in waiting.values()}
            lines = trail(records.values(), herd.look, self._voices(view))
            ids = {text_id(one) for one in waiting}
            return [line for line in lines if line.entry in ids]

    def _judge(self, verb: str, entries: Sequence[str], because: str) -> answers.Written:
        with self._writing() as (writing, _):
            view = writing.view
            waiting = {
                claim.entry
                for record in view.shelf.every_record()
                for claim in record.claims()
                if not claim.vouched
            }
            named = sorted({_waiting_entry(one, waiting) for one in entries})
            told = msgspec.to_builtins(Judging(named, because), builtin_types=(bytes,))
            act = Act(verb, MEMBERSHIP, told, flags=AUTHORITY | CRITICAL)
            entry = writing.append(act)
        return answers.Written(text_id(named[0]), text_id(entry.id))

    def _authority(
        self, writing: Writing, verb: str, told: msgspec.Struct, member: Member
    ) -> answers.Written:
        members = writing.view.members()
        if members.steward != self._store.device:
            raise Refused(
                "Only the steward's laptop does that.",
                f"Run this on {steward_words(members)}.",
            )
        payload = msgspec.to_builtins(told, builtin_types=(bytes,))
        entry = writing.append(Act(verb, MEMBERSHIP, payload, flags=AUTHORITY | CRITICAL))
        return answers.Written(text_id(member.key), text_id(entry.id))

    def _other_device(self, view: View, text: str) -> Member:
        """The other device a word means: its name, its keeper's, or the beginning of its key."""
        member = device_named(view.members(), text)
        if member.key == self._store.device:
            raise Refused(
                "That is this very laptop.",
                "Hand stewardship over first, and let the new steward do it.",
            )
        return member

    def _entry_of(self, view: View, text: str, member: Member) -> bytes:
        id = finding.find_entry(Index(view), text)
        place = view.log.place_of(id)
        assert place is not None, "what is found is here"
        if view.log.chains.all[place.chain].device != member.key:
            raise Refused(f"Entry '{text}' is not of that laptop.", "Name one of its own entries.")
        return id


def _waiting_entry(text: str, waiting: set[bytes]) -> bytes:
    bounds = finding.id_range(text, RECORD_BYTES)
    fitting = [one for one in waiting if bounds and bounds[0] <= one <= bounds[1]]
    if len(fitting) != 1:
        raise Refused(
            f"'{text}' is not one of the entries that wait for a word.",
            "List them with 'herdsync unvouched'.",
        )
    return fitting[0]


def device_named(members: Members, text: str) -> Member:
    """The device in the farm that a word means. Raises Refused with the candidates."""
    wanted = text.strip().casefold()
    found = [
        member
        for member in members.by_key.values()
        if wanted in (member.device.casefold(), member.keeper.casefold())
        or (len(wanted) >= finding.SHORTEST_PREFIX and text_id(member.key).startswith(wanted))
    ]
    if len(found) != 1:
        names = "; ".join(
            f"{member.device} ({member.keeper}, {text_id(member.key)[:8]})"
            for member in found or members.by_key.values()
        )
        what = f"'{text}' may mean several laptops" if found else f"No laptop is called '{text}'"
        raise Refused(f"{what}: {names}.", "Name one by its device name or the start of its key.")
    return found[0]


def steward_words(members: Members) -> str:
    """Whose laptop the steward's is, as a keeper says it."""
    steward = members.by_key.get(members.steward)
    if steward is None:
        return "any laptop with the recovery words ('herdsync recover')"
    return f"{steward.keeper}'s laptop '{steward.device}'"
