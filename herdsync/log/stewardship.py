"""Who is in the farm: all authority entries weighed against each other, whatever order they come in.

The rules, in words:
1. The founding entry names the first steward and the recovery key.
2. At any time one device is steward. Only its acts admit, remove, change roles or hand stewardship on;
   its own chain orders them. An act counts from the entry that made its writer steward, which it must
   have seen, until the writer hands over.
3. The recovery key overrules: its admissions, removals and changes of role always count. When it hands
   stewardship over, of the stewards before only those acts count that it had seen.
4. A removal names the newest entries still vouched for. Of a steward removed by the recovery key, only
   acts of authority that those entries had seen count, so a thief's removals fall with the thief.
5. The first admission of a key counts, and a removed key stays out: who comes back joins afresh.
6. A keeper's word adopts unvouched entries or sets them aside. Where words differ, those that had seen
   no other stand; while these differ, the entries stay unvouched.
Every verdict is a function of the set of entries and of who had seen what.

That a new laptop holds the keys it asked with is checked where it is let in, not here: the signature over
its request stays in the admission as evidence, but no verdict rests on it. It guards an honest steward
against someone else's key; a dishonest one can make as many keys as it likes, and a key let in that
nobody holds signs nothing.
"""

from __future__ import annotations

import contextlib
from collections.abc import Iterable, Iterator
from typing import TypeVar

from msgspec import Struct, field

from herdsync.faults import BadBytes
from herdsync.log.entry import NO_ID, RECORD_BYTES, Entry
from herdsync.log.trust import (
    ADMIT,
    ADOPT,
    HAND_OVER,
    KEEPER,
    REMOVE,
    ROLE,
    SET_ASIDE,
    Admitting,
    HandingOver,
    Judging,
    Member,
    Members,
    Ranking,
    Removing,
    Role,
    Saw,
    admitting_of,
    alone,
    founding_of,
    payload_of,
)

T = TypeVar("T")

_STEWARDS_ACTS = frozenset({ADMIT, REMOVE, ROLE, HAND_OVER})


def members_of(authority: Iterable[Entry], saw: Saw = alone) -> Members | None:
    """The members these entries make; None without a founding.

    ``saw(later, earlier)`` tells by the first 16 bytes of entry ids whether one writer had seen the
    other's entry.
    """
    ordered = sorted(authority, key=lambda entry: entry.order)
    # Only a founding was written before the farm had an id. Height does not tell: a member's log can
    # fork from its start, and such an entry may stand before the founding in every order.
    first = next((entry for entry in ordered if entry.header.farm == NO_ID), None)
    if first is None:
        return None
    return _Weighing(first, ordered, saw).members()


