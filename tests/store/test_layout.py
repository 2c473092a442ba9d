"""A farm's file as an earlier version laid it out: it opens, whole, and goes on."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from herdsync.faults import DamagedFarm
from herdsync.store.checking import check
from herdsync.store.database import FILE
from herdsync.store.schema import DERIVED_TABLES
from herdsync.store.store import Store
from tests.farmyard import Yard
from tests.merge.dump import dump
from tests.store.farms import everything, kept, write

# The first layout: entries without a checksum, and of what it derived a part, for none is read again.
FIRST = """
CREATE TABLE entry_first (
    pos INTEGER PRIMARY KEY, id BLOB NOT NULL UNIQUE, chain INTEGER NOT NULL, seq INTEGER NOT NULL,
    height INTEGER NOT NULL, packed BLOB NOT NULL, checked INTEGER NOT NULL, UNIQUE (chain, seq)
) STRICT;
INSERT INTO entry_first SELECT pos, id, chain, seq, height, packed, checked FROM entry;
DROP TABLE entry;
ALTER TABLE entry_first RENAME TO entry;
CREATE INDEX entry_unchecked ON entry (checked) WHERE checked != 1;
CREATE TABLE derived_record (id BLOB PRIMARY KEY, kind TEXT NOT NULL, state BLOB NOT NULL)
    STRICT, WITHOUT ROWID;
CREATE INDEX derived_record_kind ON derived_record (kind);
CREATE TABLE derived_conflict (
    scope BLOB NOT NULL, id BLOB NOT NULL, state BLOB NOT NULL, PRIMARY KEY (scope, id)
) STRICT, WITHOUT ROWID;
INSERT INTO derived_record VALUES (zeroblob(16), 'note', x'00');
UPDATE about SET value = CAST('1' AS BLOB) WHERE name = 'layout';
"""


@pytest.fixture
def store(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Store:
    monkeypatch.setenv("HERDSYNC_KEYS", str(tmp_path / "keys"))
    yard = Yard()
    agate = yard.animal("Agate", sex="doe")
    trim = yard.write("house", "hoof-trim", animal=agate, on="2026-01-02")
    yard.meet("house", "barn")
    yard.amend("barn", trim, on="2026-01-03")
    yard.write("barn", "hoof-trim", animal=agate, on="2026-01-02")
    yard.meet("house", "barn")
    return kept(tmp_path / "farm", yard)


def as_first_laid_out(folder: Path) -> None:
    with closing(sqlite3.connect(folder / FILE)) as db:
        for name in DERIVED_TABLES:
            db.execute(f"DROP TABLE {name}")
        db.executescript(FIRST)
        db.commit()


def test_a_file_of_the_first_layout_opens_and_goes_on(store: Store) -> None:
    before = everything(store)
    with store.reading() as view:
        told = dump(view.shelf)
    store.close()
    as_first_laid_out(store.folder)
    again = Store(store.folder)
    assert everything(again) == before
    with again.reading() as view:
        assert dump(view.shelf) == told
        assert check(view).faults == []
    entry = write(again, text="goes on")
    assert everything(again) == [*before, entry]
    again.close()


def test_a_file_of_a_layout_to_come_is_refused(store: Store) -> None:
    store.close()
    with closing(sqlite3.connect(store.folder / FILE)) as db:
        db.execute("UPDATE about SET value = CAST('99' AS BLOB) WHERE name = 'layout'")
        db.commit()
    with pytest.raises(DamagedFarm, match="layout"):
        Store(store.folder)
