"""Writing verbs: the shapes of their JSON answers, batches, files, undo, and what they refuse."""

from __future__ import annotations

from pathlib import Path

from tests.cli.laptops import Laptops


def test_record_answers_id_kind_and_warnings(farm: Laptops) -> None:
    plain = farm.ask("house", "record", "animal", "name=Agate", "sex=doe", "born=2021-03-05")
    assert set(plain) == {"id", "kind", "warnings"}
    assert (len(plain["id"]), plain["kind"], plain["warnings"]) == (26, "animal", [])


def test_a_hazardous_kind_brings_its_caution(farm: Laptops) -> None:
    farm.ask("house", "record", "animal", "name=Onyx", "sex=buck", "born=2026-03-04")
    words = ("record", "disbudding", "animal=Onyx", "applications=1")
    told = farm.type("house", *words)
    assert "veterinarian" in told.err
    assert "veterinarian" not in told.out
    assert any("veterinarian" in one for one in farm.ask("house", *words)["warnings"])


def test_for_repeats_into_one_batch_that_undo_takes_back_whole(farm: Laptops) -> None:
    for name in ("Agate", "Opal"):
        farm.ask("house", "record", "animal", f"name={name}", "sex=doe")
    told = farm.ask("house", "record", "hoof-trim", "front_left=ok", "--for", "Agate", "--for",
                    "Opal")  # fmt: skip
    assert set(told) == {"batch", "ids", "kind", "warnings"}
    assert len(told["ids"]) == 2
    farm.ask("house", "undo")
    assert [farm.ask("house", "show", id)["stands"] for id in told["ids"]] == [False, False]


def test_a_text_comes_from_a_file(farm: Laptops, tmp_path: Path) -> None:
    note = tmp_path / "note.txt"
    note.write_text("first line\nsecond = line\n", encoding="utf-8")
    id = farm.ask("house", "record", "note", f"text=@{note}")["id"]
    assert farm.ask("house", "show", id)["fields"]["text"]["value"] == "first line\nsecond = line"
    id = farm.ask("house", "record", "note", "text=@@home")["id"]
    assert farm.ask("house", "show", id)["fields"]["text"]["value"] == "@home"


def test_files_that_cannot_be_notes_are_refused(farm: Laptops, tmp_path: Path) -> None:
    (tmp_path / "bytes").write_bytes(b"\xff\xfe\x00")
    (tmp_path / "long").write_text("x" * 70_000)
    for name in ("bytes", "long", "missing", ""):
        path = str(tmp_path / name)
        assert path in farm.refusal("house", "record", "note", f"text=@{path}")
    assert [one for one in farm.ask("house", "find", "x") if one["kind"] == "note"] == []


def test_amend_retract_and_bring_back(farm: Laptops) -> None:
    id = farm.ask("house", "record", "animal", "name=Agate", "sex=doe")["id"]
    assert farm.ask("house", "amend", "Agate", "breed=Saanen", "born=2021-03")["id"] == id
    assert farm.ask("house", "amend", id, "groups+=show string")["id"] == id
    assert farm.ask("house", "amend", id, "breed=")["id"] == id
    assert farm.ask("house", "retract", id, "--because", "written twice")["id"] == id
    assert farm.ask("house", "herd") == []
    farm.ask("house", "amend", id, "stands=yes")
    (line,) = farm.ask("house", "herd")
    assert (line["name"], line["breed"], line["born"]) == ("Agate", "", "2021-03")


def test_words_that_are_no_pairs_are_usage(farm: Laptops) -> None:
    farm.refusal("house", "record", "animal", "Agate", code=2)
    farm.refusal("house", "record", "animal", "=Agate", code=2)
    farm.refusal("house", "record", "animal", "name=A", "name=B", code=2)
    farm.refusal("house", "amend", "Agate", code=2)
    farm.refusal("house", "retract", "Agate", code=2)
    farm.refusal("house", "resolve", "abcd", code=2)
    farm.refusal("house", "resolve", "abcd", "--take", "x", "--accept", code=2)


def test_who_is_at_the_keyboard_and_when(farm: Laptops) -> None:
    words = ("record", "animal", "name=Agate", "sex=doe", "--by", "Jun")
    farm.ask("house", *words, at="2026-03-09T07:00:00+01:00")
    first = farm.ask("house", "trail", "Agate")[0]
    assert (first["by"], first["keeper"], first["device"]) == ("Jun", "Oda", "house")
    assert first["recorded"] == "2026-03-09T06:00:00+00:00"
    assert first["by_hand"] is True


