"""One folder, one laptop: what is written stays, what is derived follows, no copy is written on."""

from __future__ import annotations

import sqlite3
import stat
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings

from herdsync import wall
from herdsync.faults import DamagedFarm, Refused
from herdsync.log.entry import Entry
from herdsync.log.writer import Act
from herdsync.merge.replica import Replica
from herdsync.store import keyring
from herdsync.store.backup import back_up, restore
from herdsync.store.checking import check
from herdsync.store.database import FILE
from herdsync.store.keyring import Marker
from herdsync.store.schema import DERIVED_TABLES
from herdsync.store.store import Store
from tests.farmyard import Yard
from tests.merge.dump import dump
from tests.merge.histories import History, Step, steps
from tests.store.farms import act, everything, in_order, kept, secret_of, stamp, write


@pytest.fixture
def yard() -> Yard:
    return Yard()


@pytest.fixture
def store(tmp_path: Path, yard: Yard) -> Iterator[Store]:
    made = kept(tmp_path / "farm", yard)
    yield made
    made.close()


def faults(store: Store) -> list[str]:
    with store.reading() as view:
        return check(view).faults


def tables(store: Store) -> dict[str, list[tuple[object, ...]]]:
    with store.reading() as view:
        return {
            name: sorted(view.connection.execute(f"SELECT * FROM {name}"), key=repr)
            for name in DERIVED_TABLES
        }


def copied(store: Store, to: Path) -> Store:
    """The farm's folder as a copy of it would be."""
    to.mkdir()
    back_up(store.folder, to / FILE)
    return Store(to)


def test_what_is_written_is_there_after_closing(store: Store) -> None:
    entry = write(store, "animal", name="Agate", sex="doe")
    before = everything(store)
    store.close()
    again = Store(store.folder)
    assert everything(again) == before
    with again.reading() as view:
        record = view.shelf.get(entry.record_id)
        assert record is not None
        assert record.value("name") == "Agate"
    assert faults(again) == []
    again.close()


@settings(max_examples=25, deadline=None, suppress_health_check=list(HealthCheck))
@given(history=steps())
def test_tables_and_memory_answer_alike_and_refold_to_the_same_bytes(
    tmp_path_factory: pytest.TempPathFactory, history: list[Step]
) -> None:
    told = History(history)
    kept_one = kept(tmp_path_factory.mktemp("farm") / "farm", told.yard)
    for device in told.laptops:
        kept_one.take(in_order(device.replica.entries.values()), "a laptop")
    held = {entry.id for entry in everything(kept_one)}
    memory = Replica()
    memory.take([entry for entry in told.entries if entry.id in held])
    before = tables(kept_one)
    with kept_one.reading() as view:
        assert dump(view.shelf) == dump(memory.shelf)
    kept_one.refold()
    assert tables(kept_one) == before
    assert faults(kept_one) == []
    kept_one.close()


def test_one_act_is_one_transaction(store: Store) -> None:
    before = everything(store)
    with pytest.raises(RuntimeError), store.writing(stamp()) as writing:
        for _ in range(3):
            writing.append(act())
        raise RuntimeError("the keeper's laptop thinks again")
    assert everything(store) == before
    entry = write(store)
    assert entry.header.sequence == before[-1].header.sequence + 1
    assert faults(store) == []


def test_a_draft_sent_twice_writes_once(store: Store) -> None:
    salt = b"draft one".ljust(16, b"\0")
    first = write(store, salt=salt)
    again = write(store, salt=salt, text="something else by now")
    assert again == first
    store.close()
    later = Store(store.folder)
    assert write(later, salt=salt) == first
    assert write(later, salt=salt[::-1]) != first
    later.close()


def test_a_salt_given_back_undone_is_free_again(store: Store) -> None:
    salt = bytes(16)
    with pytest.raises(RuntimeError), store.writing(stamp()) as writing:
        writing.append(act(), salt=salt)
        raise RuntimeError
    assert write(store, salt=salt).body.salt == salt


# The device's key and marker.


def test_keys_are_the_owners_alone_and_nowhere_in_the_farm(store: Store, keys: Path) -> None:
    write(store, "animal", name="Agate")
    back_up(store.folder, store.folder.parent / "backup.db")
    kept_files = sorted(keys.iterdir())
    assert {path.suffix for path in kept_files} == {".key", ".marker"}
    assert [stat.S_IMODE(path.stat().st_mode) for path in kept_files] == [0o600] * len(kept_files)
    assert stat.S_IMODE(keys.stat().st_mode) == 0o700
    secret = secret_of("house", store.farm)
    for path in [*store.folder.iterdir(), store.folder.parent / "backup.db"]:
        data = path.read_bytes()
        for seed in (secret.sign_seed, secret.seal_seed):
            assert seed not in data
            assert seed.hex().encode() not in data


