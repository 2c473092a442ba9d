"""Promises over random histories: order means nothing, nothing is lost, safety only grows, all is carried."""

from __future__ import annotations

import os
import random

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from herdsync.log import canonical
from herdsync.log.entry import Entry, pack, unpack
from herdsync.log.signing import entry_verifies
from herdsync.log.trust import AUTHORITY_VERBS
from herdsync.merge.folding import fold_tie
from herdsync.merge.memory_shelf import MemoryShelf
from herdsync.merge.payloads import DIFFERENT, RESOLVE, SAME, tie_id
from herdsync.merge.replica import Replica
from tests.merge.dump import dump
from tests.merge.histories import History, Step, steps

EXAMPLES = int(os.environ.get("HERDSYNC_PROOF_EXAMPLES", "60"))
at_length = settings(
    max_examples=EXAMPLES, deadline=None, suppress_health_check=[HealthCheck.too_slow]
)
CHANCE = st.randoms(use_true_random=False)


def folded(entries: list[Entry]) -> Replica:
    replica = Replica()
    replica.take(entries)
    return replica


def founding_first(entries: list[Entry], chance: random.Random) -> list[Entry]:
    founding, *rest = sorted(entries, key=lambda one: one.header.farm != bytes(32))
    chance.shuffle(rest)
    return [founding, *rest]


@at_length
@given(steps(), CHANCE)
def test_the_same_entries_make_the_same_shelf(history: list[Step], chance: random.Random) -> None:
    entries = History(history).entries
    whole = dump(folded(entries).shelf)
    shuffled = founding_first(entries, chance)
    one_by_one, doubled, split = Replica(), Replica(), Replica()
    for entry in shuffled:
        one_by_one.take([entry])
    doubled.take([*shuffled, *shuffled])
    doubled.take(shuffled[::2])
    at = 0
    while at < len(shuffled):
        size = chance.randrange(1, 9)
        split.take(shuffled[at : at + size])
        at += size
    for replica in (one_by_one, doubled, split):
        assert dump(replica.shelf) == whole
        assert replica.parked == {}


@at_length
@given(steps())
def test_what_grew_entry_by_entry_equals_a_fold_from_nothing(history: list[Step]) -> None:
    for device in History(history).laptops:
        entries = list(device.replica.entries.values())
        assert dump(device.replica.shelf) == dump(folded(entries).shelf)


@at_length
@given(steps())
def test_every_entry_survives(history: list[Step]) -> None:
    replica = folded(History(history).entries)
    shelf, members = replica.shelf, replica.members()
    told = {
        claim.entry
        for record in shelf.every_record()
        for register in record.registers.values()
        for claim in register.every()
    }
    unread = {one.entry for one in shelf.every_unread()}
    for entry in replica.entries.values():
        verb, payload = entry.header.verb, entry.body.payload
        if verb in AUTHORITY_VERBS or entry.id in unread:
            continue
        if verb in (SAME, DIFFERENT):
            tie = tie_id(payload["a"], payload["b"])
            verdict = fold_tie(tie, shelf.touching(tie), members)
            assert entry.record_id in {claim.entry for claim in verdict.every()}
        elif verb == RESOLVE and "of" not in payload:
            assert isinstance(payload["because"], str)
        else:
            says_nothing = verb != "record" and payload["claims"] == {}
            assert entry.record_id in told or says_nothing


@at_length
@given(steps(honest=True))
def test_what_this_program_writes_it_can_read(history: list[Step]) -> None:
    assert folded(History(history).entries).shelf.every_unread() == []


def causal(entries: list[Entry], chance: random.Random) -> list[Entry]:
    """The entries in some order in which each comes after all it builds on."""
    ordered: list[Entry] = []
    done: set[bytes] = {bytes(32)}
    waiting = founding_first(entries, chance)
    while waiting:
        ready = next(e for e in waiting if {e.header.previous, *e.header.parents} <= done)
        waiting.remove(ready)
        ordered.append(ready)
        done.add(ready.id)
    return ordered


def gives_no_reason(entry: Entry) -> bool:
    """Whether an entry is one that must not shorten anything."""
    decides = entry.header.verb in (*AUTHORITY_VERBS, RESOLVE, SAME, DIFFERENT)
    return not decides and not str(entry.body.payload.get("because", "")).strip()


def safe_state(shelf: MemoryShelf) -> set[tuple[bytes, str, bytes]]:
    """All that counts for safety: per record and field each value, per animal each dose of it."""
    found = set()
    for record in shelf.every_record():
        for id in record.ids:
            for name in record.field_names():
                values = record.safety_values(name)
                found |= {(id, name, canonical.encode(value)) for value in values}
        if record.kind == "animal":
            doses = [*shelf.naming(record.id, "dose"), *shelf.safety_only(record.id, "dose")]
            found |= {(animal, "dose", id) for animal in record.ids for d in doses for id in d.ids}
    return found


@at_length
@given(steps(), CHANCE)
def test_no_entry_without_a_reason_takes_anything_from_safety(
    history: list[Step], chance: random.Random
) -> None:
    replica = Replica()
    before: set[tuple[bytes, str, bytes]] = set()
    for entry in causal(History(history).entries, chance):
        replica.take([entry])
        after = safe_state(replica.shelf)
        if gives_no_reason(entry):
            assert before <= after
        before = after


@at_length
@given(steps())
def test_every_entry_is_carried_on_byte_for_byte(history: list[Step]) -> None:
    for entry in History(history).entries:
        again = unpack(pack(unpack(pack(entry), entry.place)), entry.place)
        assert again == entry
        assert entry_verifies(again)