def test_a_moment_without_an_offset_is_read_in_the_farms_zone(laptops: Laptops) -> None:
    laptops.ask("house", "found", "Q", "--keeper", "Oda", "--device", "house", "--zone",
                "Europe/Berlin")  # fmt: skip
    laptops.ask("house", "record", "animal", "name=Agate", "sex=doe", at="2026-07-01 06:30")
    (line,) = laptops.ask("house", "trail", "Agate", at="2026-07-02")[:1]
    assert line["recorded"] == "2026-07-01T06:30:00+02:00"
    bad = laptops.stage.run("house", ["due", "--at", "sometime"])
    assert (bad.code, bad.out) == (1, "")
    assert bad.err.startswith("--at:")


def test_skip_and_postpone_take_the_id_of_due_work(farm: Laptops) -> None:
    farm.ask("house", "record", "animal", "name=Agate", "sex=doe", "born=2021-03-05")
    due = farm.ask("house", "due", "--animal", "Agate")
    trim = next(line for line in due if line["item"] == "hoof-trim")
    later = farm.ask("house", "postpone", trim["id"], "--until", "2026-03-20", "--because", "ill")
    assert later["kind"] == "postpone"
    states = {line["id"]: line["state"] for line in farm.ask("house", "due", "--all")}
    assert states[trim["id"]] == "put-off"
    farm.ask("house", "skip", trim["id"], "--because", "she goes on Friday")
    assert trim["id"] not in {line["id"] for line in farm.ask("house", "due")}


def test_work_is_skipped_by_the_beginning_of_its_id_as_the_walk_tells_it(farm: Laptops) -> None:
    agate = farm.ask("house", "record", "animal", "name=Agate", "sex=doe", "born=2021-03-05")["id"]
    due = farm.ask("house", "due", "--animal", "Agate")
    trim = next(line["id"] for line in due if line["item"] == "hoof-trim")
    assert f"[{trim[:8]}]" in farm.type("house", "due").out
    skipped = farm.ask("house", "skip", trim[:8], "--because", "the smith comes")
    told = farm.ask("house", "show", skipped["id"])["fields"]
    assert (told["work"]["value"], told["about"]["value"]) == (trim, agate)
    assert trim not in {line["id"] for line in farm.ask("house", "due")}
    for word in ("nosuch", trim[:3]):
        said = farm.refusal("house", "skip", word, "--because", "x")
        assert f"No due work goes by '{word}'" in said
    farm.refusal("house", "postpone", "nosuch", "--until", "2027-01-01", "--because", "x")


def test_settings_are_listed_and_set(farm: Laptops) -> None:
    told = {line["key"]: line["value"] for line in farm.ask("house", "settings")}
    assert told["prefix"] == "QMR"
    farm.ask("house", "settings", "hoof-days", "42", "--because", "soft ground")
    assert [line["value"] for line in farm.ask("house", "settings", "hoof-days")] == ["42"]
    farm.refusal("house", "settings", "hoof-days", "often")
    farm.refusal("house", "settings", "no-such-thing", code=2)


def test_a_name_no_trail_should_carry_is_refused(farm: Laptops) -> None:
    for name in ("\udcff", "\x1b]0;t\x07", "\u202eJun", "x" * 81):
        words = ("record", "animal", "name=Agate", "--by", name)
        assert "--by" in farm.refusal("house", *words)


def test_a_folder_that_cannot_be_made_is_one_sentence(laptops: Laptops) -> None:
    (laptops.stage.folder / "house").write_text("a file stands here")
    words = ("found", "Q", "--keeper", "Oda", "--device", "house")
    assert "folder" in laptops.refusal("house", *words)


def test_what_was_taken_back_stays_in_the_trail(farm: Laptops) -> None:
    farm.ask("house", "record", "animal", "name=Agate", "sex=doe")
    id = farm.ask("house", "record", "weighing", "animal=Agate", "weight_kg=60")["id"]
    farm.ask("house", "retract", id, "--because", "that was Opal")
    told = [line for line in farm.ask("house", "trail", "Agate") if line["record"] == id]
    assert told[-1]["verb"] == "retract"
    assert told[-1]["because"] == "that was Opal"
