"""Who may write: the members of a farm as a pure fold over its authority entries.

The founding entry names the steward and the recovery key. The steward's own chain orders what it
admits. Verbs `remove`, `role`, `hand-over`, `repair`, `adopt` and `set-aside` have their place in the format.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Annotated, Literal, TypeVar

import msgspec
from msgspec import Meta, Struct

from herdsync.faults import BadBytes
from herdsync.log.entry import NO_ID, Entry
from herdsync.log.signing import refuse_weak_key

T = TypeVar("T")
Role = Literal["keeper", "helper", "reader"]
KEEPER: Role = "keeper"
HELPER: Role = "helper"
READER: Role = "reader"

FOUND = "found"
ADMIT = "admit"
MEMBERSHIP = "membership"
AUTHORITY_VERBS = frozenset(
    {FOUND, ADMIT, "remove", "role", "hand-over", "repair", "adopt", "set-aside"}
)

Key = Annotated[bytes, Meta(min_length=32, max_length=32)]
Name = Annotated[str, Meta(min_length=1, max_length=80)]


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


@dataclass(frozen=True, slots=True)
class Member:
    """One admitted device."""

    key: bytes
    seal: bytes
    keeper: str
    device: str
    role: Role
    admitted_by: bytes


@dataclass(frozen=True, slots=True)
class Members:
    """The farm's devices, its steward and its recovery keys, as the entries here tell."""

    farm: str
    by_key: dict[bytes, Member]
    steward: bytes
    recovery: bytes
    recovery_seal: bytes

    def recipients(self) -> list[bytes]:
        """The sealing keys of everyone who may read, the recovery key's last."""
        return [*sorted(member.seal for member in self.by_key.values()), self.recovery_seal]


def founding_of(entry: Entry) -> Founding:
    """The payload of a sound founding entry. Raises BadBytes."""
    header = entry.header
    if header.verb != FOUND or header.sequence != 0 or header.farm != NO_ID or header.parents:
        raise BadBytes("A farm does not begin with a founding entry.")
    founding = _payload(entry, Founding)
    refuse_weak_key(header.device)
    refuse_weak_key(founding.recovery)
    return founding


def admitting_of(entry: Entry) -> Admitting:
    """The payload of a sound admission. Raises BadBytes."""
    admitting = _payload(entry, Admitting)
    refuse_weak_key(admitting.key)
    return admitting


def members_of(authority: Iterable[Entry]) -> Members | None:
    """The members these entries make, whatever order they come in; None without a founding."""
    ordered = sorted(authority, key=lambda entry: entry.order)
    # Only a founding was written before the farm had an id. Height does not tell: a member's log can
    # fork from its start, and such an entry may stand before the founding in every order.
    first = next((entry for entry in ordered if entry.header.farm == NO_ID), None)
    if first is None:
        return None
    founding = founding_of(first)
    steward = first.header.device
    members = {
        steward: Member(steward, founding.seal, founding.keeper, founding.device, KEEPER, first.id)
    }
    for entry in ordered:
        # Only the steward admits; what another device signs as an admission admits nobody.
        if entry.header.verb != ADMIT or entry.header.device != steward:
            continue
        try:
            one = admitting_of(entry)
        except BadBytes:
            continue
        members.setdefault(
            one.key, Member(one.key, one.seal, one.keeper, one.device, one.role, entry.id)
        )
    return Members(founding.farm, members, steward, founding.recovery, founding.recovery_seal)


def judged_anew(before: Members | None, after: Members) -> set[bytes]:
    """The devices whose entries must be judged again, for another role or keeper holds now."""
    earlier = before.by_key if before is not None else {}
    return {
        key
        for key in {*earlier, *after.by_key}
        if _standing(earlier.get(key)) != _standing(after.by_key.get(key))
    }


def _standing(member: Member | None) -> tuple[str, str] | None:
    return (member.role, member.keeper) if member is not None else None


def may(role: Role, verb: str, *, own: bool) -> bool:
    """Whether a role covers an act; ``own`` tells whether the same device began the record."""
    if role == KEEPER:
        return True
    if role == HELPER:
        return verb == "record" or (verb in ("amend", "retract") and own)
    return False


def _payload(entry: Entry, shape: type[T]) -> T:
    try:
        # Bytes are bytes here: without naming them, base64 text would be taken for them.
        return msgspec.convert(entry.body.payload, shape, builtin_types=(bytes,))
    except (msgspec.MsgspecError, ValueError) as fault:
        raise BadBytes(f"An entry about who may write is malformed ({fault}).") from fault