class _Weighing(Struct):
    founding: Entry
    ordered: list[Entry]
    saw: Saw
    known: dict[bytes, Member] = field(default_factory=dict)
    removed: dict[bytes, tuple[bytes, ...]] = field(default_factory=dict)
    ranked: dict[bytes, list[tuple[bytes, Role]]] = field(default_factory=dict)
    put_out_by_recovery: dict[bytes, tuple[bytes, ...]] = field(default_factory=dict)
    recovery: bytes = b""

    def members(self) -> Members:
        told = founding_of(self.founding)
        device = self.founding.header.device
        self.recovery = told.recovery
        self.known[device] = Member(
            device, told.seal, told.keeper, told.device, KEEPER, self.founding.id
        )
        overruling = [one for one in self.ordered if one.header.device == self.recovery]
        for entry in overruling:
            if entry.header.verb == ADMIT:
                self._apply(entry)
            elif entry.header.verb == REMOVE and (put_out := _told(entry, Removing)) is not None:
                last = self._seen(entry, put_out.last)
                self.put_out_by_recovery.setdefault(put_out.key, last)
        steward = self._terms(device, overruling)
        for entry in overruling:
            self._apply(entry)
        self.removed.update(
            {key: last for key, last in self.put_out_by_recovery.items() if key in self.known}
        )
        if steward in self.removed:
            steward = self.recovery
        named = list(self._named())
        members = Members(
            told.farm, self.known, steward, told.recovery, told.recovery_seal, self.removed,
            {key: tuple(changes) for key, changes in self.ranked.items()},
            named=frozenset({self.recovery, *self.known, *(one.key for one in named)}), saw=self.saw,
            sealed_to=frozenset({told.recovery_seal, told.seal, *(one.seal for one in named)}),
        )  # fmt: skip
        members.decided.update(_decided(self.ordered, members))
        return members

    def _named(self) -> Iterator[Admitting]:
        """Every admission that is sound in itself, whether or not its writer might."""
        for entry in self.ordered:
            if entry.header.verb == ADMIT:
                with contextlib.suppress(BadBytes):
                    yield admitting_of(entry)

    def _terms(self, founder: bytes, overruling: list[Entry]) -> bytes:
        """Walk the stewards' terms between the recovery key's hand-overs; answer the last steward."""
        steward, since = founder, b""
        for begins in overruling:
            told = _told(begins, HandingOver) if begins.header.verb == HAND_OVER else None
            if told is None:
                continue
            self._walk(steward, since, begins)
            if told.key in self.known:
                steward, since = told.key, _claim(begins)
        return self._walk(steward, since, None)

    def _walk(self, steward: bytes, since: bytes, until: Entry | None) -> bytes:
        """Count the acts of one steward after another; answer who is steward at the end."""
        while True:
            handed: tuple[bytes, bytes] | None = None
            for entry in self._acts(steward, since, until):
                told = _told(entry, HandingOver) if entry.header.verb == HAND_OVER else None
                if told is not None and self._may_follow(told.key, steward):
                    handed = told.key, _claim(entry)
                    break
                self._apply(entry)
            if handed is None:
                return steward
            steward, since = handed

    def _acts(self, steward: bytes, since: bytes, until: Entry | None) -> Iterator[Entry]:
        """A steward's acts of authority that count, in the order of its chain."""
        cut = self.put_out_by_recovery.get(steward)
        for entry in self.ordered:
            claim = _claim(entry)
            if entry.header.device != steward or entry.header.verb not in _STEWARDS_ACTS:
                continue
            if since and not self.saw(claim, since):
                continue
            if until is not None and not self.saw(_claim(until), claim):
                continue
            if cut is None or any(one == claim or self.saw(one, claim) for one in cut):
                yield entry

    def _seen(self, entry: Entry, claims: list[bytes]) -> tuple[bytes, ...]:
        """Of the entries a removal vouches for, those its writer had seen: they came here before it."""
        return tuple(one for one in claims if self.saw(_claim(entry), one))

    def _may_follow(self, key: bytes, steward: bytes) -> bool:
        # Of a device the recovery key puts out later, its own cut tells which of its acts count.
        return key in self.known and key not in self.removed and key != steward

    def _apply(self, entry: Entry) -> None:
        """One act of authority that counts; a malformed one does nothing."""
        verb, by = entry.header.verb, entry.header.device
        try:
            if verb == ADMIT:
                one = admitting_of(entry)
                member = Member(one.key, one.seal, one.keeper, one.device, one.role, entry.id)
                if one.key != self.recovery:
                    self.known.setdefault(one.key, member)
            elif verb == REMOVE:
                put_out = payload_of(entry, Removing)
                if put_out.key in self.known and put_out.key != by:
                    self.removed.setdefault(put_out.key, self._seen(entry, put_out.last))
            elif verb == ROLE:
                change = payload_of(entry, Ranking)
                changes = self.ranked.setdefault(change.key, [])
                told = (_claim(entry), change.role)
                if change.key in self.known and change.key != by and told not in changes:
                    changes.append(told)
        except BadBytes:
            return


def _told(entry: Entry, shape: type[T]) -> T | None:
    try:
        return payload_of(entry, shape)
    except BadBytes:
        return None


def _claim(entry: Entry) -> bytes:
    return entry.id[:RECORD_BYTES]


def _decided(ordered: list[Entry], members: Members) -> dict[bytes, bool]:
    """Keepers' words on unvouched entries: True adopted, False set aside; absent while words differ."""
    words: dict[bytes, list[tuple[bytes, bool]]] = {}
    for entry in ordered:
        if entry.header.verb not in (ADOPT, SET_ASIDE) or not members.covers(entry, own=False):
            continue
        try:
            told = payload_of(entry, Judging)
        except BadBytes:
            continue
        for one in told.entries:
            words.setdefault(one, []).append((_claim(entry), entry.header.verb == ADOPT))
    decided = {}
    for one, said in words.items():
        last = {
            adopts
            for word, adopts in said
            if not any(other != word and members.saw(other, word) for other, _ in said)
        }
        if len(last) == 1:
            decided[one] = last.pop()
    return decided
