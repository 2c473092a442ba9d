"""What a record is called and can be read off by: the words and marks it is found under."""

from __future__ import annotations

from herdsync.merge.called import keys_for, keys_of, marks_of, words_of
from herdsync.merge.records import Record
from tests.farmyard import Yard


def record_of(yard: Yard, id: bytes) -> Record:
    found = yard.records().get(id)
    assert found is not None
    return found


def test_every_name_that_is_claimed_finds_it_whatever_its_case() -> None:
    yard = Yard()
    agate = yard.animal("Agate")
    yard.amend("house", agate, name="Opal")
    yard.amend("barn", agate, name="MICA")
    yard.meet()
    record = record_of(yard, agate)
    assert words_of(record) == {"opal", "mica"}
    assert marks_of(record) == set()
    for told, found in (("OPAL", True), ("mica", True), ("Agate", False)):
        assert (keys_for(told)[0] in keys_of(record)) is found


def test_the_left_ear_and_both_together_are_marks_and_the_herds_own_letters_none() -> None:
    yard = Yard()
    record = record_of(yard, yard.animal("Agate", tattoo_right="QMR", tattoo_left="S3"))
    plain = {mark.casefold() for mark in marks_of(record)}
    assert plain == {"s3", "qmrs3"}
    for told, found in (("s 3", True), ("QMR S3", True), ("QMR", False), ("Agate", False)):
        assert (keys_for(told)[1] in keys_of(record)) is found
    bare = record_of(yard, yard.animal("Opal", tattoo_right="QMR"))
    assert marks_of(bare) == set()


def test_what_bears_no_name_is_found_by_none() -> None:
    yard = Yard()
    agate = yard.animal("Agate")
    trim = yard.write("house", "hoof-trim", animal=agate, on="2025-03-10")
    assert keys_of(record_of(yard, trim)) == set()


def test_a_pen_is_found_by_its_name_though_it_bears_no_mark() -> None:
    yard = Yard()
    byre, _ = (yard.write("house", "pen", name=name) for name in ("Byre", "Loft"))
    assert [one.id for one in yard.records().naming(keys_for("BYRE")[0], "pen")] == [byre]
