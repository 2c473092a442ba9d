"""What a number of plays really met: each fault, each deed, and each pair of merge classes run together.

Two entries run together when both speak of one record and neither writer had seen the other's.
"""

from __future__ import annotations

from collections import Counter
from itertools import combinations_with_replacement

from herdsync.kinds import CATALOGUE
from herdsync.log.entry import Entry, keyed_record_id

CLASSES = ("keyed", "field", "bond", "set", "stands", "resolve", "verdict")
# No kind has both a bond and a set, so no record is told by both; a test asks the catalogue. A key any
# kind can have: an imported line's record has one.
NEVER = frozenset({("bond", "set")})
FATES = (
    "power cut", "storage error", "disk full", "error after commit", "lost bundle", "late bundle",
    "doubled bundle", "reordered bundle", "truncated bundle", "flipped bit", "foreign bundle",
    "hostile carrier", "carrier rolled back", "full carrier", "write-protected carrier",
    "carrier without links", "clock years off", "restored backup", "copied folder", "twin laptop",
    "laptop lost", "line went dead", "open text", "fork", "removed laptop wrote on",
    "unreadable entry", "draft sent again",
)  # fmt: skip


def pairs() -> list[tuple[str, str]]:
    """Every pair of merge classes that can run together."""
    return [pair for pair in combinations_with_replacement(CLASSES, 2) if pair not in NEVER]


def met(entries: list[Entry]) -> Counter[str]:
    """How often each pair of classes ran together in one farm's entries."""
    by_id = {one.id: one for one in entries}
    pasts: dict[bytes, frozenset[bytes]] = {}
    for one in sorted(entries, key=lambda entry: entry.order):
        before = [*one.header.parents, one.header.previous]
        known = [pasts[id] | {id} for id in before if id in by_id]
        pasts[one.id] = frozenset().union(*known)
    kinds = {_begun(one): one.header.kind for one in by_id.values() if one.header.verb == "record"}
    about: dict[bytes, list[tuple[str, Entry]]] = {}
    for one in by_id.values():
        for record, sort in _told(one, kinds):
            about.setdefault(record, []).append((sort, one))
    found: Counter[str] = Counter()
    for told in about.values():
        for place, (sort, one) in enumerate(told):
            for other_sort, other in told[place + 1 :]:
                apart = one.id not in pasts[other.id] and other.id not in pasts[one.id]
                if one is not other and apart:
                    pair = sorted((sort, other_sort), key=CLASSES.index)
                    found[f"{pair[0]} beside {pair[1]}"] += 1
    return found


def _begun(one: Entry) -> bytes:
    """The record that an entry begins, or makes claims on by its key."""
    key = one.body.payload.get("key")
    if isinstance(key, str):
        return keyed_record_id(one.header.farm, one.header.kind, key)
    return one.record_id


def _told(one: Entry, kinds: dict[bytes, str]) -> list[tuple[bytes, str]]:
    """The records an entry speaks of, with the merge class in which it does."""
    verb, payload = one.header.verb, one.body.payload
    if verb in ("same", "different"):
        return [(payload["a"], "verdict"), (payload["b"], "verdict")]
    if verb == "record" and isinstance(payload.get("key"), str):
        return [(_begun(one), "keyed")]
    if verb not in ("amend", "retract", "resolve") or "of" not in payload:
        return []
    of = payload["of"]
    if kinds.get(of) != one.header.kind:
        # Of a newer or broken program: no such record, or one of another kind, and so not read.
        return []
    if verb == "resolve":
        return [(of, "resolve")]
    return [(of, sort_of(one.header.kind, register)) for register in payload["claims"]]


def sort_of(kind: str, register: str) -> str:
    """The merge class of a register of a kind."""
    known = CATALOGUE.get(kind)
    fields = known.registers.get(register, ()) if known is not None else ()
    many = known is not None and any(known.fields[name].many for name in fields)
    plain = "bond" if len(fields) > 1 else "set" if many else "field"
    return "stands" if register == "stands" else plain
