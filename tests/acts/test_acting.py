"""What a keeper asks becomes acts that cite exactly what was shown: record, amend, retract, undo, resolve."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from herdsync.farm import Farm
from herdsync.faults import Refused
from herdsync.kinds.ids import raw_id, text_id
from herdsync.merge.conflicts import Conflict
from herdsync.merge.records import Record
from herdsync.store.keyring import KEYS_VARIABLE
from herdsync.store.store import Store
from herdsync.wall import Wall
from tests.farmyard import Yard
from tests.store.farms import everything, in_order, kept

NOON = datetime(2026, 1, 2, 12, 0, tzinfo=UTC)


class Two:
    """The house laptop through its door and on disk; the barn laptop in memory."""

    def __init__(self, folder: Path) -> None:
        self.yard = Yard()
        self.store: Store = kept(folder, self.yard)
        self.farm = Farm(self.store, Wall(NOON), "")

    def meet(self) -> None:
        """Both have everything."""
        barn = self.yard.devices["barn"].replica
        barn.take(everything(self.store))
        self.store.take(in_order(barn.entries.values()), "barn")

    def record(self, ref: str) -> Record:
        with self.store.reading() as view:
            found = view.shelf.get(raw_id(ref))
        assert found is not None
        return found

    def conflicts(self) -> list[Conflict]:
        with self.store.reading() as view:
            return [one for one in view.shelf.every_conflict() if one.open]

    def barn(self, ref: str, because: str = "", **fields: Any) -> None:
        """The barn amends what it has been shown."""
        self.yard.amend("barn", raw_id(ref), because=because, **fields)


@pytest.fixture
def two(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Two]:
    monkeypatch.setenv(KEYS_VARIABLE, str(tmp_path / "keys"))
    made = Two(tmp_path / "farm")
    yield made
    made.farm.close()


def agate(two: Two, **fields: str) -> str:
    return two.farm.record("animal", {"name": "Agate", "sex": "doe"} | fields).id


def test_an_amendment_cites_every_account_it_was_shown(two: Two) -> None:
    id = agate(two)
    two.meet()
    two.barn(id, name="Opal")
    two.yard.devices["house"].replica.take(everything(two.store))
    two.meet()
    two.farm.amend(id, ["name=Mica"])
    assert two.record(id).values("name") == ["Mica"]


def test_a_disputed_field_is_resolved_not_amended(two: Two) -> None:
    id = agate(two)
    two.meet()
    two.barn(id, name="Opal")
    two.farm.amend(id, ["name=Mica"])
    two.meet()
    with pytest.raises(Refused, match="'name' is disputed: 2 accounts stand"):
        two.farm.amend(id, ["name=Beryl"])
    two.farm.amend(id, ["breed=Saanen"])
    (conflict,) = two.conflicts()
    two.farm.resolve(text_id(conflict.id), value="Beryl", because="asked")
    assert two.record(id).values("name") == ["Beryl"]
    assert two.conflicts() == []
    with pytest.raises(Refused, match="resolved already"):
        two.farm.resolve(text_id(conflict.id), value="Onyx")


def test_what_moved_on_since_it_was_shown_is_not_amended_blindly(two: Two) -> None:
    id = agate(two)
    shown = [text_id(claim.entry) for claim in two.record(id).claims()]
    two.meet()
    two.barn(id, name="Opal")
    two.meet()
    with pytest.raises(Refused, match="told anew while you looked"):
        two.farm.amend(id, ["name=Mica"], shown=shown)
    two.farm.amend(id, ["sex=buck"], shown=shown)


def test_clearing_and_sets(two: Two) -> None:
    id = agate(two, breed="Saanen", groups="show,milkers")
    two.farm.amend(id, ["breed=", "groups-=show", "groups+=young"])
    record = two.record(id)
    assert record.value("breed") is None
    assert sorted(record.value("groups")) == ["milkers", "young"]
    with pytest.raises(Refused, match="does not hold that"):
        two.farm.amend(id, ["groups-=show"])
    with pytest.raises(Refused, match="cannot be cleared"):
        pen = two.farm.record("pen", {"name": "Byre"}).id
        two.farm.amend(pen, ["name="])


def test_retracting_needs_a_reason_and_can_be_taken_back(two: Two) -> None:
    id = agate(two)
    with pytest.raises(Refused, match="only with a reason"):
        two.farm.retract(id, " ")
    two.farm.retract(id, "entered twice")
    with pytest.raises(Refused):
        two.farm.retract(id, "again")
    with pytest.raises(Refused, match="Bring it back first"):
        two.farm.amend(id, ["name=Opal"])
    two.farm.amend(id, ["stands=yes"])
    assert two.record(id).stands
    with pytest.raises(Refused, match="stands already"):
        two.farm.amend(id, ["stands=yes"])


def test_a_record_amended_beside_its_retraction_is_resolved_by_saying_which(two: Two) -> None:
    id = agate(two)
    two.meet()
    two.barn(id, name="Opal")
    two.farm.retract(id, "entered twice")
    two.meet()
    (conflict,) = two.conflicts()
    assert conflict.kind == "retract"
    two.farm.resolve(text_id(conflict.id), value="no")
    assert two.conflicts() == []
    assert not two.record(id).stands


def test_retracted_here_and_restored_there_is_settled_for_good(two: Two) -> None:
    id = agate(two)
    two.farm.retract(id, "entered twice")
    two.meet()
    two.yard.restore("barn", raw_id(id))
    two.farm.amend(id, ["stands=yes"])
    two.farm.retract(id, "entered twice, surely")
    two.meet()
    (conflict,) = two.conflicts()
    assert (conflict.kind, conflict.field) == ("field", "stands")
    two.farm.resolve(text_id(conflict.id), value="no")
    assert two.conflicts() == []
    assert not two.record(id).stands


def bonded(two: Two) -> tuple[str, Conflict]:
    """A dose whose product and hold the two tell differently."""
    id = agate(two)
    for name in ("Quillsan", "Marlin"):
        two.farm.record("product", {"substance": name})
    told = {"animal": id, "product": "Quillsan", "amount_ml": "2mL", "milk_h": "48h"}
    dose = two.farm.record("dose", told).id
    two.meet()
    two.farm.amend(dose, ["milk_h=96h", "meat_d=9d"])
    two.barn(dose, amount_ml=[4, 0, "mL"])
    two.meet()
    (conflict,) = two.conflicts()
    return dose, conflict


def given_in(two: Two, dose: str) -> dict[str, Any]:
    (claim,) = two.record(dose).registers["given"].standing
    return claim.values


def test_an_account_is_taken_whole_and_never_mixed_with_another(two: Two) -> None:
    dose, conflict = bonded(two)
    barn = next(claim for claim in conflict.claims if claim.values["amount_ml"] == [4, 0, "mL"])
    two.farm.resolve(text_id(conflict.id), take=text_id(barn.entry))
    assert given_in(two, dose) == barn.values
    assert "meat_d" not in given_in(two, dose)


def test_a_bond_told_in_part_asks_for_what_differs_too(two: Two) -> None:
    dose, conflict = bonded(two)
    with pytest.raises(Refused, match="The accounts differ on 'meat_d' too"):
        two.farm.resolve(text_id(conflict.id), value="amount_ml=3mL,milk_h=96h")
    two.farm.resolve(text_id(conflict.id), value="amount_ml=3mL,milk_h=96h,meat_d=9d")
    told = given_in(two, dose)
    assert (told["amount_ml"], told["milk_h"], told["meat_d"]) == (
        [3, 0, "mL"], [96, 0, "h"], [9, 0, "d"],
    )  # fmt: skip
    assert "product" in told


def test_a_conflict_that_grew_is_refused_with_what_is_new(two: Two) -> None:
    id = agate(two)
    two.meet()
    two.barn(id, name="Opal")
    two.farm.amend(id, ["name=Mica"])
    two.meet()
    (first,) = two.conflicts()
    two.yard.resolve("barn", first, name="Opal")
    two.farm.resolve(text_id(first.id), value="Mica")
    two.meet()
    (second,) = two.conflicts()
    with pytest.raises(Refused, match="has grown since: it is now " + text_id(second.id)[:12]):
        two.farm.resolve(text_id(first.id), value="Mica")


def test_a_broken_rule_is_accepted_with_a_reason_only(two: Two) -> None:
    agate(two, tag="q7")
    two.farm.record("animal", {"name": "Opal", "tag": "q7"})
    (conflict,) = two.conflicts()
    id = text_id(conflict.id)
    with pytest.raises(Refused, match="no account to take"):
        two.farm.resolve(id, value="x")
    for because in ("", "  "):
        with pytest.raises(Refused, match="only with a reason"):
            two.farm.resolve(id, accept=True, because=because)
    two.farm.resolve(id, accept=True, because="one was sold long ago")
    assert two.conflicts() == []


def test_same_and_different_cite_the_words_before(two: Two) -> None:
    a, b = agate(two), two.farm.record("animal", {"name": "Agate"}).id
    two.farm.same(a, b)
    assert two.record(a).ids == sorted([raw_id(a), raw_id(b)])
    two.farm.different(b, a)
    two.farm.same(a, b)
    assert two.record(b).ids == sorted([raw_id(a), raw_id(b)])
    with pytest.raises(Refused, match="one and the same"):
        two.farm.same(a, a)
    note = two.farm.record("note", {"text": "limps"}).id
    with pytest.raises(Refused, match="cannot be the same"):
        two.farm.same(a, note)


# Undo.


def test_undo_walks_back_act_by_act(two: Two) -> None:
    id = agate(two)
    two.farm.amend(id, ["name=Opal"])
    two.farm.amend(id, ["name=Mica", "breed=Saanen"])
    two.farm.undo()
    assert (two.record(id).value("name"), two.record(id).value("breed")) == ("Opal", None)
    two.farm.undo()
    assert two.record(id).value("name") == "Agate"
    two.farm.undo()
    assert not two.record(id).stands
    with pytest.raises(Refused, match="nothing that could be undone"):
        two.farm.undo()


def test_undo_takes_back_a_whole_batch(two: Two) -> None:
    ids = [agate(two), two.farm.record("animal", {"name": "Opal"}).id]
    made = two.farm.record("hoof-trim", {"front_left": "ok"}, animals=ids)
    assert len(made.ids) == 2
    two.farm.undo()
    assert [two.record(id).stands for id in made.ids] == [False, False]
    assert all(two.record(id).stands for id in ids)


def test_undo_of_a_set_a_retraction_and_a_joining(two: Two) -> None:
    a = agate(two, groups="show")
    two.farm.amend(a, ["groups+=young", "groups-=show"])
    two.farm.undo()
    assert two.record(a).value("groups") == ["show"]
    b = two.farm.record("animal", {"name": "Agate"}).id
    two.farm.same(a, b)
    two.farm.undo()
    assert two.record(a).ids == [raw_id(a)]
    two.farm.retract(b, "entered twice")
    two.farm.undo()
    assert two.record(b).stands


def test_undo_stops_at_what_the_partner_amended_since(two: Two) -> None:
    id = agate(two)
    two.meet()
    two.barn(id, name="Opal")
    two.meet()
    with pytest.raises(Refused, match="was amended since, by Ravi"):
        two.farm.undo()
    assert two.record(id).values("name") == ["Opal"]


def test_undo_ends_no_account_that_the_partner_told_beside_it(two: Two) -> None:
    id = agate(two)
    two.meet()
    two.farm.amend(id, ["name=Mica"])
    two.barn(id, name="Opal")
    two.meet()
    with pytest.raises(Refused, match="'name' is disputed since"):
        two.farm.undo()
    assert sorted(two.record(id).values("name")) == ["Mica", "Opal"]


# Keys, drafts and words.


def test_a_keyed_record_written_again_tells_it_anew(two: Two) -> None:
    first = two.farm.set("zone", "UTC")
    assert two.farm.set("zone", "Europe/Berlin", "moved").id == first.id
    assert two.record(first.id).values("value") == ["Europe/Berlin"]
    two.farm.retract(first.id, "not so")
    two.farm.set("zone", "Asia/Tokyo")
    record = two.record(first.id)
    assert record.stands
    assert record.values("value") == ["Asia/Tokyo"]
    assert two.conflicts() == []
    with pytest.raises(Refused, match="names the record"):
        two.farm.amend(first.id, ["key=letters"])


def test_a_draft_sent_twice_answers_alike(two: Two) -> None:
    ids = [agate(two), two.farm.record("animal", {"name": "Opal"}).id]
    salt = b"a draft".ljust(16, b"\0")
    first = two.farm.record("hoof-trim", {}, animals=ids, salt=salt)
    count = len(everything(two.store))
    again = two.farm.record("hoof-trim", {}, animals=ids, salt=salt)
    assert (again.ids, again.batch) == (first.ids, first.batch)
    assert len(everything(two.store)) == count


def test_a_refusal_writes_nothing(two: Two) -> None:
    agate(two)
    before = everything(two.store)
    refused: list[tuple[str, dict[str, str]]] = [
        ("hoof-trim", {"animal": "Nobody"}),
        ("hoof-trim", {"animal": "Agate", "on": "yesterday week"}),
        ("dragon", {"name": "Smaug"}),
        ("animal", {"tusks": "two"}),
        ("setting", {"key": "zone", "value": "Nowhere/Land"}),
    ]
    for kind, pairs in refused:
        with pytest.raises(Refused):
            two.farm.record(kind, pairs)
    with pytest.raises(Refused):
        two.farm.record("hoof-trim", {}, animals=["Agate", "Nobody"])
    assert everything(two.store) == before


def test_names_marks_ids_and_ambiguity(two: Two) -> None:
    id = agate(two, tattoo_right="QMR", tattoo_left="A7", tag="uk 12")
    other = two.farm.record("animal", {"name": "Opal", "tag": "uk13"}).id
    for word in ("agate", " AGATE ", "UK12", "a007", "qmr a7", id, id[:8], id.upper()):
        assert two.farm.record("note", {"about": word, "text": "seen"}).id
        assert two.record(two.farm.record("note", {"about": word, "text": "x"}).id).value(
            "about"
        ) == raw_id(id)
    two.farm.record("animal", {"name": "Agate"})
    with pytest.raises(Refused, match="may mean 2 records"):
        two.farm.record("note", {"about": "Agate", "text": "which"})
    assert two.record(other).value("name") == "Opal"


HOSTILE = ("[b]x[/b]", "\x1b[31mred\x1b[0m", "\u202eevil", "a\tb", "=1+1", "ω" * 100, "'; --")


@pytest.mark.parametrize("name", HOSTILE, ids=ascii)
def test_hostile_names_are_kept_as_written_or_refused(two: Two, name: str) -> None:
    try:
        id = two.farm.record("animal", {"name": name}).id
    except Refused:
        return
    assert two.record(id).value("name") == name
    assert two.record(two.farm.record("note", {"about": name, "text": name}).id).value(
        "about"
    ) == raw_id(id)