def test_a_copied_folder_reads_but_does_not_write(store: Store, tmp_path: Path) -> None:
    write(store, text="before the copy")
    copy = copied(store, tmp_path / "copy")
    write(store, text="after the copy")
    assert "restored or copied" in copy.why_read_only()
    with pytest.raises(Refused, match="writing on would split"):
        write(copy)
    assert len(everything(copy)) == len(everything(store)) - 1
    copy.close()


def test_of_two_copies_on_one_laptop_the_first_to_write_goes_on(
    store: Store, tmp_path: Path
) -> None:
    copy = copied(store, tmp_path / "copy")
    write(copy)
    with pytest.raises(Refused, match="restored or copied"):
        write(store)
    store.take(everything(copy), "the copy")
    write(store)
    with store.reading() as view:
        assert view.log.chains.branches() == {}
    copy.close()


def test_a_restored_backup_reads_but_does_not_write(store: Store, tmp_path: Path) -> None:
    write(store, text="before")
    back_up(store.folder, tmp_path / "backup.db")
    lost = write(store, text="after")
    store.close()
    restore(tmp_path / "backup.db", tmp_path / "restored")
    restored = Store(tmp_path / "restored")
    with pytest.raises(Refused, match="restored or copied"):
        write(restored)
    # What the partner has comes back, and with it the right to go on.
    restored.take([lost], "the partner")
    assert restored.why_read_only() == ""
    assert write(restored).header.previous == lost.id
    restored.close()


def test_a_marker_behind_its_log_is_sound(store: Store) -> None:
    # A crash between commit and marker leaves this.
    marker = keyring.marker_of(store.farm, store.device)
    assert marker is not None
    newest = write(store)
    keyring.keep_marker(store.farm, store.device, marker)
    assert store.why_read_only() == ""
    assert write(store).header.previous == newest.id


