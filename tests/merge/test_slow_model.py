"""The merge against a slow model of it, over random histories of laptops that write, meet and fork."""

from __future__ import annotations

import os
from typing import Any

from hypothesis import HealthCheck, given, settings

from herdsync.log.entry import Entry
from herdsync.merge.conflicts import Conflict
from herdsync.merge.memory_shelf import MemoryShelf
from herdsync.merge.records import Record
from herdsync.merge.replica import Replica
from tests.merge.histories import History, Step, steps
from tests.merge.slow_model import Act
from tests.merge.slow_rules import Found, Rules

EXAMPLES = int(os.environ.get("HERDSYNC_PROOF_EXAMPLES", "60"))
at_length = settings(
    max_examples=EXAMPLES, deadline=None, suppress_health_check=[HealthCheck.too_slow]
)


def folded(entries: list[Entry]) -> MemoryShelf:
    replica = Replica()
    replica.take(entries)
    assert len(replica.entries) == len(entries)
    return replica.shelf


def told(record: Record) -> dict[str, Any]:
    return {
        "ids": record.ids,
        "kind": record.kind,
        "counts": record.vouched and record.stands,
        "standing": {
            name: [claim.entry for claim in register.standing]
            for name, register in record.registers.items()
        },
        "claims": sorted(
            (name, claim.entry) for name, r in record.registers.items() for claim in r.every()
        ),
        "safety": {
            name: {claim.entry for claim in register.safety()}
            for name, register in record.registers.items()
        },
        "values": {name: record.values(name) for name in record.field_names()},
    }


def expected(act: Act) -> dict[str, Any]:
    names = [name for claim in act.claims for name in claim.values if claim.register != "stands"]
    return {
        "ids": act.ids,
        "kind": act.kind,
        "counts": act.counts(),
        "standing": {name: [c.id for c in act.standing(name)] for name in act.registers()},
        "claims": sorted((claim.register, claim.id) for claim in act.claims),
        "safety": {name: act.kept_for_safety(name) for name in act.registers()},
        "values": {name: act.values(name) for name in names},
    }


def found_in(shelf: MemoryShelf) -> set[Found]:
    return {found(one) for one in shelf.every_conflict()}


def found(one: Conflict) -> Found:
    claims = frozenset(claim.entry for claim in one.claims)
    verdicts = {claim.entry for claim in one.claims if claim.register == "verdict"}
    among = {"field": claims, "retract": claims, "rule": frozenset(one.records)}
    whose = among.get(one.kind, frozenset(one.records) | verdicts)
    return (one.kind, one.field, whose, one.open)


@at_length
@given(steps(governed=False))
def test_the_merge_says_what_the_model_says(history: list[Step]) -> None:
    entries = History(history).entries
    shelf = folded(entries)
    model = Rules(entries)
    records = {record.id: told(record) for record in shelf.every_record()}
    assert records == {act.id: expected(act) for act in model.acts}
    assert {one.entry for one in shelf.every_unread()} == model.odd
    rules = [one for one in shelf.every_conflict() if one.kind == "rule"]
    assert {one.id for one in rules if not one.open} == {one.id for one in rules} & model.accepted
    unsettled = {
        (kind, what, among, open or kind == "rule") for kind, what, among, open in found_in(shelf)
    }
    assert unsettled == model.conflicts()
