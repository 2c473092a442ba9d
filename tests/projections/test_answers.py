"""Trail, pages and conflicts: every claim with who said it, before and after, in JSON and in words."""

from __future__ import annotations

import msgspec

from herdsync.answers import TrailLine
from herdsync.kinds.ids import text_id
from herdsync.projections.conflict_lines import conflict_line
from herdsync.projections.pages import animal_answer, record_answer
from herdsync.projections.trail import about, newest_lines, trail
from herdsync.projections.voices import Voices
from tests.farmyard import Device, Yard
from tests.projections.board import goat_of, herd_at, rounds_at

AT = "2026-03-01"


def voices(yard: Yard, device: str = "house") -> Voices:
    """What a replica knows of devices and causes; one entry's signature is called bad."""
    here: Device = yard.devices[device]
    names = {one.key.public: one.name for one in yard.devices.values()}
    claims = [entry.record_id for entry in here.replica.entries.values()]

    def saw(entry: bytes) -> list[bytes]:
        return [one for one in claims if one != entry and here.replica.saw(entry, one)]

    return Voices(device_name=names.__getitem__, saw=saw)


def lines_of(yard: Yard, record: bytes) -> list[TrailLine]:
    herd = herd_at(yard, AT)
    found = herd.records.get(record)
    assert found is not None
    return trail([found], herd.look, voices(yard))


def test_the_trail_tells_who_changed_what_from_what_and_why() -> None:
    yard = Yard()
    agate = yard.animal("Agate", sex="doe", born="2020-03-01")
    trim = yard.write("barn", "hoof-trim", animal=agate, on="2026-02-20", hind_left="ok")
    yard.meet()
    yard.amend("house", trim, because="it was Friday", on="2026-02-21")
    told = lines_of(yard, trim)
    begun = [line for line in told if line.verb == "record"]
    assert {line.field for line in begun} == {"animal", "on", "hind_left"}
    assert all(line.before == [] and line.keeper == "Ravi" for line in begun)
    (changed,) = [line for line in told if line.verb == "amend"]
    assert (changed.field, changed.before, changed.after) == ("on", ["2026-02-20"], "2026-02-21")
    assert (changed.keeper, changed.device, changed.because) == ("Oda", "house", "it was Friday")
    assert (changed.signature, changed.vouched, changed.by_hand) == ("good", True, False)
    assert changed.height > begun[0].height
    assert changed.recorded.startswith("2026-01-01T06:")


def test_a_bond_shows_only_what_changed_in_it() -> None:
    yard = Yard()
    agate = yard.animal("Agate", sex="doe", born="2020-03-01")
    weighing = yard.write(
        "house",
        "weighing",
        animal=agate,
        on="2026-02-20",
        weight_kg=[445, -1, "lb"],
        how="girth-tape",
    )
    yard.amend("house", weighing, weight_kg=[20, 0, "kg"])
    (changed,) = [line for line in lines_of(yard, weighing) if line.verb == "amend"]
    assert (changed.field, changed.before, changed.after) == ("weight_kg", [20.1849], 20)


def test_taking_back_and_bringing_back_are_lines_of_the_whole_record() -> None:
    yard = Yard()
    agate = yard.animal("Agate", sex="doe", born="2020-03-01")
    note = yard.write("house", "note", about=agate, on="2026-02-20", text="limps")
    yard.retract("house", note, because="that was Opal")
    yard.restore("house", note)
    last = lines_of(yard, note)[-2:]
    assert [(line.verb, line.field, line.before, line.after) for line in last] == [
        ("retract", "", [True], False), ("amend", "", [False], True),
    ]  # fmt: skip
    assert last[0].because == "that was Opal"


def test_the_trail_of_an_animal_holds_every_record_that_names_it() -> None:
    yard = Yard()
    dam = yard.animal("Agate", sex="doe", born="2020-03-01")
    kid = yard.animal("Shale", sex="doe", born="2026-02-17", dam=dam)
    product = yard.write("house", "product", substance="quillicillin")
    dose = yard.write("house", "dose", animal=dam, product=product, on="2026-02-20")
    yard.retract("house", dose, because="")
    herd = herd_at(yard, AT)
    found = about(goat_of(herd, dam))
    assert {record.id for record in found} == {dam, kid, dose}
    told = trail(found, herd.look, voices(yard))
    assert [line.height for line in told] == sorted(line.height for line in told)
    assert {line.record for line in told} == {text_id(one) for one in (dam, kid, dose)}
    for most in range(len(told) + 2):
        newest = newest_lines(found, herd.look, voices(yard), most)
        assert newest == told[::-1][:most]


def test_sets_show_what_was_added_and_dropped() -> None:
    yard = Yard()
    agate = yard.animal("Agate", sex="doe", born="2020-03-01", groups=["show"])
    herd = herd_at(yard, AT)
    page = record_answer(goat_of(herd, agate).record, herd.look, voices(yard))
    assert page.fields["groups"].value == ["show"]
    assert page.fields["groups"].claims[0].value == {"add": ["show"], "drop": []}


