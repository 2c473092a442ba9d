"""A record of one entry answers as the whole fold of that entry does."""

from __future__ import annotations

from hypothesis import given

from herdsync.kinds import CATALOGUE
from herdsync.kinds.forms import Ref
from herdsync.log.entry import Entry
from herdsync.log.trust import Members
from herdsync.merge.folding import fold, join
from herdsync.merge.lone import Lone, lone_among
from herdsync.merge.payloads import RECORD, Begun, Unreadable, begun_id, read_payload
from herdsync.merge.records import Record
from herdsync.merge.replica import Replica
from herdsync.merge.shelf import (
    WHOLE_FARM,
    found_under,
    keys_of,
    lying,
    refs_of,
    sort_moment,
    work_key,
)
from tests.farmyard import Yard
from tests.merge.histories import History, Step, steps
from tests.merge.test_promises import at_length


def begun_in(entry: Entry) -> tuple[bytes, Begun] | None:
    if entry.header.verb != RECORD:
        return None
    try:
        begun = read_payload(entry, Begun)
    except Unreadable:
        return None
    return begun_id(entry, begun), begun


def answers(record: Record) -> list[object]:
    fields = record.field_names()
    return [
        record.parts,
        [(f, record.value(f), record.values(f), record.safety_values(f)) for f in fields],
        [record.disputed(f) for f in fields],
        record.value("stands"),
        record.value("no-such-field", "nothing"),
        record.values("no-such-field"),
        (record.stands, record.counts, record.vouched, record.counts_for_safety_alone),
        (record.any_disputed, record.uncited_by_retraction(), record.first, record.last),
        (sorted(refs_of(record)), sorted(keys_of(record)), sort_moment(record)),
    ]


def test_a_word_in_the_place_of_a_record_names_none() -> None:
    yard = Yard()
    agate = yard.animal("Agate", sex="doe")
    yard.write("house", "check", animal=agate, on="2026-01-02", of="ring")
    (found,) = yard.devices["house"].replica.shelf.naming(agate, "check")
    assert isinstance(found, Lone)
    assert refs_of(found) == {agate} == lying(found)[1]


def test_no_field_of_any_kind_is_a_set_of_records() -> None:
    # `refs_of` and `lying` read one record from such a field.
    # Who gives a kind a set of them teaches both first.
    told = [
        f"{kind.name}.{name}"
        for kind in CATALOGUE.values()
        for name, field in kind.fields.items()
        if field.many and isinstance(field.form, Ref)
    ]
    assert told == []


@at_length
@given(steps())
def test_a_lone_record_answers_as_the_whole_fold(history: list[Step]) -> None:
    replica = Replica()
    replica.take(History(history).entries)
    members: Members = replica.members()
    for entry in replica.entries.values():
        found = begun_in(entry)
        if found is None:
            continue
        id, begun = found
        raw = fold(id, [entry], members)
        alone = next(lone_among([(id, entry, begun)], members), None)
        if alone is None:
            assert raw.unreadable or not any(claim.vouched for claim in raw.claims)
        else:
            assert answers(alone) == answers(join([raw]))
            assert lying(alone) == (sort_moment(join([raw])), found_under(join([raw])))


def test_a_chore_of_the_whole_farm_lies_under_its_key_alone() -> None:
    yard = Yard()
    yard.write("house", "chore-done", on="2026-01-02", item="fire-check")
    (found,) = yard.devices["house"].replica.shelf.of_kind("chore-done")
    assert isinstance(found, Lone)
    assert lying(found) == (sort_moment(found), found_under(found))
    assert found_under(found) == {work_key(WHOLE_FARM, "fire-check")}
