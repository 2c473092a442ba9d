"""Two laptops over a stick: join, admit, exchange, conflicts, byte-equal answers, proof, backup."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from scenarios.stage import GOOD_SIGNATURE, check_proof
from tests.cli.laptops import Laptops


def test_join_and_admit_by_code(laptops: Laptops) -> None:
    laptops.found()
    joining = laptops.ask("barn", "join", laptops.stick, "--keeper", "Ravi", "--device", "barn")
    assert set(joining) == {"request", "code"}
    waiting = laptops.ask("house", "admit", laptops.stick)
    assert [one["keeper"] for one in waiting["waiting"]] == ["Ravi"]
    assert waiting["admitted"] == []
    assert "not been admitted" in laptops.refusal("barn", "exchange", laptops.stick)
    admitted = laptops.ask("house", "admit", laptops.stick, "--code", joining["code"].lower())
    assert [one["device"] for one in admitted["admitted"]] == ["barn"]
    moved = laptops.ask("barn", "exchange", laptops.stick)
    assert set(moved) >= {"sent", "received", "unvouched", "refused", "conflicts"}
    assert {line["device"] for line in laptops.ask("barn", "devices")} == {"house", "barn"}


def test_a_field_conflict_is_told_taken_and_closed(pair: Laptops) -> None:
    id = pair.ask("house", "record", "animal", "name=Agate", "sex=doe", "born=2021-03-05")["id"]
    pair.meet()
    pair.ask("house", "amend", id, "born=2021-03-06")
    pair.ask("barn", "amend", id, "born=2021-03-07")
    pair.meet()
    (conflict,) = pair.ask("house", "conflicts")
    assert (conflict["kind"], conflict["field"], conflict["open"]) == ("field", "born", True)
    assert conflict["subject"] == id
    claims = {one["value"]: one["id"] for one in conflict["claims"]}
    assert set(claims) == {"2021-03-06", "2021-03-07"}
    assert pair.ask("barn", "conflicts") == [conflict]
    pair.ask("barn", "resolve", conflict["id"], "--take", claims["2021-03-06"])
    assert pair.ask("barn", "conflicts") == []
    (closed,) = pair.ask("barn", "conflicts", "--all")
    assert (closed["id"], closed["open"]) == (conflict["id"], False)
    pair.meet()
    pair.meet()
    assert pair.ask("house", "show", id)["fields"]["born"]["value"] == "2021-03-06"
    assert "already" in pair.refusal("house", "resolve", conflict["id"], "--value", "2021-03-01")


@pytest.mark.parametrize("order", [("house", "barn", "house"), ("barn", "house", "barn")])
def test_answers_are_byte_equal_whatever_the_order_of_meeting(
    pair: Laptops, order: tuple[str, ...]
) -> None:
    pair.ask("house", "record", "animal", "name=Agate", "sex=doe", "born=2021-03-05")
    pair.ask("barn", "record", "animal", "name=Basalt", "sex=buck", "born=2021-02-01")
    pair.ask("barn", "record", "hoof-trim", "animal=Basalt", "front_left=rot")
    for laptop in order:
        pair.ask(laptop, "exchange", pair.stick)
    for words in (["due"], ["due", "--all"], ["herd"], ["show", "Basalt"], ["trail", "Basalt"]):
        answers = {pair.type(laptop, *words, "--json").out for laptop in ("house", "barn")}
        assert len(answers) == 1, words


def test_same_and_different(pair: Laptops) -> None:
    pair.ask("house", "record", "animal", "name=Agate", "sex=doe", "born=2021-03-05")
    pair.meet()
    one = pair.ask("house", "record", "hoof-trim", "animal=Agate", "front_left=ok")["id"]
    other = pair.ask("barn", "record", "hoof-trim", "animal=Agate", "front_left=rot")["id"]
    pair.meet()
    (conflict,) = pair.ask("house", "conflicts")
    assert (conflict["kind"], set(conflict["records"])) == ("pair", {one, other})
    pair.ask("house", "same", one, other)
    assert [line["kind"] for line in pair.ask("house", "conflicts")] == ["field"]
    pair.ask("house", "different", one, other, "--because", "two trims after all")
    assert pair.ask("house", "conflicts") == []


def test_known_reads_the_farm_as_an_entry_knew_it(farm: Laptops) -> None:
    id = farm.ask("house", "record", "animal", "name=Agate", "sex=doe")["id"]
    entry = farm.ask("house", "amend", id, "breed=Saanen")["entry"]
    farm.ask("house", "amend", id, "breed=Toggenburg")
    for known in (entry, entry[:12], farm.ask("house", "trail", id)[-1]["entry"]):
        shown = farm.ask("house", "show", id, "--known", known)
        wanted = "Saanen" if entry.startswith(known[:12]) else "Toggenburg"
        assert shown["fields"]["breed"]["value"] == wanted
    assert "breed" not in farm.ask("house", "show", id, "--known", id)["fields"]


@pytest.mark.skipif(shutil.which("openssl") is None, reason="no openssl on this machine")
def test_a_proof_is_checked_with_openssl_alone_and_tells_a_flipped_letter(
    farm: Laptops, tmp_path: Path
) -> None:
    """RFC 8032 signatures, FIPS 180-4 hashes, by the openssl command."""
    id = farm.ask("house", "record", "animal", "name=Agate", "sex=doe")["id"]
    entry = farm.ask("house", "trail", id)[0]["entry"]
    proof = tmp_path / "proof.txt"
    farm.ask("house", "proof", entry, "--out", str(proof))
    assert GOOD_SIGNATURE in check_proof(proof)
    assert "already" in farm.refusal("house", "proof", entry, "--out", str(proof))
    text = proof.read_text()
    place = text.index("-----BEGIN HEADER 1-----") + 60
    flipped = "A" if text[place] != "A" else "B"
    proof.write_text(text[:place] + flipped + text[place + 1 :])
    assert GOOD_SIGNATURE not in check_proof(proof)


def test_a_backup_holds_the_farm_and_opens_to_read(farm: Laptops, tmp_path: Path) -> None:
    farm.ask("house", "record", "animal", "name=Agate", "sex=doe")
    backed = farm.ask("house", "backup", str(tmp_path / "farm.backup"))
    assert (
        farm.ask("attic", "restore", str(tmp_path / "farm.backup"))["entries"] == backed["entries"]
    )
    assert [line["name"] for line in farm.ask("attic", "herd")] == ["Agate"]
    farm.refusal("attic", "record", "animal", "name=Opal")
    farm.refusal("house", "restore", str(tmp_path / "farm.backup"))


def test_a_partner_s_silence_is_noticed_now_and_then_and_refuses_nothing(
    pair: Laptops, tmp_path: Path
) -> None:
    sheet = tmp_path / "notes.csv"
    sheet.write_text("on,text\n" + "".join(f"2026-03-01,note {one}\n" for one in range(110)))
    pair.ask("house", "exchange", pair.stick)
    pair.ask("house", "import", str(sheet), "--kind", "note")
    said = " ".join(pair.type("house", "exchange", pair.stick).out.split())
    assert "Noticed: laptop barn. Nothing has been heard of it since" in said
    assert "Refused" not in said
    moved = pair.ask("house", "exchange", pair.stick)
    assert (moved["refused"], moved["noticed"]) == ([], [])


def restored(pair: Laptops, file: Path) -> str:
    """Barn's laptop dies after a backup; the backup is restored in the attic. What restoring said."""
    pair.ask("barn", "record", "animal", "name=Basalt", "sex=buck")
    pair.ask("barn", "backup", str(file))
    said = pair.type("attic", "restore", str(file))
    assert said.code == 0
    pair.refusal("attic", "record", "animal", "name=Opal")
    # Whom to ask is told there too; of who has what a farm without a key knows nothing.
    assert {one["device"]: one["this"] for one in pair.ask("attic", "devices")} == {
        "house": False, "barn": False,
    }  # fmt: skip
    assert "may be lost" not in pair.type("attic", "devices").out
    return " ".join(said.out.split())


