"""Who may write: the shapes of authority entries, the members they make, what an entry counts as.

How the entries are weighed against each other stands in `stewardship`.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Annotated, Literal, TypeVar

import msgspec
from msgspec import Meta, Struct, structs

from herdsync.faults import BadBytes
from herdsync.log.entry import NO_ID, RECORD_BYTES, Entry
from herdsync.log.signing import refuse_weak_key

T = TypeVar("T")
Role = Literal["keeper", "helper", "reader"]
KEEPER: Role = "keeper"
HELPER: Role = "helper"
READER: Role = "reader"

FOUND = "found"
ADMIT = "admit"
REMOVE = "remove"
ROLE = "role"
HAND_OVER = "hand-over"
ADOPT = "adopt"
SET_ASIDE = "set-aside"
MEMBERSHIP = "membership"
AUTHORITY_VERBS = frozenset({FOUND, ADMIT, REMOVE, ROLE, HAND_OVER, ADOPT, SET_ASIDE, "repair"})

Key = Annotated[bytes, Meta(min_length=32, max_length=32)]
Name = Annotated[str, Meta(min_length=1, max_length=80)]
Claim = Annotated[bytes, Meta(min_length=16, max_length=16)]


class Founding(Struct, frozen=True):
    """The first entry's payload: the farm, its first device and keeper, the recovery keys."""

    farm: Name
    keeper: Name
    device: Name
    seal: Key
    recovery: Key
    recovery_seal: Key


class Admitting(Struct, frozen=True):
    """One device let in: its keys, its keeper, its role, and its own signature over its request."""

    key: Key
    seal: Key
    keeper: Name
    device: Name
    role: Role
    request: bytes
    proof: Annotated[bytes, Meta(min_length=64, max_length=64)]


class Removing(Struct, frozen=True):
    """One device put out. ``last`` names the newest entries of it that are vouched for (16 bytes each)."""

    key: Key
    last: list[Claim]
    because: str = ""


class Ranking(Struct, frozen=True):
    """One device given another role, for everything the steward had not seen of it yet."""

    key: Key
    role: Role
    because: str = ""


class HandingOver(Struct, frozen=True):
    """The stewardship given to another device."""

    key: Key
    because: str = ""


class Judging(Struct, frozen=True):
    """A keeper's word on unvouched entries (16 bytes each): `adopt` or `set-aside`."""

    entries: list[Claim]
    because: str = ""


class Member(Struct, frozen=True):
    """One device that was admitted."""

    key: bytes
    seal: bytes
    keeper: str
    device: str
    role: Role
    admitted_by: bytes


class Standing(StrEnum):
    """What an entry counts as: for everything, for safety alone, or for nothing but the trail."""

    VOUCHED = "vouched"
    UNVOUCHED = "unvouched"
    ASIDE = "set aside"


Saw = Callable[[bytes, bytes], bool]


def alone(later: bytes, earlier: bytes) -> bool:
    """Nobody had seen anything but their own: enough to weigh a founding and its admissions."""
    return later == earlier


