"""Disagreements within one record, derived and never stored as truth.

A conflict's id covers its kind and the set of claims, so it is equal on all replicas and a new claim
makes a new conflict whose ``after`` names the one it follows.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Iterator

from msgspec import Struct

from herdsync.log import canonical
from herdsync.merge.payloads import RESOLVE, STANDS, VERDICT
from herdsync.merge.records import Claim, Record, Register

TAG_CONFLICT = b"herdsync/1/conflict\0"

FIELD = "field"
RETRACTED = "retract"
PAIR = "pair"
RULE = "rule"


class Conflict(Struct, frozen=True, array_like=True):
    """One disagreement. ``records`` are the records it touches, ``field`` the register or the rule.

    ``says`` and ``mend`` are sentences for a `pair` or `rule` conflict; ``closes`` tells for a closed
    one which entry closed it.
    """

    id: bytes
    kind: str
    record_kind: str
    field: str
    records: list[bytes]
    claims: list[Claim]
    after: bytes = b""
    says: str = ""
    mend: str = ""
    closed_by: bytes = b""

    @property
    def open(self) -> bool:
        """Whether it still waits for a keeper."""
        return not self.closed_by


def conflict_id(kind: str, field: str, members: list[bytes]) -> bytes:
    """The id of the disagreement of a kind, over a register or rule, among claims or records."""
    parts = canonical.encode([kind, field, sorted(members)])
    return hashlib.sha256(TAG_CONFLICT + parts).digest()


def once(conflicts: Iterable[Conflict]) -> list[Conflict]:
    """One conflict for each id: an open telling beats a closed one, else the first told stays."""
    found: dict[bytes, Conflict] = {}
    for one in conflicts:
        if one.id not in found or (one.open and not found[one.id].open):
            found[one.id] = one
    return list(found.values())


def conflicts_of(record: Record) -> Iterator[Conflict]:
    """The open and the closed disagreements within one record."""
    for name, register in sorted(record.registers.items()):
        if register.disputed:
            yield _open(record, name, register)
        yield from _closed(record, name, register)
    late = record.uncited_by_retraction()
    if late:
        claims = [*record.registers[STANDS].standing, *late]
        ids = [claim.entry for claim in claims]
        yield Conflict(
            conflict_id(RETRACTED, STANDS, ids),
            RETRACTED,
            record.kind,
            STANDS,
            [record.id],
            sorted(claims, key=lambda claim: claim.order),
        )


def _open(record: Record, name: str, register: Register) -> Conflict:
    claims = register.standing
    ids = [claim.entry for claim in claims]
    return Conflict(
        conflict_id(FIELD, name, ids), FIELD, record.kind, name, [record.id], claims,
        after=_after(name, claims),
    )  # fmt: skip


def _after(name: str, claims: list[Claim]) -> bytes:
    """The conflict that this one follows: one that a claim in it resolved, else the one before its last."""
    for claim in claims:
        if claim.verb == RESOLVE and len(claim.cites) > 1:
            return conflict_id(FIELD, name, claim.cites)
    earlier = claims[:-1]
    if len({claim.same_as for claim in earlier}) > 1:
        return conflict_id(FIELD, name, [claim.entry for claim in earlier])
    return b""


def _closed(record: Record, name: str, register: Register) -> Iterator[Conflict]:
    by_id = {claim.entry: claim for claim in register.every()}
    for claim in register.every():
        cited = [by_id[one] for one in claim.cites if one in by_id]
        if claim.verb != RESOLVE or not claim.vouched or len(cited) < 2:
            continue
        cited.sort(key=lambda one: one.order)
        ids = [one.entry for one in cited]
        yield Conflict(
            conflict_id(FIELD, name, ids), FIELD, record.kind, name, [record.id], cited,
            after=_after(name, cited), closed_by=claim.entry,
        )  # fmt: skip


def conflicts_of_tie(
    kind: str, pair: tuple[bytes, bytes], verdict: Register, joined: bool
) -> Iterator[Conflict]:
    """Where keepers do not agree whether two records are one, or part two that a third one joins."""
    said = {claim.values[VERDICT] for claim in verdict.standing}
    if len(said) > 1:
        says = "One keeper says these are the same, another that they are different."
        yield _tied(kind, pair, verdict.standing, says)
    elif said == {False} and joined:
        says = "These are said to be different, and yet both to be the same as a third."
        yield _tied(kind, pair, verdict.standing, says)
    for claim in verdict.ended + verdict.standing:
        cited = [one for one in verdict.every() if one.entry in claim.cites]
        if len({one.values[VERDICT] for one in cited}) > 1:
            yield _tied(kind, pair, cited, "These were told both ways.", claim.entry)


def _tied(
    kind: str, pair: tuple[bytes, bytes], claims: list[Claim], says: str, closed_by: bytes = b""
) -> Conflict:
    ids = [*pair, *(claim.entry for claim in claims)]
    mend = "Say whether they are the same or different."
    return Conflict(
        conflict_id(PAIR, kind, ids), PAIR, kind, PAIR, sorted(pair), claims,
        says=says, mend=mend, closed_by=closed_by,
    )  # fmt: skip