def test_a_page_has_every_claim_with_its_author() -> None:
    yard = Yard()
    agate = yard.animal("Agate", sex="doe", born="2020-03-01")
    trim = yard.write("house", "hoof-trim", animal=agate, on="2026-02-20", by="Jun")
    yard.meet()
    yard.amend("house", trim, hind_left="ok")
    yard.amend("barn", trim, hind_left="rot")
    yard.meet()
    herd = herd_at(yard, AT)
    record = herd.records.get(trim)
    assert record is not None
    page = record_answer(record, herd.look, voices(yard))
    foot = page.fields["hind_left"]
    assert foot.disputed and {claim.value for claim in foot.claims} == {"ok", "rot"}
    assert {(claim.keeper, claim.device) for claim in foot.claims} == {
        ("Oda", "house"), ("Ravi", "barn"),
    }  # fmt: skip
    begun = page.fields["on"].claims[0]
    assert (begun.by, begun.keeper) == ("Jun", "Oda")
    assert page.fields["animal"].value == text_id(agate)
    assert page.fields["animal"].shown == "Agate"
    assert msgspec.json.decode(msgspec.json.encode(page))["kind"] == "hoof-trim"


def test_an_animals_page_has_its_work_holds_and_acts() -> None:
    yard = Yard()
    agate = yard.animal("Agate", sex="doe", born="2020-03-01")
    kid = yard.animal("Shale", sex="doe", born="2026-02-17", dam=agate)
    product = yard.write("house", "product", substance="quillicillin", milk_h=[96, 0, "h"],
                         meat_d=[28, 0, "d"])  # fmt: skip
    yard.write("house", "dose", animal=agate, product=product, on="2026-02-28")
    yard.write("house", "hoof-trim", animal=agate, on="2026-01-01", hind_left="lame")
    rounds = rounds_at(yard, AT)
    page = animal_answer(rounds, goat_of(rounds.herd, agate), voices(yard))
    assert page.animal is not None and page.animal.due == len(page.due) > 0
    assert [hold.what for hold in page.holds] == ["milk not for sale", "meat not for sale"]
    assert page.animal.holds == [hold.what for hold in page.holds]
    assert [act.kind for act in page.acts] == ["dose", "hoof-trim"]
    assert page.acts[1].shown == "hind left lame"
    assert page.kids == [text_id(kid)]
    assert any(timer.what == "meat clear" for timer in page.timers)
    msgspec.json.encode(page)


def test_conflicts_lay_both_claims_side_by_side() -> None:
    yard = Yard()
    agate = yard.animal("Agate", sex="doe", born="2020-03-01")
    trim = yard.write("house", "hoof-trim", animal=agate, on="2026-02-20")
    yard.meet()
    yard.amend("house", trim, hind_left="ok")
    yard.amend("barn", trim, hind_left="rot")
    yard.meet()
    (conflict,) = yard.conflicts()
    line = conflict_line(conflict, herd_at(yard, AT).look, voices(yard))
    assert (line.kind, line.field, line.open, line.name) == ("field", "hind_left", True, "Agate")
    assert line.subject == text_id(trim)
    assert {claim.value for claim in line.claims} == {"ok", "rot"}
    assert all(claim.saw == [] for claim in line.claims)
    assert "hind left" in line.says and line.mend
    yard.resolve("house", conflict, hind_left="rot")
    yard.meet()
    closed = [one for one in yard.shelf().every_conflict() if not one.open]
    assert not conflict_line(closed[0], herd_at(yard, AT).look, voices(yard)).open


def test_pairs_show_each_act_in_a_line() -> None:
    yard = Yard()
    agate = yard.animal("Agate", sex="doe", born="2020-03-01")
    yard.write("house", "hoof-trim", animal=agate, on="2026-02-20", hind_left="ok")
    yard.write("barn", "hoof-trim", animal=agate, on="2026-02-21", hind_left="trimmed")
    yard.meet()
    (conflict,) = yard.conflicts()
    line = conflict_line(conflict, herd_at(yard, AT).look, voices(yard))
    assert line.kind == "pair" and len(line.records) == 2
    assert {claim.shown for claim in line.claims} == {"hind left ok", "hind left trimmed"}
    assert {claim.value for claim in line.claims} == set(line.records)


def test_a_bond_in_dispute_answers_field_by_field() -> None:
    yard = Yard()
    agate = yard.animal("Agate", sex="doe", born="2020-03-01")
    weighing = yard.write(
        "house", "weighing", animal=agate, on="2026-02-20", weight_kg=[40, 0, "kg"]
    )
    yard.meet()
    yard.amend("house", weighing, weight_kg=[41, 0, "kg"])
    yard.amend("barn", weighing, weight_kg=[42, 0, "kg"], how="scale")
    yard.meet()
    (conflict,) = yard.conflicts()
    line = conflict_line(conflict, herd_at(yard, AT).look, voices(yard))
    assert {"weight_kg": 42, "how": "scale"} in [claim.value for claim in line.claims]
    assert "weight 42 kg, how scale" in {claim.shown for claim in line.claims}