def test_a_restored_farm_joins_afresh_into_another_folder_and_brings_what_only_it_has(
    pair: Laptops, tmp_path: Path
) -> None:
    said = restored(pair, tmp_path / "farm.backup")
    for words in ("join CARRIER --farm DIR", "export farm FILE", "import FILE"):
        assert f"'herdsync {words}'" in said
    asking = ("join", pair.stick, "--keeper", "Ravi", "--device", "attic")
    assert "--farm" in pair.refusal("attic", *asking)
    # A laptop of its own folder and keys, as --farm DIR makes one.
    code = pair.ask("loft", *asking)["code"]
    pair.ask("house", "admit", pair.stick, "--code", code)
    assert pair.ask("loft", "exchange", pair.stick)["joined"] == "Quillmoor Dairy"
    assert pair.ask("loft", "herd") == []
    pair.ask("attic", "export", "farm", str(tmp_path / "all.jsonl"))
    assert pair.ask("loft", "import", str(tmp_path / "all.jsonl"))["written"] == 1
    pair.ask("loft", "record", "hoof-trim", "animal=Basalt", "front_left=ok")
    pair.ask("loft", "exchange", pair.stick)
    assert pair.ask("house", "exchange", pair.stick)["received"] == 2
    assert [line["name"] for line in pair.ask("house", "herd")] == ["Basalt"]


def test_a_restored_farm_becomes_a_laptop_of_its_own_with_the_words(
    pair: Laptops, tmp_path: Path
) -> None:
    said = restored(pair, tmp_path / "farm.backup")
    assert "'herdsync recover CARRIER'" in said
    sheet = tmp_path / "sheet"
    sheet.write_text(pair.recovery)
    again = ("recover", pair.stick, "--keeper", "Ravi", "--device", "attic")
    pair.ask("attic", *again, "--words", f"@{sheet}", "--remove", "barn")
    pair.ask("attic", "record", "hoof-trim", "animal=Basalt", "front_left=ok")
    pair.ask("attic", "exchange", pair.stick)
    pair.ask("house", "exchange", pair.stick)
    assert [line["name"] for line in pair.ask("house", "herd")] == ["Basalt"]


def test_what_is_no_backup_is_refused_and_leaves_no_farm(laptops: Laptops, tmp_path: Path) -> None:
    (tmp_path / "letter.txt").write_text("dear Oda")
    assert "letter.txt" in laptops.refusal("house", "restore", str(tmp_path / "letter.txt"))
    laptops.refusal("house", "herd")