@pytest.mark.parametrize(
    "change", ["missing", "another machine", "unknown entry", "no key"], ids=str
)
def test_markers_and_keys_that_do_not_fit(
    store: Store, keys: Path, change: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    newest = write(store)
    if change == "another machine":
        monkeypatch.setattr(wall, "machine", lambda: "another")
    elif change == "unknown entry":
        told = Marker(newest.header.sequence + 1, bytes(32), wall.machine())
        keyring.keep_marker(store.farm, store.device, told)
    else:
        for path in keys.iterdir():
            if change == "no key" or path.suffix == ".marker":
                path.unlink()
    store.close()
    again = Store(store.folder)
    assert again.why_read_only() != ""
    with pytest.raises(Refused):
        write(again)
    assert everything(again)[-1] == newest
    again.close()


def test_a_marker_that_cannot_be_kept_is_said_and_nothing_is_lost(
    store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: object, **__: object) -> None:
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as patched:
        patched.setattr(keyring, "keep_marker", full)
        with pytest.raises(Refused, match="It is written down, but"):
            write(store, text="kept")
    assert everything(store)[-1].body.payload["fields"]["text"] == "kept"
    assert store.why_read_only() == ""


def test_a_laptop_goes_on_with_its_own_branch(store: Store, yard: Yard, tmp_path: Path) -> None:
    # A clone of the whole laptop wrote more than this one did; each stays on its own branch.
    house = yard.devices["house"]
    house.replica.take(everything(store))
    for text in ("one", "two", "three"):
        yard.write("house", "note", on="2026-01-02", text=f"clone {text}")
    mine = write(store, text="mine")
    store.take(in_order(house.replica.entries.values()), "the clone")
    with store.reading() as view:
        assert [len(chains) for chains in view.log.chains.branches().values()] == [2]
    after = write(store, text="mine again")
    assert after.header.previous == mine.id
    assert len(after.header.parents) == 1
    assert faults(store) == []


def test_who_was_not_admitted_writes_nothing(tmp_path: Path, yard: Yard) -> None:
    founding = in_order(yard.devices["house"].replica.entries.values())[0]
    store = Store.create(tmp_path / "farm", founding, secret_of("stranger", founding.id))
    assert "has not been admitted" in store.why_read_only()
    with pytest.raises(Refused, match="has not been admitted"):
        write(store)
    store.close()


def test_founding_twice_writes_nothing(store: Store, yard: Yard) -> None:
    before = (store.folder / FILE).read_bytes()
    founding = in_order(yard.devices["house"].replica.entries.values())[0]
    with pytest.raises(Refused, match="There is a farm in"):
        Store.create(store.folder, founding, secret_of("house", founding.id))
    assert (store.folder / FILE).read_bytes() == before


def test_a_founding_cut_short_leaves_no_farm(
    tmp_path: Path, yard: Yard, monkeypatch: pytest.MonkeyPatch
) -> None:
    founding = in_order(yard.devices["house"].replica.entries.values())[0]
    secret = secret_of("house", founding.id)

    def cut(*_: object) -> None:
        raise sqlite3.OperationalError("database or disk is full")

    with monkeypatch.context() as patched:
        patched.setattr("herdsync.store.store.lay_out", cut)
        with pytest.raises(Refused, match="disk is full"):
            Store.create(tmp_path / "farm", founding, secret)
    assert list((tmp_path / "farm").iterdir()) == []
    Store.create(tmp_path / "farm", founding, secret).close()


# Two connections to one farm.


def test_what_another_process_wrote_is_seen_at_once(store: Store) -> None:
    other = Store(store.folder)
    write(store, "animal", name="Agate")
    with other.reading() as view:
        assert [one.value("name") for one in view.shelf.of_kind("animal")] == ["Agate"]
    write(other, "animal", name="Opal")
    write(store, "animal", name="Mica")
    for one in (store, other):
        with one.reading() as view:
            names = [record.value("name") for record in view.shelf.of_kind("animal")]
            assert names == ["Agate", "Opal", "Mica"]
        assert faults(one) == []
    other.close()


def test_reading_is_one_moment(store: Store) -> None:
    other = Store(store.folder)
    with store.reading() as view:
        before = len(list(view.shelf.every_record()))
        write(other, "animal", name="Agate")
        assert len(list(view.shelf.every_record())) == before
    with store.reading() as view:
        assert len(list(view.shelf.every_record())) == before + 1
    other.close()


def test_looking_writes_nothing(store: Store) -> None:
    write(store, "animal", name="Agate")
    store.close()
    with closing(sqlite3.connect(store.folder / FILE)) as db:
        db.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    before = (store.folder / FILE).read_bytes()
    again = Store(store.folder)
    with again.reading() as view:
        dump(view.shelf)
        check(view)
    again.close()
    assert (store.folder / FILE).read_bytes() == before


def test_a_commit_that_fails_leaves_nothing_behind_in_memory(store: Store) -> None:
    # SQLite itself is asked to refuse the commit, as it does when a disk is full at that moment.
    write(store)
    before = everything(store)
    with (
        pytest.raises(DamagedFarm, match="not authorized"),
        store.writing(stamp("fails")) as writing,
    ):
        writing.append(act(text="never"))
        writing.view.connection.set_authorizer(
            lambda code, name, *_: (
                sqlite3.SQLITE_DENY
                if code == sqlite3.SQLITE_TRANSACTION and name == "COMMIT"
                else sqlite3.SQLITE_OK
            )
        )
    assert everything(store) == before
    entry = write(store, text="goes on")
    assert entry.header.previous == before[-1].id
    assert faults(store) == []


def test_checking_finds_what_was_changed(store: Store) -> None:
    entry = write(store, "animal", name="Agate")
    store.close()
    with closing(sqlite3.connect(store.folder / FILE)) as db:
        db.execute("DELETE FROM derived_lone")
        db.commit()
    again = Store(store.folder)
    assert any("does not follow" in one for one in faults(again))
    again.refold()
    assert faults(again) == []
    again.close()
    with closing(sqlite3.connect(store.folder / FILE)) as db:
        packed = db.execute("SELECT packed FROM entry WHERE id = ?", (entry.id,)).fetchone()[0]
        changed = packed.replace(b"Agate", b"Opals")
        db.execute("UPDATE entry SET packed = ? WHERE id = ?", (changed, entry.id))
        db.commit()
    again = Store(store.folder)
    assert any("is damaged here" in one for one in faults(again))
    # An entry that is a record's state is not read as something else either.
    with pytest.raises(DamagedFarm, match="not as it was stored"), again.reading() as view:
        view.shelf.of_kind("animal")
    again.close()


def test_unknown_kinds_are_stored_and_handed_on(store: Store, yard: Yard) -> None:
    barn = yard.devices["barn"]
    barn.replica.take(everything(store))
    newer: Entry = barn.write(Act("record", "cheese-making", {"fields": {"x": [1, b"z"]}}))
    store.take([newer], "the barn")
    assert everything(store)[-1] == newer
    with store.reading() as view:
        assert [one.entry for one in view.shelf.every_unread()] == [newer.id]


@pytest.mark.parametrize("moved", [True, False])
def test_nothing_is_said_to_be_written_where_the_farm_s_file_is_gone(
    store: Store, yard: Yard, moved: bool
) -> None:
    write(store, "animal", name="Agate")
    folder = store.folder
    aside = folder.with_name("aside")
    folder.rename(aside)
    if moved:
        # Another farm in its place is not this one.
        folder.mkdir()
        (folder / FILE).write_bytes((aside / FILE).read_bytes())
    with pytest.raises(Refused, match="no longer where it was opened; nothing was written"):
        write(store, "animal", name="Opal")
    assert folder.exists() == moved
    if moved:
        (folder / FILE).unlink()
        folder.rmdir()
    aside.rename(folder)
    write(store, "animal", name="Mica")
    assert faults(store) == []
