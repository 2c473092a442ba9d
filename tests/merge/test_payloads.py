"""What an entry says and speaks of: ids that every program must work out alike, forms that are refused."""

from __future__ import annotations

import hashlib
from typing import Any

import pytest

from herdsync.kinds import CATALOGUE
from herdsync.log import canonical
from herdsync.log.entry import Entry
from herdsync.log.writer import Act
from herdsync.merge.conflicts import Conflict
from herdsync.merge.payloads import (
    AMEND,
    RECORD,
    RESOLVE,
    SAME,
    Begun,
    Unreadable,
    begun_in,
    changed_by,
    key_fits,
    line_key,
    target_of,
    tie_id,
)
from tests.farmyard import Yard


def digest(tag: str, parts: list[object]) -> bytes:
    """As the format says: SHA-256 over a tag, a zero byte and canonical MessagePack."""
    return hashlib.sha256(f"herdsync/1/{tag}\0".encode() + canonical.encode(parts)).digest()


def test_the_id_of_a_pair_is_that_of_a_keyed_record_of_no_farm() -> None:
    a, b = b"a" * 16, b"b" * 16
    expected = digest("keyed", [bytes(32), "tie", (a + b).hex()])[:16]
    assert tie_id(a, b) == tie_id(b, a) == expected


def test_the_key_of_an_imported_line_follows_from_its_words() -> None:
    words = ["weighing", "Agate", "2025-03-10", "50 kg"]
    assert line_key(words) == f"line/{digest('line', list(words)).hex()}"
    assert line_key(words) != line_key(words[::-1])


@pytest.mark.parametrize(
    ("kind", "key", "fits"),
    [
        ("weighing", None, True),
        ("weighing", line_key(["a"]), True),
        ("weighing", line_key(["a"]).upper(), False),
        ("weighing", line_key(["a"])[:-1], False),
        ("weighing", "zone", False),
        ("setting", "zone", True),
        ("setting", "units", False),
        ("setting", None, False),
        ("setting", line_key(["a"]), False),
    ],
)
def test_a_key_is_that_of_its_field_or_of_a_line(kind: str, key: str | None, fits: bool) -> None:
    fields = {"key": "zone", "value": "UTC"} if kind == "setting" else {}
    assert key_fits(CATALOGUE[kind], Begun(fields, key)) is fits


def test_which_record_an_entry_changes() -> None:
    yard = Yard()
    house = yard.devices["house"].replica

    def last() -> Entry:
        return max(house.entries.values(), key=lambda one: one.order)

    assert changed_by(last()) is None, "who may write may bear on every record"
    agate = yard.animal("Agate")
    assert (changed_by(last()), target_of(last())) == (agate, agate)
    opal = yard.animal("Opal")
    assert changed_by(yard.amend("house", agate, name="Beryl")) == agate
    assert changed_by(yard.retract("house", agate)) == agate
    tie = yard.same("house", agate, opal)
    assert (changed_by(tie), target_of(tie)) == (None, tie_id(agate, opal))
    accepted = Conflict(b"c" * 32, "rule", "animal", "loop", [agate], [])
    entry = yard.accept("house", accepted)
    assert (changed_by(entry), target_of(entry)) == (b"", None)
    odd = yard.devices["house"].write(Act("cheese", "animal", {"of": agate}))
    assert changed_by(odd) is None


def test_a_beginning_says_its_fields_and_may_say_a_key() -> None:
    yard = Yard()
    house = yard.devices["house"]
    plain = house.write(Act(RECORD, "animal", {"fields": {"name": "Agate"}}))
    assert begun_in(plain) == Begun({"name": "Agate"})
    keyed = house.write(
        Act(RECORD, "animal", {"fields": {"name": "Agate"}, "key": line_key(["a"])})
    )
    assert begun_in(keyed) == Begun({"name": "Agate"}, line_key(["a"]))


@pytest.mark.parametrize("size", [15, 17, 31, 33])
def test_ids_of_another_length_are_not_read(size: int) -> None:
    house = Yard().devices["house"]
    short, long = b"a" * (size if size < 20 else 16), b"a" * (size if size > 20 else 32)
    payloads: dict[str, dict[str, Any]] = {
        RESOLVE: {"conflict": b"a" * size, "because": "it is so"},
        AMEND: {"of": short, "claims": {}, "conflict": long},
        SAME: {"a": short, "b": b"b" * 16, "cites": [] if size < 20 else [long]},
    }
    for verb, payload in payloads.items():
        with pytest.raises(Unreadable):
            target_of(house.write(Act(verb, "animal", payload)))
    accepted = {"conflict": b"a" * 32, "because": "it is so"}
    assert target_of(house.write(Act(RESOLVE, "animal", accepted))) is None
    amended = {"of": b"a" * 16, "claims": {}, "conflict": b"a" * 32}
    assert target_of(house.write(Act(AMEND, "animal", amended))) == b"a" * 16