@dataclass(frozen=True, slots=True)
class Members:
    """The farm's devices as its authority entries tell.

    ``known`` holds every device ever admitted, ``removed`` for those put out the entries still vouched
    for, ``ranked`` the later changes of role in their order, ``decided`` keepers' words on entries.
    ``named`` has every device that any entry let in, counted or not: what these wrote is stored, for
    what is stored must not depend on what came first, and an admission that counted may stop counting.
    ``sealed_to`` has the sealing keys of all these and the recovery key's.
    """

    farm: str
    known: dict[bytes, Member]
    steward: bytes
    recovery: bytes
    recovery_seal: bytes
    removed: dict[bytes, tuple[bytes, ...]] = field(default_factory=dict)
    ranked: dict[bytes, tuple[tuple[bytes, Role], ...]] = field(default_factory=dict)
    decided: dict[bytes, bool] = field(default_factory=dict)
    named: frozenset[bytes] = field(default=frozenset(), compare=False)
    sealed_to: frozenset[bytes] = field(default=frozenset(), compare=False)
    saw: Saw = field(default=alone, compare=False)

    @property
    def by_key(self) -> dict[bytes, Member]:
        """The devices that are in the farm now, with the role they have now."""
        return {
            key: structs.replace(member, role=self._newest_role(key))
            for key, member in self.known.items()
            if key not in self.removed
        }

    def recipients(self) -> list[bytes]:
        """The sealing keys of everyone who may read, the recovery key's last."""
        return [*sorted(member.seal for member in self.by_key.values()), self.recovery_seal]

    def standing(self, entry: Entry, *, own: bool) -> Standing:
        """What an entry counts as; ``own``: the same device began the record it speaks of."""
        claim = entry.id[:RECORD_BYTES]
        if self.covers(entry, own=own) or self.decided.get(claim) is True:
            return Standing.VOUCHED
        return Standing.ASIDE if self.decided.get(claim) is False else Standing.UNVOUCHED

    def vouches(self, device: bytes, verb: str) -> bool:
        """Whether all that a device says with a verb is vouched for, whenever and of whatever it was."""
        member = self.known.get(device)
        lasting = device not in self.removed and device not in self.ranked
        return member is not None and lasting and may(member.role, verb, own=False)

    def covers(self, entry: Entry, *, own: bool) -> bool:
        """Whether the writer was in the farm, with a role that covers the act, when it wrote."""
        device, claim = entry.header.device, entry.id[:RECORD_BYTES]
        if device not in self.known:
            return False
        last = self.removed.get(device)
        if last is not None and not any(self._reaches(one, claim) for one in last):
            return False
        return may(self._role_at(device, claim), entry.header.verb, own=own)

    def _reaches(self, last: bytes, claim: bytes) -> bool:
        return last == claim or self.saw(last, claim)

    def _role_at(self, device: bytes, claim: bytes) -> Role:
        """The role set by the newest change that had not seen the entry, else the one admitted with."""
        role = self.known[device].role
        for change, ranked in self.ranked.get(device, ()):
            if not self.saw(change, claim):
                role = ranked
        return role

    def _newest_role(self, device: bytes) -> Role:
        changes = self.ranked.get(device, ())
        return changes[-1][1] if changes else self.known[device].role


def founding_of(entry: Entry) -> Founding:
    """The payload of a sound founding entry. Raises BadBytes."""
    header = entry.header
    if header.verb != FOUND or header.sequence != 0 or header.farm != NO_ID or header.parents:
        raise BadBytes("A farm does not begin with a founding entry.")
    founding = payload_of(entry, Founding)
    refuse_weak_key(header.device)
    refuse_weak_key(founding.recovery)
    return founding


def admitting_of(entry: Entry) -> Admitting:
    """The payload of a sound admission. Raises BadBytes."""
    admitting = payload_of(entry, Admitting)
    refuse_weak_key(admitting.key)
    return admitting


def judged_anew(before: Members | None, after: Members) -> set[bytes]:
    """The devices whose entries must be judged again, for something else holds of them now."""
    if before is not None and before.decided != after.decided:
        return set(after.known)
    earlier = before.known if before is not None else {}
    return {
        key
        for key in {*earlier, *after.known}
        if before is None or _judged_by(before, key) != _judged_by(after, key)
    }


def _judged_by(members: Members, key: bytes) -> tuple[object, ...]:
    member = members.known.get(key)
    told = (member.role, member.keeper) if member is not None else None
    return (told, members.removed.get(key), members.ranked.get(key))


def may(role: Role, verb: str, *, own: bool) -> bool:
    """Whether a role covers an act; ``own`` tells whether the same device began the record."""
    if role == KEEPER:
        return True
    if role == HELPER:
        return verb == "record" or (verb in ("amend", "retract") and own)
    return False


def payload_of(entry: Entry, shape: type[T]) -> T:
    """The payload of an authority entry in its shape. Raises BadBytes."""
    try:
        # Bytes are bytes here: without naming them, base64 text would be taken for them.
        return msgspec.convert(entry.body.payload, shape, builtin_types=(bytes,))
    except (msgspec.MsgspecError, ValueError) as fault:
        raise BadBytes(f"An entry about who may write is malformed ({fault}).") from fault
